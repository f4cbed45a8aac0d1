"""Every screen of the page on the demo base, for walks and for pictures."""

from __future__ import annotations

from kb.session import report_module, report_names

NOTE = "/note/nephrology/acid-base-in-four-steps.md"
MAIN = (
    "/",
    "/log",
    "/find",
    "/find?words=low+sodium",
    NOTE,
    f"{NOTE}/edit",
    "/area/nephrology",
    "/standing",
    "/sittings",
    "/sittings/mock",
    "/plan",
    "/gaps",
    "/report/brief?words=nephrology",
)
ASKING = {"words": "nephrology", "minutes": "30"}
"""What is asked of reports that cannot do without."""


def reports() -> tuple[str, ...]:
    """The address of every report, with what it needs to be told."""
    found = []
    for name in report_names():
        needed = [o.name for o in report_module(name).OPTIONS if o.required]
        query = "&".join(f"{word}={ASKING.get(word, '1')}" for word in needed)
        found.append(f"/report/{name}" + (f"?{query}" if query else ""))
    return tuple(found)
