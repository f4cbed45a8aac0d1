"""A note, a concept, a source by the words a person names it with."""

from __future__ import annotations

import pytest

from kb.core.errors import NotFoundError, QueryError, likely_slip
from kb.core.ids import NoteId, QuestionId
from kb.core.lookup import named_concept, named_note, named_source, source_to_log
from kb.core.model import Base, Note
from kb.core.settings import Exam, Source, Study


def note(path: str, title: str, **more: object) -> Note:
    """A note named after its file."""
    stem = path.rpartition("/")[2].removesuffix(".md")
    return Note(id=NoteId(stem), path=path, title=title, **more)  # type: ignore[arg-type]


TORSADES = note("cardiology/torsades.md", "Torsades", concepts=("long QT", "Torsades de  pointes"))
SIADH = note("nephrology/siadh-first.md", "SIADH: exclude first", concepts=("SIADH",))
NOTES = (TORSADES, SIADH)


@pytest.mark.parametrize(
    "words",
    [
        "siadh-first",
        "nephrology/siadh-first.md",
        "nephrology\\siadh-first.md",
        "notes/nephrology/siadh-first.md",
        "./nephrology/siadh-first.md",
        "siadh-first.md",
        "  siadh:  exclude FIRST ",
        "siadh-f",
    ],
)
def test_a_note_is_found_by_id_path_title_or_beginning(words: str) -> None:
    """As typed by hand or completed by a shell, whatever the case, slashes and spaces."""
    assert named_note(NOTES, words) is SIADH


def test_two_notes_of_one_title_are_both_named() -> None:
    """None is taken for the other."""
    other = note("renal/torsades-again.md", "Torsades")
    third = note("other/x.md", "Torsades")
    with pytest.raises(NotFoundError, match="names several notes") as raised:
        named_note((other, third), "torsades")
    assert raised.value.hint == "say which: renal/torsades-again.md, other/x.md"


def test_an_id_is_surer_than_a_title() -> None:
    """A note that is called so comes before one that is only titled so."""
    assert named_note((note("a/x.md", "torsades"), TORSADES), "torsades") is TORSADES


@pytest.mark.parametrize("words", ["SIADH exclude frst", "siadh-frist", "exclude"])
def test_an_unknown_note_offers_the_nearest(words: str) -> None:
    """By its title as by its id; what is offered is the id."""
    with pytest.raises(NotFoundError, match="no note called") as raised:
        named_note(NOTES, words)
    assert raised.value.hint == "did you mean siadh-first?"


@pytest.mark.parametrize("words", ["", "  "])
def test_no_words_name_no_note(words: str) -> None:
    """It is asked which."""
    with pytest.raises(NotFoundError, match="which note"):
        named_note(NOTES, words)


def test_a_concept_is_found_whatever_its_case_and_spaces() -> None:
    """In the spelling in which concepts are compared."""
    assert named_concept(NOTES, "Torsades de pointes ") == "torsades de pointes"


def test_an_unknown_concept_offers_the_nearest() -> None:
    """Rather than finding nothing."""
    with pytest.raises(NotFoundError, match="no note has the concept 'longg qt'") as raised:
        named_concept(NOTES, "longg qt")
    assert "long qt" in raised.value.hint


def base_of(*sources: str) -> Base:
    """A base with these sources declared, and one that only a note links."""
    from datetime import date

    declared = tuple(Source(id=name, name=name) for name in sources)
    linking = note("x.md", "X", questions=(QuestionId("westbook:1"),))
    exam = Exam(name="", date=date(2027, 5, 11), areas=())
    return Base(exam=exam, study=Study(sources=declared), notes=(linking,))


def test_a_source_is_known_when_declared_or_linked() -> None:
    """Its case does not matter."""
    assert named_source(base_of("north"), "North") == "north"
    assert named_source(base_of("north"), "westbook") == "westbook"


def test_an_unknown_source_offers_the_nearest() -> None:
    """Rather than finding nothing."""
    with pytest.raises(NotFoundError, match="no source called 'nrth'") as raised:
        named_source(base_of("north"), "nrth")
    assert raised.value.hint == "did you mean north?"


def test_a_new_source_can_be_logged() -> None:
    """Declared or not; the next paper is no slip of the one before."""
    base = base_of("north", "paper-5")
    assert source_to_log(base, "Eastbook") == "eastbook"
    assert source_to_log(base, "paper-6") == "paper-6"


def test_a_slip_of_a_source_is_not_logged() -> None:
    """Answers would stand under a source of their own, and nobody would miss them."""
    with pytest.raises(QueryError, match="'nourth' is not one of your sources") as raised:
        source_to_log(base_of("north"), "nourth")
    assert "did you mean north?" in raised.value.hint


@pytest.mark.parametrize(
    ("word", "meant"),
    [("nourth", "north"), ("papr-5", "paper-5"), ("paper-6", ""), ("south", ""), ("north2", "")],
)
def test_a_slip_is_told_from_another_name(word: str, meant: str) -> None:
    """Letters may slip; another number is another name."""
    assert likely_slip(word, ("north", "paper-5")) == meant
