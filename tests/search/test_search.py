from __future__ import annotations

import math
import os
import shutil
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from kb.core.ids import NoteId
from kb.search import Index, Page
from kb.search.bm25f import K1, B
from kb.storage.derived_store import DerivedStore

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from kb.core.search_result import SearchResult


TEXTS = {
    "ecg": ("Order of ECG changes in hyperkalaemia", "Tall T waves come first, then a wide QRS."),
    "mi": ("Troponin after an MI", "Troponin I rises some hours after the pain of an MI."),
    "infarct": ("Complications", "Myocardial infarction may be followed by rupture of a muscle."),
    "oedema": ("Pitting", "Ankle oedema and low albumin: think of the nephrotic syndrome."),
    "drug": ("Loop diuretics", "Frusemide acts on the thick ascending limb."),
    "spine": ("Bones", "Collapsed vertebrae were found; the diagnoses are few."),
    "beta": ("Airways", "A β-blocker may worsen asthma. Hepatitis A is not chronic."),
}


def page(name: str, title: str, body: str, **more: object) -> Page:
    """A page of these words."""
    made = Page(
        id=NoteId(name),
        path=f"{name}.md",
        title=title,
        concepts=(),
        headings=(),
        body=body,
        remarks=(),
    )
    return replace(made, **more)  # type: ignore[arg-type]


def fill(index: Index, pages: Iterable[Page]) -> None:
    """Bring an index to hold exactly these pages."""
    by_path = {held.path: held for held in pages}
    marks = {path: repr(held) for path, held in by_path.items()}
    index.sync(repr(sorted(marks.items())), lambda: marks, by_path.__getitem__)


def found(answer: SearchResult) -> list[str]:
    """Ids of the notes found, best first."""
    return [hit.note for hit in answer.hits]


@pytest.fixture
def index(tmp_path: Path) -> Index:
    """An index of the notes above."""
    made = Index(DerivedStore(tmp_path / "derived"))
    fill(made, [page(name, *text) for name, text in TEXTS.items()])
    return made


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("myocardial infarction", {"mi", "infarct"}),
        ("MI", {"mi", "infarct"}),
        ("edema", {"oedema"}),
        ("furosemide", {"drug"}),
        ("vertebra", {"spine"}),
        ("diagnosis", {"spine"}),
        ("beta blocker", {"beta"}),
        ("betablocker", {"beta"}),
        ("hepatitis A", {"beta"}),
        ("hyperkalemia", {"ecg"}),
        ("T", {"ecg"}),
        ('"tall t waves"', {"ecg"}),
        ('"waves tall"', set()),
        ("troponin -pain", set()),
        ("what? is* the [oedema TO (((", {"oedema"}),
    ],
)
def test_words_find_what_they_mean(index: Index, words: str, expected: set[str]) -> None:
    """Spelling, plural, drug name, abbreviation, Greek letter, phrase and minus all work."""
    assert set(found(index.search(words))) == expected


def test_the_answer_says_what_else_was_looked_for(index: Index) -> None:
    """An abbreviation's meaning and another spelling are told in so many words."""
    assert "myocardial infarction" in index.search("MI").also
    assert index.search("furosemide").also == ("frusemide", "loop diuretic")
    assert index.search("edema").also == ("oedema",)


def test_the_best_passage_is_marked_also_where_folded(index: Index) -> None:
    """The passage holds whole words, and the one that matched is marked as it is written."""
    (hit,) = index.search("edema").hits
    assert ("oedema", True) in hit.passage
    assert "".join(text for text, _ in hit.passage) == TEXTS["oedema"][1]


def test_a_slip_is_searched_as_the_word_meant(index: Index) -> None:
    """Transposed and doubled letters lead to the word meant, and it is told; a word in capitals is
    an abbreviation.
    """
    answer = index.search("tropnoin")
    assert (found(answer), answer.searched) == (["mi"], (("tropnoin", ("troponin",)),))
    assert index.search("troponin").searched == ()
    assert found(index.search("TROPNOIN")) == []


def test_a_less_likely_slip_is_asked_about(index: Index) -> None:
    """Two slips in a short word find nothing, and what may have been meant is offered."""
    answer = index.search("asmhta")
    assert (found(answer), answer.nearest) == ([], ("asthma",))


@pytest.mark.parametrize("word", ["hypothyroidism", "penicillin", "dysplasia", "scabies"])
def test_a_word_spelt_right_is_no_slip(tmp_path: Path, word: str) -> None:
    """Neither its opposite nor another drug is searched or offered instead."""
    index = Index(DerivedStore(tmp_path))
    text = "hyperthyroidism, penicillamine, dysphagia and rabies"
    fill(index, [page("a", "Names alike", text)])
    answer = index.search(word)
    assert (found(answer), answer.nearest, answer.lacking) == ([], (), (word,))


@pytest.mark.parametrize(
    ("words", "lead"),
    [
        ("SLE", "lupus"),
        ("HAE", "swelling"),
        ("aspirin overdose", "salicylate"),
        ("amitriptyline", "tricyclic"),
        ("itch", "pruritus"),
        ("Na 118", "hyponatraemia"),
        ("B 12", "b12"),
        ("B-12", "b12"),
        ("hHAE", "swelling"),
        ("pain of the belly", "pain"),
        ("co-beneldopa", "levodopa"),
        ("acetaminophen", "paracetamol"),
        ("G6PD", "enzyme"),
        ("antibiotic", "drops"),
        ("lupu", "lupus"),
        ("the angioodema", "swelling"),
        ("Wegener's or lupus", "lupus"),
        ("typhoid vs dengue", "both"),
    ],
)
def test_what_a_doctor_types_finds_the_note(tmp_path: Path, words: str, lead: str) -> None:
    """Parts of long forms, naming steps, classes of drugs, plain words, values, joined figures,
    beginnings, and the note that compares two names.
    """
    index = Index(DerivedStore(tmp_path))
    texts = {
        "lupus": ("Flare", "ESR up, complement down."),
        "swelling": ("No wheals", "Bradykinin."),
        "salicylate": ("Salicylate", "Alkalosis first. Overdose."),
        "paracetamol": ("Overdose", "Overdose of paracetamol: the line."),
        "tricyclic": ("Broad QRS", "A tricyclic."),
        "pruritus": ("Cholestasis", "Pruritus."),
        "hyponatraemia": ("Salt", "Hyponatraemia: the urine decides."),
        "b12": ("Cord", "Give B12 first."),
        "enzyme": ("Beans", "The level of G-6-PD."),
        "pain": ("Colic", "Sudden abdominal pain."),
        "levodopa": ("Tremor", "Levodopa helps."),
        "drops": ("Drops", "Antibiotics for the eye."),
        "dengue": ("Travel", "Dengue, dengue, dengue."),
        "both": ("Dengue or typhoid?", "Which is it?"),
    }
    concepts = {"lupus": ("lupus",), "swelling": ("hereditary angio-oedema",)}
    fill(index, [page(n, *text, concepts=concepts.get(n, ())) for n, text in texts.items()])
    assert found(index.search(words))[0] == lead


def test_nothing_there_is_an_answer(index: Index) -> None:
    """Where the word that carries the question is in no note, what shares the rest comes apart."""
    answer = index.search("Whipple syndrome")
    assert (answer.hits, answer.total_count, answer.lacking) == ((), 0, ("Whipple",))
    assert [hit.note for hit in answer.sharing] == ["oedema"]


def test_a_whole_title_or_concept_comes_first(tmp_path: Path) -> None:
    """What was typed is a title: that note leads, however often others say the words."""
    index = Index(DerivedStore(tmp_path))
    often = "heart block " * 30
    pages = [page(f"n{n}", f"Rhythm {n}", often) for n in range(5)]
    pages += [page("t", "Heart block", "Short."), page("c", "Other", "x", concepts=("Sick sinus",))]
    pages.append(page("d", "Sinus", "sick sinus sick sinus sick sinus"))
    fill(index, pages)
    assert found(index.search("heart block"))[0] == "t"
    assert found(index.search("sick sinus"))[0] == "c"


def test_scores_are_bm25_of_weighted_fields(tmp_path: Path) -> None:
    """Scores of a tiny base equal those worked out by hand from the formula.

    Robertson and Zaragoza 2009 (doi 10.1561/1500000019): sum of idf x tf / (tf + k1 (1 - b +
    b dl / avdl)), with idf = ln(1 + (N - n + .5) / (n + .5)); title words weigh 3.
    """
    index = Index(DerivedStore(tmp_path))
    fill(
        index,
        [
            page("a", "Windy", "quiet windy river"),
            page("b", "Gorge", "quiet gorge"),
            page("c", "Delta", "quiet delta stream"),
        ],
    )
    lengths = {"a": 4 + 1 + 1, "b": 3 + 1 + 1, "c": 3 + 1 + 1 + 1}
    mean = sum(lengths.values()) / 3
    norm = K1 * (1 - B + B * lengths["a"] / mean)
    idf = math.log(1 + (3 - 1 + 0.5) / (1 + 0.5))
    expected = idf * 4 / (4 + norm) + idf * 1 / (1 + norm)
    (hit,) = index.search("windy river").hits
    assert hit.weight == pytest.approx(expected, abs=1e-8)


def test_a_phrase_holds_all_its_words_in_order(tmp_path: Path) -> None:
    """The third word of a phrase counts as much as the first two."""
    index = Index(DerivedStore(tmp_path))
    texts = {"whole": "tall t waves", "two": "tall t and later waves", "last": "tall then t waves"}
    fill(index, [page(name, "Note", text) for name, text in texts.items()])
    assert found(index.search('"tall t waves"')) == ["whole"]


def test_deleted_notes_no_longer_count(tmp_path: Path) -> None:
    """After three of four notes with a word are deleted it is as rare as if they never were.

    By hand: of 2 notes one has it, so idf = ln(1 + (2 - 1 + .5) / (1 + .5)) = ln 2; the two are
    equally long, so the weight is ln 2 x 4 / (4 + 1.5), the word standing once in the title too.
    """
    index = Index(DerivedStore(tmp_path))
    held = [page(f"n{n}", "Asthma", "asthma") for n in range(4)]
    other = page("other", "Gout", "gout")
    fill(index, [*held, other])
    fill(index, [held[0], other])
    (hit,) = index.search("asthma word").hits
    assert hit.weight == pytest.approx(math.log(2) * 4 / 5.5, abs=1e-9)


def test_answers_come_in_pages(tmp_path: Path) -> None:
    """Two pages of three hold what one page of six holds, and the total counts all."""
    index = Index(DerivedStore(tmp_path))
    fill(index, [page(f"n{n}", f"Note {n}", "asthma " * (n + 1)) for n in range(8)])
    whole = found(index.search("asthma", limit=6))
    parts = [found(index.search("asthma", limit=3, start=start)) for start in (0, 3)]
    assert parts[0] + parts[1] == whole
    assert index.search("asthma", limit=3).total_count == 8


def test_paths_restrict_an_answer(index: Index) -> None:
    """Only notes at the given paths are found and counted."""
    answer = index.search("MI", paths=frozenset({"infarct.md"}))
    assert (found(answer), answer.total_count) == (["infarct"], 1)


def test_an_unfinished_word_is_found_by_its_beginning(index: Index) -> None:
    """Every beginning of a word finds its note, British or not, and what was searched is told."""
    for end in range(4, len("hyperkalaemia") + 1):
        assert "ecg" in found(index.search("hyperkalaemia"[:end]))
    assert index.search("hyperkale").searched == (("hyperkale", ("hyperkalaemia",)),)


def test_the_glossary_of_the_base_is_read(tmp_path: Path) -> None:
    """A base's own abbreviation finds its meaning."""
    path = tmp_path / "glossary.yaml"
    path.write_text("QZX: [quiet zone xerosis]\n", encoding="utf-8")
    index = Index(DerivedStore(tmp_path / "derived"), path)
    fill(index, [page("a", "Skin", "Quiet zone xerosis is dry."), page("b", "Else", "Nothing.")])
    assert found(index.search("QZX")) == ["a"]


def test_similar_weighs_by_what_is_covered(index: Index) -> None:
    """A note's own text is covered most by that note, as a fraction."""
    first, *_ = index.similar(" ".join(TEXTS["drug"]))
    assert first.note == "drug"
    assert 0.2 < first.weight <= 1


def cut(path: Path) -> None:
    """Leave half of a file."""
    raw = path.read_bytes()
    path.write_bytes(raw[: len(raw) // 2])


def spoil(path: Path) -> None:
    """Put other bytes into a file, so that neither its size nor its time tells of it."""
    stat = path.stat()
    path.write_bytes(b"\xff" * stat.st_size)
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))


@pytest.mark.parametrize("name", ["derived.sqlite3", "index-*/*.toc", "index-*/*.seg"])
@pytest.mark.parametrize("damage", [Path.unlink, cut, spoil, lambda path: path.write_bytes(b"\0")])
@pytest.mark.parametrize("opened", [False, True])
def test_a_damaged_file_gives_the_same_answer(
    tmp_path: Path, name: str, damage: Callable[[Path], None], opened: bool
) -> None:
    """Missing, cut or foreign: the index is built again without a word, while a page has it open
    and for one that opens it afterwards.
    """
    pages = [page(key, *text) for key, text in TEXTS.items()]
    index = Index(DerivedStore(tmp_path))
    fill(index, pages)
    expected = index.search("troponin") if opened else None
    for path in tmp_path.glob(name):
        damage(path)
    if not opened:
        index.close()
        index = Index(DerivedStore(tmp_path))
    fill(index, pages)
    assert found(index.search("troponin")) == ["mi"]
    assert expected is None or index.search("troponin") == expected
    fill(index, [*pages[1:], page("ecg", "Order changed", "hyperkalaemia still")])
    assert found(index.search("hyperkalaemia")) == ["ecg"]
    index.close()


def test_an_older_index_is_not_believed(tmp_path: Path) -> None:
    """One put back from before the last change."""
    pages = [page(key, *text) for key, text in TEXTS.items()]
    index = Index(DerivedStore(tmp_path))
    fill(index, pages)
    (folder,) = tmp_path.glob("index-*")
    shutil.copytree(folder, tmp_path / "older")
    fill(index, [page("ecg", "Order changed", "hypokalaemia"), *pages[1:]])
    index.close()
    shutil.rmtree(folder)
    shutil.move(tmp_path / "older", folder)
    again = Index(DerivedStore(tmp_path))
    fill(again, [page("ecg", "Order changed", "hypokalaemia"), *pages[1:]])
    assert found(again.search("hypokalaemia")) == ["ecg"]
    again.close()


def test_two_that_have_it_open_see_what_the_other_changed(tmp_path: Path) -> None:
    """A page keeps the index open while commands change it, many times over."""
    pages = [page(key, *text) for key, text in TEXTS.items()]
    one, other = Index(DerivedStore(tmp_path)), Index(DerivedStore(tmp_path))
    for number in range(12):
        changed = [*pages, page("new", f"Word{number}", f"word{number} alone")]
        fill(other, changed)
        assert found(one.search(f"word{number}")) == ["new"]
    one.close()
    other.close()


def test_a_deleted_folder_loses_nothing(index: Index, tmp_path: Path) -> None:
    """After deleting what is derived, the same query gives the same answer."""
    before = index.search("MI troponin")
    shutil.rmtree(tmp_path / "derived")
    fresh = Index(DerivedStore(tmp_path / "derived"))
    fill(fresh, [page(name, *text) for name, text in TEXTS.items()])
    assert fresh.search("MI troponin") == before


WORDS = st.sampled_from(
    ["asthma", "oedema", "MI", "myocardial", "infarction", "frusemide", "wave", "block", "sinus"]
)
BODIES = st.lists(WORDS, min_size=1, max_size=12).map(" ".join)
STEPS = st.lists(st.tuples(st.sampled_from("abcdefgh"), st.none() | BODIES), max_size=6)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(rounds=st.lists(STEPS, min_size=1, max_size=5))
def test_updated_equals_rebuilt(rounds: list[list[tuple[str, str | None]]]) -> None:
    """After any edits, renames and deletions an updated index answers as one made anew."""
    with TemporaryDirectory() as kept, TemporaryDirectory() as fresh:
        updated, pages = Index(DerivedStore(Path(kept))), {}
        for steps in rounds:
            for name, body in steps:
                pages.pop(name, None)
                if body is not None:
                    pages[name] = page(name, body[:6], body)
            fill(updated, pages.values())
        rebuilt = Index(DerivedStore(Path(fresh)))
        fill(rebuilt, reversed(pages.values()))
        for words in ("asthma oedema", "MI", "wave block sinus -asthma", "furosemide"):
            one, other = updated.search(words), rebuilt.search(words)
            assert found(one) == found(other)
            assert one.total_count == other.total_count
            weights = [hit.weight for hit in other.hits]
            assert [hit.weight for hit in one.hits] == pytest.approx(weights, abs=1e-9)
        updated.close()
        rebuilt.close()


def test_of_words_apart_the_nearest_count_whatever_came_first(tmp_path: Path) -> None:
    """`MI` where myocardial and infarction stand one word apart in one note, two in another."""
    pages = [
        page("far", "Heart", "myocardial, they say, infarction"),
        page("near", "Heart", "myocardial or infarction"),
    ]
    for order in (pages, pages[::-1]):
        index = Index(DerivedStore(tmp_path / order[0].id))
        for count in (1, 2):
            fill(index, order[:count])
        assert found(index.search("MI")) == ["near"]
        index.close()


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(text=st.text(max_size=60))
@example(text="DNACPR")
def test_no_text_is_a_wrong_query(index: Index, text: str) -> None:
    """Any text whatever is answered."""
    answer = index.search(text)
    assert answer.total_count >= len(answer.hits)


def test_a_word_of_a_removed_note_hides_no_word_that_notes_have(tmp_path: Path) -> None:
    """Of two words near to a slip the one that is still written is searched, before a rebuild."""
    kept = page("kept", "Joints", "plimmer of the knee")
    index = Index(DerivedStore(tmp_path))
    fill(index, [kept, page("gone", "Old", "plimmar")])
    fill(index, [kept])
    answer = index.search("plimmor")
    assert (found(answer), answer.searched) == (["kept"], (("plimmor", ("plimmer",)),))
    index.close()
