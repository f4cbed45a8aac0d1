"""Headings and links of a plain body are those that the Markdown parser finds."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.formats import markdown
from kb.formats.outline import halves, outline

PIECES = st.sampled_from(
    """# ## ####### - * + > 1. 12) --- === | |-| ~~ ~~~ ` ``` < & &amp; \\ [ ] ( ) ! : _ " ' word
    [a](b.md) [two words](../c/d.md#e) ![p](q.png) [x]: [x][y] <!-- <b> [ ] a|b é \u2028 \xa0
    """.split(" ")  # noqa: SIM905
) | st.sampled_from(["\n", "\n\n", " ", "  ", "    ", "\t", "\r\n", "# ", "word", "other words"])


def parsed(body: str, monkeypatch: pytest.MonkeyPatch) -> object:
    """Headings and links as the parser alone finds them."""
    monkeypatch.setattr(markdown, "outline", lambda _: None)
    found = markdown.structure(body, "renal/note.md", 1)
    monkeypatch.undo()
    return found


@settings(max_examples=300, deadline=None)
@given(pieces=st.lists(PIECES, max_size=14))
def test_plain_bodies_are_read_as_the_parser_reads_them(pieces: list[str]) -> None:
    """Whatever is taken for plain has the parser's headings, links and lines."""
    body = "".join(pieces)
    if outline(body) is None:
        return
    with pytest.MonkeyPatch.context() as patch:
        expected = parsed(body, patch)
    assert markdown.structure(body, "renal/note.md", 1) == expected


@pytest.mark.parametrize(
    "body",
    [
        "# Potassium\nTall T waves.\n\n## Then\n- one\n- two, see [sodium](sodium.md)\n",
        "Text\r\n# Windows\r\n[a](../b.md) and [c](d.md)\r\n",
    ],
)
def test_usual_notes_are_plain(body: str) -> None:
    """Headings, lists, paragraphs and links to notes need no parser."""
    with pytest.MonkeyPatch.context() as patch:
        expected = parsed(body, patch)
    assert outline(body) is not None
    assert markdown.structure(body, "renal/note.md", 1) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("---\na: b\n---\nBody\n", ("a: b\n", "Body\n", 4, True)),
        ("Body\n", (None, "Body\n", 1, True)),
        ("---\na: b\nBody\n", (None, "---\na: b\nBody\n", 1, False)),
        ("\ufeff---\r\na: b\r\n...\r\nBody", ("a: b\r\n", "Body", 4, True)),
    ],
)
def test_a_note_parts_into_front_matter_and_body(
    text: str, expected: tuple[str | None, str, int, bool]
) -> None:
    """Both newline styles, a byte order mark, and an unclosed front matter."""
    assert halves(text) == expected


@pytest.mark.parametrize(
    ("body", "plain"),
    [
        ("# Heading  \n  ## Another\n#\n", True),
        ("# One # two\n", False),
        ("\n# One\n\n[a](b.md)\n", True),
        ("see [a](b.md) and ]\n", True),
        ("see ] alone\n", True),
        ("see [ alone\n", False),
        ("a | b\n--|--\n1 | 2\n", True),
        ("a | [b](c.md)\n--|--\n1 | 2\n", False),
        ("# [a](b.md)\n", False),
        ("[ a ](b.md)\n\n[c](d.md#e)\n", True),
        ("# One\rtext\r# Two\r[a](b.md)\r", True),
    ],
)
def test_what_is_plain_and_what_is_left_to_the_parser(body: str, plain: bool) -> None:
    """Either way the parser finds the same."""
    assert (outline(body) is not None) == plain
    with pytest.MonkeyPatch.context() as patch:
        expected = parsed(body, patch)
    assert markdown.structure(body, "renal/note.md", 1) == expected
