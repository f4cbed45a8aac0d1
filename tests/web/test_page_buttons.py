"""What the command line does with a command, the page does with a button."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from web_client import Browser

if TYPE_CHECKING:
    from collections.abc import Callable

NOTE = "---\ntitle: {}\narea: nephrology\nquestions: [north:{}]\n---\n{}\n"
TWINS = {
    "nephrology/one.md": NOTE.format("One", 41, "The same."),
    "nephrology/two.md": NOTE.format("Two", 42, "And more."),
    "study.yaml": "sources:\n  - {source: north, name: North bank, kind: bank, items: 300}\n"
    "  - {source: paper-1, name: Paper 1, kind: paper, items: 200}\n",
    "log/attempts-a.csv": "id,at,question,outcome\n"
    + "".join(f"{n:016x},2027-01-10T20:00:00+00:00,north:{n},right\n" for n in range(1, 90)),
}


@pytest.fixture
def page(browser: Callable[..., Browser]) -> Browser:
    """Two notes, a bank of 300 questions, a paper."""
    return browser(TWINS)


def fields_of(page: Browser, address: str) -> dict[str, str]:
    """What a form would send as it is."""
    found = page.get(address).elements.all("input")
    return {str(e["name"]): str(e.get("value") or "") for e in found if e.get("name") != "token"}


def test_merging_shows_the_result_before(page: Browser) -> None:
    """The preview writes nothing; the button merges and keeps the other text."""
    address = "/merge?keep=one&other=two"
    assert "And more." in page.get(address).words
    fields = fields_of(page, address)
    assert (page.root / "nephrology/two.md").exists()
    assert page.post("/merge", fields).status == 303
    kept = (page.root / "nephrology/one.md").read_text()
    assert "And more." in kept
    assert "north:42" in kept
    assert not (page.root / "nephrology/two.md").exists()


def test_a_merge_of_a_note_that_changed_is_refused(page: Browser) -> None:
    """What was not seen in the preview is not merged."""
    fields = fields_of(page, "/merge?keep=one&other=two")
    (page.root / "nephrology/two.md").write_text(TWINS["nephrology/two.md"] + "Later.\n")
    assert page.post("/merge", fields).status == 409
    assert "Later." in (page.root / "nephrology/two.md").read_text()


def test_a_draw_lists_its_numbers(page: Browser) -> None:
    """Drawn, recorded, and shown by number; loading the list again draws nothing new."""
    drawn = page.post("/log/draw", {"count": "20"})
    assert drawn.status == 303, drawn.words
    listed = page.get(drawn.goes_to).words
    assert "20 questions drawn" in listed
    assert page.get(drawn.goes_to).words == listed
    assert len((page.root / "log/draws-test.csv").read_text().splitlines()) == 21


@pytest.mark.parametrize("count", ["", "abc", "0", "-3", "99999"])
def test_a_draw_of_no_number_says_what_to_type(page: Browser, count: str) -> None:
    """The sentence names the field, an example and what was typed."""
    answer = page.post("/log/draw", {"count": count})
    assert answer.status == 400
    assert f"Questions must be a whole number, such as 50; you typed '{count}'" in answer.words


def test_the_score_of_a_paper_is_recorded(page: Browser) -> None:
    """Three fields; then it is in the list of papers."""
    sent = {"paper": "paper-1", "right": "142", "asked": "200"}
    assert page.post("/log/paper", sent).goes_to == "/sittings"
    assert "71%" in page.get("/sittings").words


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"right": "abc"}, "Right must be a whole number, such as 142; you typed 'abc'"),
        ({"right": "201"}, "201 right of 200 cannot be"),
        ({"paper": "a b"}, "'a b' is not a name for a paper"),
        ({"paper": ""}, "The paper is missing. Choose it."),
    ],
)
def test_a_score_that_cannot_be_is_refused(
    page: Browser, fields: dict[str, str], said: str
) -> None:
    """One sentence, and what was typed stays."""
    sent = {"paper": "paper-1", "right": "142", "asked": "200", **fields}
    answer = page.post("/log/paper", sent)
    assert (answer.status, said in answer.words) == (400, True)
    values = {e.get("name"): e.get("value") for e in answer.elements.all("input")}
    kept = [e.get("value") for e in answer.elements.all("option") if "selected" in e]
    assert [values.pop("other") or "".join(kept), values["right"], values["asked"]] == [
        *sent.values()
    ]


def test_what_was_done_is_undone_by_a_button(page: Browser) -> None:
    """The last act stands first, and its button takes it back."""
    page.post("/log", {"entry": "entry-0001", "source": "north", "item": "141", "outcome": "right"})
    acts = [e["value"] for e in page.get("/undo").elements.all("input") if e.get("name") == "act"]
    assert len(acts) == 1
    page.post("/undo", {"act": str(acts[0])})
    assert ",void," in (page.root / "log/attempts-test.csv").read_text()


def test_a_related_note_is_linked_by_a_button(browser: Callable[..., Browser]) -> None:
    """The link is written at the end of the note, and the note then stands in one list only."""
    page = browser(
        {
            f"nephrology/{name}.md": f"---\ntitle: {name}\narea: nephrology\nconcepts: [sodium]\n"
            f"questions: [north:41]\n---\nSodium of {name}.\n"
            for name in ("one", "two")
        }
    )
    near = page.get("/note/nephrology/one.md/near")
    assert near.elements.texts("a").count("Two") == 1
    assert page.post("/note/nephrology/one.md/link", {"other": "two"}).status == 303
    assert "See [two](two.md)." in (page.root / "nephrology/one.md").read_text()
    again = page.get("/note/nephrology/one.md/near")
    assert "Link to two" not in again.html


def test_both_versions_of_a_note_can_be_kept(page: Browser) -> None:
    """After a conflict one press keeps the file and adds one's own lines at its end."""
    path = page.root / "nephrology/one.md"
    form = fields_of(page, "/note/nephrology/one.md/edit")
    path.write_text(TWINS["nephrology/one.md"].replace("The same.", "Theirs."))
    mine = TWINS["nephrology/one.md"].replace("The same.", "Mine.")
    address = "/note/nephrology/one.md/edit"
    conflict = page.post(address, {"text": mine, "digest": form["digest"]})
    assert (conflict.status, "Keep both" in conflict.words) == (409, True)
    digest = next(
        str(e["value"]) for e in conflict.elements.all("input") if e.get("name") == "digest"
    )
    assert page.post(address, {"text": mine, "digest": digest, "both": "yes"}).status == 303
    assert path.read_text().endswith("Theirs.\n\nMine.\n")


def test_the_key_chosen_is_not_wrong(page: Browser) -> None:
    """Chose A, key A is a slip: it is said, and nothing is logged."""
    sent = {"entry": "entry-0001", "source": "north", "item": "141", "reason": "misread"}
    answer = page.post("/log", {**sent, "chosen": "A", "key": "A"})
    assert answer.status == 400
    assert "You chose A, and it is the key" in answer.words
    assert not (page.root / "log/attempts-test.csv").exists()


def test_the_preview_of_a_sheet_shows_all_that_will_be_logged(page: Browser) -> None:
    """Question and outcome, the area by its name, the day, and how sure the answer was."""
    answer = page.post("/log/sheet", {"text": "4 Jan north nephrology\n141 ?\n142\n"})
    assert "north:141 right Nephrology 4 Jan 2027" in answer.words
    texts = (*answer.elements.texts("span"), *answer.elements.texts("p"))
    assert {"north:142 right", "Unsure"} <= {*texts}


def state_of(page: Browser) -> tuple[dict[str, str], list[str]]:
    """Notes and settings as text, and what the screens say that read the logs."""
    files = {
        path.relative_to(page.root).as_posix(): path.read_text(encoding="utf-8")
        for path in sorted(page.root.rglob("*"))
        if path.suffix in (".md", ".yaml")
    }
    return files, [page.get(address).words for address in ("/sittings", "/report/standing")]


def test_renaming_shows_what_changes_before(page: Browser) -> None:
    """The preview changes nothing; the button does, and the answers count under the new name."""
    asked = {"kind": "source", "old": "north", "new": "hill"}
    preview = page.post("/rename", asked)
    assert "Changed: study.yaml and 2 notes. 89 answers in the log under the old name." in (
        preview.words
    )
    assert "north:41" in (page.root / "nephrology/one.md").read_text()
    assert page.post("/rename", {**asked, "sure": "yes"}).goes_to == "/undo"
    assert "hill:41" in (page.root / "nephrology/one.md").read_text()
    assert "hill" in (page.root / "study.yaml").read_text()
    assert "north is now called hill." in page.get("/undo").words


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"kind": "area", "old": "nowhere", "new": "x"}, "nowhere"),
        ({"kind": "note", "old": "one", "new": "two"}, "choose what to rename"),
    ],
)
def test_what_cannot_be_renamed_is_said(page: Browser, fields: dict[str, str], said: str) -> None:
    """What was typed stays, and nothing is changed."""
    answer = page.post("/rename", fields)
    assert (answer.status, said in answer.words.replace("Choose", "choose")) == (400, True)
    assert "Nothing was changed." in answer.words


@pytest.mark.parametrize(
    ("address", "fields"),
    [
        ("/log", {"entry": "entry-01", "source": "north", "item": "90", "outcome": "wrong"}),
        ("/log/paper", {"paper": "paper-1", "right": "142", "asked": "200"}),
        ("/log/sheet/save", {"text": "north\n90 x\n91\n"}),
        ("/read/mark", {"note": "nephrology/one.md"}),
        ("/log/draw", {"count": "5"}),
        ("/merge", {}),
        ("/rename", {"kind": "source", "old": "north", "new": "hill", "sure": "yes"}),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_every_act_of_the_page_is_undone(
    page: Browser, address: str, fields: dict[str, str]
) -> None:
    """Afterwards the base says what it said before, and the act counted in between."""
    fields = fields or fields_of(page, "/merge?keep=one&other=two")
    before = state_of(page)
    logs = {path.name: path.read_bytes() for path in (page.root / "log").iterdir()}
    assert page.post(address, fields).status == 303
    done = {path.name: path.read_bytes() for path in (page.root / "log").iterdir()}
    assert (state_of(page), done) != (before, logs)
    acts = [e["value"] for e in page.get("/undo").elements.all("input") if e.get("name") == "act"]
    assert page.post("/undo", {"act": str(acts[0])}).status == 303
    assert state_of(page) == before
