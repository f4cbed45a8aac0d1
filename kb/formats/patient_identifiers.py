"""What looks like it could identify a patient, and must not stand in a note.

A caution, never an error: one random number of ten digits in eleven passes the check digit.
"""

from __future__ import annotations

import re

TEN_DIGITS = re.compile(r"(?<![\d.])(\d{3})([ -]?)(\d{3})\2(\d{4})(?!\d|[ .-]\d)")
_DAY = (
    r"(?:\d{4}-\d{2}-\d{2}|\d{1,2}[./-]\d{1,2}[./-]\d{2,4}"
    r"|\d{1,2}(?:st|nd|rd|th)?\s+[A-Za-z]{3,9}\.?,?\s+\d{4})"
)
BIRTH = re.compile(
    r"\b(?:d\.?\s?o\.?\s?b\.?|date of birth|born(?:\s+on)?)\s*[:=]?\s*(?:the\s+)?" + _DAY, re.I
)
HOSPITAL_NUMBER = re.compile(
    r"\b(?:mrn|(?:hospital|patient) (?:no|number)|patient id|unit number)\b"
    r"\W{0,3}[A-Z]{0,3}\d{5,}",
    re.I,
)


def nhs_number(digits: str) -> bool:
    """Whether ten digits carry a valid NHS-number check digit and could have been issued.

    Modulus 11 over weights 10 to 2; a remainder that would give 10 is never issued, nor is a
    number of one digit ten times.

    Source: nhs-check-digit.
    """
    if len(digits) != 10 or not (digits.isascii() and digits.isdigit()) or len(set(digits)) == 1:
        return False
    total = sum(
        int(digit) * weight for digit, weight in zip(digits, range(10, 1, -1), strict=False)
    )
    check = 11 - total % 11
    return check != 10 and check % 11 == int(digits[9])


def find_identifiers(text: str) -> tuple[tuple[int, str], ...]:
    """(line from 1, what it looks like) for everything that could identify a patient."""
    found: list[tuple[int, str]] = []
    for number, line in enumerate(text.split("\n"), start=1):
        if any(nhs_number(m[1] + m[3] + m[4]) for m in TEN_DIGITS.finditer(line)):
            found.append((number, "an NHS number"))
        if BIRTH.search(line):
            found.append((number, "a date of birth"))
        if HOSPITAL_NUMBER.search(line):
            found.append((number, "a hospital number"))
    return tuple(found)
