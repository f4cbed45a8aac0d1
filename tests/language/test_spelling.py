"""Did you mean: near words are offered, far ones are not."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.language.spelling import meant, nearest_words, slips, spelt_right, stock_words

KNOWN = stock_words() | {"sarcoidosis", "pneumonia", "hypothyroidism"}


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("pnuemonia", "pneumonia"),
        ("oedmea", "oedema"),
        ("haemorhage", "haemorrhage"),
        ("hemorhage", "hemorrhage"),
        ("embollism", "embolism"),
        ("hyperkalamia", "hyperkalaemia"),
        ("frusemde", "frusemide"),
        ("sarcoidsis", "sarcoidosis"),
        ("hypothyriodism", "hypothyroidism"),
    ],
)
def test_slips_of_the_finger_are_mended(typed: str, meant: str) -> None:
    """Swapped, missing, doubled and wrong letters lead to the word that was meant, first."""
    assert nearest_words(typed, KNOWN)[0] == meant


@pytest.mark.parametrize("typed", ["xyz", "qqqqqqqqq", "", "MS", "12"])
def test_what_is_near_to_nothing_gets_no_offer(typed: str) -> None:
    """Short words and nonsense are left alone."""
    assert nearest_words(typed, KNOWN) == ()


def test_a_doubled_letter_counts_less_than_a_wrong_one() -> None:
    """Of two words one slip away the one with the doubled letter comes first."""
    assert nearest_words("mamary", {"mammary", "memary"})[0] == "mammary"


def test_order_of_the_known_words_does_not_matter() -> None:
    """The same words give the same offer, whatever their order."""
    ordered = sorted(KNOWN)
    assert nearest_words("infraction", ordered) == nearest_words("infraction", reversed(ordered))


def test_no_more_words_than_asked_for() -> None:
    """The offer is short."""
    assert len(nearest_words("anemai", KNOWN, limit=2)) == 2


@given(st.text(max_size=30), st.lists(st.text(max_size=12), max_size=20))
def test_no_word_raises(typed: str, known: list[str]) -> None:
    """Any word may be asked about; only known words are offered."""
    assert set(nearest_words(typed, known)) <= set(known)


@given(st.integers(min_value=0, max_value=60))
def test_longer_words_may_hold_more_slips(length: int) -> None:
    """The allowance never falls with length and stays below a third of the word."""
    assert slips(length) <= slips(length + 1)
    assert slips(length) <= length / 3


def test_a_word_spelt_right_is_known_in_any_form() -> None:
    """British or American, one or several; a slip is not."""
    for word in ("thalassaemia", "thalassemias", "Scabies", "amitriptyline", "hypothyroidism"):
        assert spelt_right(word)
    assert not spelt_right("amitryptiline")


def test_only_what_is_sure_is_meant() -> None:
    """The first letter stays; one slip, or two from eight letters on; never the opposite."""
    known = ("gout", "asthma", "amitriptyline", "hypothyroidism")
    assert meant("asthmma", known) == "asthma"
    assert meant("amitryptiline", known) == "amitriptyline"
    assert [meant(word, known) for word in ("guot", "osthma", "asmhta", "hyperthyroidism")] == [
        ""
    ] * 4
