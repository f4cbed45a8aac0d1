"""Abbreviations both ways, names of several words, and the base's own glossary."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.formats.glossary_file import parse_glossary
from kb.language.abbreviations import ORDINARY, Glossary, names_in, stock
from kb.language.data import rows
from kb.language.normalise import key, words

if TYPE_CHECKING:
    from collections.abc import Iterable

STOCK = Glossary()


def told(query: str, glossary: Glossary = STOCK) -> list[str]:
    """What else a query is said to look for."""
    forms = [text for one in glossary.expand(words(query)) for text, _ in one.forms]
    return [
        text
        for at, text in enumerate(forms)
        if text.casefold() not in map(str.casefold, forms[:at])
    ]


def test_the_stock_holds_more_than_three_hundred_abbreviations() -> None:
    """The stock is as large as promised, and none stands in it twice."""
    names = [name.lstrip("=") for name, _ in stock()]
    assert len(names) > 300
    assert len(names) == len(set(names))


@pytest.mark.parametrize(
    ("abbreviation", "meaning"),
    [
        ("MI", "myocardial infarction"),
        ("AF", "atrial fibrillation"),
        ("SIADH", "syndrome of inappropriate antidiuretic hormone"),
        ("COPD", "chronic obstructive pulmonary disease"),
        ("HUS", "haemolytic uraemic syndrome"),
    ],
)
def test_an_abbreviation_and_its_meaning_lead_to_each_other(
    abbreviation: str, meaning: str
) -> None:
    """Typing the short form looks for the long one as well, and the other way round."""
    assert meaning in told(abbreviation)
    assert meaning in told(abbreviation.lower())
    assert abbreviation in told(meaning)


def test_every_meaning_leads_back_to_its_abbreviation() -> None:
    """Both directions hold for the whole stock, but for abbreviations that are common words."""
    lost = []
    for name, meanings in stock():
        short = name.lstrip("=")
        lost += [f"{short} > {meaning}" for meaning in meanings if meaning not in told(short)]
        if short not in ORDINARY:
            lost += [f"{meaning} > {short}" for meaning in meanings if short not in told(meaning)]
    assert lost == []


def test_the_plural_of_an_abbreviation_means_what_the_abbreviation_means() -> None:
    """A small s behind capitals; a word in small letters is no plural of an abbreviation."""
    assert told("TFTs") == told("TFT") == ["thyroid function test"]
    assert "direct oral anticoagulant" in told("DOACs in antiphospholipid")
    assert told("pets") == []


def test_a_long_form_does_not_lead_to_an_abbreviation_with_the_key_of_a_common_word() -> None:
    """Multiple endocrine neoplasia is not looked for as men, nor metastases as met."""
    assert "multiple endocrine neoplasia" in told("MEN")
    assert told("multiple endocrine neoplasia") == []
    assert told("metastases") == []


def test_american_spelling_of_a_meaning_finds_the_abbreviation() -> None:
    """A meaning is known in either spelling and in the plural."""
    assert "ALL" in told("acute lymphoblastic leukemia")
    assert "MI" in told("myocardial infarctions")


@pytest.mark.parametrize(
    ("abbreviation", "meanings"),
    [
        ("MS", {"multiple sclerosis", "mitral stenosis"}),
        ("PE", {"pulmonary embolism", "pleural effusion", "pre-eclampsia"}),
        ("CF", {"cystic fibrosis", "cardiac failure"}),
        ("AS", {"aortic stenosis", "ankylosing spondylitis", "Alport syndrome"}),
        ("RA", {"rheumatoid arthritis", "right atrium"}),
        ("PD", {"Parkinson disease", "peritoneal dialysis", "Paget disease"}),
        ("HP", {"hypersensitivity pneumonitis", "Helicobacter pylori"}),
    ],
)
def test_an_ambiguous_abbreviation_keeps_all_its_meanings(
    abbreviation: str, meanings: set[str]
) -> None:
    """No meaning is chosen for the doctor."""
    assert meanings <= set(told(abbreviation))


@pytest.mark.parametrize("query", ["all about it", "men with chest pain and fever", "as needed"])
def test_ordinary_words_are_not_taken_for_abbreviations(query: str) -> None:
    """`all`, `men` and `as` in small letters mean what they say."""
    assert told(query) == []


def test_in_a_long_text_small_letters_are_words() -> None:
    """A pasted stem is not read as a row of abbreviations; capitals in it still are."""
    stem = "a man of 64 years has la and pa chest films and later develops AF after"
    assert told(stem) == ["atrial fibrillation"]


@pytest.mark.parametrize("query", ["QRS 160 ms", "fever for 24 hr", "polyp of 12 mm"])
def test_a_unit_behind_a_figure_is_no_abbreviation(query: str) -> None:
    """`160 ms` is not about multiple sclerosis."""
    assert told(query) == []


def test_a_unit_in_capitals_or_without_a_figure_is_an_abbreviation() -> None:
    """`ms` alone is asked for as before, and so is `type 1 MS`."""
    assert "mitral stenosis" in told("ms")
    assert "mitral stenosis" in told("type 1 MS")


def test_a_symbol_of_an_element_is_no_abbreviation() -> None:
    """`Mg` is magnesium and `MG` is not; no dose in mg is found under magnesium."""
    assert told("low Mg") == ["magnesium"]
    assert told("MG") == ["myasthenia gravis"]
    assert told("magnesium") == []


def test_an_abbreviation_of_one_thing_is_written_out_although_it_has_two_names() -> None:
    """PBC and EAA changed their names, not their meaning; PE means several things."""
    assert STOCK.written_out("PBC") == "primary biliary cholangitis"
    assert STOCK.written_out("EAA") == "hypersensitivity pneumonitis"
    assert STOCK.written_out("PE") == "PE"


def test_capitals_throughout_are_shouting_not_abbreviations() -> None:
    """A query in capitals is read as if in small letters."""
    assert "acute lymphoblastic leukaemia" not in told("TREATMENT OF ALL PATIENTS")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("methylene blue", "methylthioninium chloride"),
        ("nitroglycerin", "glyceryl trinitrate"),
        ("penicillin G", "benzylpenicillin"),
        ("ursodiol", "ursodeoxycholic acid"),
        ("leucovorin", "folinic acid"),
        ("co-trimoxazole", "trimethoprim sulfamethoxazole"),
    ],
)
def test_drug_names_of_several_words_lead_to_each_other(one: str, other: str) -> None:
    """Names that are not word for word are expanded in both directions."""
    assert other in told(one)
    assert one in told(other)


def test_every_drug_name_of_several_words_leads_to_its_other_name() -> None:
    """No row of the table is lost: the keys agree, or each name is told of the other."""
    assert _lost([row for row in rows("drugs") if " " in row[0] + row[1]]) == []


def test_every_old_name_of_a_disease_leads_to_the_new_one_and_back() -> None:
    """A text read years ago and a guideline of this year find each other."""
    assert len(rows("names")) > 80
    assert _lost(rows("names")) == []
    assert "granulomatosis with polyangiitis" in told("Wegener's")
    assert "Streptococcus bovis" in told("Streptococcus gallolyticus")


def test_no_disease_has_two_new_names() -> None:
    """An old name leads to one new name only, but for two eponyms that mean two diseases."""
    names = [row[0] for row in rows("names")]
    twice = {name for name in names if names.count(name) > 1}
    assert twice == {"Ekbom syndrome", "Still disease"}


def _lost(table: Iterable[tuple[str, ...]]) -> list[tuple[str, str]]:
    """Pairs of which the first is not said to be called the second."""
    lost: list[tuple[str, str]] = []
    for name, current, *_ in table:
        if _spelt(name) == _spelt(current):
            continue
        lost += [
            pair for pair in ((name, current), (current, name)) if pair[1] not in told(pair[0])
        ]
    return lost


def _spelt(text: str) -> list[str]:
    return [key(word) for word in words(text)]


def test_the_longest_name_counts() -> None:
    """Of two names that begin together the longer one is meant; nothing is expanded twice."""
    (first,) = STOCK.expand(words("type 2 diabetes mellitus"))
    assert (first.start, first.stop) == (0, 4)
    assert told("oestradiol valerate") == []


def test_the_bases_own_meanings_come_first() -> None:
    """What the doctor calls MI stands before what the stock calls it."""
    own, problems = parse_glossary("MI: [mitral insufficiency]\nXQ: quick test\n", "glossary.yaml")
    abbreviations = Glossary(own)
    assert problems == ()
    assert told("MI", abbreviations)[:2] == ["mitral insufficiency", "myocardial infarction"]
    assert told("quick test", abbreviations) == ["XQ"]


def test_a_glossary_line_that_is_no_list_is_reported_and_the_rest_is_used() -> None:
    """One bad line costs one line, with its number."""
    own, problems = parse_glossary("AB: [alpha beta]\nCD: {a: 1}\n", "glossary.yaml")
    assert own == (("AB", ("alpha beta",)),)
    assert [str(problem.place) for problem in problems] == ["glossary.yaml:2"]


@given(st.text(max_size=120))
def test_no_query_raises(text: str) -> None:
    """Any text can be expanded; spans lie in order and do not overlap."""
    typed = words(text)
    at = 0
    for expansion in STOCK.expand(typed):
        assert at <= expansion.start < expansion.stop <= len(typed)
        at = expansion.stop


@given(st.text(max_size=120))
def test_no_glossary_raises(text: str) -> None:
    """Any text is read as a glossary or reported."""
    own, _ = parse_glossary(text, "glossary.yaml")
    Glossary(own)


def test_a_name_of_several_words_is_seen_whole() -> None:
    """The longest counts, whatever the spelling; single words and chance neighbours do not."""
    assert list(names_in(words("old septic arthritis of knee"))) == [(1, 3)]
    assert list(names_in(words("acute lymphoblastic leukemia"))) == [(0, 3)]
    assert list(names_in(words("arthritis septic"))) == []


def test_a_meaning_that_is_a_common_word_when_abbreviated_leads_one_way_only() -> None:
    """Looking for TEN beside the long name would find every note that counts to ten."""
    assert "toxic epidermal necrolysis" in told("TEN")
    assert "TEN" not in told("toxic epidermal necrolysis")
