"""Log one answer after the other with a thumb; the latest answers, and taking one back.

The page's queue: POST /log/queue, JSON `{"entries": [...]}`, header X-Token. An entry is the
fields of the form with `entry` (16 random bytes, hexadecimal) and `at` (ISO 8601 with offset);
`{"entry", "void"}` takes back by the sender's id, `{"entry", "void_id"}` by the log's;
`{"entry", "read", "seconds", "at"}` records a reading. The answer is `{"answers": [{"entry",
"saved", "id", "question", "told", "miss"} or {"entry", "saved": false, "error"}], "now"}`, in
order; from `now` (empty with --as-of) the page sees a wrong clock. Where
the disk refuses, the whole message fails (500 or 409 with `error`) and is sent again: what an
entry is not to blame for never marks it as refused. 403 means a new token from /token, 401 waits
for signing in.
"""

import secrets
from collections.abc import Mapping, Sequence
from typing import Any

from flask import Blueprint, flash, jsonify, request
from flask.typing import ResponseReturnValue

from kb.core.errors import KBError, NotFoundError, QueryError
from kb.core.ids import REASONS, ROUNDS, SOURCE_KINDS
from kb.core.lookup import source_to_log
from kb.core.model import Attempt
from kb.core.settings import Exam, Source
from kb.core.wording import capital
from kb.importers.single_answer import (
    entry_id,
    moment_of,
    next_item,
    parse_entry,
)
from kb.services.answer_logging import latest_answers, log_entries, log_reading, void
from kb.services.session import Session
from kb.stats.import_batches import items_beyond
from kb.web.links import address
from kb.web.screens.log_miss import miss_parts
from kb.web.view_helpers import message_and_hint, opened, see_other, show, typed_number

LATEST_COUNT = 8
MOST_AT_ONCE = 500
"""Entries that one message may hold; a phone sends fewer at a time."""
SECONDS = (0.0, 86400.0)
OPTIONAL = ("area", "certainty", "chosen", "key", "remark")
LASTING = ("source", "item", "round", "area")
ONE_ANSWER = (*OPTIONAL, "source", "item", "round", "outcome", "reason", "at", "entry")

screen = Blueprint("log", __name__)


@screen.get("/log")
def log() -> str:
    """The form for the next answer."""
    return log_page(opened(), dict(request.args))


def log_page(session: Session, asked: Mapping[str, str], **more: Any) -> str:  # noqa: ANN401
    """The whole screen; the form starts with `asked`, or with what follows the last answer."""
    latest = latest_answers(session, LATEST_COUNT)
    last = last_answer(session)
    typed = {name: asked.get(name, "") for name in ONE_ANSWER}
    if last is not None and not typed["source"]:
        typed["source"] = last.source
        typed["item"] = typed["item"] or next_item(last.question.partition(":")[2])
        typed["round"] = typed["round"] or last.round
        own_area = session.study.area_of(last.question)
        typed["area"] = typed["area"] or ("" if own_area else last.area)
    if not typed["source"] and session.study.sources:
        typed["source"] = session.study.sources[0].id
    return show(
        "log.html",
        title="Log",
        typed=typed,
        entry=secrets.token_hex(16),
        rounds=ROUNDS,
        reasons=REASONS,
        letters=session.exam.letters,
        latest=[row(attempt) for attempt in latest],
        back=address("/log", {name: typed[name] for name in LASTING}),
        **source_parts(session, typed["source"]),
        **miss_parts(session, asked.get("miss", ""), {}),
        **more,
    )


def last_answer(session: Session) -> Attempt | None:
    """The answer logged last on this device, otherwise the last of all."""
    own = latest_answers(session, 1)
    return own[0] if own else next(iter(session.whole.attempts[-1:]), None)


def source_parts(
    session: Session, chosen: str, *, kinds: Sequence[str] = SOURCE_KINDS
) -> dict[str, Any]:
    """What a form needs to choose a source of these kinds: those declared, others of the log, and
    a new one.
    """
    sources = [source for source in session.study.sources if source.kind in kinds]
    declared = {source.id for source in sources}
    others = sorted(
        {attempt.source for attempt in session.whole.attempts}
        - {source.id for source in session.study.sources}
    )
    return {
        "sources": [_told(session.exam, source) for source in sources],
        "others": others,
        "other": "" if chosen in declared.union(others) else chosen,
        "chosen_source": chosen,
    }


def _told(exam: Exam, source: Source) -> dict[str, Any]:
    """A source as the form needs it: the areas of its numbering, and how many items it has."""
    spans = [[span.first, span.last, exam.area_name(span.area)] for span in source.ranges]
    return {
        "id": source.id,
        "name": source.name,
        "items": source.item_count,
        "spans": spans,
        "paper": source.is_paper,
    }


def row(attempt: Attempt) -> dict[str, str]:
    """One logged answer as the list shows it."""
    outcome = "not answered" if attempt.outcome == "blank" else attempt.outcome
    parts = [outcome, attempt.reason.replace("-", " ")]
    if attempt.chosen or attempt.key:
        parts.append(f"chose {attempt.chosen or '?'}, key {attempt.key or '?'}")
    if attempt.certainty:
        parts.append(f"certainty {attempt.certainty}")
    parts.append(attempt.remark)
    return {
        "id": attempt.id,
        "question": attempt.question,
        "told": "; ".join(part for part in parts if part),
        "miss": "" if attempt.right else attempt.question,
    }


def _fields(given: Mapping[str, Any]) -> dict[str, str]:
    """The fields of one answer: a reason or none was pressed for a wrong one, `other` for a new
    source.
    """
    found = {name: str(given[name]) for name in ONE_ANSWER if given.get(name) is not None}
    other = str(given.get("other") or "").strip()
    if other:
        found["source"] = other
    if "reason" in found and "outcome" not in found:
        found["outcome"] = "wrong"
    return found


@screen.post("/log")
def log_one() -> ResponseReturnValue:
    """Log one answer from the form, and go on to the next number."""
    session = opened()
    fields = _fields(request.form)
    try:
        attempt = parse_entry(fields, session.exam, session.study, session.now)
        source_to_log(session.base, attempt.source)
        new = log_entries(session, [attempt])
    except KBError as error:
        message, hint = message_and_hint(error)
        return log_page(session, fields, entry_refused=message, entry_hint=hint), 400
    flash(
        f"{attempt.question} {row(attempt)['told']}: {'saved' if new else 'it was saved already'}."
    )
    for problem in items_beyond(session.study, (attempt,)):
        flash(f"{capital(problem)}.")
    source, _, item = attempt.question.partition(":")
    areas = {area.id for area in session.exam.areas}
    onwards = {
        "source": source,
        "item": next_item(item),
        "round": fields.get("round", ""),
        "area": fields.get("area", "") if fields.get("area") in areas else "",
        "miss": "" if attempt.right else attempt.question,
    }
    return see_other(address("/log", onwards))


@screen.post("/log/queue")
def log_queue() -> ResponseReturnValue:
    """Log what a phone held back: answers, and ids of answers to take back, in order.

    Each is handled by itself, so that a bad one holds up no other. One that came before is reported
    as saved and adds nothing. If the disk refuses or another process is writing, the whole message
    fails; sending it again does no harm.
    """
    session = opened()
    try:
        sent = request.get_json(silent=True)
    except RecursionError:
        sent = None
    rows = sent.get("entries") if isinstance(sent, dict) else None
    if not isinstance(rows, list) or not all(isinstance(each, dict) for each in rows):
        return jsonify(error="these are no entries", hint=""), 400
    answers: list[dict[str, Any]] = []
    waiting: list[Attempt] = []
    for each in rows[:MOST_AT_ONCE]:
        try:
            if "void" in each or "void_id" in each:
                log_entries(session, waiting)
                waiting = []
                answers.append(_take_back(session, each))
                continue
            if "read" in each:
                answers.append(_read(session, each))
                continue
            attempt = parse_entry(_fields(each), session.exam, session.study, session.now)
            source_to_log(session.base, attempt.source)
            waiting.append(attempt)
            answers.append({"entry": each["entry"], "saved": True, **row(attempt)})
        except (QueryError, NotFoundError) as error:
            text = "; ".join(part for part in message_and_hint(error) if part)
            answers.append({"entry": each.get("entry"), "saved": False, "error": text})
    log_entries(session, waiting)
    # With --as-of the clock stands still, so no phone's clock can agree with it.
    now = session.now.isoformat() if session.as_of is None else ""
    return jsonify(answers=answers, now=now)


def _read(session: Session, sent: Mapping[str, Any]) -> dict[str, Any]:
    """Record a reading; one that came before is known by its note and moment."""
    note = session.note(str(sent["read"]))
    at = moment_of(str(sent.get("at", "")), session.now)
    if not any(one.note == note.id and one.at == at for one in session.whole.readings):
        wanted = "seconds must be a number, such as 90"
        seconds = typed_number(str(sent.get("seconds", "")), SECONDS, wanted)
        log_reading(session, note, seconds, at)
    return {"entry": sent.get("entry"), "saved": True}


def _take_back(session: Session, sent: Mapping[str, Any]) -> dict[str, Any]:
    """Take back an answer by the sender's id for it, or by its own; one that does not count was
    taken back already.
    """
    own = entry_id(str(sent["void"])) if "void" in sent else str(sent["void_id"])
    if any(attempt.id == own for attempt in session.whole.attempts):
        void(session, own, "taken back on the page")
    return {"entry": sent.get("entry"), "saved": True}


@screen.post("/log/void")
def take_back() -> ResponseReturnValue:
    """Take back one answer by its id in the log."""
    session = opened()
    own = request.form.get("id", "")
    question = next((a.question for a in session.whole.attempts if a.id == own), "")
    if not question:
        raise NotFoundError("that answer no longer counts", hint="nothing was changed")
    void(session, own, "taken back on the page")
    flash(f"{question} is taken back.")
    return see_other("/log")
