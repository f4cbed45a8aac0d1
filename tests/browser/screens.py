"""Every screen of the page on the demo base, for walks and for pictures."""

from __future__ import annotations

from kb.services.report_registry import report_module, report_names
from kb.web.links import SCREENS

NOTE = "/note/nephrology/acid-base-in-four-steps.md"
MAIN = (
    "/",
    "/log",
    "/log/block",
    "/log/sheet",
    "/log/paper",
    "/log/draw",
    "/log/misses",
    "/log/miss/north:1232",
    "/find",
    "/find?words=low+sodium",
    NOTE,
    f"{NOTE}/edit",
    f"{NOTE}/near",
    "/area/nephrology",
    "/progress",
    "/read/tonight",
    "/read/work",
    "/read/brief?words=nephrology&minutes=5",
    "/sittings",
    "/sittings/mock",
    "/compare",
    "/compare?one=DIC&other=TTP",
    "/compare/note?one=DIC&other=TTP",
    "/read",
    "/merge?keep=siadh-before-you-call-it&other=siadh-what-must-be-excluded",
    "/undo",
    "/rename",
    "/help",
    "/help/study.yaml",
    "/report/brief?words=nephrology",
)
ASKING = {"words": "acid-base-in-four-steps"}
"""What is asked of reports that cannot do without."""


def reports() -> tuple[str, ...]:
    """Reports that have no screen of their own, with what each needs to be told."""
    found = []
    for name in report_names():
        if name in SCREENS:
            continue
        needed = [o.name for o in report_module(name).OPTIONS if o.required]
        query = "&".join(f"{word}={ASKING.get(word, '1')}" for word in needed)
        found.append(f"/report/{name}" + (f"?{query}" if query else ""))
    return tuple(found)
