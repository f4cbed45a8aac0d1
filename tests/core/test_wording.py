"""Words are put together one way everywhere."""

from __future__ import annotations

import json

import pytest

from kb.core.wording import capital, ended, listed, visible, visible_html


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("first round", "First round"),
        ("pH in the pleura", "pH in the pleura"),
        ("eGFR", "eGFR"),
        ("north:12", "north:12"),
        ("a/b.md: the file changed", "a/b.md: the file changed"),
        ("wrong: twice", "Wrong: twice"),
        ("", ""),
    ],
)
def test_a_sentence_begins_with_a_capital_and_a_name_stays(text: str, said: str) -> None:
    """What has capitals of its own, and what one would type, is left alone."""
    assert capital(text) == said


def test_words_are_listed_as_one_says_them() -> None:
    """Commas, and one `and`."""
    assert [listed(words) for words in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]


def test_a_sentence_ends() -> None:
    """With a full stop, or with what it has."""
    assert [ended(text) for text in ("gone", "did you mean x?")] == ["gone.", "did you mean x?"]


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("\x1b[2J\x1b]0;gone\x07", "\\u001b[2J\\u001b]0;gone\\u0007"),
        ("5 mg\r500 mg", "5 mg\\u000d500 mg"),
        ("\x9b31m", "\\u009b31m"),
        ("dose \u202egm 005", "dose \\u202egm 005"),
        ("\u2066a\u2069\u200f\x7f", "\\u2066a\\u2069\\u200f\\u007f"),
        ("two\tcells\r\nand a line\n", "two\tcells\nand a line\n"),
        (
            "\u0645\u0631\u062d\u0628\u0627 \U0001f468\u200d\u2695\ufe0f",
            "\u0645\u0631\u062d\u0628\u0627 \U0001f468\u200d\u2695\ufe0f",
        ),
    ],
)
def test_controls_of_terminal_and_direction_are_shown(text: str, seen: str) -> None:
    """ECMA-48 escapes and the directional formatting characters of Unicode (UAX 9); words of
    any script, and emoji, stay.
    """
    assert visible(text) == seen


def test_what_is_shown_in_json_means_the_same() -> None:
    """An escape that is shown is JSON's own."""
    text = 'a\u202e\x9b"\x1b'
    assert json.loads(visible(json.dumps(text, ensure_ascii=False))) == text


def test_on_a_page_only_what_is_read_is_changed() -> None:
    """Tags, and a field whose text is sent back, keep theirs."""
    page = (
        '<p title="a\u202e">b\u202e</p>\r\n<textarea>c\u202e\r\n</textarea><script>d\u202e</script>'
    )
    assert visible_html(page) == page.replace("b\u202e", "b\\u202e")
    assert visible_html("<p>\r</p>") == "<p>\\u000d</p>"
