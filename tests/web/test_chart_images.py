"""Charts on the page: a picture for each screen and scheme, its words and its numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree

import pytest
from chart_bases import full, one_answer

from kb.web.view_helpers import KEPT_COUNT, _held

if TYPE_CHECKING:
    from collections.abc import Callable

    from web_client import Answer, Browser

SCREENS = {
    "/progress": ["forecast"],
    "/report/standing": ["standing", "accuracy"],
    "/report/plan": ["plan"],
    "/sittings/paper-1": ["pace"],
    "/report/certainty": ["reliability"],
}


def addresses(answer: Answer) -> list[str]:
    """Every address of a picture that a page names."""
    images = [image["src"] or "" for image in answer.elements.all("img")]
    return images + [source["srcset"] or "" for source in answer.elements.all("source")]


@pytest.mark.parametrize("address", SCREENS)
def test_a_screen_shows_its_charts(browser: Callable[..., Browser], address: str) -> None:
    """Each in a figure with an alternative, its sentences and its numbers as a table."""
    answer = browser(full()).get(address)
    names = [image["src"] or "" for image in answer.elements.all("img")]
    # Each twice: a dark screen has the light one as well, for a print.
    assert [src.split("/")[2].split(".")[0] for src in names[::2]] == SCREENS[address]
    assert names[::2] == names[1::2]
    assert len(answer.elements.all("figure")) == len(SCREENS[address])
    assert answer.words.count("The numbers in this chart") == len(SCREENS[address])
    assert all((image["alt"] or "").startswith("Chart: ") for image in answer.elements.all("img"))


def test_the_words_and_numbers_are_those_of_the_chart(browser: Callable[..., Browser]) -> None:
    """One sentence and the table stand beneath it; all that it says is its alternative."""
    answer = browser(full()).get("/report/certainty")
    image, _ = answer.elements.all("img")
    assert "Share right by certainty, from 150 answers." in str(image["alt"])
    assert len(answer.elements.texts("figcaption")) == 1
    assert "Claims" in answer.words


@pytest.mark.parametrize("address", SCREENS)
def test_every_picture_named_is_there(browser: Callable[..., Browser], address: str) -> None:
    """Narrow and wide, by day and by night: each is an SVG with a title."""
    own = browser(full())
    found = set(addresses(own.get(address)))
    assert len(found) == 4 * len(SCREENS[address])
    for place in found:
        picture = own.get(place)
        assert picture.status == 200
        assert picture.headers["Content-Type"].startswith("image/svg+xml")
        assert ElementTree.fromstring(picture.raw)[0].text


def test_sizes_and_schemes_differ(browser: Callable[..., Browser]) -> None:
    """A phone's picture is narrower, and at night the paper is dark."""
    own = browser(full())
    roots = {
        (size, scheme): own.get(f"/chart/plan.svg?size={size}&scheme={scheme}").html
        for size in ("narrow", "wide")
        for scheme in ("light", "dark")
    }
    assert 'width="340"' in roots["narrow", "light"]
    assert 'width="560"' in roots["wide", "dark"]
    assert ["#0f1a26" in roots["wide", scheme] for scheme in ("light", "dark")] == [False, True]


def test_colours_of_the_page_and_of_its_pictures_are_one(browser: Callable[..., Browser]) -> None:
    """Paper and ink of both schemes stand in the style sheet as they do in the palettes."""
    from kb.charts import style_of

    sheet = browser().get("/static/page.css").html
    by_day, _, by_night = sheet.partition("prefers-color-scheme: dark")
    for part, palette in ((by_day, "light"), (by_night, "dark")):
        colours = style_of(390, palette).palette
        for name in ("paper", "ink", "quiet", "line"):
            assert f"--{name}: {getattr(colours, name)};" in part


def test_the_options_of_a_report_reach_its_chart(browser: Callable[..., Browser]) -> None:
    """The certainty of one paper is drawn from that paper: here it has none, and no picture."""
    own = browser(full())
    first = addresses(own.get("/report/certainty?first=yes"))
    assert all("first=yes" in place for place in first)
    assert own.get("/report/certainty?sitting=paper-1").elements.all("figure") == []
    assert own.get("/chart/pace.svg?sitting=paper-1").status == 200


def test_too_little_to_draw_is_no_broken_picture(browser: Callable[..., Browser]) -> None:
    """A base with one answer shows a sentence, and the picture's address says the same."""
    own = browser(one_answer())
    page = own.get("/report/standing")
    assert "Too little to draw over time: 1 answer" in page.words
    assert [src for src in addresses(page) if "accuracy" in src] == []
    refused = own.get("/chart/forecast.svg")
    assert refused.status == 404
    assert "Too little to say: 1 answer so far" in refused.words


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/chart/nothing.svg", 404),
        ("/chart/_draw.svg", 404),
        ("/chart/..%2f..%2fexam.svg", 404),
        ("/chart/plan.png", 404),
        ("/chart/plan.svg?x=1", 400),
        ("/chart/plan.svg?size=99999", 400),
        ("/chart/plan.svg?scheme=red", 400),
        ("/chart/pace.svg?sitting=nothing", 404),
        ("/chart/forecast.svg?pass_mark=nan", 400),
    ],
)
def test_what_is_no_chart_is_refused(
    browser: Callable[..., Browser], address: str, status: int
) -> None:
    """No other file, size or option is answered."""
    assert browser(full()).get(address).status == status


def test_a_picture_that_did_not_change_is_not_sent_again(
    browser: Callable[..., Browser],
) -> None:
    """A phone on a train asks whether it changed, and gets no second copy."""
    own = browser(full())
    first = own.get("/chart/plan.svg")
    again = own.get("/chart/plan.svg", {"If-None-Match": first.headers["ETag"]})
    assert (again.status, again.raw) == (304, b"")


def test_a_new_answer_changes_the_picture(browser: Callable[..., Browser]) -> None:
    """Nothing old is shown once the log has grown."""
    own = browser(full())
    before = own.get("/chart/accuracy.svg").raw
    log = own.root / "log/attempts-other.csv"
    head, _, _ = (own.root / "log/attempts-test.csv").read_text(encoding="utf-8").partition("\n")
    row = f"{'f' * 16},2027-02-14T11:00:00+00:00,north:299,,,,right,,,first,\n"
    log.write_text(f"{head}\n{row}", encoding="utf-8")
    assert own.get("/chart/accuracy.svg").raw != before


def test_memory_holds_some_charts_not_all(browser: Callable[..., Browser]) -> None:
    """However many options are asked for, the charts that are kept have an end."""
    own = browser(full())
    for mark in range(10, KEPT_COUNT + 15):
        own.get(f"/chart/forecast.svg?pass_mark=0.{mark}")
    session = own.app.extensions["missbook"].borrow()
    assert len(_held(session.base, session.today)) == KEPT_COUNT
