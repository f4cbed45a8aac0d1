"""What could identify a patient is cautioned about, and ordinary numbers are not."""

from __future__ import annotations

import pytest
from stdnum.gb import nhs

from kb.formats.patient_identifiers import find_identifiers, nhs_number


@pytest.mark.parametrize(
    ("digits", "valid"),
    [
        ("4010232137", True),
        ("9434765870", True),
        ("9434765871", False),
        ("9434765919", True),
        ("4505577104", True),
        ("9876543210", True),
        ("9990000000", False),
        ("4444444444", False),
        ("6666666666", False),
        ("123", False),
        ("943476587x", False),
    ],
)
def test_the_check_digit_follows_modulus_11(digits: str, valid: bool) -> None:
    """Worked example 401 023 2137 (sum 92, remainder 4, check digit 7).

    Source: national data dictionary, NHS number, quoted in full at second hand; 943 476 5870 and
    5871 from python-stdnum's doctest; the others computed. One digit ten times is never issued.
    """
    assert nhs_number(digits) is valid


def test_it_agrees_with_a_reference_library() -> None:
    """python-stdnum accepts the same of a thousand consecutive numbers."""
    numbers = [str(4010232000 + step) for step in range(1000)]
    assert [nhs_number(n) for n in numbers] == [nhs.is_valid(n) for n in numbers]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Seen today, 943 476 5870, febrile", "an NHS number"),
        ("943-476-5870", "an NHS number"),
        ("9434765870.", "an NHS number"),
        ("DOB 03/04/1956", "a date of birth"),
        ("born 3 April 1956", "a date of birth"),
        ("d.o.b. 1956-04-03", "a date of birth"),
        ("MRN: 1234567", "a hospital number"),
        ("hospital number X123456", "a hospital number"),
    ],
)
def test_identifiers_are_found_with_their_line(text: str, found: str) -> None:
    """The line counts from 1."""
    assert find_identifiers(f"First line.\n{text}\n") == ((2, found),)


@pytest.mark.parametrize(
    "text",
    [
        "A trial of 2019 in 10000 patients",
        "exam on 03/04/2026",
        "reviewed 2026-02-03",
        "ISBN 0-306-40615-2",
        "call 0207 946 0958 1",
        "north:9434765871",
        "194347658700",
        "born in 1956 as a concept",
    ],
)
def test_ordinary_numbers_are_left_alone(text: str) -> None:
    """Years, dates, telephone and book numbers are no identifiers."""
    assert find_identifiers(text) == ()
