from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from kb.language.normalise import key
from kb.language.snippets import LENGTH, best_passage

FILLER = "Nothing of note happens in this sentence at all. " * 12


def shown(pieces: tuple[tuple[str, bool], ...]) -> str:
    """The passage as one text."""
    return "".join(text for text, _ in pieces)


def marked(pieces: tuple[tuple[str, bool], ...]) -> list[str]:
    """The marked words."""
    return [text for text, hit in pieces if hit]


def test_the_passage_is_where_the_words_stand_together() -> None:
    """Of two places the one with more of the words wins, and all of them are marked."""
    body = f"Oedema alone. {FILLER}\nEdema and albumin here. {FILLER}"
    pieces, line = best_passage(body, {key("oedema"): 1.0, key("albumin"): 1.0})
    assert marked(pieces) == ["Edema", "albumin"]
    assert line == 2


def test_a_phrase_is_marked_only_where_it_stands_together() -> None:
    """Words of another name are marked in that order alone."""
    phrase = ((key("myocardial"), 0), (key("infarction"), 1))
    pieces, _ = best_passage("Myocardial infarction; other infarction.", {}, (phrase,))
    assert marked(pieces) == ["Myocardial", "infarction"]


def test_marks_of_markdown_are_not_shown() -> None:
    """Headings, emphasis and targets of links are left out, their words are not."""
    pieces, line = best_passage("# Head\n\nSee [the *list*](other.md).", {key("list"): 1.0})
    assert shown(pieces) == "Head See the list."
    assert line == 1


def test_without_a_match_the_beginning_is_shown() -> None:
    """A note found by its title shows how it begins."""
    pieces, line = best_passage(FILLER, {key("absent"): 1.0})
    assert shown(pieces).startswith("Nothing of note")
    assert (marked(pieces), line) == ([], 1)


def test_an_empty_note_has_no_passage() -> None:
    """Nothing is shown of nothing."""
    assert best_passage("", {"x": 1.0}) == ((), 0)


@given(st.lists(st.sampled_from(["oedema", "of", "é", "β-blocker", "a.", "\n", "wave" * 9])))
def test_no_word_is_cut(parts: list[str]) -> None:
    """Every word of a passage is a whole word of the text, and the passage is not long."""
    text = " ".join(parts)
    pieces, _ = best_passage(text, {key("oedema"): 1.0})
    whole = set(re.findall(r"\w+", text))
    assert set(re.findall(r"\w+", shown(pieces))) <= whole
    assert len(shown(pieces)) <= LENGTH + 60
