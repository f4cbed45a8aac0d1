"""An answer sheet as parsed -> attempts without ids."""

from collections import Counter
from datetime import date, datetime

from kb.core.ids import ROUND_OF, AreaId, AttemptId
from kb.core.model import Attempt
from kb.core.settings import Exam, Study
from kb.formats.answer_sheet.records import Known, SheetLine
from kb.importers.block import ended_at, round_of, spread


def known_words(
    exam: Exam, study: Study, day: date, today: date | None = None, *, no_patient: bool = False
) -> Known:
    """What the words of a heading may mean in this base, on a sheet of that day.

    An area or a source is known by its old names as well.
    """
    areas: dict[str, AreaId] = {}
    for area in exam.areas:
        for spelling in (area.id, area.name, area.id.replace("-", " ")):
            areas.setdefault(spelling.casefold(), area.id)
    sources = [source.id for source in study.sources]
    for old, now in study.former:
        if study.source(now):
            sources.append(old)
        else:
            areas.setdefault(old, AreaId(now))
    return Known(
        areas=areas,
        sources=tuple(sources),
        day=day,
        day_first=study.day_first,
        today=today,
        no_patient=no_patient,
    )


def sheet_drafts(
    answers: tuple[SheetLine, ...], study: Study, now: datetime, day: date | None = None
) -> tuple[Attempt, ...]:
    """Attempts in the order of the sheet; `day` is that of answers without one, else today.

    Answers of today end now, and those of an earlier day at noon: a sheet knows no hours.
    """
    days = [answer.heading.day or day or now.date() for answer in answers]
    moments = {
        one: iter(spread(ended_at(one, now), count, None)) for one, count in Counter(days).items()
    }
    return tuple(
        _draft(answer, study, next(moments[own])) for answer, own in zip(answers, days, strict=True)
    )


def _draft(answer: SheetLine, study: Study, at: datetime) -> Attempt:
    source = answer.question.partition(":")[0]
    round_, sitting = round_of(study, source, ROUND_OF[answer.heading.round])
    return Attempt(
        id=AttemptId(""),
        at=at,
        question=answer.question,
        area=answer.heading.area,
        round=round_,
        sitting=sitting,
        remark=answer.remark,
        **answer.values,
    )
