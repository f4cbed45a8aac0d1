"""Every screen of the demo: readable, labelled, calm, and without anything that runs inline."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from web_client import Answer, Browser

from kb.core.wording import CAUTION
from kb.services.report_registry import report_names
from kb.services.session import Session
from kb.web.links import report_address
from kb.web.places import PLACES

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

DEMO = Path(__file__).parent.parent.parent / "notes"
DEMO_DAY = date(2027, 4, 5)
NOTE = "/note/haematology/al-amyloid-in-the-heart.md"
SCREENS = (
    "/",
    "/read/tonight",
    "/read/work",
    "/read/brief?words=neurology&minutes=5",
    "/progress",
    "/compare?one=DIC&other=TTP",
    "/compare/note?one=DIC&other=TTP",
    "/log/misses",
    "/log/miss/harbour:1826",
    "/find",
    "/find?words=low+sodium&state=failing",
    NOTE,
    "/area/cardiology",
    "/report/standing",
    "/sittings",
    "/sittings/paper-2",
    "/report/plan?days=3&what_if=minutes%3D%2B30",
    "/report/gaps?area=neurology",
    "/read",
    "/report/nothing-of-that-name",
    *(f"/report/{name}" for name in report_names()),
)
NEEDS_WORDS = ("/report/map", "/report/history", "/report/find")


class Reader(Browser):
    """A browser that remembers what it has read: nothing changes in the demo."""

    def __init__(self) -> None:
        super().__init__(DEMO, DEMO_DAY, as_of=DEMO_DAY)
        self._read: dict[str, Answer] = {}

    def get(self, address: str, headers: Mapping[str, str] | None = None) -> Answer:
        """Follow a link, once."""
        if address not in self._read:
            self._read[address] = super().get(address, headers)
        return self._read[address]


@pytest.fixture(scope="module")
def demo() -> Browser:
    """A browser on the demo base."""
    return Reader()


def test_a_report_is_built_once_until_something_is_logged(
    browser: Callable[..., Browser], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Gaps of thousands of notes take a moment; looking at them again takes none."""
    built: list[str] = []
    report = Session.report

    def counted(session: Session, name: str, *given: object) -> object:
        built.append(name)
        return report(session, name, *given)  # type: ignore[arg-type]

    monkeypatch.setattr(Session, "report", counted)
    own = browser({})
    first = own.get("/report/gaps").words
    assert own.get("/report/gaps").words == first
    assert built == ["gaps"]
    sent = {"source": "north", "item": "1", "outcome": "right", "entry": "0" * 32}
    assert own.post("/log", sent).status == 303
    own.get("/report/gaps")
    assert built.count("gaps") == 2


def test_an_empty_base_leads_on_without_commands(browser: Callable[..., Browser]) -> None:
    """On a phone no command can be typed: what comes first is a link on every screen."""
    empty = browser({"study.yaml": "timezone: Europe/London\n"})
    for address in ("/", *(place.address for place in PLACES), "/sittings", *SCREENS[-20:]):
        assert "missbook " not in empty.get(address).words, address


@pytest.mark.parametrize("address", SCREENS)
def test_a_screen_keeps_the_promises_of_every_page(demo: Browser, address: str) -> None:
    """One heading, the cautions, landmarks, labels, and no code or style inside the page."""
    answer = demo.get(address)
    page = answer.elements
    assert answer.status == (404 if "nothing" in address else 200)
    assert len(page.all("h1")) == 1
    assert CAUTION in page.texts("footer")[0]
    assert (len(page.all("main")), len(page.all("nav"))) == (1, 1)
    assert page.all("html")[0]["lang"] == "en-GB"
    assert page.all("style") == []
    for tag, attributes in page.tags:
        assert "style" not in attributes
        assert not [name for name in attributes if name.startswith("on")]
        assert tag != "script" or (attributes["src"] or "").startswith("/static/")
        for name in ("href", "src", "action"):
            assert (attributes.get(name) or "/").startswith(("/", "#"))
    labelled = {label.get("for") for label in page.all("label")}
    fields = [*page.all("input"), *page.all("select"), *page.all("textarea")]
    for field in fields:
        assert field.get("type") == "hidden" or field["id"] in labelled or "aria-label" in field
    names = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(names) == len(set(names))


def test_today_says_what_to_do(demo: Browser) -> None:
    """The first screen has the day's questions, days left, the queue's head and open misses."""
    words = demo.get("/").words
    assert "36 days left" in words
    assert "120 minutes today, day shift; 133 used." in words
    assert "All done" not in words  # its misses are still to be written up
    assert "Notes to work on first" in words
    assert "to write up" in words
    assert "Done: " in words


def test_a_note_shows_text_history_and_what_is_near(demo: Browser) -> None:
    """Its own text, the evidence, each question with its answers, and related notes."""
    answer = demo.get(NOTE)
    assert "Apex spared on strain imaging" in answer.words
    assert "Missed twice since you wrote it" in answer.words
    assert "31 Mar right" in answer.words
    links = {link["href"] for link in answer.elements.all("a")}
    near = {link["href"] for link in demo.get(f"{NOTE}/near").elements.all("a")}
    assert "/note/cardiology/cardiac-amyloid-voltages.md" in near
    assert {"/area/cardiology", "/area/haematology"} <= links


def test_a_note_is_found_by_its_id_too(demo: Browser) -> None:
    """The short name leads to the one address of the note."""
    answer = demo.get("/note/al-amyloid-in-the-heart")
    assert (answer.status, answer.goes_to) == (303, NOTE)


def test_every_option_of_find_is_a_field_that_keeps_its_value(demo: Browser) -> None:
    """Filters are a plain form: what was asked stands in it again."""
    page = demo.get("/find?words=iron&state=failing&minutes=2").elements
    fields = {field["name"]: field.get("value") for field in page.all("input")}
    assert (fields["words"], fields["minutes"]) == ("iron", "2")
    assert [o["value"] for o in page.all("option") if "selected" in o] == ["failing"]
    assert page.all("form")[0]["method"] == "get"


def test_titles_are_suggested_while_a_word_is_typed(demo: Browser) -> None:
    """The start of a word is enough, and each suggestion says where it leads."""
    notes = demo.get("/find/suggest?words=amyl").json["notes"]
    assert notes
    assert all(note["address"].startswith("/note/") for note in notes)
    assert demo.get("/find/suggest?words=a").json == {"notes": []}


def test_commands_in_a_text_lead_to_their_pages(demo: Browser) -> None:
    """Who reads `missbook queue ...` in a browser can follow it."""
    links = {link["href"] for link in demo.get("/report/gaps").elements.all("a")}
    assert "/report/queue?area=neurology" in links


def test_more_rows_are_a_link_away(demo: Browser) -> None:
    """`--page` of the command is a link on the page."""
    links = {link["href"] for link in demo.get("/report/queue").elements.all("a")}
    assert any(str(link).startswith("/report/queue?page=") for link in links)


def test_areas_and_papers_in_tables_lead_on(demo: Browser) -> None:
    """A row is the way to what it is about."""
    standing = {link["href"] for link in demo.get("/report/standing").elements.all("a")}
    forecast = {link["href"] for link in demo.get("/report/forecast").elements.all("a")}
    sittings = {link["href"] for link in demo.get("/sittings").elements.all("a")}
    assert "/area/neurology" in standing
    assert "/sittings/paper-2" in sittings
    assert "/sittings/paper-2" in sittings & forecast
    assert "/sittings/paper-5" not in sittings


def test_every_report_is_within_three_touches(demo: Browser) -> None:
    """From the first screen a word of the navigation, then the report."""
    links = {
        str(link["href"]) for place in PLACES for link in demo.get(place.address).elements.all("a")
    }
    missing = [name for name in report_names() if report_address(name) not in links]
    assert sorted(missing) == ["brief", "history", "map"]  # on Read as a form; on a note, an area


@pytest.mark.parametrize(
    ("address", "word", "way"),
    [
        ("/read/tonight", "Read", ["/read"]),
        ("/report/plan", "Progress", ["/progress"]),
        ("/sittings/paper-2", "Progress", ["/progress", "/sittings"]),
        ("/log/miss/harbour:1826", "Log", ["/log", "/log/misses"]),
        (NOTE, "Read", ["/read"]),
        ("/progress", "Progress", []),
    ],
)
def test_a_screen_says_where_it_is_and_the_way_back(
    demo: Browser, address: str, word: str, way: list[str]
) -> None:
    """One word of the navigation is marked, and the way back stands above the heading."""
    answer = demo.get(address)
    marked = [link["href"] for link in answer.elements.all("a") if "aria-current" in link]
    assert marked == [next(place.address for place in PLACES if place.word == word)]
    above = answer.html.split("<h1>")[0].partition('class="way"')[2]
    assert re.findall(r'href="([^"]+)"', above) == way


def test_the_weeks_progress_is_said_once(demo: Browser) -> None:
    """It heads the first screen, and no other."""
    said = [screen for screen in SCREENS if "questions answered of" in demo.get(screen).words]
    assert said == ["/", "/report/today"]


@pytest.mark.parametrize("address", SCREENS)
def test_an_area_is_called_by_its_name(demo: Browser, address: str) -> None:
    """What is typed in a command is not what one reads: the id stands in no screen."""
    words = demo.get(address).words
    assert [
        area for area in ("palliative-care", "clinical-pharmacology") if f" {area} " in words
    ] == []


def test_a_row_begins_with_a_capital(demo: Browser) -> None:
    """Phases, reasons and papers, as areas do."""
    for address in ("/report/plan", "/report/reasons", "/sittings", "/report/standing"):
        heads = demo.get(address).elements.texts("tbody")
        assert heads
        assert [head for head in heads if head[:1].islower()] == []


def test_a_column_without_anything_is_left_out(demo: Browser) -> None:
    """No paper has a score on the rest, for none of its questions was met before."""
    heads = demo.get("/sittings").elements.texts("th")
    assert "Score" in heads
    assert "Score on the rest" not in heads


def test_what_is_wrong_leads_to_where_it_is_mended(demo: Browser) -> None:
    """A finding stands under the title of its note, and one touch opens the note's text."""
    answer = demo.get("/report/check")
    links = {str(link["href"]) for link in answer.elements.all("a")}
    edits = [link for link in links if link.endswith(".md/edit")]
    assert len(edits) == len(demo.get("/report/check").html.split("Caution</span>")) - 1 > 0
    assert "the note has no basis" in answer.words.lower()


def test_certainty_begins_with_what_matters(demo: Browser) -> None:
    """One sentence and the picture, and only then the figures, each with what it means."""
    html = demo.get("/report/certainty").html
    order = [html.index(said) for said in ("would have scored better", "<figure", "Brier score 0.")]
    assert order == sorted(order)


def test_two_notes_that_say_the_same_are_a_touch_away_each(demo: Browser) -> None:
    """Who is told to read both can read both."""
    links = {link["href"] for link in demo.get("/report/gaps").elements.all("a")}
    assert {"/note/al-amyloid-in-the-heart", "/note/cardiac-amyloid-voltages"} <= links


def test_the_screen_one_is_on_is_marked(demo: Browser) -> None:
    """The navigation says where one is, to the eye and to a screen reader."""
    now = [link for link in demo.get("/read").elements.all("a") if "aria-current" in link]
    assert [(link["href"], link["aria-current"]) for link in now] == [("/read", "page")]


@pytest.mark.parametrize(
    ("address", "status", "said"),
    [
        ("/area/cardio", 404, "Did you mean cardiology"),
        ("/note/al-amyloyd-in-the-heart", 404, "Did you mean al-amyloid-in-the-heart"),
        ("/sittings/paper-33", 404, "Did you mean"),
        ("/report/plan?days=soon", 400, "must be a whole number, such as 10; you typed 'soon'"),
        ("/report/plan?dayz=3", 400, "There is no option 'dayz' here"),
        ("/report/plan?dayz=3", 400, "The options here are days and what_if"),
        ("/report/gaps?area=cardio", 404, "Did you mean cardiology"),
        ("/nowhere", 404, "There is no such page"),
    ],
)
def test_what_is_not_there_is_said_with_a_way_on(
    demo: Browser, address: str, status: int, said: str
) -> None:
    """A wrong address ends in a sentence and, where there is one, the nearest name."""
    answer = demo.get(address)
    assert (answer.status, said in answer.words) == (status, True)


def test_a_word_spelt_nearly_right_is_one_touch_away(demo: Browser) -> None:
    """What may have been meant is a link that searches for it, with the same filters."""
    answer = demo.get("/find?words=amiloyd&area=cardiology")
    assert "Did you mean amyloid?" in answer.words
    links = {link["href"] for link in answer.elements.all("a")}
    assert "/find?words=amyloid&area=cardiology" in links


def test_every_link_leads_somewhere(demo: Browser) -> None:
    """No link of any screen ends in an error; of notes and questions a few are followed."""
    found: dict[str, str] = {}
    for screen in SCREENS:
        for link in demo.get(screen).elements.all("a"):
            found.setdefault(str(link["href"]).partition("#")[0], screen)
    found.pop("", None)
    few = {}
    for kind in ("/note/", "/log/miss/", "/area/", "/report/brief?"):
        few.update(dict.fromkeys([a for a in found if a.startswith(kind)][:3]))
        found = {a: screen for a, screen in found.items() if not a.startswith(kind)}
    broken = {a: found.get(a) for a in (*found, *few) if demo.get(a).status >= 400}
    assert broken == {}
