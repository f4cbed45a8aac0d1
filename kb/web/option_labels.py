"""Labels of the options of reports on the page; the command line has their help instead."""

from kb.presentation.report_model import Option

LABELS = {
    "area": "Area",
    "concept": "Concept",
    "days": "Days to show",
    "errors": "Errors only",
    "limit": "Entries on a page",
    "new_only": "Only questions new to you",
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
    ("mixups", "since"): "Missed since",
    ("retry", "minutes"): "Minutes",
    ("retry", "words"): "Questions",
    ("sitting", "name"): "Paper",
    ("standing", "compare_days"): "Days compared with those before",
}
"""Where a report means something of its own by an option of that name."""


def option_label(report: str, option: Option) -> str:
    """What stands beside the field of an option."""
    return OWN.get((report, option.name)) or LABELS.get(option.name, option.help.rstrip("."))
