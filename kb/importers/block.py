"""A block of questions done in one go: which, which were wrong, how long it took."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta

from kb.core.errors import QueryError
from kb.core.ids import OUTCOME_OF, AreaId, AttemptId, QuestionId, Round, parse_question
from kb.core.model import Attempt
from kb.core.settings import Study

MOST_ITEMS = 1000
SPAN = re.compile(r"(\d{1,15})(?:\s*[-\u2010-\u2015]\s*(\d{1,15}))?")
LONGEST_QUESTION = 100
"""Characters of a question reference."""


def parse_items(text: str, name: str) -> tuple[int, ...]:
    """Item numbers of `1041-1050,1060`, in the order given, each once.

    Raises:
        QueryError: It is not a list of numbers and ranges; `name` is what it was given for.
    """
    found: dict[int, None] = {}
    for part in text.replace(";", ",").split(","):
        match = SPAN.fullmatch(part.strip())
        first = int(match[1]) if match else 0
        last = int(match[2] or match[1]) if match else -1
        if not 1 <= first <= last < first + MOST_ITEMS:
            hint = "write numbers and ranges, such as 1041-1050,1060"
            if match:
                hint = f"a range goes up, over at most {MOST_ITEMS:,} questions"
            raise QueryError(f"{name}: '{part.strip()}' is not a number or a range", hint)
        found.update(dict.fromkeys(range(first, last + 1)))
        if len(found) > MOST_ITEMS:
            hint = "log it as several blocks"
            raise QueryError(f"{name}: more than {MOST_ITEMS:,} questions at once", hint)
    return tuple(found)


def ended_at(day: date | None, now: datetime) -> datetime:
    """When answers of a day ended: now if it is today or none is given, else at its noon, since
    nobody noted the hour.
    """
    return now if day in (None, now.date()) else datetime.combine(day, time(12), now.tzinfo)


def spread(start: datetime, count: int, seconds: float | None) -> list[datetime]:
    """Moments for answers given one after the other up to `start`, so that their order is kept."""
    step = timedelta(seconds=max(1.0, seconds or 1.0))
    return [(start - step * (count - number - 1)).replace(microsecond=0) for number in range(count)]


def round_of(study: Study, source_id: str, given: Round) -> tuple[Round, str]:
    """Round and sitting of answers from a source: a paper or mock is a sitting of its own."""
    source = study.source_of_any_name(source_id)
    if source is not None and source.is_paper:
        return given or "paper", source_id
    return given, ""


def block_drafts(
    study: Study,
    source: str,
    items: Sequence[int],
    marks: dict[str, Sequence[int]],
    moment: datetime,
    *,
    area: str = "",
    minutes: float | None = None,
    round_given: Round = "",
) -> tuple[Attempt, ...]:
    """Attempts without ids for one block that ended at a moment.

    `marks` are items by `wrong`, `blank` and `guessed`; all others were right. Without an area, the
    source's numbering decides. The minutes of the whole block are shared out evenly.

    Raises:
        QueryError: A marked item is not in the block, or is both wrong and blank, or the source
            is not a word that a reference can begin with.
    """
    for name, marked in marks.items():
        outside = [item for item in marked if item not in items]
        if outside:
            hint = f"the block is {items[0]} to {items[-1]}"
            raise QueryError(f"--{name}: {outside[0]} is not in the block", hint)
    both = [item for item in marks["wrong"] if item in marks["blank"]]
    if both:
        raise QueryError(f"{both[0]} is both wrong and blank", "name it once")
    seconds = minutes * 60 / len(items) if minutes else None
    round_, sitting = round_of(study, source, round_given)
    drafts = []
    for item, at in zip(items, spread(moment, len(items), seconds), strict=True):
        said = next((word for word in ("wrong", "blank") if item in marks[word]), "right")
        drafts.append(
            Attempt(
                id=AttemptId(""),
                at=at,
                question=question_of(source, item),
                outcome=OUTCOME_OF[said],
                area=AreaId(area),
                certainty=1 if item in marks["guessed"] else None,
                seconds=round(seconds, 1) if seconds else None,
                round=round_,
                sitting=sitting,
            )
        )
    return tuple(drafts)


def timed_as_logged(drafts: Iterable[Attempt], logged: Iterable[Attempt]) -> tuple[Attempt, ...]:
    """Answers of a block with the seconds that the log has for the same ones of that day: a block
    logged again with another time is known.
    """
    timed = {_apart_from_time(answer): answer.seconds for answer in logged}
    return tuple(
        replace(draft, seconds=timed.get(_apart_from_time(draft), draft.seconds))
        for draft in drafts
    )


def _apart_from_time(answer: Attempt) -> tuple[object, ...]:
    told = (answer.outcome, answer.certainty, answer.round, answer.sitting)
    return answer.question, answer.day, *told


def question_of(source: str, item: int) -> QuestionId:
    """The reference of one item.

    Raises:
        QueryError: The source is not a word that a reference can begin with.
    """
    question = parse_question(f"{source}:{item}")
    if question is None or len(question) > LONGEST_QUESTION:
        hint = "use letters, digits and hyphens, such as north"
        raise QueryError(f"'{source}' is not a name for a source", hint)
    return question
