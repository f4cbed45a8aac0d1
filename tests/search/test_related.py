"""Names related to what was typed, and names that no note has."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.index_pages import order, page

if TYPE_CHECKING:
    from pathlib import Path

OTHERS = [page(f"other{number}", f"Something about matter {number}.") for number in range(8)]


@pytest.mark.parametrize(
    ("typed", "said", "related"),
    [
        ("itch", "There was an itch.", "pruritus"),
        ("kidney", "The left kidney was small.", "renal"),
        ("high potassium", "With a high potassium give calcium.", "hyperkalaemia"),
        ("scleroderma", "She had scleroderma.", "systemic sclerosis"),
    ],
)
def test_a_related_name_never_comes_before_the_one_typed(
    tmp_path: Path, typed: str, said: str, related: str
) -> None:
    """However often a note has the related name, even as its title."""
    pages = [
        page("related", f"{related} and {related}, always {related}.", title=related),
        page("typed", f"{said} " + "A long text on many other matters. " * 20),
        page("both", f"{said} It is called {related}."),
        *OTHERS,
    ]
    found = order(tmp_path, pages, typed)
    assert (sorted(found[:2]), found[2:]) == (["both", "typed"], ["related"])


def test_a_related_name_never_outweighs_the_one_typed_beside_other_words(tmp_path: Path) -> None:
    """Of two notes that are alike but for that name the one with the word typed is first."""
    pages = [
        page("related", "stones in pruritus pruritus pruritus", title="pruritus"),
        page("typed", "stones in itch"),
        *OTHERS,
    ]
    assert order(tmp_path, pages, "itch stones")[0] == "typed"


def test_words_of_a_name_apart_are_not_the_name(tmp_path: Path) -> None:
    """Notes on a cell and on a carcinoma do not answer basal cell carcinoma; a note on it does."""
    apart = [page("cell", "A basal cell."), page("carcinoma", "A carcinoma of the lung."), *OTHERS]
    assert order(tmp_path / "without", apart, "basal cell carcinoma") == []
    together = [*apart, page("right", "A basal cell carcinoma has a pearly edge.")]
    assert "right" in order(tmp_path / "with", together, "basal cell carcinoma")


@pytest.mark.parametrize("typed", ["Down syndrome", "DS", "Still's disease", "trisomy 21"])
def test_a_name_with_an_everyday_word_is_no_other_syndrome_or_disease(
    tmp_path: Path, typed: str
) -> None:
    """Down and Still are words of a name too."""
    pages = [
        page("syndrome", "A syndrome that goes down."),
        page("disease", "A disease, and still one."),
        *OTHERS,
    ]
    assert order(tmp_path, pages, typed) == []


@pytest.mark.parametrize(
    ("typed", "said", "title"),
    [
        ("Pneumocystis carinii", "Cough with Pneumocystis at a low count.", "Cough"),
        ("hereditary haemochromatosis", "Iron comes in, again and again.", "Haemochromatosis"),
        ("primary biliary cirrhosis", "It is primary biliary cholangitis.", "Itch"),
    ],
)
def test_a_note_with_the_old_or_the_short_name_answers_the_long_one(
    tmp_path: Path, typed: str, said: str, title: str
) -> None:
    """By what an old and a new name share, by a title that is part of it, by the new name."""
    assert order(tmp_path, [page("right", said, title=title), *OTHERS], typed)[0] == "right"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("ARR", "The aldosterone to renin ratio."),
        ("IRIS", "It is the immune reconstitution that kills."),
        ("UGIB", "An upper GI bleeding."),
        ("frusemide", "Stop every diuretic."),
        ("GTN", "No nitrate there."),
        ("RVT", "A clot in the renal vein."),
        ("HNF1-alpha", "HNF1A does well on little."),
        ("anti-mitochondrial", "The antimitochondrial one."),
        ("Wegners", "Think of Wegener here."),
        ("etacrynic acid", "Stop every diuretic."),
        ("endo carditis", "Think of endocarditis."),
    ],
)
def test_what_is_left_of_a_name_is_looked_for(tmp_path: Path, typed: str, said: str) -> None:
    """Words between, the beginning, a part written short, what the class belongs to."""
    assert order(tmp_path, [page("right", said), *OTHERS], typed) == ["right"]


def test_a_lacking_everyday_word_does_not_carry_the_question(tmp_path: Path) -> None:
    """Management may be missing from a note on tremor; riluzole, no everyday word, may not."""
    pages = [page("right", "A tremor."), page("too", "Another tremor."), *OTHERS]
    assert order(tmp_path / "one", pages, "tremor management") == ["right", "too"]
    assert order(tmp_path / "other", pages, "tremor riluzole") == []


def test_of_a_lacking_word_it_counts_what_the_note_is_about(tmp_path: Path) -> None:
    """One of 40 notes is on lithium: it answers lithium and a word that no note has. One that only
    names it in passing does not, where two words are lacking.
    """
    many = [page(f"one{number}", f"Something about matter {number}.") for number in range(40)]
    about = [page("about", "It rises.", title="Lithium"), *many]
    passing = [page("passing", "Or lithium."), *many]
    assert order(tmp_path / "a", about, "losartan lithium toxicity") == ["about"]
    assert order(tmp_path / "b", about, "losartan lithium candesartan") == ["about"]
    assert order(tmp_path / "c", passing, "losartan lithium candesartan") == []


def test_a_figure_behind_an_abbreviation_says_which_kind(tmp_path: Path) -> None:
    """RTA4 is a renal tubular acidosis; CD4 is no kind of Crohn's disease."""
    pages = [page("rta", "A renal tubular acidosis, type 4."), page("crohn", "Crohn's disease.")]
    assert order(tmp_path, pages, "RTA4") == ["rta"]
    assert order(tmp_path, pages, "CD4") == []
