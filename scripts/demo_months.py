"""Three months of the demo's invented doctor, simulated the same way every time.

A first round area by area as the rota allows, misses tried again, and once the north bank is done
a mixed second round of questions she has met. Two papers and the mock fall in the last fortnight,
at Easter. Every question that a note links to is missed before the note was written.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from random import Random
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from demo_learner import Learner

from kb.core.ids import AreaId, AttemptId, QuestionId, digest
from kb.core.model import Attempt, Note
from kb.planning.apportionment import largest_remainder

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from kb.core.ids import NoteId, Reason, Round
    from kb.core.settings import Exam, Rota, Study

FIRST_DAY, LAST_DAY = date(2027, 1, 4), date(2027, 4, 5)
SECOND_PASS = date(2027, 3, 1)
"""From here the first round goes on with what the first pass through the areas left of a bank."""

SECOND_ROUND = date(2027, 3, 21)
FREE_DAYS = frozenset(
    date(2027, month, day)
    for month, day in (
        *((1, 22), (1, 23), (1, 26)),
        *((2, 1), (2, 15), (2, 16), (2, 22), (2, 27)),
        *((3, 4), (3, 10), (3, 20), (3, 23), (3, 27)),
        (4, 1),
    )
)
"""Days without a question: after nights, after most long days, and some for herself."""

SITTINGS = {
    date(2027, 3, 26): "paper-1",
    date(2027, 3, 29): "paper-2",
    date(2027, 4, 3): "mock",
}
PACE_SECONDS = {"paper-1": 116, "paper-2": 107, "mock": 105}
DONE = {"day": 82, "long": 22, "off": 112, "rest": 15, "course": 45, "leave": 120}
"""Questions that she gets through on such a day when all goes well."""

FIRST_SHARE = {"north": 0.70, "harbour": 0.16}
"""How much of each area of a bank the first pass takes; the second pass ends the north bank."""

SECOND_RETRY_SHARE = 0.6
"""In the second round, this part of what is left of a day goes to misses that have no note."""

MOST_LETTERED = 2
"""Misses of a note whose letters are kept, unless a remark names the pair; one without a note."""

MOST_MISSES = 4
"""A question missed so often is left alone: she knows that question by heart, not its subject."""

PRACTICE_COUNT = 5450
READING_COUNT = 120
LETTERS = "ABCDE"


class NoDemoError(Exception):
    """Raised when a note is dated before its questions could be missed; names the note."""


@dataclass(slots=True)
class Import:
    """One logged block of answers: its device, its title and its attempts."""

    device: str
    title: str
    drafts: list[Attempt] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """The conditions under which a block is answered."""

    round: Round
    sitting: str = ""
    timed: bool = False
    rated: bool = False


class Months:
    """One run through the three months. `notes` are in order of path."""

    def __init__(self, exam: Exam, study: Study, notes: Sequence[Note], seed: int) -> None:
        self.exam, self.study, self.notes = exam, study, tuple(notes)
        self.rng = Random(seed)
        self.zone = ZoneInfo(study.timezone)
        self.learner = Learner(self.rng, tuple(area.id for area in exam.areas))
        self.note_of: dict[str, Note] = {q: note for note in self.notes for q in note.questions}
        self.area_of = self._areas()
        self.imports: list[Import] = []
        self.read: list[tuple[datetime, NoteId]] = []
        self.last_right: dict[str, bool] = {}
        self.missed: Counter[str] = Counter()
        self.lettered: Counter[str] = Counter()
        self.wanted: dict[date, list[str]] = {}
        self.second: set[str] = set()

    def _areas(self) -> dict[str, str]:
        found: dict[str, str] = {}
        for source in self.study.sources:
            for span in source.ranges:
                for item in range(span.first, span.last + 1):
                    found[f"{source.id}:{item}"] = span.area
        counts = {area.id: area.item_count for area in self.exam.areas}
        for sitting in PACE_SECONDS:
            mixed = [area for area, count in counts.items() for _ in range(count)]
            self.rng.shuffle(mixed)
            found.update((f"{sitting}:{n}", area) for n, area in enumerate(mixed, start=1))
        return found

    # The calendar.

    def live(self) -> None:
        """Answer everything from the first day to the last."""
        days = [FIRST_DAY + timedelta(days=n) for n in range((LAST_DAY - FIRST_DAY).days + 1)]
        away = FREE_DAYS.union(SITTINGS)
        weights = [0.0 if day in away else self._mood(day) for day in days]
        quotas = dict(zip(days, largest_remainder(PRACTICE_COUNT, weights), strict=True))
        first = self._first_round(days, quotas)
        self._plan_retries([day for day in days if quotas[day]])
        for day in days:
            if day in SITTINGS:
                self._sit(day, SITTINGS[day])
            elif quotas[day]:
                self._practise(day, quotas[day], first.get(day, []))
        self._choose_readings_left()

    def _mood(self, day: date) -> float:
        assert self.study.rota is not None
        return DONE.get(shift_of(self.study.rota, day), 0) * self.rng.uniform(0.82, 1.12)

    def _first_round(self, days: list[date], quotas: dict[date, int]) -> dict[date, list[str]]:
        """First-round questions for each day, area by area in the blueprint's order."""
        queue = [q for area in self.exam.areas for q in self._first_of(area.id)]
        done = set(queue)
        left = [q for area in self.exam.areas for q in self._north_of(area.id) if q not in done]
        found: dict[date, list[str]] = {}
        for questions, begin, end in (
            (queue, FIRST_DAY, SECOND_PASS),
            (left, SECOND_PASS, SECOND_ROUND),
        ):
            mine = [day for day in days if begin <= day < end and quotas[day]]
            start = 0
            shares = largest_remainder(len(questions), [quotas[day] for day in mine])
            for day, share in zip(mine, shares, strict=True):
                found[day] = questions[start : start + share]
                start += share
        self._bring_forward(found)
        return found

    def _north_of(self, area: str) -> list[str]:
        return [q for q, where in self.area_of.items() if where == area and q.startswith("north:")]

    def _first_of(self, area: str) -> list[str]:
        found: list[str] = []
        for source in self.study.sources:
            share = FIRST_SHARE.get(source.id, 0.0)
            for span in source.ranges:
                if span.area == area:
                    count = round((span.last - span.first + 1) * share)
                    found += [f"{source.id}:{n}" for n in range(span.first, span.first + count)]
        linked = (q for note in self.notes for q in note.questions if self.area_of.get(q) == area)
        return found + sorted(set(linked) - set(found))

    def _bring_forward(self, found: dict[date, list[str]]) -> None:
        """Move every linked question to a day before its note was written.

        A question that comes too late is swapped with one that no note links to, on the last
        day early enough; a move of more than a week is refused.
        """
        met_on = {question: day for day, questions in found.items() for question in questions}
        for note in self.notes:
            for question in note.questions:
                met = met_on.get(question)
                if met is None:
                    raise NoDemoError(f"{note.path}: {question} is not in the area of the note")
                if self._in_time(note, met):
                    continue
                swap = next(self._swaps(found, note, met), None)
                if swap is None:
                    raise NoDemoError(
                        f"{note.path}: written {note.written_on}, but {question} comes on {met}"
                    )
                day, place = swap
                other = found[day][place]
                found[day][place] = question
                found[met][found[met].index(question)] = other
                met_on[question], met_on[other] = day, met

    def _swaps(
        self, found: dict[date, list[str]], note: Note, met: date
    ) -> Iterator[tuple[date, int]]:
        for day in sorted(found, reverse=True):
            if met - timedelta(days=7) <= day < met and self._in_time(note, day):
                for place in reversed(range(len(found[day]))):
                    if found[day][place] not in self.note_of:
                        yield day, place

    def _in_time(self, note: Note, met: date) -> bool:
        """Whether every answer of that day came before the note."""
        assert self.study.rota is not None
        end = time(23) if shift_of(self.study.rota, met) == "long" else time(19, 59)
        at = datetime.combine(met, end, self.zone)
        fine = note.written_on is not None and note.written_on <= LAST_DAY
        return fine and not self._since(note, at)

    def _plan_retries(self, days: list[date]) -> None:
        """Choose days to try notes' questions again; one note in twelve is not retried."""
        for note in self.notes:
            later = [day for day in days if note.written_on and day > note.written_on]
            if len(later) < 3 or self.rng.random() < 0.08:
                continue
            for question in note.questions:
                for day in sorted(self.rng.sample(later[2:], k=min(3, len(later) - 2))):
                    if self.rng.random() < 0.55:
                        self.wanted.setdefault(day, []).append(question)
                        if self.rng.random() < 0.42:
                            self._read_before(note, day)

    # Readings.

    def _read_before(self, note: Note, day: date) -> None:
        on = day - timedelta(days=self.rng.randint(0, 3))
        if self._reads_on(on) and note.written_on is not None and on > note.written_on:
            at = datetime.combine(on, time(7, self.rng.randint(0, 29)), self.zone)
            if (at, note.id) not in self.read:
                self.read.append((at, note.id))

    def _choose_readings_left(self) -> None:
        """Add readings without a later retry, up to the number wanted."""
        days = (LAST_DAY - SECOND_PASS).days
        while len(self.read) < READING_COUNT:
            note = self.rng.choice(self.notes)
            on = SECOND_PASS + timedelta(days=self.rng.randint(0, days - 1))
            if self._reads_on(on) and note.written_on is not None and note.written_on < on:
                at = datetime.combine(on, time(22, self.rng.randint(0, 59)), self.zone)
                self.read.append((at, note.id))

    def _reads_on(self, day: date) -> bool:
        assert self.study.rota is not None
        return day not in FREE_DAYS and shift_of(self.study.rota, day) != "night"

    def _was_read(self, note: Note, at: datetime) -> bool:
        since = at - timedelta(days=10)
        return any(who == note.id and since <= when < at for when, who in self.read)

    # Answering.

    def _practise(self, day: date, quota: int, first: list[str]) -> None:
        wanted = list(dict.fromkeys(filter(self._worth_it, self.wanted.get(day, []))))
        wanted = wanted[: quota // 2]
        retries = wanted + self._misses(day, quota - len(first) - len(wanted), set(wanted))
        mixed = self._draw(quota - len(first) - len(retries)) if day >= SECOND_ROUND else []
        at = self._start(day)
        if retries:
            self.rng.shuffle(retries)
            at = self._block("laptop", at, "taken again", retries, Setting(round=""))
        at += timedelta(minutes=self.rng.randint(4, 15))
        device = "phone" if at.hour >= 17 and self.rng.random() < 0.75 else "laptop"
        detailed = self.rng.random() < 0.5
        for part in _blocks(first, self.area_of):
            setting = Setting(round="first", timed=detailed, rated=detailed)
            at = self._block(device, at, f"block {part[0]}", part, setting)
        if mixed:
            setting = Setting(round="second", timed=True, rated=detailed)
            self._block(device, at, "mixed", mixed, setting)

    def _start(self, day: date) -> datetime:
        assert self.study.rota is not None
        shift = shift_of(self.study.rota, day)
        hour, minute = {"off": (9, 40), "leave": (9, 30), "rest": (16, 0)}.get(shift, (17, 35))
        if shift == "long":
            hour, minute = 20, 50
        return datetime.combine(day, time(hour, minute), self.zone) + timedelta(
            minutes=self.rng.randint(0, 15)
        )

    def _misses(self, day: date, most: int, but: set[str]) -> list[str]:
        """Misses without a note to try again: oldest first, none of the last two days."""
        share = 1.0 if day < SECOND_ROUND else SECOND_RETRY_SHARE
        ripe = [
            question
            for question, right in self.last_right.items()
            if not right
            and self._worth_it(question)
            and question not in self.note_of
            and question not in but
            and (day - self.learner.met[question].last.date()).days >= 2
        ]
        count = max(0, min(len(ripe), round(most * share)))
        return sorted(ripe[:count], key=lambda q: self.rng.random())

    def _draw(self, count: int) -> list[str]:
        """Questions of the second round, drawn at random from those she has met."""
        met = [q for q in self.learner.met if q.startswith(("north:", "harbour:"))]
        once = [q for q in met if q not in self.note_of and q not in self.second]
        chosen = self.rng.sample([q for q in once if self._worth_it(q)], max(0, count))
        self.second.update(chosen)
        return chosen

    def _worth_it(self, question: str) -> bool:
        return self.missed[question] < MOST_MISSES

    def _block(
        self, device: str, at: datetime, title: str, questions: list[str], setting: Setting
    ) -> datetime:
        block = Import(device, f"{title} {at.isoformat()}")
        for question in questions:
            seconds = float(round(self.rng.lognormvariate(4.2, 0.45)))
            at += timedelta(seconds=min(seconds, 240))
            block.drafts.append(self._answer(question, at, seconds, setting))
        self.imports.append(block)
        return at

    def _answer(
        self, question: str, at: datetime, seconds: float, setting: Setting, late: bool = False
    ) -> Attempt:
        area = self.area_of[question]
        note = self.note_of.get(question)
        here = at.replace(microsecond=0)
        written = note is not None and question in self.learner.met and self._since(note, here)
        name = note.id if note is not None and written else ""
        read = note is not None and self._was_read(note, here)
        chance = self.learner.chance(question, area, here, name, read) * (0.8 if late else 1.0)
        first_miss = note is not None and question not in self.learner.met
        right = not first_miss and self.rng.random() < chance
        rated = setting.rated or bool(setting.sitting)
        certainty = self.learner.certainty(chance, right) if rated else None
        first, chosen, key = self._letters(question, right, setting)
        switched = bool(first) and first == key and not right
        reason: Reason = ""
        taken = meant = ""
        if not right:
            if switched or self.rng.random() < 0.72:
                reason = self.learner.reason(question, certainty, late, switched)
            if chosen and self.rng.random() < 0.14:
                taken, meant = self.learner.mix_up(question, area, _about(note))
            if chosen and not setting.sitting:
                self.lettered[own := note.id if note else question] += 1
                if self.lettered[own] > (MOST_LETTERED if note else 1) and not taken:
                    first, chosen, key = "", "", ""
        self.learner.learn(question, area, here, right)
        self.last_right[question] = right
        self.missed[question] += not right
        return Attempt(
            id=AttemptId(""),
            at=here,
            question=QuestionId(question),
            outcome="right" if right else "wrong",
            area=AreaId(area if setting.sitting else ""),
            first=first,
            chosen=chosen,
            key=key,
            certainty=certainty,
            seconds=seconds if setting.timed or setting.sitting else None,
            reason=reason,
            round=setting.round,
            sitting=setting.sitting,
            remark=f"{taken} vs {meant}" if taken else "",
        )

    @staticmethod
    def _since(note: Note, at: datetime) -> bool:
        probe = Attempt(id=AttemptId(""), at=at, question=QuestionId("x:1"), outcome="wrong")
        return note.answered_since(probe)

    def _letters(self, question: str, right: bool, setting: Setting) -> tuple[str, str, str]:
        """(first choice, final choice, key); outside sittings only some misses record letters."""
        kept = bool(setting.sitting) or (not right and self.rng.random() < 0.45)
        if not kept:
            return "", "", ""
        key = LETTERS[int(digest("key", question), 16) % 5]
        others = [letter for letter in LETTERS if letter != key]
        near = others[int(digest("near", question), 16) % 4]
        wrong = near if self.rng.random() < 0.65 else self.rng.choice(others)
        chosen = key if right else wrong
        first = ""
        if setting.sitting and self.rng.random() < (0.05 if right else 0.10):
            spare = next(letter for letter in others if letter != chosen)
            first = wrong if right else key if self.rng.random() < 0.6 else spare
        return first, chosen, key

    def _sit(self, day: date, sitting: str) -> None:
        """Sit one paper in two parts; questions not reached in time are blank."""
        setting = Setting(round="paper", sitting=sitting, timed=True, rated=True)
        limit = self.exam.paper_minutes * 60
        block = Import("laptop", f"{sitting} {day.isoformat()}")
        per_part = self.exam.item_count // self.exam.paper_count
        for part in range(self.exam.paper_count):
            begin = datetime.combine(day, time(9 if not part else 14, 30), self.zone)
            spent = 0.0
            for item in range(part * per_part + 1, (part + 1) * per_part + 1):
                question = f"{sitting}:{item}"
                seconds = self._paper_seconds(sitting, limit - spent)
                spent += seconds
                at = begin + timedelta(seconds=spent)
                if spent >= limit:
                    block.drafts.append(self._blank(question, begin, limit, setting))
                    continue
                late = limit - spent < 0.1 * limit
                block.drafts.append(self._answer(question, at, seconds, setting, late))
        self.imports.append(block)

    def _paper_seconds(self, sitting: str, left: float) -> float:
        seconds = PACE_SECONDS[sitting] * self.rng.lognormvariate(-0.07, 0.38)
        if left < 900:
            seconds *= 0.72
        return float(round(max(12.0, seconds)))

    def _blank(self, question: str, begin: datetime, limit: int, setting: Setting) -> Attempt:
        key = LETTERS[int(digest("key", question), 16) % 5]
        at = begin + timedelta(seconds=limit)
        self.last_right[question] = False
        self.learner.learn(question, self.area_of[question], at, False)
        return Attempt(
            id=AttemptId(""),
            at=at,
            question=QuestionId(question),
            outcome="blank",
            area=AreaId(self.area_of[question]),
            key=key,
            round=setting.round,
            sitting=setting.sitting,
        )


def _blocks(questions: list[str], area_of: dict[str, str]) -> list[list[str]]:
    """Group consecutive questions of one source and area, as they would be logged."""
    found: list[list[str]] = []
    last: tuple[str, str] | None = None
    for question in questions:
        kind = (question.partition(":")[0], area_of[question])
        if kind != last:
            found.append([])
            last = kind
        found[-1].append(question)
    return found


def _about(note: Note | None) -> str:
    """Title and concepts of a note in lower case; empty if there is none."""
    return " ".join((note.title, *note.concepts)).casefold() if note else ""


def shift_of(rota: Rota, day: date) -> str:
    """The name of the shift on `day`."""
    for other, name in rota.exceptions:
        if other == day:
            return name
    weeks, weekday = divmod((day - rota.starts).days, 7)
    return rota.weeks[weeks % len(rota.weeks)][weekday]
