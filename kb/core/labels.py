"""What the words of the log are called: the same on page, command line and carried file."""

from __future__ import annotations

LABELS = {
    "right": "Right",
    "wrong": "Wrong",
    "blank": "Not answered",
    "unknown": "Unknown",
    "forgotten": "Forgotten",
    "misread": "Misread",
    "two-left": "Down to two",
    "switched": "Switched",
    "rushed": "Rushed",
    "nothing": "Nothing to learn",
    "first": "First round",
    "second": "Second round",
    "paper": "Timed paper",
    "1": "Unsure",
    "2": "Fairly sure",
    "3": "Sure",
}
"""Outcomes, reasons, rounds and certainties, by the word or number in the log."""
FIELDS = {
    "item": "Question number",
    "chosen": "You chose",
    "key": "Key",
    "round": "Round",
    "area": "Area",
    "certainty": "How sure",
    "remark": "Remark",
    "unsaid": "Not recorded",
    "by-number": "From the number",
}
"""Fields of a form in which an answer is logged, and what is shown where there is no answer."""


def label(word: object) -> str:
    """The label of a word of the log; any other word is its own."""
    return LABELS.get(str(word), str(word))
