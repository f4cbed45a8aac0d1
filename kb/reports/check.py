"""Find what is wrong with the base, and how to put it right.

Such as broken links, unknown areas, facts without a basis and damaged lines of the log. Exits with
status 1 if there is an error; cautions alone leave it at 0.
"""

from datetime import date

from kb.core.errors import Problem
from kb.core.model import Base
from kb.core.wording import counted
from kb.knowledge.validation import find_problems
from kb.presentation.report_model import Block, Entries, Entry, Option, Report, Text

OPTIONS = (Option("errors", "flag", default=False, help="Leave out cautions."),)


def build(base: Base, today: date, *, errors: bool) -> Report:
    """One line for each finding, in order of file and line."""
    found = find_problems(base, today)
    if errors:
        found = tuple(problem for problem in found if problem.severity == "error")
    error_count = sum(problem.severity == "error" for problem in found)
    text = f"{counted(error_count, 'error')}, {counted(len(found) - error_count, 'caution')}"
    blocks: list[Block] = []
    if found:
        ids = {note.path: note.id for note in base.notes}
        entries = tuple(_entry(problem, ids.get(problem.place.path, "")) for problem in found)
        blocks.append(Entries("list", entries, numbered=False))
    else:
        text = "nothing found"
        notes, answers = counted(len(base.notes), "note"), counted(len(base.attempts), "answer")
        blocks.append(Text(f"{notes} and {answers} read: all in order."))
    return Report("Check of the base", tuple(blocks), right=text, findings=found)


def _entry(problem: Problem, note: str) -> Entry:
    caution = "caution: " if problem.severity == "caution" else ""
    lines = (f"  {problem.hint}",) if problem.hint else ()
    return Entry(head=f"{problem.place}: {caution}{problem.message}", lines=lines, note=note)
