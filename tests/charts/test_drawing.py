"""Charts are drawn alike every time, in one ink, in words that fit, with nothing from outside."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from itertools import combinations
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import pytest
from chart_bases import full, one_answer

from kb.charts import chart_names, draw, style_of
from kb.core.errors import QueryError
from kb.core.wording import CAUTION
from kb.services.session import Session

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from kb.charts import Chart

SVG = "{http://www.w3.org/2000/svg}"
SLACK = 4.5
"""Pixels by which the boxes of two words may overlap: the room for letters that hang down."""
COLOUR = re.compile(r"#[0-9a-f]{6}\b")
BEGINS = {"svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF"}


@pytest.fixture(scope="module")
def charts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Chart]:
    """Every chart of a base in which each has something to draw."""
    from datetime import UTC, datetime

    root = tmp_path_factory.mktemp("base")
    for path, content in full().items():
        (root / path).parent.mkdir(exist_ok=True)
        (root / path).write_text(content, encoding="utf-8")
    opened = Session(root, now=datetime(2027, 2, 14, 12, tzinfo=UTC), device="test")
    return {name: opened.chart(name) for name in chart_names()}


@pytest.mark.parametrize(
    ("name", "form"),
    [*((name, "svg") for name in chart_names()), ("forecast", "png"), ("forecast", "pdf")],
)
def test_the_same_chart_is_the_same_file(charts: dict[str, Chart], name: str, form: str) -> None:
    """Drawn twice, every byte is alike: no date, no random name inside."""
    one, two = (draw(charts[name], form, style_of(390)) for _ in range(2))
    assert one == two
    assert one.startswith(BEGINS[form])


def test_another_run_draws_the_same_bytes(base: Callable[..., Path]) -> None:
    """Two processes with different hash seeds write one and the same picture.

    Nor does the drawing library say a word when its own folder cannot be made.
    """
    root = base(full())
    code = (
        "import sys\nfrom kb.cli import main\n"
        f"main(['chart', 'pace', '--base', {str(root)!r}, '--as-of', '2027-02-14',"
        " '--out', sys.argv[1]])"
    )
    files = [root.parent / f"{seed}.svg" for seed in "12"]
    blocked = root.parent / "blocked"
    blocked.write_text("", encoding="utf-8")
    for seed, file in zip("12", files, strict=True):
        environment = {"PYTHONHASHSEED": seed, "MPLCONFIGDIR": str(blocked / "none")}
        done = subprocess.run(
            [sys.executable, "-c", code, str(file)],
            check=True,
            env={**os.environ, **environment},
            capture_output=True,
        )
        assert done.stderr == b""
    assert files[0].read_bytes() == files[1].read_bytes()


def test_settings_of_the_machine_change_nothing(charts: dict[str, Chart]) -> None:
    """The drawing library's shared settings count for nothing, and stay as they were."""
    import matplotlib

    wanted = draw(charts["forecast"], "svg", style_of(390))
    with matplotlib.rc_context({"font.size": 30, "axes.facecolor": "red", "svg.fonttype": "path"}):
        before = dict(matplotlib.rcParams)
        assert draw(charts["forecast"], "svg", style_of(390)) == wanted
        assert dict(matplotlib.rcParams) == before


def test_threads_do_not_disturb_each_other(charts: dict[str, Chart]) -> None:
    """The page draws several pictures at a time, and each is what it is alone."""
    names = ["plan", "reliability", "plan", "reliability"]
    alone = {name: draw(charts[name], "svg", style_of(390)) for name in set(names)}
    with ThreadPoolExecutor(4) as pool:
        drawn = list(pool.map(lambda name: draw(charts[name], "svg", style_of(390)), names))
    assert drawn == [alone[name] for name in names]


@pytest.mark.parametrize("name", chart_names())
def test_an_svg_tells_its_title_and_what_it_says(charts: dict[str, Chart], name: str) -> None:
    """It is an image by its role, named and described for a screen reader."""
    chart = charts[name]
    root = ElementTree.fromstring(draw(chart, "svg", style_of()))
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    texts = {element.get("id"): element.text for element in root[:2]}
    labels = (root.get("aria-labelledby") or "").split()
    assert [texts[label] for label in labels] == [chart.title, chart.alternative]
    assert (root.get("width"), root.get("viewBox", "").split()[2]) == ("560", "560")


@pytest.mark.parametrize("name", chart_names())
def test_an_svg_needs_no_style_and_no_other_place(charts: dict[str, Chart], name: str) -> None:
    """A strict policy may forbid inline style and foreign addresses, and nothing is lost."""
    raw = draw(charts[name], "svg", style_of()).decode()
    root = ElementTree.fromstring(raw)
    assert not any(element.get("style") for element in root.iter())
    assert root.find(f".//{SVG}style") is None
    places = set(re.findall(r"https?://[^\"'<\s]+", raw))
    assert places <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}


@pytest.mark.parametrize("palette", ["print", "light", "dark"])
@pytest.mark.parametrize("name", chart_names())
def test_there_is_one_ink(charts: dict[str, Chart], name: str, palette: str) -> None:
    """Every colour is the ink, the paper, or a shade between the two: it survives grey."""
    style = style_of(390, palette)
    found = set(COLOUR.findall(draw(charts[name], "svg", style).decode()))
    paper, ink = channels(style.palette.paper), channels(style.palette.ink)
    assert style.palette.ink in found
    for colour in found:
        share = [(c - p) / (i - p) for c, p, i in zip(channels(colour), paper, ink, strict=True)]
        assert max(share) - min(share) < 0.12, colour
        assert -0.02 <= min(share) <= max(share) <= 1.02, colour


def channels(colour: str) -> tuple[int, ...]:
    """Red, green and blue of `#16324f`."""
    return tuple(int(colour[at : at + 2], 16) for at in (1, 3, 5))


@pytest.mark.parametrize("width", [280, 390, 1000])
@pytest.mark.parametrize("name", chart_names())
def test_no_word_is_cut_or_too_small(charts: dict[str, Chart], name: str, width: int) -> None:
    """Every word lies on the sheet, in letters of eleven pixels or more."""
    import matplotlib
    from matplotlib.text import Text

    from kb.charts._layout import SETTINGS, Sheet

    with matplotlib.rc_context(SETTINGS):
        sheet = Sheet(charts[name], style_of(width))
        sheet.figure.draw_without_rendering()
        words = [text for text in sheet.figure.findobj(Text) if text.get_text().strip()]
        shown = [text for text in words if text.get_visible()]
        assert shown
        for text in shown:
            box = text.get_window_extent()
            assert box.x0 >= -1, text.get_text()
            assert box.x1 <= width + 1, text.get_text()
            assert box.y0 >= -1, text.get_text()
            assert box.y1 <= sheet.height + 1, text.get_text()
            assert text.get_fontsize() >= 11
        boxes = [(text.get_text(), text.get_window_extent()) for text in shown]
        for (one, here), (two, there) in combinations(boxes, 2):
            across = min(here.x1, there.x1) - max(here.x0, there.x0)
            down = min(here.y1, there.y1) - max(here.y0, there.y0)
            assert min(across, down) <= SLACK, f"{one!r} lies on {two!r}"


@pytest.mark.parametrize("name", chart_names())
def test_the_font_has_every_letter(charts: dict[str, Chart], name: str) -> None:
    """No box stands where a letter should be."""
    from matplotlib import font_manager, ft2font

    letters = ft2font.FT2Font(font_manager.findfont("DejaVu Sans")).get_charmap()
    root = ElementTree.fromstring(draw(charts[name], "svg", style_of()))
    said = {letter for text in root.iter(f"{SVG}text") for letter in text.text or ""}
    assert {letter for letter in said if ord(letter) not in letters} == set()


def test_a_letter_that_the_font_lacks_is_drawn_in_peace(
    session: Callable[..., Session],
) -> None:
    """An area named in another script warns nobody, and its name stands in the SVG."""
    files = one_answer()
    files["exam.yaml"] = (
        "exam: Q\ndate: 2027-05-11\n"
        "blueprint:\n  - {area: cardiology, name: 心臓 $x_1$, items: 9}\n"
    )
    chart = session(files).chart("standing")
    assert "心臓 $x_1$" in draw(chart, "svg", style_of()).decode()
    assert draw(chart, "png", style_of()).startswith(BEGINS["png"])


def test_a_chart_that_stands_alone_bears_its_title_and_the_caution(
    charts: dict[str, Chart],
) -> None:
    """What is carried away from the page says what it is and what it is not for."""
    alone = words_of(draw(charts["plan"], "svg", style_of(560)))
    inside = words_of(draw(charts["plan"], "svg", style_of(560, alone=False)))
    assert charts["plan"].title in alone
    assert CAUTION in alone
    assert charts["plan"].title not in inside
    assert CAUTION not in inside


def words_of(raw: bytes) -> str:
    """The words of an SVG in their order; title and description left out."""
    root = ElementTree.fromstring(raw)
    return " ".join(text.text or "" for text in root.iter(f"{SVG}text"))


def test_axes_have_labels_with_units(charts: dict[str, Chart]) -> None:
    """Each axis of numbers says what it counts; the last panel names what runs across."""
    for chart in charts.values():
        assert all(panel.y.label or panel.y.names for panel in chart.panels)
        assert chart.panels[-1].x.label
        shares = [
            axis
            for panel in chart.panels
            for axis in (panel.x, panel.y)
            if axis.high <= 1.0 and axis.ticks
        ]
        assert all("%" in axis.label for axis in shares if axis.label)


@pytest.mark.parametrize("width", [0, 279, 2001])
def test_a_look_that_cannot_be_read_is_refused(width: int) -> None:
    """Too narrow, or too wide."""
    with pytest.raises(QueryError):
        style_of(width)
