"""The word tables: no row twice, and no name that leads to another drug or condition.

What each name may not lead to is general pharmacology and medicine, by hand.
"""

from __future__ import annotations

import pytest

from kb.language.abbreviations import Glossary
from kb.language.data import lines, rows
from kb.language.normalise import keys, words
from kb.language.related import drug_classes, related


def _told(typed: str) -> list[str]:
    return [text for one in related(words(typed)) for text, _ in one.forms]


@pytest.mark.parametrize(
    "table",
    ["classes", "drugs", "forms", "names", "plain", "plurals", "signs", "spelling", "uses"],
)
def test_no_pair_stands_twice(table: str) -> None:
    """Nor the same pair the other way round."""
    pairs = [frozenset(cell.casefold() for cell in row[:2]) for row in rows(table)]
    assert [sorted(pair) for pair in set(pairs) if pairs.count(pair) > 1] == []


def test_no_name_to_look_for_whole_stands_twice() -> None:
    """In whatever capitals."""
    names = [name.casefold() for name in lines("topics")]
    assert len(names) == len(set(names))


@pytest.mark.parametrize(
    ("typed", "known_for"),
    [
        ("Kayser-Fleischer rings", "Wilson disease"),
        ("seeing yellow", "digoxin toxicity"),
        ("can't breathe", "dyspnoea"),
        ("no periods", "amenorrhoea"),
        ("anti-CCP", "rheumatoid arthritis"),
        ("fomepizole", "ethylene glycol"),
        ("nilotinib", "chronic myeloid leukaemia"),
    ],
)
def test_a_sign_a_complaint_or_an_antidote_leads_to_what_it_is_known_for(
    typed: str, known_for: str
) -> None:
    """Also one that begins with a word no search looks for; the condition does not lead back."""
    assert known_for in _told(typed)
    assert typed not in _told(known_for) or typed in {one for one, _ in rows("plain")}


def test_what_a_drug_is_for_comes_beside_its_class() -> None:
    """Either may be what a note says."""
    assert {"chronic myeloid leukaemia", "tyrosine kinase inhibitor"} <= set(_told("nilotinib"))


@pytest.mark.parametrize("table", ["names", "plain", "signs", "uses"])
def test_no_row_says_that_a_thing_is_itself(table: str) -> None:
    """In other spelling, or but for words that no search looks for."""
    assert [row for row in rows(table) if keys(row[0]) == keys(row[1])] == []


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ("closed angle glaucoma", "open angle glaucoma"),
        ("CIDP", "Guillain-Barre syndrome"),
        ("diabetes insipidus", "diabetes"),
        ("porphyria cutanea tarda", "acute intermittent porphyria"),
        ("pseudogout", "gout"),
        ("aspirin overdose", "paracetamol"),
        ("red skin all over", "cellulitis"),
        ("hypoglycaemia", "hyperglycaemia"),
    ],
)
def test_no_name_leads_to_a_condition_that_is_treated_otherwise(typed: str, wrong: str) -> None:
    """General medicine: each pair is told apart in an examination."""
    found = {text for one in Glossary().expand(words(typed)) for text, _ in one.forms}
    assert wrong not in {*found, *_told(typed)}


@pytest.mark.parametrize(
    "word",
    [
        "cholesterol",
        "cystatin",
        "histidine",
        "incretin",
        "iodobenzylguanidine",
        "myosin",
        "secretin",
        "somatostatin",
        "sulphate",
        "transthyretin",
        "tropomyosin",
    ],
)
def test_a_word_that_only_ends_or_begins_like_a_drug_has_no_class(word: str) -> None:
    """Cholesterol is no beta agonist, and morphine sulphate no sulfonamide."""
    assert drug_classes(word) == ()


@pytest.mark.parametrize(
    ("drug", "wrong"),
    [
        ("atomoxetine", "SSRI"),
        ("azacitidine", "H2 blocker"),
        ("brexpiprazole", "proton pump inhibitor"),
        ("emtricitabine", "antimetabolite"),
        ("fidaxomicin", "aminoglycoside"),
        ("flumazenil", "benzodiazepine"),
        ("fondaparinux", "heparin"),
        ("mifepristone", "progestogen"),
        ("piperazine", "antipsychotic"),
        ("quinidine", "alpha-2 agonist"),
        ("reboxetine", "SSRI"),
    ],
)
def test_a_drug_with_a_misleading_name_has_its_own_class(drug: str, wrong: str) -> None:
    """Its own class instead of the one that its name suggests."""
    found = drug_classes(drug)
    assert found
    assert wrong not in found


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ("anaemia", "pale"),
        ("bradykinesia", "slowness"),
        ("jaundice", "yellow"),
        ("metastases", "secondaries"),
        ("pregnancy", "expecting"),
        ("tremor", "shakes"),
        ("vaccine", "immunisation"),
    ],
)
def test_a_learned_word_does_not_lead_to_a_word_with_other_meanings(typed: str, wrong: str) -> None:
    """`What to expect` is not about pregnancy, nor secondary hypertension about metastases."""
    assert wrong not in _told(typed)
