"""What the commands print on the demo base: plain words, areas by name, numbers that agree."""

from __future__ import annotations

import re
import shlex
import shutil
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click
import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from kb.cli import main
from kb.formats.exam import parse_exam
from tests.test_plain_english import PER_CENT, STILTED
from tests.web.test_screens import SCREENS, Reader

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

NOTES = Path(__file__).parent.parent / "notes"
DAY = date(2027, 4, 5)
WIDTH = 80

READ = """
today --explain --cite
queue --explain
retry 20 --explain
history clotting-screen-patterns
map nephrology
map siadh-before-you-call-it
standing --explain --cite
forecast --explain --cite
sitting --cite
sitting mock --explain
mixups --explain
reasons
reasons --area statistics
certainty --explain
gaps --page 2
gaps --area clinical-pharmacology
plan --explain
reread --area clinical-genetics
rota
brief clinical-pharmacology --minutes 1
find gout
find infectious mononucleosis
find zzqqx
find the --area palliative-care
note
note north:1232
log list
check
undo --list
draw 5 --dry-run --seed a
draw --held-back --list --dry-run
chart standing
chart accuracy
chart forecast
chart pace
chart plan
chart reliability
help
help commands
"""
WRITE = """
log block north 2041-2080 --wrong 2043,2050,2061 --took 62
log one north:1232 x "C>B" gout vs pseudogout
log undo --last
note north:1232 --text "Short answer." --title "One"
note north:1196 --dismiss misread
read torsades --took 1
merge siadh-before-you-call-it siadh-what-must-be-excluded
rename area clinical-genetics genetics --dry-run
sitting paper-3 --score all=140/200
draw 10 --seed a
print queue --limit 1 --out one.pdf
pack --out base.zip
undo
undo --list
"""
WRONG = """
quue
queue --area cardiolgy
brief nosucharea
history nosuch
map nosuch
read nosuch
find
note north:999999
log one nosuch
log undo b-123
log sheet nosuch.txt
log table nosuch.csv
log block north 1-40 --wrong 77
sitting nosuch
sitting paper-9 --score cardiology
certainty --sitting nosuch
plan --what-if minutes=abc
rota nosuch.ics
draw 5 --source nosuch
chart standing --out x.doc
print nosuch
print --out x.doc
merge torsades torsades
compare a a
rename area nosuch other
undo nosuch
help nosuch
check --as-of 2027-02-30
"""
TAGS = r"(?s)<(script|style)\b.*?</\1>|<[^>]*>"
FILES = """
print brief nephrology --out brief.pdf
print reread --day 2027-04-06 --out reread.pdf
print queue --limit 5 --lines 3 --out queue.pdf
carry all --out all.html
calendar --out plan.ics
chart standing --out standing.svg
chart accuracy --out accuracy.svg
chart forecast --out forecast.svg
chart pace --out pace.svg
chart plan --out plan.svg
chart reliability --out reliability.svg
"""
RARE_SCREENS = (
    *("/log", "/log/block", "/log/sheet", "/log/table", "/log/paper", "/draw", "/undo", "/check"),
    *(
        "/rename",
        "/help",
        "/help/plan",
        "/report/history?words=torsades",
        "/report/map?words=siadh",
    ),
)
NOT_RUN = {"serve", "graph", "carry", "calendar", "unpack", "items", "rewrite", "new"}
"""Commands that print one line or run on, or are tried below."""


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, tuple[str, str]]:
    """Answer and messages of each command, run once on a copy of the demo base."""
    folder = tmp_path_factory.mktemp("printed")
    base = folder / "notes"
    shutil.copytree(NOTES, base, ignore=shutil.ignore_patterns(".*"))
    found = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("MISSBOOK_DEVICE", "laptop")
        patch.setenv("MISSBOOK_CACHE", str(folder / "cache"))
        patch.setenv("COLUMNS", str(WIDTH))
        patch.chdir(folder)
        for line in (READ + WRONG + WRITE).strip().splitlines():
            if line:
                before = ["--base", str(base), "--as-of", DAY.isoformat()]
                result = CliRunner().invoke(main, [*before, *shlex.split(line)])
                assert result.exception is None or isinstance(result.exception, SystemExit), line
                found[line] = (result.stdout, result.stderr)
    return found


EXAM = parse_exam((NOTES / "exam.yaml").read_text(encoding="utf-8"), "exam.yaml")[0]
AREAS = EXAM.areas if EXAM else ()
NAMES = re.compile("|".join(name for area in AREAS for name in (area.name, area.short_name)))
RAW_AREA = re.compile(
    rf"(?<![\w/'\"=-])(?:{'|'.join(area.id for area in AREAS)})(?![\w/'\"=?-]|\.md| text)"
)
"""An area by its id, but not in a path, a command or a hint, nor as a word of a basis."""
COMMAND = re.compile(r"missbook [a-z-]+(?: [a-z\d:-]+)*")
ONE = re.compile(
    r"(?<![\d.,:/-])1 (?!of\b)(?:more )?[a-z]+(?<!s)s\b(?<! has)(?<! is)(?<! was)(?<! as)"
)
SEVERAL = re.compile(
    r"(?<![\d.,:/-])(?<![A-Z][a-z]{2} )(?:[02-9]|\d\d+) (?:more )?"
    r"(?:answer|area|concept|day|line|mark|minute|miss|note|paper|question|retry|time|word)\b(?!-)"
)
UNGROUPED = re.compile(
    r"(?<![\d:/-])\d{4,} (?:more )?(?:answers|misses|missed|new|notes|of|planned|questions|words)\b"
)
RULES = {
    "an area by its id": RAW_AREA,
    "a plural of one": ONE,
    "a singular of several": SEVERAL,
    "thousands without a comma": UNGROUPED,
    "a stilted word": STILTED,
    "a per cent sign apart": PER_CENT,
}


def breaches(text: str, messages: str = "") -> list[str]:
    """What breaks a rule, and lines of the text that are too wide. A message is one line, however
    long, so that editors can jump to its place.
    """
    wide = [line for line in text.splitlines() if len(line) > WIDTH]
    whole = NAMES.sub("", COMMAND.sub("", " ".join(f"{text} {messages}".split())))
    return wide + [
        f"{name}: {match.group(0)}"
        for name, rule in RULES.items()
        for match in rule.finditer(whole)
    ]


def test_every_command_prints_plain_words(printed: Mapping[str, tuple[str, str]]) -> None:
    """Areas by name, numbers that agree, no stilted word, no line wider than the terminal."""
    assert {line: found for line, told in printed.items() if (found := breaches(*told))} == {}


def test_every_command_is_among_those_printed(printed: Mapping[str, tuple[str, str]]) -> None:
    """A command that nobody adds to the lists above is a rare screen that nobody reads."""
    run = {line.split()[0] for line in printed}
    assert sorted(set(main.commands) - run - NOT_RUN) == []


def _helps(command: click.Command, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    yield path
    for name, own in getattr(command, "commands", {}).items():
        yield from _helps(own, (*path, name))


@pytest.mark.parametrize("path", [*_helps(main)], ids=" ".join)
def test_every_help_text_is_plain(path: tuple[str, ...]) -> None:
    """What --help prints, of each command and each of its ways."""
    assert breaches(CliRunner().invoke(main, [*path, "--help"], terminal_width=WIDTH).stdout) == []


def test_a_new_base_is_spoken_of_in_plain_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each command before anything was logged or written."""
    monkeypatch.setenv("MISSBOOK_CACHE", str(tmp_path / "cache"))
    monkeypatch.chdir(tmp_path)
    before = ["--base", str(tmp_path / "b"), "--as-of", DAY.isoformat()]
    new = "--exam Quill --date 2027-05-11 --blueprint general --source north=2800"
    texts = {"new": CliRunner().invoke(main, ["new", "b", *new.split()])}
    for line in READ.strip().splitlines():
        texts[line] = CliRunner().invoke(main, [*before, *shlex.split(line)])
    assert texts["new"].exit_code == 0
    told = {
        line: (result.stdout.replace(str(tmp_path), ""), result.stderr)
        for line, result in texts.items()
    }
    assert {line: words for line, text in told.items() if (words := breaches(*text))} == {}


def test_files_to_take_away_are_plain(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The printed notes, the file for the train, the calendar and the pictures."""
    monkeypatch.setenv("MISSBOOK_CACHE", str(tmp_path / "cache"))
    before = ["--base", str(NOTES), "--as-of", DAY.isoformat()]
    texts = {}
    for line in FILES.strip().splitlines():
        out = tmp_path / line.split()[-1]
        result = CliRunner().invoke(main, [*before, *line.split()[:-1], str(out)])
        assert result.exit_code == 0, result.output
        if out.suffix == ".pdf":
            texts[line] = " ".join(page.extract_text() for page in PdfReader(out).pages)
        else:
            unfolded = re.sub(r"\r?\n ", "", out.read_bytes().decode())
            texts[line] = re.sub(TAGS, " ", unfolded)
        assert len(texts[line]) > 200, line
    found = {line: _words_only(text) for line, text in texts.items()}
    # A note may speak of the respiratory drive; of clinical-pharmacology it does not.
    ours = {line: [w for w in own if w[:2] != "an" or "-" in w] for line, own in found.items()}
    assert {line: own for line, own in ours.items() if own} == {}


def _words_only(text: str) -> list[str]:
    """Breaches of a text that is not in lines of a terminal."""
    return breaches("", " ".join(text.split()))


@pytest.fixture(scope="module")
def page() -> Reader:
    """A browser on the demo base."""
    return Reader()


@pytest.mark.parametrize("address", [*SCREENS, *RARE_SCREENS])
def test_every_screen_is_plain(page: Reader, address: str) -> None:
    """The same rules for the page: areas by name, numbers that agree, `71%` closed up."""
    assert _words_only(page.get(address).words) == []


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("about clinical-pharmacology, mostly", "an area by its id"),
        ("2 notes in 1 minutes", "a plural of one"),
        ("3 note need work", "a singular of several"),
        ("1432 misses with a reason", "thousands without a comma"),
        ("it is off", "a stilted word"),
        ("71 % right", "a per cent sign apart"),
    ],
)
def test_a_breach_is_found(text: str, rule: str) -> None:
    """Each rule can fail."""
    assert [found.partition(":")[0] for found in breaches(text)] == [rule]


def test_a_line_wider_than_the_terminal_is_found() -> None:
    """One character is enough."""
    assert breaches("x" * WIDTH) == []
    assert breaches("x" * (WIDTH + 1)) == ["x" * (WIDTH + 1)]
