"""What was logged together: imports, the answers of one device, items a source does not have."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from kb.core.ids import whole_number
from kb.core.model import Attempt
from kb.core.settings import Study
from kb.core.wording import counted


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """One import of the log; `sources` in order of first appearance."""

    batch: str
    first_day: date
    last_day: date
    sources: tuple[str, ...]
    answer_count: int
    wrong_count: int


def batches_of(attempts: Iterable[Attempt], device: str = "") -> tuple[Batch, ...]:
    """Every import, in the order they were made, as far as the log shows it.

    The log keeps no time of an import, but each device appends to its own file, so the imports of
    one device are in their true order. Those of several are merged by the earliest day possible:
    that of the latest answer in the import and in those before it. On equal days, `device` last.
    """
    groups: dict[str, list[Attempt]] = {}
    for attempt in sorted(attempts, key=_line):
        if attempt.batch:
            groups.setdefault(attempt.batch, []).append(attempt)
    own = _log_of(device)
    order: list[tuple[date, bool, tuple[str, int], str]] = []
    earliest: dict[str, date] = {}
    for batch, rows in sorted(groups.items(), key=lambda group: _line(group[1][-1])):
        path = rows[-1].place.path
        day = max(attempt.day for attempt in rows)
        earliest[path] = max(day, earliest.get(path, day))
        order.append((earliest[path], bool(own.fullmatch(path)), _line(rows[-1]), batch))
    return tuple(_batch(batch, groups[batch]) for *_, batch in sorted(order))


def _batch(batch: str, rows: list[Attempt]) -> Batch:
    days = [attempt.day for attempt in rows]
    return Batch(
        batch=batch,
        first_day=min(days),
        last_day=max(days),
        sources=tuple(dict.fromkeys(attempt.source for attempt in rows)),
        answer_count=len(rows),
        wrong_count=sum(not attempt.right for attempt in rows),
    )


def latest_of(attempts: Iterable[Attempt], device: str) -> tuple[Attempt, ...]:
    """The answers that a device logged, latest first."""
    own = _log_of(device)
    mine = [attempt for attempt in attempts if own.fullmatch(attempt.place.path)]
    return tuple(sorted(mine, key=_line, reverse=True))


def _log_of(device: str) -> re.Pattern[str]:
    """The log files of a device."""
    return re.compile(rf"log/attempts-{re.escape(device)}(?:-\d+)?\.csv", re.I)


def _line(attempt: Attempt) -> tuple[str, int]:
    return attempt.place.path, attempt.place.line


def items_beyond(study: Study, drafts: tuple[Attempt, ...]) -> list[str]:
    """One sentence for each declared source with fewer items than the highest number logged."""
    warnings = []
    for source in study.sources:
        numbers = [
            number
            for draft in drafts
            if draft.source == source.id
            and (number := whole_number(draft.question.partition(":")[2])) is not None
        ]
        if numbers and source.item_count and max(numbers) > source.item_count:
            count = sum(number > source.item_count for number in numbers)
            text = f"{source.id} has only {counted(source.item_count, 'question')}, yet"
            more = f" and {counted(count - 1, 'other')}" if count > 1 else ""
            text = f"{text} {max(numbers)}{more} {'were' if more else 'was'} logged"
            hint = "correct 'items' in study.yaml, or take them back: missbook log undo ID"
            warnings.append(f"{text}; {hint}")
    return warnings
