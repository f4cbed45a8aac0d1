"""One answer as a form or a phone sends it: fields of text -> an attempt with its id.

The id comes from the one that the sender gave the entry, so that an entry sent twice is one answer.
"""

import re
from collections.abc import Mapping
from datetime import datetime, timedelta

from kb.core.errors import QueryError
from kb.core.ids import (
    OUTCOME_OF,
    REASON_OF,
    ROUND_OF,
    AreaId,
    AttemptId,
    QuestionId,
    Round,
    digest,
    parse_new_question,
)
from kb.core.model import Attempt
from kb.core.settings import Exam, Study
from kb.formats.answer_sheet.parser import NOBODY_HINT
from kb.formats.attempt_log import MOMENT_HINT, parse_moment
from kb.formats.csv_lines import one_line
from kb.importers.block import LONGEST_QUESTION, round_of
from kb.language.patient_identifiers import find_identifiers

ENTRY_ID = re.compile(r"[0-9A-Za-z-]{8,64}")
COUNTED = re.compile(r"(?P<before>.*?)(?P<number>[0-9]{1,15})")
LONGEST_REMARK = 500
"""Characters of a remark: a remark is a clause, not a question copied."""
OLDEST = timedelta(days=366)
"""An entry does not wait longer for a connection; a clock that lost its setting reads 1970."""


def entry_id(given: str) -> AttemptId:
    """The id in the log of an entry whose sender called it `given`.

    Raises:
        QueryError: It is not an id that a sender may give.
    """
    if not ENTRY_ID.fullmatch(given):
        raise QueryError("the entry has no id of its own", "load the page again")
    return AttemptId(digest("entry", given))


def next_item(item: str) -> str:
    """The item after one: its last number plus one, as wide as it was; empty if it has none."""
    match = COUNTED.fullmatch(item)
    if match is None:
        return ""
    number = match["number"]
    return match["before"] + str(int(number) + 1).zfill(len(number))


def parse_entry(fields: Mapping[str, str], exam: Exam, study: Study, now: datetime) -> Attempt:
    """One answer.

    `fields` are `entry` (the sender's id), `source`, `item`, `outcome`, and if given `at`, `round`,
    `area` (ignored where the numbering gives it), `reason`, `chosen`, `key`, `certainty`, `remark`.
    `now` is the moment of an answer without one, and the latest that an answer may have.

    Raises:
        QueryError: A field cannot be what it should be; the message names it.
        NotFoundError: There is no such area.
    """
    typed = {name: one_line(value) for name, value in fields.items()}
    question = _question(typed.get("source", ""), typed.get("item", ""))
    outcome = OUTCOME_OF.get(typed.get("outcome", ""))
    if outcome is None:
        raise QueryError("the outcome is missing", "press right, wrong or not answered")
    wrong = outcome == "wrong"
    round_, sitting = _round(typed, question, study)
    area = typed.get("area", "")
    if area:
        area = "" if study.area_of(question) else exam.area(area).id
    chosen, key = (_option(typed, name, exam) if wrong else "" for name in ("chosen", "key"))
    if chosen and chosen == key:
        raise QueryError(f"you chose {chosen}, and it is the key", "press right, or correct it")
    certainty = _word(typed, "certainty", ("", "1", "2", "3"))
    return Attempt(
        id=entry_id(typed.get("entry", "")),
        at=moment_of(typed.get("at", ""), now),
        question=question,
        outcome=outcome,
        area=AreaId(area),
        chosen=chosen,
        key=key,
        certainty=int(certainty) if certainty else None,
        reason=REASON_OF[_word(typed, "reason", REASON_OF)] if wrong else "",
        round=round_,
        sitting=sitting,
        remark=_remark(typed),
    )


def _question(source: str, item: str) -> QuestionId:
    if not source or not item:
        lacking = "source" if not source else "number"
        raise QueryError(f"the {lacking} is missing", "a question has both")
    question = parse_new_question(f"{source}:{item}")
    if question is None or len(question) > LONGEST_QUESTION:
        hint = "letters, digits and hyphens, such as north and 1041"
        shown = f"{source}:{item}"[:LONGEST_QUESTION]
        raise QueryError(f"'{shown}' is not a question reference", hint)
    return question


def _round(typed: Mapping[str, str], question: QuestionId, study: Study) -> tuple[Round, str]:
    """Round and sitting; a round left over from a bank does not go with a paper."""
    given = ROUND_OF[_word(typed, "round", ROUND_OF)]
    source = question.partition(":")[0]
    own, sitting = round_of(study, source, "")
    return (own, sitting) if sitting else round_of(study, source, given)


def _word(typed: Mapping[str, str], name: str, known: Mapping[str, str] | tuple[str, ...]) -> str:
    word = typed.get(name, "").casefold()
    if word not in known:
        hint = "one of " + ", ".join(each for each in known if each)
        raise QueryError(f"there is no {name} '{word}'", hint)
    return word


def _option(typed: Mapping[str, str], name: str, exam: Exam) -> str:
    letter = typed.get(name, "").upper()
    letters = exam.letters
    if letter and letter not in letters:
        raise QueryError(f"there is no option '{letter}'", f"one of {', '.join(letters)}")
    return letter


def _remark(typed: Mapping[str, str]) -> str:
    """A clause; one that looks as if it named a patient is refused, since a log is never erased."""
    remark = typed.get("remark", "")
    if len(remark) > LONGEST_REMARK:
        hint = f"at most {LONGEST_REMARK} characters; the rest belongs in a note"
        raise QueryError("the remark is too long", hint)
    for _, what in find_identifiers(remark):
        raise QueryError(f"the remark contains what looks like {what}", NOBODY_HINT)
    return remark


def moment_of(text: str, now: datetime) -> datetime:
    """When it was answered, on the sender's own clock; a clock that runs ahead is held at now."""
    if not text:
        return now
    at = parse_moment(text)
    if at is None:
        raise QueryError(f"'{text}' is not a moment: is the clock right?", MOMENT_HINT)
    at = at.replace(microsecond=0)
    if now - at > OLDEST:
        hint = "set the clock of that device, then log it again"
        raise QueryError(f"it is dated {at.date()}, more than a year ago", hint)
    return at if at <= now else now
