"""The word tables: no row twice, and no name that leads to another drug or condition.

What each name may not lead to is general pharmacology and medicine, by hand.
"""

from __future__ import annotations

import pytest

from kb.language.data import lines, rows
from kb.language.related import drug_classes, related


@pytest.mark.parametrize(
    "table", ["classes", "drugs", "forms", "names", "plain", "plurals", "spelling"]
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
    told = [text for one in related([typed]) for text, _ in one.forms]
    assert wrong not in told
