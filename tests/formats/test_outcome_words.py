"""However an outcome is written, it is logged as that outcome or asked about, never as another."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from kb.formats.answer_sheet.outcome_words import table
from kb.formats.answer_sheet.parser import parse_sheet
from kb.formats.answer_sheet.records import Known
from kb.importers.cell_values import parse_outcome

KNOWN = Known(areas={}, sources=("north",), day=date(2027, 2, 14))
WORDS = sorted(words for words, entry in table().items() if entry.use != "cell")
REMARKS = ("gout", "membranous vs minimal change", "right heart", "no murmur", "C5 palsy", "")

ASKED = (
    *("C<B", "C\u2190B", "C\u00abB", "CB", "C/B", "C not B", "C instead of B", "should be B"),
    *("key B", "answer was B", "B was right", "correct answer B", "C (B)", "chose C", "picked C"),
    *("wrogn", "worng", "rwong", "wron\u0261", "incorect", "mised it", "rihgt", "skiped", "blnak"),
    *("issed", "orrect", "gout wrogn", "gout, mised", "notright", "gout xwrong"),
    *("ok C>B", "x B>B", "right wrong", "x right", "x \u2713", "\u2713 x", "ok wrong", "y no"),
    *("missed, gout", "no, gout", "failed again gout", "fail gout", "false gout", "0 gout"),
    *("gout x", "gout \u2717", "gout - wrong", "gout (missed)", "gout: got it wrong", "gout no"),
    *("misread", "forgotten", "rushed it", "unknown drug", "two-left", "switched"),
    *("don't know", "no idea", "not sure", "50/50", "maybe", "half", "thought gout"),
    *("confused with gout", "mistook for gout", "I got this wrong'un", "never get this right"),
    *("\U0001f641", "\U0001f62d gout", "//missed it", "// got it wrong"),
    *(
        "wrng",
        "-1",
        "left",
        "1/2",
        "half mark",
        "right but changed",
        "idk",
        "muddled with gout",
    ),
    *("C to B", "C ~> B", "C..B", "CvB", "went C, B", "mine C theirs B", "B correct"),
    *("\u0438 \u043d\u0435\u0442", "\u9519", "\u063a\u0644\u0637", "\ud2c0\ub9bc"),
)


def outcome(text: str) -> str:
    """What one line of a sheet is logged as; `asked` if the person has to say."""
    sheet = parse_sheet(f"north:2750 {text}", "s", KNOWN)
    return sheet.answers[0].outcome if len(sheet.answers) == 1 and not sheet.left else "asked"


def test_there_are_many_ways() -> None:
    """At least fifty for each outcome, and 150 in all."""
    said = [table()[words].said for words in WORDS]
    assert len(WORDS) >= 300
    assert min(said.count("wrong"), said.count("right")) >= 80


@pytest.mark.parametrize("words", WORDS)
def test_every_way_alone_is_that_outcome_or_asked(words: str) -> None:
    """In lower case, capitals and after a colon."""
    expected = table()[words].said
    wanted = {"asked"} if expected == "ask" else {expected}
    for text in (words, words.upper(), words.capitalize(), f": {words}", f"({words})", f"{words}."):
        assert outcome(text) in wanted or (text != words and outcome(text) == "asked")


@pytest.mark.parametrize("text", ASKED)
def test_what_may_be_either_is_asked(text: str) -> None:
    """Slips, options without an arrow, two outcomes, a remark that speaks of a miss."""
    assert outcome(text) == "asked"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("chose C key B", "wrong"),
        ("I picked C, it was B", "wrong"),
        ("said C should have been B", "wrong"),
        ("x2", "wrong"),
        ("x right heart failure", "wrong"),
        ("wrong: no murmur", "wrong"),
        ("ok // missed abortion", "right"),
        ("right bundle branch block", "right"),
        ("gout, not pseudogout", "right"),
        ("heart failure", "right"),
        ("left heart failure", "right"),
        ("non-small cell", "right"),
        ("blown pupil", "right"),
        ("\u03b2-blocker, not \u03b1", "right"),
        ("went home", "right"),
        ("light chain", "right"),
        ("gout though rare", "right"),
        ("gout ticked", "right"),
        ("A to E approach", "right"),
        ("C\u2192B", "wrong"),
        ("B>B", "right"),
        ("blank // ran out", "blank"),
    ],
)
def test_a_plain_way_is_taken(text: str, expected: str) -> None:
    """With its remark."""
    assert outcome(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("x right side", "wrong"),
        ("x blank film", "wrong"),
        ("x right", "asked"),
        ("ok right side", "right"),
        ("ok wrong side", "asked"),
        ("ok blank film", "right"),
        ("blank right side", "blank"),
        ("blank wrong side", "blank"),
        ("blank wrong", "asked"),
    ],
)
def test_a_remark_that_begins_with_another_outcome(text: str, expected: str) -> None:
    """After a right answer it may be meant; after a miss only if nothing follows it."""
    assert outcome(text) == expected


@given(
    words=st.sampled_from(WORDS),
    remark=st.sampled_from(REMARKS),
    before=st.sampled_from(("", "95s ", "c2 ", "- ", "= ")),
    change=st.sampled_from((str, str.upper, str.title)),
    sign=st.sampled_from((" ", ", ", ": ", " - ", ". ", "! ")),
)
@example(words="missed", remark="gout", before="", change=str, sign=" ")
@example(words="_", remark="gout", before="", change=str, sign=", ")
@example(words="-", remark="right heart", before="", change=str, sign=" ")
@example(words="no", remark="no murmur", before="c2 ", change=str.upper, sign=", ")
def test_no_outcome_word_is_logged_as_another_outcome(
    words: str, remark: str, before: str, change: type[str], sign: str
) -> None:
    """Whatever comes before and after it."""
    text = f"{before}{change(words)}{sign if remark else ''}{remark}"
    told, said = outcome(text), table()[words].said
    assert told in ("asked", said)


@given(words=st.sampled_from(WORDS), swap=st.integers(0, 12))
def test_a_slip_is_not_logged_as_another_outcome(words: str, swap: int) -> None:
    """Two neighbouring letters swapped in a word of five letters or more."""
    entry = table()[words]
    if " " in words or len(words) < 5 or swap + 1 >= len(words) or not words.isalpha():
        return
    slip = words[:swap] + words[swap + 1] + words[swap] + words[swap + 2 :]
    assert outcome(slip) in ("asked", entry.said) or entry.said == "right"


@pytest.mark.parametrize(("cell", "expected"), [(w, e.said) for w, e in table().items()])
def test_a_cell_of_a_table_says_the_same(cell: str, expected: str) -> None:
    """What may be either is none."""
    assert parse_outcome(cell) == (None if expected == "ask" else expected)


def test_minus_beside_plus_is_asked_about() -> None:
    """A dash is an item not answered; on a sheet that writes plus for right it may mean wrong."""
    sheet = parse_sheet("north\n1 +\n2 -\n3 blank\n", "s", KNOWN)
    assert [(a.question, a.outcome) for a in sheet.answers] == [
        ("north:1", "right"),
        ("north:3", "blank"),
    ]
    assert [left.line for left in sheet.left] == [3]


@pytest.mark.parametrize(
    ("line", "logged"),
    [
        ("5, 6, 7 x", ""),
        ("5,6 missed", ""),
        ("5; 6 - ", ""),
        ("5, 6, 7", "5 right, 6 right, 7 right"),
        ("5, 6 x C>B", "5 right, 6 wrong"),
        ("5 x, 6 x, 7", "5 wrong, 6 wrong, 7 right"),
        ("5, 6, 7 gout", "5 right, 6 right, 7 right"),
        ("29 wrong 30 right", ""),
        ("37x 38x", ""),
        ("29 x 2 units", "29 wrong"),
        ("Q35 x", "35 wrong"),
        ("No. 36 ok", "36 right"),
        ("question 37", "37 right"),
    ],
)
def test_a_mark_behind_several_items_is_of_all_or_of_one(line: str, logged: str) -> None:
    """Which, is asked; and a second item without a comma is no remark."""
    sheet = parse_sheet(f"north\n{line}\n", "s", KNOWN)
    found = [f"{a.question.partition(':')[2]} {a.outcome}" for a in sheet.answers]
    assert ", ".join(found) == logged
    assert bool(sheet.left) == (not logged)


def test_nought_and_one_behind_an_item_are_asked_about() -> None:
    """They may be outcomes, or items of a list."""
    sheet = parse_sheet("north\n1041 0\n1042 1\n1043 1044\n", "s", KNOWN)
    assert [a.question for a in sheet.answers] == ["north:1043", "north:1044"]
