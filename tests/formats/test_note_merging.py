"""Two notes made one: the first then holds everything of the second. Texts worked by hand."""

from __future__ import annotations

import pytest

from kb.core.errors import KBError
from kb.formats.note_merging import merge_texts, move_links, repoint

WHEN = "2027-02-14T12:00+00:00"
KEEP = (
    "---\ntitle: TTP\narea: haematology\nconcepts: [TTP]\nquestions: [north:1]\nbasis: text A\n"
    "written: 2027-01-10\n---\nNo platelets.\n"
)
OTHER = (
    "---\ntitle: Fragments\narea: nephrology\nconcepts: [haemolysis]\nquestions: [north:2]\n"
    "basis: text B\nwritten: 2027-01-11\n---\nLook at the film.\n"
)
MERGED = (
    "---\ntitle: TTP\narea: [haematology, nephrology]\nconcepts: [TTP, haemolysis]\n"
    "questions: [north:1, north:2]\nbasis: text A; text B\n"
    f"written: {WHEN}\n---\nNo platelets.\n\n## Fragments\n\nLook at the film.\n"
)


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_the_second_follows_the_first_under_its_title(line_end: str) -> None:
    """Questions, concepts, areas and bases are joined; line ends stay those of the first."""
    keep = KEEP.replace("\n", line_end)
    found = merge_texts(keep, "haematology/ttp.md", OTHER, "nephrology/f.md", WHEN)
    assert found == MERGED.replace("\n", line_end)


def test_a_text_that_is_there_already_is_not_said_twice() -> None:
    """Only the front matter changes."""
    other = OTHER.replace("Look at the film.", "No   platelets.")
    found = merge_texts(KEEP, "haematology/ttp.md", other, "nephrology/f.md", WHEN)
    assert found == MERGED.split("\n\n## Fragments", maxsplit=1)[0] + "\n"


@pytest.mark.parametrize(
    ("body", "moved"),
    [
        ("[a](old.md)", "[a](new.md)"),
        ("[a](old.md#part)", "[a](new.md#part)"),
        ("[a](<old.md> 'T')", "[a](new.md 'T')"),
        ("[a][r]\n\n[r]: old.md", "[a][r]\n\n[r]: new.md"),
        ("![a](old.md)", "![a](new.md)"),
        ("[a](other.md)", "[a](other.md)"),
        ("[a](https://example.org/old.md)", "[a](https://example.org/old.md)"),
        ("[a]()", "[a]()"),
        ("`[a](old.md)` ``[a](old.md)``", "`[a](old.md)` ``[a](old.md)``"),
        ("```\n[a](old.md)\n```\n[b](old.md)", "```\n[a](old.md)\n```\n[b](new.md)"),
        ("~~~\n[a](old.md)", "~~~\n[a](old.md)"),
        ("[a](x y.md)", "[a](x y.md)"),
        ("[a](../../old.md)", "[a](../../old.md)"),
    ],
)
def test_links_to_a_note_that_goes_lead_to_the_one_that_stays(body: str, moved: str) -> None:
    """In every form of CommonMark, but not in code; other links stay to the byte."""
    assert move_links(body, "n/x.md", "n/x.md", "n/old.md", "n/new.md") == moved


def test_links_of_a_body_that_moves_are_counted_from_its_new_place() -> None:
    """A link to the body's own new file becomes its text, a picture of it stays one."""
    body = "[a](near.md) [b](../m/far.md#x) [own](../m/new.md) ![p](a%20b.png) [w](mailto:a@b)"
    moved = "[a](../n/near.md) [b](far.md#x) own ![p](../n/a%20b.png) [w](mailto:a@b)"
    assert move_links(body, "n/x.md", "m/new.md", "n/x.md", "m/new.md") == moved
    assert move_links("[a](b.md)", "x.md", "m/y.md", "q.md", "r.md") == "[a](../b.md)"
    assert move_links("[a](../b.md)", "m/y.md", "x.md", "q.md", "r.md") == "[a](b.md)"


def test_only_the_body_is_pointed_elsewhere() -> None:
    """What looks like a link in the front matter stays."""
    text = "---\nbasis: '[a](old.md)'\n---\n[a](old.md)\n"
    assert repoint(text, "x.md", "old.md", "new.md") == text.replace("---\n[a](old", "---\n[a](new")


def test_what_both_say_is_kept_once() -> None:
    """The same concept in another spelling, the same area and basis, and a text with a heading."""
    other = OTHER.replace("haemolysis", "ttp, TTP").replace("nephrology", "haematology")
    other = other.replace("text B", "text A").replace("Look", "# Film\n\nLook")
    found = merge_texts(KEEP, "haematology/ttp.md", other, "haematology/f.md", WHEN)
    assert (
        found
        == KEEP.replace("[north:1]", "[north:1, north:2]").replace("2027-01-10", WHEN)
        + "\n# Film\n\nLook at the film.\n"
    )


@pytest.mark.parametrize(
    ("areas", "joined"),
    [
        ("area: haematology\n", "area: [haematology, nephrology]\n"),
        ("areas: [haematology]\n", "areas: [haematology, nephrology]\n"),
        ("area: x\nareas: [haematology]\n", "area: x\nareas: [haematology, nephrology]\n"),
    ],
)
def test_an_area_is_added_under_the_key_that_is_there(areas: str, joined: str) -> None:
    """And a concept that the other note spells in two ways is added once."""
    keep = KEEP.replace("area: haematology\n", areas)
    other = OTHER.replace("[haemolysis]", "[haemolysis, Haemolysis]")
    found = merge_texts(keep, "haematology/ttp.md", other, "nephrology/f.md", WHEN)
    assert found == MERGED.replace("area: [haematology, nephrology]\n", joined)


def test_a_note_without_an_area_takes_the_other_s() -> None:
    """As a list, which a third may join."""
    keep = KEEP.replace("area: haematology\n", "")
    found = merge_texts(keep, "haematology/ttp.md", OTHER, "nephrology/f.md", WHEN)
    assert "\nareas: [nephrology]\n" in found


def test_a_note_that_names_no_basis_takes_the_other_s() -> None:
    """And of one title the second text follows without it."""
    keep = KEEP.replace("basis: text A\n", "")
    other = OTHER.replace("Fragments", "TTP")
    found = merge_texts(keep, "haematology/ttp.md", other, "nephrology/f.md", WHEN)
    assert "basis: text B\n" in found
    assert found.endswith("---\nNo platelets.\n\nLook at the film.\n")


def test_front_matter_that_cannot_take_a_question_stops_it() -> None:
    """The note that stays names its questions in a way that cannot be added to."""
    keep = KEEP.replace("[north:1]", "{north: 1}")
    with pytest.raises(KBError):
        merge_texts(keep, "haematology/ttp.md", OTHER, "nephrology/f.md", WHEN)
