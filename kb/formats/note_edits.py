"""A whole text edited by hand: its line ends kept, and the differences between two versions."""

from collections import Counter
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Literal

from kb.formats.outline import BOM, split_lines

Side = Literal["both", "first", "second"]
MOST_COMPARED = 2000
"""Longest text, in lines, in which common lines are compared too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of two versions: in `both`, or only in the `first` or `second`.

    `left_out_count` lines that are in both were left out just before it.
    """

    side: Side
    text: str
    left_out_count: int


def differences(first: str, second: str, context: int = 2) -> tuple[Line, ...]:
    """The differences of two texts, line by line, with some lines around each; empty if none.

    Line ends and a byte-order mark do not count.
    """
    one, other = _plain(first), _plain(second)
    found: list[Line] = []
    last = 0
    # Comparing lines that occur a hundred times takes minutes in very long texts: there they are
    # passed over.
    many = min(len(one), len(other)) > MOST_COMPARED
    for group in SequenceMatcher(None, one, other, autojunk=many).get_grouped_opcodes(context):
        skipped = group[0][1] - last
        lines: list[tuple[Side, str]] = []
        for tag, start, end, other_start, other_end in group:
            if tag == "equal":
                lines += [("both", text) for text in one[start:end]]
            else:
                lines += [("first", text) for text in one[start:end]]
                lines += [("second", text) for text in other[other_start:other_end]]
            last = end
        for number, (side, text) in enumerate(lines):
            found.append(Line(side=side, text=text, left_out_count=0 if number else skipped))
    return tuple(found)


def _plain(text: str) -> list[str]:
    return [line.rstrip("\r\n") for line in split_lines(text.removeprefix(BOM))]


def with_line_ends_of(old: str, typed: str) -> str:
    """The typed text with the line ends of the old one.

    A form sends every line end as one kind. A line that is in both keeps its own end; a new one
    gets the commonest of the old text. A byte-order mark stays.
    """
    before, after = split_lines(old), split_lines(typed.replace("\r\n", "\n").replace("\r", "\n"))
    ends = Counter(own for line in before if (own := _end(line)))
    usual = ends.most_common(1)[0][0] if ends else "\n"
    whole = [line.rstrip("\n") + usual if line.endswith("\n") else line for line in after]
    if len(ends) != 1:
        plain_before = [line.rstrip("\r\n") for line in before]
        plain_after = [line.rstrip("\n") for line in after]
        matcher = SequenceMatcher(None, plain_before, plain_after, autojunk=False)
        for tag, start, end, other_start, _ in matcher.get_opcodes():
            if tag == "equal":
                for step in range(end - start):
                    line = after[other_start + step]
                    kept = _end(before[start + step]) or usual
                    if line.endswith("\n"):
                        whole[other_start + step] = line.rstrip("\n") + kept
    mark = BOM if old.startswith(BOM) and not typed.startswith(BOM) else ""
    return mark + "".join(whole)


def _end(line: str) -> str:
    return line[len(line.rstrip("\r\n")) :]
