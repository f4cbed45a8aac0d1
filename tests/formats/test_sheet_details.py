"""Days, headings, ranges and codes of an answer sheet, one at a time and up to their limits."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from sheet_writer import format_codes, format_sheet

from kb.core.ids import AreaId
from kb.formats.answer_sheet.answer_codes import read_codes, tidy
from kb.formats.answer_sheet.dates import take_day
from kb.formats.answer_sheet.headings import meant_as_heading
from kb.formats.answer_sheet.parser import parse_sheet
from kb.formats.answer_sheet.records import Coded, Known, NotUnderstoodError

KNOWN = Known(
    areas={
        "cardiology": AreaId("cardiology"),
        "cardiac surgery": AreaId("surgery"),
        "nephrology": AreaId("nephrology"),
        "ent": AreaId("ent"),
    },
    sources=("north", "harbour", "paper-1"),
    day=date(2027, 2, 14),
    today=date(2027, 2, 14),
)


@pytest.mark.parametrize(
    ("typed", "day", "rest"),
    [
        ("14 Jan x", "2027-01-14", " x"),
        ("14 Feb", "2027-02-14", ""),
        ("15 Feb", "2026-02-15", ""),
        ("14th January 2026 x", "2026-01-14", " x"),
        ("14jan", "2027-01-14", ""),
        ("1 Sept.", "2026-09-01", ""),
        ("Jan 14th, 2026 x", "2026-01-14", " x"),
        ("feb 3", "2027-02-03", ""),
        ("14 jul x", "2026-07-14", " x"),
        ("14/1 x", "2027-01-14", " x"),
        ("14.1.27", "2027-01-14", ""),
        ("31/12", "2026-12-31", ""),
        ("14/1/2027", "2027-01-14", ""),
        ("1/2", "2027-02-01", ""),
        ("2027-01-14 x", "2027-01-14", " x"),
        ("2027-1-4", "2027-01-04", ""),
        ("2027-02-14", "2027-02-14", ""),
        ("1990-01-01", "1990-01-01", ""),
        ("14 Jan 27", "2027-01-14", " 27"),
    ],
)
def test_a_day_is_read_in_any_of_the_usual_ways(typed: str, day: str, rest: str) -> None:
    """Without a year it is the latest such day that is not after the sheet's own."""
    assert take_day(typed, KNOWN) == (date.fromisoformat(day), rest)
    assert meant_as_heading(typed, KNOWN)


@pytest.mark.parametrize("typed", ["14 ja", "14 ju", "14 Foo", "14/1/27/3", "2027-01-144", "x 14"])
def test_what_is_no_day_is_left(typed: str) -> None:
    """Two letters of a month, a word, a number too many."""
    assert take_day(typed, KNOWN) == (None, typed)
    assert not meant_as_heading(typed, KNOWN)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("30 Feb", "2027-02-30 is not a date"),
        ("13/13", "2027-13-13 is not a date"),
        ("1989-12-31", "1989-12-31 is too long ago"),
        ("2027-02-15", "2027-02-15 is in the future"),
        ("15/2/27", "2027-02-15 is in the future"),
    ],
)
def test_a_day_that_cannot_be_is_told(typed: str, said: str) -> None:
    """No such day, before any log, or after today."""
    with pytest.raises(NotUnderstoodError, match=said):
        take_day(typed, KNOWN)
    assert meant_as_heading(typed, KNOWN)


@pytest.mark.parametrize(
    ("typed", "day", "question", "area", "round_"),
    [
        ("north nephro", "", "north:1", "nephrology", ""),
        ("north neph", "", "north:1", "nephrology", ""),
        ("North Cardiac Surgery", "", "north:1", "surgery", ""),
        ("north cardiac", "", "north:1", "surgery", ""),
        ("north ent", "", "north:1", "ent", ""),
        ("source west", "", "west:1", "", ""),
        ("14 Jan west", "2027-01-14", "west:1", "", ""),
        ("14 Jan West ent", "2027-01-14", "west:1", "ent", ""),
        ("North BANK", "", "north:1", "", ""),
        ("west ent", "", "west:1", "ent", ""),
        ("north round 2", "", "north:1", "", "second"),
        ("north Round two; ENT", "", "north:1", "ent", "second"),
        ("1st north", "", "north:1", "", "first"),
        ("Paper 1", "", "paper-1:1", "", ""),
        ("paper-1 paper", "", "paper-1:1", "", "paper"),
        ("north, on Thursday 14 Jan", "2027-01-14", "north:1", "", ""),
        ("the bank: north. from 2 Feb", "2027-02-02", "north:1", "", ""),
    ],
)
def test_a_heading_names_day_source_area_and_round_in_any_order(
    typed: str, day: str, question: str, area: str, round_: str
) -> None:
    """Four letters do for an area, where only one begins so."""
    sheet = parse_sheet(f"{typed}\n1", "s", KNOWN)
    assert sheet.problems == ()
    (answer,) = sheet.answers
    head = answer.heading
    found = (head.day.isoformat() if head.day else "", answer.question, head.area, head.round)
    assert found == (day, question, area, round_)


@pytest.mark.parametrize(
    ("typed", "hint"),
    [
        ("north nep", "if it is a source, write: source nep"),
        ("north card", "if it is a source, write: source card"),
        ("14 Jan nroth", "did you mean north?"),
        ("north ent extra", "if it is a source, write: source extra"),
        ("5 may be", "if it is a source, write: source be"),
        ("north x12", "write an item with letters whole, such as north:x12"),
        ("14 Jan odd word", "if it is a source, write: source odd"),
        ("North odd words", "if it is a source, write: source odd"),
        ("14 Jan north odd-word", "if it is a source, write: source odd-word"),
        ("14 Jan 3west", "if it is a source, write: source 3west"),
    ],
)
def test_a_heading_not_understood_leaves_its_answers_without_a_source(
    typed: str, hint: str
) -> None:
    """So that none is logged under the heading before it."""
    sheet = parse_sheet(f"harbour 14 Jan\n9\n{typed}\n1", "s", KNOWN)
    assert [answer.question for answer in sheet.answers] == ["harbour:9"]
    assert [problem.place.line for problem in sheet.problems] == [3, 4]
    assert sheet.problems[0].hint.startswith(hint)
    assert "has no source" in sheet.problems[1].message


def test_a_heading_keeps_what_it_does_not_name() -> None:
    """Below another: a new area or round leaves the rest; a new source drops area and round."""
    text = "14 Jan north ent first\n1\nnephrology\n2\n15 Jan\n3\nharbour\n4\n"
    heads = [answer.heading for answer in parse_sheet(text, "s", KNOWN).answers]
    assert [(h.day.day if h.day else 0, h.source, h.area, h.round, h.number) for h in heads] == [
        (14, "north", "ent", "first", 1),
        (14, "north", "nephrology", "first", 2),
        (15, "north", "nephrology", "first", 3),
        (15, "harbour", "", "", 4),
    ]


def told(line: str) -> tuple[list[str], str]:
    """The answers of a line below a heading, and the first thing said."""
    sheet = parse_sheet(f"north 14 Jan\n{line}", "s", KNOWN)
    found = []
    for one in sheet.answers:
        change = f"{one.first}/{one.chosen}>{one.key}".strip("/>")
        certainty = f"c{one.certainty}" if one.certainty else ""
        seconds = f"{one.seconds:g}s" if one.seconds is not None else ""
        item = one.question.removeprefix("north:")
        parts = (item, one.outcome, change, certainty, seconds, one.reason, f"'{one.remark}'")
        found.append(" ".join(part for part in parts if part and part != "''"))
    return found, sheet.problems[0].message if sheet.problems else ""


@pytest.mark.parametrize(
    ("line", "answers"),
    [
        ("1041-9 x", [f"{n} wrong" for n in range(1041, 1050)]),
        ("1041 to 1043 x", ["1041 wrong", "1042 wrong", "1043 wrong"]),
        ("harbour:1--2", ["harbour:1 right", "harbour:2 right"]),
        ("10 9", ["10 right", "9 right"]),
        ("1 2 3", ["1 right", "2 right", "3 right"]),
        ("1,2 x;3", ["1 right", "2 wrong", "3 right"]),
        ("123456789", ["123456789 right"]),
        ("1041 x, 9 x", ["1041 wrong", "9 wrong"]),
        ("1041 gout, 1341 x", ["1041 right 'gout'", "1341 wrong"]),
        ("1041 gout, 5 mg", ["1041 right 'gout, 5 mg'"]),
        ("1041 gout, 1042", ["1041 right 'gout, 1042'"]),
        ("1041 ok // a, 1042 x", ["1041 right 'a, 1042 x'"]),
        ("1041 x gout, 1041 blank", []),
        ("harbour:7 x", ["harbour:7 wrong"]),
        ("north:b12 x", ["b12 wrong"]),
        ("1041 x c3 95s rushed gout", ["1041 wrong c3 95s rushed 'gout'"]),
        ("1041 C>B", ["1041 wrong C>B"]),
        ("1041 B > B", ["1041 right B>B"]),
        ("1041 A/C>B", ["1041 wrong A/C>B"]),
        ("1041 x C->B", ["1041 wrong C>B"]),
        ("1041 c1 c3", ["1041 right c3"]),
        ("1041 c2 c3", ["1041 right c2 'c3'"]),
        ("1041 2m", ["1041 right 120s"]),
        ("1041 1m30s", ["1041 right 90s"]),
        ("1041 1:30", ["1041 right 90s"]),
        ("1041 95s 2m", ["1041 right 95s '2m'"]),
        ("1041 9999s", ["1041 right 9999s"]),
        ("1041 99999s", ["1041 right '99999s'"]),
        ("1041 x ?", ["1041 wrong c1"]),
        ("1041 guess", ["1041 right c1"]),
        ("1041 x??", ["1041 wrong c1 '?'"]),
        ("1041 -", ["1041 blank"]),
        ("1041 - x", ["1041 wrong"]),
        ("1041 - x gout", ["1041 wrong 'gout'"]),
        ("1041 - ok", ["1041 right"]),
        ("1041 x // - y", ["1041 wrong '- y'"]),
        ("1041 ok // x", ["1041 right 'x'"]),
        ("1041x", ["1041 wrong"]),
        ("1041c>b", ["1041 wrong C>B"]),
        ("1041) x", ["1041 wrong"]),
        ("x: 1041", []),
    ],
)
def test_a_line_of_answers(line: str, answers: list[str]) -> None:
    """Outcome, options, certainty, time, reason and remark of each."""
    found, said = told(line)
    assert found == answers
    assert (said != "") == (not answers)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("1-301", "the range 1-301"),
        ("1041-1041", "the range 1041-1041"),
        ("20-19", "the range 20-19"),
        ("1041 0", "1041 0: is it right or wrong?"),
        ("1041 1", "1041 1: is it right or wrong?"),
        ("1041 gout, 1342 x", "1041: '1342 x' looks like another item"),
        ("1041 c", "1041: is it right or wrong?"),
        ("1041 - gout", "1041: a dash and then a remark"),
        ("1041 // x", "1041: is it right or wrong? 'x'"),
        ("1041 // k", "1041: is it right or wrong? 'k'"),
        ("1041 x right", "1041: both wrong and 'right'"),
        ("1041 x M>N", "1041: 'M>N' is not an option"),
        ("1041 C>B > A", "1041: two arrows"),
        ("1041 ok C>B", "1041: both right and C>B"),
        ("1041 x B>B", "1041: both wrong and B>B"),
        ("1041 rushed", "1041: 'rushed', but right or wrong?"),
        ("west:b12 x", "'west' is not a source"),
        ("1041 x, 1041", "1041 is already on line 2"),
    ],
)
def test_a_line_that_may_mean_two_things_is_asked_about(line: str, said: str) -> None:
    """Nothing of its own is guessed."""
    assert told(line)[1] == f"not understood: {said}"


def test_a_dash_is_asked_about_in_its_own_words() -> None:
    """Even before a remark that casts doubt by itself."""
    sheet = parse_sheet("north 14 Jan\n1041 - gout x", "s", KNOWN)
    assert sheet.problems[0].hint.startswith("write 'blank' if it was not answered")


def test_a_range_has_up_to_three_hundred_questions() -> None:
    """And where ranges overlap, the narrower line counts, whichever comes first."""
    assert len(told("1-300")[0]) == 300
    for text in ("1-9\n3-5 x\n4 blank", "4 blank\n3-5 x\n1-9"):
        found = sorted(told(text)[0])
        outcomes = ["right", "right", "wrong", "blank", "wrong", "right", "right", "right", "right"]
        assert found == [f"{n} {outcome}" for n, outcome in enumerate(outcomes, start=1)]


@pytest.mark.parametrize(
    ("length", "said"), [(20_000, []), (20_001, ["a line of 20001 characters"])]
)
def test_a_line_has_up_to_twenty_thousand_characters(length: int, said: list[str]) -> None:
    """A longer one is left whole."""
    line = "1041 x ".ljust(length, "y")
    sheet = parse_sheet(f"north 14 Jan\n{line}", "s", KNOWN)
    assert [p.message.removeprefix("not understood: ") for p in sheet.problems] == said
    assert [row.text for row in sheet.left] == ([line] if said else [])


def test_a_minus_beside_a_plus_may_be_wrong() -> None:
    """Where some lines of a sheet end in +, a dash at the end of another is asked about."""
    sheet = parse_sheet("north 14 Jan\n1 +\n2 -\n3 x\n", "s", KNOWN)
    assert [answer.question for answer in sheet.answers] == ["north:1", "north:3"]
    assert "next to a plus, a minus may mean wrong" in sheet.problems[0].message
    alone = parse_sheet("north 14 Jan\n2 -\n", "s", KNOWN)
    assert [answer.outcome for answer in alone.answers] == ["blank"]


@pytest.mark.parametrize(
    ("typed", "plain"),
    [
        *((f"1 {dash} 2", "1 - 2") for dash in "\u2010\u2011\u2012\u2013\u2014\u2212\uff0d\u30fc"),
        *((f"C{arrow}B", "C>B") for arrow in "\u2192\u279c\u27a1\u203a\u00bb\u21d2"),
        *((f"1 {cross}", "1 x") for cross in "\u00d7\u2717\u2718\u274c\u2612\U0001f44e"),
        *((f"1 {tick}", "1 \u2713") for tick in "\u221a\u2714\u2705\U0001f44d"),
        ("1 \u2753", "1 ?"),
        ("C\u2190B", "C<B"),
        ("C&gt;B &amp; &lt;", "C>B & <"),
        ("\U0001f44d\U0001f3fb 1", "\u2713 1"),
        ("\U0001f44d\U0001f3ff 1", "\u2713 1"),
        ("1\ufe00\ufe0f x", "1 x"),
        ("1\u200d\u202e\x07\ud800 x", "1 x"),
        ("1\tx  y", "1 x y"),
        ("\uff11\uff10 x", "10 x"),
        ("- 1041 x", "1041 x"),
        ("\u2022 1041", "1041"),
        ("[x] 1041", "[x] 1041"),
        ("[ ] - #1041", "1041"),
        ("-", "-"),
    ],
)
def test_one_spelling_for_what_phones_make_of_it(typed: str, plain: str) -> None:
    """Dashes, arrows, crosses, ticks, full-width digits, bullets; nothing that cannot be seen."""
    assert tidy(typed) == plain


@pytest.mark.parametrize(
    ("codes", "written"),
    [
        (Coded(), ""),
        (Coded(outcome="wrong"), "x"),
        (Coded(outcome="blank", seconds=0.0), "blank 0s"),
        (Coded(reason="rushed"), "ok rushed"),
        (Coded(outcome="wrong", chosen="C", key="B"), "x C>B"),
        (Coded(outcome="wrong", first="A", chosen="C", key="B", certainty=3), "x A/C>B c3"),
        (Coded(chosen="B", key="B"), "B>B"),
        (Coded(outcome="wrong", chosen="C"), "x"),
    ],
)
def test_codes_in_their_one_spelling(codes: Coded, written: str) -> None:
    """Right is written out only where a reason follows, or when that is asked for."""
    assert format_codes(codes) == written
    if not codes.chosen:
        assert format_codes(codes, sure=True) == (written or "ok")


def test_the_outcome_may_stand_anywhere_among_the_codes() -> None:
    """Each order means the same."""
    for text in ("x c2 30s", "c2 x 30s", "30s c2 x", "30s, c2; x."):
        codes, remark = read_codes(text)
        assert (codes.outcome, codes.certainty, codes.seconds, remark) == ("wrong", 2, 30.0, "")


@pytest.mark.parametrize(
    ("line", "answers"),
    [
        ("1041 X?", ["1041 wrong c1"]),
        ("1041 ?x", ["1041 wrong c1"]),
        ("1041 a/c>b", ["1041 wrong A/C>B"]),
        ("1041 Guess", ["1041 right c1"]),
        ("1041 Rushed x", ["1041 wrong rushed"]),
        ("1041 x (gout)", ["1041 wrong '(gout)'"]),
        ("1041 x, gout.", ["1041 wrong 'gout.'"]),
        ("1041 right heart", ["1041 right 'right heart'"]),
        ("1041 c=2 x", ["1041 wrong c2"]),
        ("1041 90 secs x", ["1041 wrong 90s"]),
        ("1041 x 10:05", ["1041 wrong 605s"]),
        ("1041 chose C, key B", ["1041 wrong C>B"]),
        ("1041 x // ", ["1041 wrong"]),
        ("1041 // \U0001f600 gout", ["1041 right '\U0001f600 gout'"]),
        ("1041 // c", ["1041 right 'c'"]),
        ("1041 // ok", ["1041 right 'ok'"]),
        ("1041 // k gout", ["1041 right 'k gout'"]),
        ("1041 rushed -", ["1041 blank rushed"]),
        ("1041 - Guess", ["1041 right c1"]),
    ],
)
def test_codes_in_other_spellings(line: str, answers: list[str]) -> None:
    """Capitals, signs run together, and words."""
    assert told(line)[0] == answers


def test_answers_are_written_as_short_as_they_read_back() -> None:
    """A sign before the remark, and `ok`, only where the line would mean something else."""
    lines = (
        "1041 x C>B 95s gout",
        "1042",
        "1043 gout",
        "1044 ok // x marks",
        "1045 blank",
        "1046 x - 5",
        "1047 // 95s",
        "north:b12 x c2",
    )
    text = "".join(f"{line}\n" for line in ("2027-01-14 source north", *lines))
    sheet = parse_sheet(text, "s", KNOWN)
    assert sheet.problems == ()
    assert format_sheet(sheet.answers) == text


def test_a_heading_not_understood_begins_a_part_of_its_own() -> None:
    """A question named whole below it is not the same answer as one above."""
    sheet = parse_sheet("14 Jan north\n5\n15 Jan\n5\n16 Jan nroth\nnorth:5 x\n", "s", KNOWN)
    assert [problem.place.line for problem in sheet.problems] == [5]
    assert [answer.outcome for answer in sheet.answers] == ["right", "right", "wrong"]
    assert [answer.heading.number for answer in sheet.answers] == [1, 2, 3]
    assert [answer.heading.day for answer in sheet.answers] == [
        date(2027, 1, 14),
        date(2027, 1, 15),
        date(2027, 1, 16),
    ]


def test_a_remark_that_may_name_a_patient_is_left_unless_the_person_says_otherwise() -> None:
    """The number has the check digit of modulus 11, see test_note; the answer beside it counts."""
    text = "north\n1041 x NHS 943 476 5919\n1042 x gout\n"
    sheet = parse_sheet(text, "s", KNOWN)
    assert [answer.question for answer in sheet.answers] == ["north:1042"]
    assert [(p.code, p.place.line) for p in sheet.problems] == [("patient-identifier", 2)]
    assert sheet.problems[0].message.startswith("not understood: 1041: the remark contains")
    assert "take it out" in sheet.problems[0].hint
    assert parse_sheet(text, "s", replace(KNOWN, no_patient=True)).problems == ()


def test_a_source_may_be_called_item() -> None:
    """Before a day, however it is written; before a number the word only says what that is."""
    known = replace(KNOWN, sources=("north", "item"))
    sheet = parse_sheet("north\nItem 14 Jan\n5\nNorth\nQuestion 6\n", "s", known)
    assert [answer.question for answer in sheet.answers] == ["item:5", "north:6"]


@pytest.mark.parametrize("item", ["North:b12", "harbour:17c"])
def test_after_a_remark_an_item_with_letters_is_one_of_a_known_source(item: str) -> None:
    """However the source is written; of another one it belongs to the remark."""
    assert told(f"1041 gout, {item} x")[0] == [
        "1041 right 'gout'",
        f"{item.casefold().removeprefix('north:')} wrong",
    ]
    assert told("1041 gout, west:b12")[0] == ["1041 right 'gout, west:b12'"]
