"""Suggestions while writing: what may cover it already, the area, the concepts."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.ids import AreaId, NoteId
from kb.core.model import Note
from kb.core.search_result import Hit
from kb.knowledge.suggestions import chance_same, named, rank_nearby, suggest, vote_area
from kb.language.abbreviations import Glossary

STOCK = Glossary()


def note(name: str, title: str, area: str = "renal", *, concepts: str = "") -> Note:
    """A note of one area."""
    return Note(
        id=NoteId(name),
        path=f"{area}/{name}.md",
        title=title,
        areas=(AreaId(area),),
        concepts=tuple(concepts.split(", ")) if concepts else (),
    )


def hits(**weights: float) -> tuple[Hit, ...]:
    """Hits by name, best first."""
    return tuple(Hit(note=NoteId(name), weight=weight) for name, weight in weights.items())


def test_a_note_far_ahead_is_likely_the_same() -> None:
    """Most of the text covered, and nothing else near: better add to that note."""
    (first, *_) = rank_nearby(hits(a=0.8, b=0.3))
    assert first.note == "a"
    assert first.likely_same


def test_a_note_among_equals_is_not_called_the_same() -> None:
    """When several notes cover the text alike, none is likely the same."""
    assert not any(near.likely_same for near in rank_nearby(hits(a=0.5, b=0.49, c=0.48)))


def test_chances_fall_down_the_list() -> None:
    """A note further down is never called likelier than the one before it."""
    chances = [near.chance for near in rank_nearby(hits(a=0.6, b=0.55, c=0.1))]
    assert chances == sorted(chances, reverse=True)


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1))
def test_covering_more_never_lowers_the_chance(one: float, other: float, after: float) -> None:
    """The chance grows with what is covered, for the same next note."""
    low, high = sorted((one, other))
    after = min(after, low)
    assert 0 <= chance_same(low, after) <= chance_same(high, after) + 1e-12 <= 1 + 1e-12


def test_the_area_is_that_of_the_near_notes() -> None:
    """Near notes decide; the fraction says how clearly."""
    areas = {
        NoteId("a"): (AreaId("renal"),),
        NoteId("b"): (AreaId("cardiology"),),
        NoteId("c"): (AreaId("renal"),),
    }
    area, fraction = vote_area(hits(a=0.4, b=0.2, c=0.2), areas)
    assert area == "renal"
    assert fraction == pytest.approx((0.16 + 0.04) / 0.24)


def test_no_neighbour_no_area() -> None:
    """Nothing near, nothing said."""
    assert vote_area((), {}) == ("", 0.0)


def test_concepts_are_found_in_any_spelling_and_as_abbreviations() -> None:
    """American spelling, plurals and short forms name the concept of the base."""
    concepts = ("hyperkalaemia", "atrial fibrillation", "ECG", "sodium")
    text = "AF with hyperkalemia: the electrocardiogram first"
    assert named(text, concepts, STOCK) == ("atrial fibrillation", "hyperkalaemia", "ECG")


def test_only_whole_words_name_a_concept() -> None:
    """`iron` is not named in `environment`, nor two words that stand apart."""
    assert (
        named("the environment of the heart, and failure", ("iron", "heart failure"), STOCK) == ()
    )


def test_a_draft_is_given_its_concepts_its_area_and_the_notes_near_it() -> None:
    """All three come from one call: concepts of any note, area and notes of the near ones."""
    notes = (
        note("far", "Minimal change disease", "other", concepts="podocyte"),
        note("other", "Nephrotic syndrome", concepts="oedema"),
    )
    text = "Membranous nephropathy or minimal change disease in nephrotic syndrome with edema"
    found = suggest(text, hits(other=0.2), notes)
    assert found.concepts == ("oedema",)
    assert [near.note for near in found.nearby] == ["other"]
    assert found.area == "renal"


def test_a_hit_of_a_note_that_is_gone_is_passed_over() -> None:
    """The index may know a note that the base does not show."""
    found = suggest("anything", hits(gone=0.9), (note("a", "A note"),))
    assert found.nearby == ()


@given(st.text(max_size=200))
def test_no_text_raises(text: str) -> None:
    """Any draft gets suggestions, or none."""
    suggest(text, hits(a=0.3), (note("a", "A note", concepts="ECG"),))
