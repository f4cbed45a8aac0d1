"""YAML mappings with the place of every key, and typed values with a Problem for each wrong one.

YAML is composed, not loaded: a plain `no` stays text, `012` is not ten and `1:30` is not ninety.
Every conversion is ours and names its line.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator
from datetime import date, datetime, time
from typing import Any, TypeVar

import yaml

from kb.core.errors import Place, Problem, Severity, nearest
from kb.formats.dates import DAY, parse_clock, parse_day, parse_moment
from kb.formats.yaml_errors import DEEP, fault_of

LOADER = yaml.CSafeLoader if yaml.__with_libyaml__ else yaml.SafeLoader
ITEM = r"[^\W_](?:[\w ./()'+%=-]|:(?=\w))*(?<! )"
VALUE = ITEM.replace("[\\w ", "[\\w ,?")
PLAIN_LINE = re.compile(
    rf"([a-z]+):(?: +(?:\[({ITEM}(?:, {ITEM})*)\]|({VALUE})|\"([\w .,:;?!/()'+%=&#-]+)\"))?"
)
"""A key with one value, or with a list in brackets, that needs no more of YAML than that."""
LONGEST = 500_000
"""Characters: the settings of a hundred sources have 50,000, and a megabyte takes seconds."""
LONG_HINT = "take out what does not belong there"
LONGEST_MESSAGE = 300
T = TypeVar("T")
Num = TypeVar("Num", int, float)
REFERENCE = re.compile(r"[a-z][\w.-]*:[\w.-]*\w", re.A)
"""A question reference needs no quotes in any version of YAML, though the dumper would add them."""
MOMENT = re.compile(rf"{DAY.pattern}(?:T\d{{2}}:\d{{2}}[\d:+-]*)?")
"""A day or moment: a word to us, so without the quotes with which the dumper keeps it one."""


class Fields:
    """A mapping of a YAML file. For an invalid value, getters note a Problem and return a default.

    `first_line` is that of the file on which the YAML text begins, from 1. The `problems` are
    shared with the mappings inside.
    """

    def __init__(
        self, node: yaml.MappingNode, path: str, first_line: int, problems: list[Problem]
    ) -> None:
        self.node, self.path = node, path
        self._first_line, self.problems = first_line, problems
        self._values: dict[str, yaml.Node] = {}
        self._lines: dict[str, int] = {}
        for key_node, value in node.value:
            line = first_line + key_node.start_mark.line
            if not isinstance(key_node, yaml.ScalarNode):
                self.report(line, "bad-key", "a key must be a plain word")
                continue
            key = str(key_node.value)
            if key in self._values:
                hint = f"it is first on line {self._lines[key]}; keep one of them"
                self.report(line, "duplicate-key", f"the key '{key}' appears twice", hint)
                continue
            self._values[key], self._lines[key] = value, line

    def __contains__(self, key: str) -> bool:
        node = self._values.get(key)
        plain = isinstance(node, yaml.ScalarNode) and not node.style
        return node is not None and not (plain and node.value in ("", "~"))

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    @property
    def line(self) -> int:
        """The line on which this mapping begins."""
        return self._first_line + int(self.node.start_mark.line)

    def place(self, key: str = "") -> Place:
        """Where `key` is, or where the mapping begins."""
        return Place(self.path, self._lines.get(key, self.line))

    def report(
        self, at: str | int, code: str, message: str, hint: str = "", severity: Severity = "error"
    ) -> None:
        """Note one problem at a key (`""`: where the mapping begins) or at a line of the file."""
        place = self.place(at) if isinstance(at, str) else Place(self.path, at)
        message = f"{message[:LONGEST_MESSAGE]}{'...' * (len(message) > LONGEST_MESSAGE)}"
        self.problems.append(Problem(place, code, message, hint, severity))

    def warn_unknown(self, known: Collection[str]) -> None:
        """Note every key that is not among `known`, with the nearest one."""
        for key in self._values:
            if key not in known:
                hint = nearest(key, known)
                message = f"the setting '{key}' is not known and has no effect"
                self.report(key, "unknown-setting", message, hint, "caution")

    def text(self, key: str, default: str = "") -> str:
        """The value as it is written, without quotes."""
        node = self._node(key)
        if isinstance(node, yaml.ScalarNode):
            return _word(node)
        self._refuse(key, "one value")
        return default

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of words; a single value counts as a list of one."""
        node = self._node(key)
        if isinstance(node, yaml.ScalarNode):
            return (_word(node),)
        items = _items(node, yaml.ScalarNode)
        if items is not None:
            return tuple(word for item in items if (word := _word(item)))
        self._refuse(key, "a list such as [one, two]")
        return ()

    def day(self, key: str) -> date | None:
        """A day written 2027-05-11."""
        return self._convert(key, parse_day, "a date such as 2027-05-11", "bad-date", None)

    def moment(self, key: str) -> tuple[date | None, datetime | None]:
        """A day, or a moment with its offset: (day, moment or None)."""
        none: tuple[date | None, datetime | None] = (None, None)
        wanted = "a date such as 2027-01-14, or 2027-01-14T21:10+00:00"
        return self._convert(key, parse_moment, wanted, "bad-date", none)

    def clock(self, key: str) -> time | None:
        """A time of day written "08:00"."""
        return self._convert(key, parse_clock, 'a time such as "08:00"', "bad-time", None)

    def integer(self, key: str, default: int, *, low: int = 0, high: int = 10**9) -> int:
        """A whole number from `low` to `high`."""
        return self._number(key, default, int, "a whole number", low, high)

    def number(self, key: str, default: float, *, low: float = 0.0, high: float = 1e12) -> float:
        """A number from `low` to `high`."""
        return self._number(key, default, float, "a number", low, high)

    def _number(
        self, key: str, default: Num, kind: Callable[[str], Num], what: str, low: Num, high: Num
    ) -> Num:
        def convert(text: str) -> Num:
            value = kind(text)
            if not low <= value <= high:
                raise ValueError
            return value

        wanted = f"{what} from {low:g}" + (f" to {high:g}" if high < 10**9 else " up")
        return self._convert(key, convert, wanted, "bad-number", default)

    def flag(self, key: str, default: bool) -> bool:
        """Yes or no (true and false are understood)."""
        words = {"yes": True, "true": True, "on": True, "no": False, "false": False, "off": False}
        return self._convert(
            key, lambda text: words[text.casefold()], "yes or no", "bad-value", default
        )

    def choice(self, key: str, choices: tuple[str, ...], default: str) -> str:
        """One of a few words."""
        text = self.text(key, default)
        if text.casefold() in choices:
            return text.casefold()
        self._refuse(key, "one of " + ", ".join(choices))
        return default

    def mapping(self, key: str) -> Fields | None:
        """The mapping under `key`."""
        node = self._node(key)
        if isinstance(node, yaml.MappingNode):
            return self._inner(node)
        self._refuse(key, "a mapping of keys to values")
        return None

    def part(self, key: str) -> Fields:
        """The mapping under `key`, without any keys if there is none."""
        return self.mapping(key) or self._inner(yaml.MappingNode("", [], self.node.start_mark))

    def entries(self, key: str) -> Iterator[tuple[str, Fields]]:
        """Each key of the mapping under `key`, with that mapping."""
        part = self.part(key)
        return ((own, part) for own in part)

    def mappings(self, key: str) -> tuple[Fields, ...]:
        """The mappings in the list under `key`."""
        items = _items(self._node(key), yaml.MappingNode)
        if items is not None:
            return tuple(map(self._inner, items))
        self._refuse(key, "a list whose lines begin with '- '")
        return ()

    def rows(self, key: str) -> tuple[tuple[str, ...], ...]:
        """A list of lists of words, such as the weeks of a rota."""
        rows = _items(self._node(key), yaml.SequenceNode)
        words = [_items(row, yaml.ScalarNode) for row in rows or ()]
        if rows is not None and None not in words:
            return tuple(tuple(map(_word, row or ())) for row in words)
        self._refuse(key, "a list of lists")
        return ()

    def line_of(self, key: str, number: int) -> int:
        """The line on which an item of the list under `key` begins."""
        return self._first_line + int(self._values[key].value[number].start_mark.line)

    def _node(self, key: str) -> yaml.Node | None:
        return self._values[key] if key in self else None

    def _inner(self, node: yaml.MappingNode) -> Fields:
        return Fields(node, self.path, self._first_line, self.problems)

    def _refuse(self, key: str, wanted: str, code: str = "bad-value") -> None:
        """Note that the value of `key`, if it has one, is not what is wanted."""
        node = self._node(key)
        if node is None:
            return
        shown = f"'{node.value}'" if isinstance(node, yaml.ScalarNode) else "what is there"
        message = f"{key}: {shown} is not {wanted.partition(' such as')[0]}"
        self.report(key, code, message, f"write {wanted}")

    def _convert(
        self, key: str, convert: Callable[[str], T], wanted: str, code: str, default: T
    ) -> T:
        if key not in self:
            return default
        text = self.text(key)
        try:
            return convert(text)
        except (ValueError, KeyError):
            self._refuse(key, wanted, code)
            return default


def _word(node: yaml.ScalarNode) -> str:
    return str(node.value).strip()


def _items(node: yaml.Node | None, kind: type[yaml.Node]) -> list[Any] | None:
    """The items of a list, if it is one and all are of that kind."""
    fits = isinstance(node, yaml.SequenceNode) and all(isinstance(n, kind) for n in node.value)
    return node.value if node and fits else None


def compose(text: str, path: str, first_line: int, problems: list[Problem]) -> Fields | None:
    """Compose YAML text to `Fields`; None, with a Problem, if it is not a YAML mapping.

    Empty text gives an empty mapping; one of more than `LONGEST` characters is not read.
    """
    if len(text) > LONGEST:
        message = f"longer than {LONGEST:,} characters, so it is not read"
        problems.append(Problem(Place(path, first_line), "long-yaml", message, LONG_HINT))
        return None
    try:
        node: Any = _plain_mapping(text) or yaml.compose(text, Loader=LOADER)
        node = node or yaml.compose("{}", Loader=LOADER)
    except yaml.MarkedYAMLError as error:
        line, what, hint = fault_of(error, text)
    except yaml.YAMLError as error:
        line = text[: getattr(error, "position", 0)].count("\n")
        what, hint = "a character that cannot be seen or typed", "delete it"
    except RecursionError:
        line, what, hint = 0, DEEP, "take some out"
    else:
        if isinstance(node, yaml.MappingNode):
            return Fields(node, path, first_line, problems)
        place = Place(path, first_line + node.start_mark.line)
        hint = "write each setting as a key, a colon, a space and a value"
        message = "expected lines such as 'key: value'"
        problems.append(Problem(place, "not-a-mapping", message, hint))
        return None
    place = Place(path, first_line + line)
    problems.append(Problem(place, "bad-yaml", f"this is not YAML: {what}", hint))
    return None


def _plain_mapping(text: str) -> yaml.MappingNode | None:
    """What YAML's own parser makes of lines as most notes begin with, four times as fast.

    None, for that parser, if any line is not such a line.
    """
    pairs: list[tuple[yaml.Node, yaml.Node]] = []
    for number, line in enumerate(text.removesuffix("\n").split("\n")):
        found = PLAIN_LINE.fullmatch(line)
        if found is None:
            return None
        key, items, value, quoted = found.groups()
        mark = yaml.Mark("", 0, number, 0, None, 0)
        style = '"' if quoted else None
        node: yaml.Node = yaml.ScalarNode("", quoted or value or "", mark, mark, style)
        if items:
            words = [yaml.ScalarNode("", item, mark, mark) for item in items.split(", ")]
            node = yaml.SequenceNode("", words, mark, mark)
        pairs.append((yaml.ScalarNode("", key, mark, mark), node))
    return yaml.MappingNode("", pairs, pairs[0][0].start_mark, None)


def plain(value: str) -> str:
    """`value` as YAML needs it written on one line, quoted only where it must be."""
    if MOMENT.fullmatch(value):
        return value
    shown = yaml.safe_dump(value, allow_unicode=True, width=10**9, default_flow_style=True)
    shown = shown.removesuffix("\n").removesuffix("\n...")
    if "\n" in shown:
        return yaml.safe_dump(value, default_style='"', width=10**9).strip()
    return shown


def plain_in_list(value: str) -> str:
    """The same inside square brackets, where commas and brackets need quotes too."""
    if REFERENCE.fullmatch(value):
        return value
    shown = yaml.safe_dump([value], allow_unicode=True, width=10**9, default_flow_style=True)
    return shown.strip().removeprefix("[").removesuffix("]")
