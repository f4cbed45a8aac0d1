"""Notes are text from anywhere: nothing in them runs, and nothing outside the base is reached."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from web_client import Answer, Browser

PICTURE = b"\x89PNG\r\n\x1a\n" + bytes(20)
SCRIPT = "<script>alert(1)</script><img src=x onerror=alert(2)>"
HEAD = "id,at,question,area,outcome,remark"
LOG = f'{HEAD}\nq1,2027-02-01T10:00+00:00,north:1,cardiology,wrong,"{SCRIPT}"\n'


def note(body: str, **head: str) -> str:
    """The file of a note."""
    known = {"title": "One idea", "area": "cardiology", **head}
    lines = "".join(f"{key}: {value}\n" for key, value in known.items())
    return f"---\n{lines}---\n{body}\n"


def runs(answer: Answer) -> list[str]:
    """Whatever on a page could run or reach out: it should be nothing."""
    found = []
    for tag, attributes in answer.elements.tags:
        if tag == "script" and not (attributes.get("src") or "").startswith("/static/"):
            found.append(tag)
        found += [name for name in attributes if name.startswith("on")]
        for name in ("href", "src"):
            value = attributes.get(name) or ""
            if value.casefold().startswith(("javascript:", "data:", "//")):
                found.append(value)
        if tag in ("iframe", "object", "embed", "base", "form") and tag != "form":
            found.append(tag)
    return found


MARKS = "gout \u202egm 005\u202c \u2066x\u2069"


def test_marks_of_direction_are_shown_and_kept_where_text_is_edited(
    browser: Callable[..., Browser],
) -> None:
    """Titles, snippets and concepts show them as escapes; the field to edit has them unchanged."""
    hostile = note(f"Colchicine {MARKS}.", title=f"'{MARKS}'", concepts=f"['{MARKS}']")
    own = browser({"cardiology/one.md": hostile})
    for address in ("/note/cardiology/one.md", "/find?words=gout", "/", "/area/cardiology"):
        words = own.get(address).words
        assert not {*words} & {"\u202e", "\u202c", "\u2066", "\u2069"}, address
    assert "gout \\u202egm 005\\u202c" in own.get("/find?words=gout").words
    assert "\\u202e" in own.get("/find/suggest?words=gout").json["notes"][0]["title"]
    assert MARKS in own.get("/note/cardiology/one.md/edit").words


def test_a_first_heading_that_repeats_the_title_is_shown_once(
    browser: Callable[..., Browser],
) -> None:
    """A note without front matter takes its title from there; a second one is its text."""
    own = browser({"one.md": "# Salt first\n\nWater next.\n\n# Salt first\n"})
    assert own.get("/note/one.md").words.count("Salt first") == 2  # heading and text


def test_script_in_body_title_concept_and_basis_is_text(browser: Callable[..., Browser]) -> None:
    """Raw HTML anywhere in a note is shown as its owner typed it."""
    hostile = note(
        f"{SCRIPT}\n\n[here](javascript:alert(3)) ![x](javascript:alert(4)) <iframe src=//evil>",
        title=f'"{SCRIPT}"',
        concepts=f"['{SCRIPT}']",
        basis=f"'{SCRIPT}'",
        questions="[north:1]",
    )
    own = browser({"cardiology/one.md": hostile, "log/attempts-test.csv": LOG})
    for address in ("/note/cardiology/one.md", "/find?words=script", "/", "/area/cardiology"):
        answer = own.get(address)
        assert answer.status == 200
        assert runs(answer) == []
    page = own.get("/note/cardiology/one.md")
    assert page.words.count("<script>alert(1)</script>") >= 4
    assert page.elements.all("img") == []


def test_script_in_a_file_name_is_text(browser: Callable[..., Browser]) -> None:
    """A file may be called anything."""
    own = browser({"cardiology/<img src=x onerror=alert(1)>.md": "No front matter here.\n"})
    answer = own.get("/find?words=front+matter")
    link = next(a["href"] for a in answer.elements.all("a") if "/note/" in str(a["href"]))
    page = own.get(str(link))
    assert (page.status, runs(answer), runs(page)) == (200, [], [])
    assert page.elements.texts("h1") == ["<img src=x onerror=alert(1)>"]


@pytest.mark.parametrize(
    "address",
    [
        "/find?words={}",
        "/report/{}",
        "/note/{}",
        "/area/{}",
        "/report/gaps?{}=1",
        "/report/plan?what_if={}",
    ],
)
def test_script_in_an_address_is_text(browser: Callable[..., Browser], address: str) -> None:
    """What is said back of an address cannot run."""
    spelt = "%3Cscript%3Ealert(1)%3C%2Fscript%3E%22%3E%3Cimg%20onerror%3Dx%3E"
    assert runs(browser().get(address.format(spelt))) == []


def test_links_between_notes_work_and_others_are_plain(browser: Callable[..., Browser]) -> None:
    """A link to a note leads to its page; one to nothing, or out of the base, is only text."""
    body = (
        "[two](two.md) [three](../neurology/three%20a.md#part) [none](gone.md)"
        " [out](../../outside.md) [site](https://example.org/x)"
    )
    own = browser(
        {
            "cardiology/one.md": note(body),
            "cardiology/two.md": note("Second.", title="Two"),
            "neurology/three a.md": note("Third.", title="Three"),
        }
    )
    page = own.get("/note/cardiology/one.md")
    article = page.html.split("<article")[1].split("</article>")[0]
    assert 'href="/note/cardiology/two.md"' in article
    assert 'href="/note/neurology/three%20a.md"' in article
    assert "<span>none</span> <span>out</span>" in article
    assert 'href="https://example.org/x" rel="noopener noreferrer"' in article
    assert own.get("/note/neurology/three%20a.md").status == 200


def test_headings_of_a_note_stand_below_its_title(browser: Callable[..., Browser]) -> None:
    """The title is the one first heading of the page."""
    page = browser({"cardiology/one.md": note("# Part\n\n## Smaller")}).get(
        "/note/cardiology/one.md"
    )
    assert page.elements.texts("h1") == ["One idea"]
    assert "<h2>Part</h2>" in page.html
    assert "<h3>Smaller</h3>" in page.html


def test_a_picture_beside_a_note_is_shown(browser: Callable[..., Browser]) -> None:
    """It is handed out from the base, with its kind; one from elsewhere is only its text."""
    body = "![strip](ecg.png) ![far](https://example.org/a.png) ![gone](no.png)"
    own = browser({"cardiology/one.md": note(body), "cardiology/ecg.png": PICTURE})
    page = own.get("/note/cardiology/one.md")
    assert [image["src"] for image in page.elements.all("img")] == ["/file/cardiology/ecg.png"]
    assert "[picture: far]" in page.words
    picture = own.get("/file/cardiology/ecg.png")
    assert (picture.raw, picture.headers["Content-Type"]) == (PICTURE, "image/png")


def test_a_drawing_opened_by_itself_runs_nothing(browser: Callable[..., Browser]) -> None:
    """An SVG file may hold a script; its own policy keeps it from running."""
    own = browser({"cardiology/a.svg": "<svg xmlns='http://www.w3.org/2000/svg'/>"})
    policy = own.get("/file/cardiology/a.svg").headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'none';")
    assert "script-src" not in policy
    assert policy.endswith("sandbox")


SPELLINGS = (
    "../secret.png",
    "..%2fsecret.png",
    "%2e%2e%2fsecret.png",
    "%2e%2e/secret.png",
    "..%5csecret.png",
    "..\\secret.png",
    "cardiology/../../secret.png",
    "cardiology/%2e%2e/%2e%2e/secret.png",
    "....//secret.png",
    "..%252fsecret.png",
    "..%c0%afsecret.png",
    "%2fetc%2fhosts.png",
    "//etc/hosts.png",
    "C:%5csecret.png",
    "C:/secret.png",
    "file:///secret.png",
    "secret.png%00.png",
    "%00",
    "cardiology/",
    ".",
    "..",
    ".missbook/catalogue.sqlite3",
    ".hidden.png",
    "linked.png",
    "linked/secret.png",
    "exam.yaml",
    "log/attempts-test.csv",
    "{absolute}",
)


@pytest.fixture(scope="module")
def guarded(tmp_path_factory: pytest.TempPathFactory) -> Browser:
    """A base with a secret beside it, hidden files in it, and links that lead out."""
    from conftest import EXAM, TODAY
    from web_client import Browser

    root = tmp_path_factory.mktemp("beside") / "base"
    (root / "log").mkdir(parents=True)
    (root / "exam.yaml").write_text(EXAM, encoding="utf-8")
    (root / "log" / "attempts-test.csv").write_text("SECRET\n", encoding="utf-8")
    secret = root.parent / "secret.png"
    for path in (secret, root / ".hidden.png"):
        path.write_bytes(b"SECRET")
    try:
        (root / "linked.png").symlink_to(secret)
        (root / "linked").symlink_to(root.parent, target_is_directory=True)
    except OSError:
        pytest.skip("this system lets nobody make links")
    return Browser(root, TODAY)


@pytest.mark.parametrize("route", ["/file/", "/note/", "/static/"])
@pytest.mark.parametrize("spelling", SPELLINGS)
def test_no_spelling_reaches_a_file_outside(guarded: Browser, route: str, spelling: str) -> None:
    """Dots, encodings, drives, links and hidden files: none of it hands out the file."""
    secret = guarded.root.parent / "secret.png"
    answer = guarded.get(route + spelling.replace("{absolute}", str(secret)))
    assert answer.status in (303, 308, 400, 404)
    assert b"SECRET" not in answer.raw


def test_a_link_put_in_the_place_of_a_picture_is_not_followed(
    browser: Callable[..., Browser], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Even when it appears between looking at the folder and reading the file."""
    own = browser({"cardiology/ecg.png": PICTURE})
    assert own.get("/file/cardiology/ecg.png").status == 200
    monkeypatch.setattr("kb.services.session.scan", lambda _root: ())
    secret = own.root.parent / "secret.png"
    secret.write_bytes(b"SECRET")
    own.get("/read")
    target = own.root / "cardiology" / "ecg.png"
    target.unlink()
    try:
        target.symlink_to(secret)
    except OSError:
        pytest.skip("this system lets nobody make links")
    answer = own.get("/file/cardiology/ecg.png")
    assert (answer.status, b"SECRET" in answer.raw) == (404, False)
