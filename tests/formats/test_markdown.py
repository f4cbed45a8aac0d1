"""Notes are CommonMark, shown safely, and their links are resolved inside the base."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from kb.core.model import Heading
from kb.formats.markdown import WIDE, renderer, resolve, structure, to_page

EXAMPLES = Path(__file__).parent.parent.parent / ".cache" / "commonmark-0.31.2.json"
"""The 652 conformance examples of CommonMark 0.31.2 (2024-01-28), as the source distribution of
markdown-it-py carries them; scripts/test.py fetches the file."""

LINE_BREAK_ONLY = {218, 239, 240}
"""Examples that differ only in a line break inside an empty block quote."""


def examples() -> list[dict[str, Any]]:
    """All examples of the specification."""
    if not EXAMPLES.exists():
        pytest.fail("run scripts/fetch_test_data.py first, as scripts/test.py does")
    found: list[dict[str, Any]] = json.loads(EXAMPLES.read_text(encoding="utf-8"))
    return found


def holds_raw_html(markdown: str) -> bool:
    """Whether an example is one in which raw HTML would be passed through."""
    through, shown = MarkdownIt("commonmark"), MarkdownIt("commonmark", {"html": False})
    return bool(through.render(markdown) != shown.render(markdown))


def test_every_example_without_raw_html_is_rendered_as_specified() -> None:
    """577 of the 652 examples are byte for byte those of CommonMark 0.31.2."""
    plain = [row for row in examples() if not holds_raw_html(row["markdown"])]
    differing = {
        row["example"] for row in plain if renderer().render(row["markdown"]) != row["html"]
    }
    assert differing == LINE_BREAK_ONLY
    assert len(plain) - len(differing) == 577


def test_raw_html_of_every_example_is_shown_as_text() -> None:
    """The 72 examples with raw HTML keep to the elements that CommonMark itself can make."""
    risky = [row for row in examples() if holds_raw_html(row["markdown"])]
    assert len(risky) == 72
    for row in risky:
        assert "<script" not in renderer().render(row["markdown"])
        assert "<div" not in renderer().render(row["markdown"])
        assert "<!--" not in renderer().render(row["markdown"])


@pytest.mark.parametrize(
    "text",
    [
        "<script>alert(1)</script>",
        "[x](javascript:alert(1))",
        "[x](vbscript:x)",
        "[x](data:text/html,<script>)",
        "![x](javascript:alert(1))",
        "<img src=x onerror=alert(1)>",
        '[x](http://a" onclick="b)',
    ],
)
def test_nothing_in_a_note_becomes_active(text: str) -> None:
    """No element with a script, handler or script address comes out."""
    html = renderer().render(text)
    assert "<script" not in html
    assert "<img src=x" not in html
    assert 'href="javascript' not in html
    assert 'src="javascript' not in html
    assert '" onclick="' not in html


@given(st.text(max_size=200))
def test_no_text_makes_rendering_raise(text: str) -> None:
    """Whatever a note holds, it can be shown and its structure read."""
    renderer().render(text)
    structure(text, "a/b.md", 1)


def test_tables_are_understood() -> None:
    """A small table is a table."""
    assert "<table>" in renderer().render("| a | b |\n|---|---|\n| 1 | 2 |\n")


def test_headings_and_links_know_their_lines() -> None:
    """Lines count in the file, front matter included."""
    body = "# Top *one*\n\nSee [the ECG](ecg.md)\nand ![trace](img/a%20b.png).\n\nSub\n---\n"
    headings, links = structure(body, "neph/x.md", 5)
    assert headings == (
        Heading(text="Top one", level=1, line=5),
        Heading(text="Sub", level=2, line=10),
    )
    assert [(k.text, k.path, k.line) for k in links] == [
        ("the ECG", "neph/ecg.md", 7),
        ("trace", "neph/img/a b.png", 8),
    ]


@pytest.mark.parametrize(
    ("target", "path"),
    [
        ("ecg.md", "neph/ecg.md"),
        ("../cardio/x.md#part", "cardio/x.md"),
        ("a%20b.md", "neph/a b.md"),
        ("https://example.org/x.md", None),
        ("mailto:a@b", None),
        ("#below", None),
        ("../../etc/passwd", ""),
        ("/etc/passwd", ""),
        ("..%2f..%2fetc/passwd", ""),
        ("..\\..\\x", ""),
        ("http://[", ""),
    ],
)
def test_a_link_is_resolved_inside_the_base(target: str, path: str | None) -> None:
    """Web addresses are no files, and no link leads out of the base."""
    assert resolve(target, "neph/x.md") == path


def test_very_many_brackets_are_text() -> None:
    """A paragraph of nothing but brackets is shown as it is: looking for links in it would take
    minutes. A paragraph beside it has its links.
    """
    crowd = "[a](b) ![c](d) " * 1500
    html = renderer().render(f"{crowd}\n\n[e](f)\n")
    assert crowd.strip() in html
    assert html.count("<a ") == 1
    assert "<img" not in html


def test_brackets_of_a_crowd_take_nothing_with_them() -> None:
    """What is emphasised behind one of them, or behind two, stays so."""
    html = renderer().render("[*a*] [[*b*]] " * 700)
    assert (html.count("<em>a</em>"), html.count("<em>b</em>")) == (700, 700)


def page(body: str) -> str:
    """A body as a page shows it; files are at /at/, and only those with an a in their name."""

    def address(path: str, picture: bool) -> str:
        return f"/{'pic' if picture else 'at'}/{path}" if "a" in path else ""

    return to_page(body, "n/x.md", address).strip()


@pytest.mark.parametrize(
    ("body", "html"),
    [
        ("# One\n\n###### Six", "<h2>One</h2>\n<h6>Six</h6>"),
        ("[t](a.md)", '<p><a href="/at/n/a.md">t</a></p>'),
        ("[t](b.md)", "<p><span>t</span></p>"),
        ("[t](../../a.md)", "<p><span>t</span></p>"),
        ("[t](#below)", "<p><span>t</span></p>"),
        (
            "[t](https://example.org)",
            '<p><a href="https://example.org" rel="noopener noreferrer">t</a></p>',
        ),
        ("[o [i](a.md) u](b.md)", '<p>[o <a href="/at/n/a.md">i</a> u](b.md)</p>'),
        ("![t](a.png)", '<p><img src="/pic/n/a.png" alt="t" /></p>'),
        ("![t](b.png)", "<p>[picture: t]</p>"),
        ("![](b.png)", "<p>[picture]</p>"),
        ("![t](https://example.org/a.png)", "<p>[picture: t]</p>"),
        ("3. t", '<ol start="3">\n<li>t</li>\n</ol>'),
        ("    code", '<pre tabindex="0"><code>code\n</code></pre>'),
        ("x \u202ey", "<p>x \\u202ey</p>"),
    ],
)
def test_a_body_inside_a_page(body: str, html: str) -> None:
    """Its headings one level down; links and pictures without a target become their text."""
    assert page(body) == html


def test_a_table_inside_a_page() -> None:
    """Scrolls by itself; alignment is a class, and an empty cell heads nothing."""
    html = page("| | b |\n|:--|--:|\n| 1 | 2 |")
    assert html.startswith(f"{WIDE}<table>")
    assert html.endswith("</table></div>")
    assert '<td class="left"></td>' in html
    assert '<th class="right">b</th>' in html
    assert '<td class="right">2</td>' in html
    assert "style" not in html


@pytest.mark.parametrize(("count", "links"), [(1999, 1999), (2000, 0)])
def test_two_thousand_brackets_make_a_crowd(count: int, links: int) -> None:
    """In one paragraph; up to there each is a link."""
    assert renderer().render("[a](b)" * count).count("<a ") == links


def test_a_code_block_and_a_setext_heading_of_a_page() -> None:
    """The lines of headings and links in a body that needs the parser."""
    body = "`code`\n\nTitle *two*\n===\n\n- [a](b.md)\n  [c](<d e.md>)\\\n  ![f](g.png)\n"
    headings, links = structure(body, "n/x.md", 4)
    assert [(h.text, h.level, h.line) for h in headings] == [("Title two", 1, 6)]
    assert [(k.text, k.target, k.path, k.line) for k in links] == [
        ("a", "b.md", "n/b.md", 9),
        ("c", "d e.md", "n/d e.md", 10),
        ("f", "g.png", "n/g.png", 11),
    ]
    assert structure("`x`\n[a\nb](c.md)", "x.md", 1)[1][0].text == "a b"


def test_twenty_thousand_brackets_of_a_note_are_enough() -> None:
    """Paragraph by paragraph; those after it are text, and another note begins anew."""
    html = renderer().render("[a](b)" * 999 + "\n\n" + ("[" * 1900 + "\n\n") * 10 + "[c](d)\n")
    assert html.count("<a ") == 1000
    html = renderer().render(("[" * 1900 + "\n\n") * 11 + "[c](d)\n")
    assert html.count("<a ") == 0
    assert renderer().render("[c](d)\n").count("<a ") == 1
