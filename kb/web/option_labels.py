"""Labels of the options of reports on the page; the command line has their help instead."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kb.presentation.report_model import Option

LABELS = {
    "area": "Area",
    "concept": "Concept",
    "errors": "Errors only",
    "first": "Only questions new to you",
    "limit": "How many to show",
    "pass_mark": "Pass mark, such as 0.61",
    "pass_sd": "Doubt about the pass mark, such as 0.02",
    "since": "Written since",
    "sitting": "Paper",
    "source": "Source",
    "state": "State",
    "weeks": "Weeks",
    "what_if": "What if, such as minutes=+30",
}
OWN = {
    ("brief", "minutes"): "Minutes to read",
    ("brief", "words"): "Area or words",
    ("find", "minutes"): "Readable within, minutes",
    ("find", "words"): "Words",
    ("history", "words"): "Note",
    ("map", "words"): "Area or note",
    ("mixups", "days"): "Last days (0: all)",
    ("retry", "minutes"): "Minutes",
    ("retry", "words"): "Questions",
    ("sitting", "name"): "Paper",
    ("standing", "days"): "Days compared with those before",
}
"""Where a report means something of its own by an option of that name."""


def option_label(report: str, option: Option) -> str:
    """What stands beside the field of an option."""
    if option.name == "days" and (report, option.name) not in OWN:
        return "Days to show"
    return OWN.get((report, option.name)) or LABELS.get(option.name, option.help.rstrip("."))
