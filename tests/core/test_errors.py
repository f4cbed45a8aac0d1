"""What may have been meant by a name that is not there."""

from __future__ import annotations

import pytest

from kb.core.errors import nearest

AREAS = ("cardiology", "haematology", "nephrology", "neurology", "palliative-care", "psychiatry")
MORE = (*AREAS, "genetics", "oncology", "statistics")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("nefrology", "nephrology"),
        ("Haematolgy", "haematology"),
        ("cardio", "cardiology"),
        ("paliative care", "palliative-care"),
        ("care", "palliative-care"),
    ],
)
def test_a_slip_of_the_pen_names_what_was_meant(typed: str, meant: str) -> None:
    """Letters left out, swapped or too many, and a part of a name."""
    assert meant in nearest(typed, MORE)


def test_a_name_is_found_by_its_other_spelling() -> None:
    """What is offered is the name that a command takes."""
    also = {"Geriatric medicine": "geriatrics"}
    assert nearest("geriatric medcine", (*MORE, "geriatrics"), also) == "did you mean geriatrics?"


def test_one_thing_is_offered_once() -> None:
    """Title and name of one note are not two offers."""
    found = nearest("torsade", ["torsades", *MORE], {"Torsades": "torsades"})
    assert found == "did you mean torsades?"


def test_a_few_names_are_all_told() -> None:
    """Where nothing is near, up to twelve known names are the answer."""
    twelve = (*AREAS, *(f"z{n}" for n in range(12 - len(AREAS))))
    assert nearest("xyz", twelve) == "known are: " + ", ".join(twelve)
    assert nearest("xyz", (*twelve, "one-more")) == ""


def test_nothing_typed_means_nothing() -> None:
    """An empty word is part of every name, and so of none."""
    assert nearest("", [f"area-{n}" for n in range(13)]) == ""
