"""An answer sheet as parsed -> attempts without ids."""

from datetime import date, datetime

from kb.core.ids import REASON_OF, ROUND_OF, AreaId, AttemptId
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
    by_day: dict[date, list[SheetLine]] = {}
    for answer in answers:
        by_day.setdefault(answer.heading.day or day or now.date(), []).append(answer)
    moments: dict[int, datetime] = {}
    for date_, group in by_day.items():
        for answer, at in zip(group, spread(ended_at(date_, now), len(group), None), strict=True):
            moments[id(answer)] = at
    return tuple(_draft(answer, study, moments[id(answer)]) for answer in answers)


def _draft(answer: SheetLine, study: Study, at: datetime) -> Attempt:
    source = answer.question.partition(":")[0]
    round_, sitting = round_of(study, source, ROUND_OF[answer.heading.round])
    return Attempt(
        id=AttemptId(""),
        at=at,
        question=answer.question,
        outcome=answer.outcome,
        area=answer.heading.area,
        first=answer.first,
        chosen=answer.chosen,
        key=answer.key,
        certainty=answer.certainty,
        seconds=answer.seconds,
        reason=REASON_OF[answer.reason],
        round=round_,
        sitting=sitting,
        remark=answer.remark,
    )
