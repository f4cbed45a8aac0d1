"""The documents say what is true: samples are run, and each command and setting is explained."""

from __future__ import annotations

import inspect
import re
import shlex
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from kb.cli import main
from kb.cli.params import COMMAND_PROMISES
from kb.core import plugins
from kb.core.ids import REASONS
from kb.core.settings import PlanSettings, RestLimits
from kb.formats import attempt_log, exam, note, plan_settings, rota, side_logs, study
from kb.presentation.help_topics import help_text
from kb.services.report_registry import report_names

if TYPE_CHECKING:
    from collections.abc import Sequence

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
DEVELOPERS = ROOT / "DEVELOPERS.md"
DEMO_DAY = "2027-04-05"
FENCE = re.compile(r"^```(\w*)(?: ([^\n]*))?\n(.*?)^```$", re.M | re.S)


def commands() -> list[str]:
    """Every command with its subcommands, as typed."""
    found = list(report_names())
    for name in plugins.module_names("kb.cli", prefix="cmd_"):
        command = plugins.load("kb.cli", f"cmd_{name}", COMMAND_PROMISES).command
        inside = getattr(command, "commands", None)
        found += [f"{command.name} {part}" for part in inside] if inside else [command.name]
    return found


def run_samples(text: str, folder: Path) -> str:
    """The text, with each console sample's output replaced by what the command really prints.

    A block ```text NAME``` is first written to the file NAME. Each line that begins with
    `$ missbook` is run on a copy of the demo base, on the demo's day.
    """

    def replaced(match: re.Match[str]) -> str:
        language, name, body = match.group(1), match.group(2), match.group(3)
        if language == "text" and name:
            (folder / name).write_text(body, encoding="utf-8")
        if language != "console":
            return match.group(0)
        lines = []
        for line in body.splitlines():
            if line.startswith("$ missbook "):
                arguments = shlex.split(line.removeprefix("$ missbook "))
                result = CliRunner().invoke(main, [*arguments, "--as-of", DEMO_DAY])
                lines.append(f"{line}\n{result.output.rstrip()}\n")
        return f"```console\n{chr(10).join(lines)}```"

    return FENCE.sub(replaced, text)


def test_every_sample_in_the_readme_is_what_comes_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> None:
    """Each command shown is run on the demo base, and prints what the README shows."""
    shutil.copytree(ROOT / "notes", tmp_path / "notes", ignore=shutil.ignore_patterns(".*"))
    monkeypatch.setenv("MISSBOOK_DEVICE", "laptop")
    monkeypatch.chdir(tmp_path / "notes")
    text = README.read_text(encoding="utf-8")
    actual = run_samples(text, tmp_path / "notes")
    if request.config.getoption("--update-golden"):
        README.write_text(actual, encoding="utf-8", newline="\n")
        text = actual
    assert actual == text


def test_the_readme_opens_with_the_job() -> None:
    """The paragraph below the title says what missbook is for."""
    first = README.read_text(encoding="utf-8").split("\n\n")[1]
    assert "missed" in first
    assert "notes" in first
    assert len(first.split()) > 30


NOTE_KEYS = re.findall(r'fields\.\w+\("(\w+)"', inspect.getsource(note))
SIDE_COLUMNS = [
    column
    for log in vars(side_logs).values()
    if isinstance(log, side_logs.SideLog)
    for column in log.columns
]


@pytest.mark.parametrize("command", commands())
def test_every_command_is_explained(command: str) -> None:
    """`missbook help commands` lists every command."""
    assert f"`missbook {command}" in help_text("commands")


@pytest.mark.parametrize(
    ("topic", "words"),
    [
        ("exam.yaml", (*exam.KNOWN, *exam.KNOWN_AREA)),
        ("study.yaml", (*study.KNOWN, *study.KNOWN_SOURCE, *study.KNOWN_READING)),
        ("study.yaml", (*rota.KNOWN, *rota.KNOWN_SHIFT)),
        ("study.yaml", (*plan_settings.KNOWN_PLAN, *plan_settings.KNOWN_REST)),
        ("tables", study.TABLE_FIELDS),
        ("note", NOTE_KEYS),
        ("answer-sheet", REASONS),
        ("log", (*REASONS, *attempt_log.COLUMNS)),
        ("log", SIDE_COLUMNS),
    ],
)
def test_every_setting_column_and_reason_is_explained(topic: str, words: Sequence[str]) -> None:
    """Every name read from a file is in the help topic about that file."""
    assert words
    text = help_text(topic)
    assert [word for word in words if f"`{word}`" not in text] == []


def help_defaults(heading: str) -> dict[str, str]:
    """Setting -> default in one section of the study.yaml topic, for plain values."""
    section = help_text("study.yaml").split(f"\n## {heading}\n")[1].split("\n## ")[0]
    rows = re.findall(r"^\| `(\w+)` \| ([\w.]+) \|", section, re.M)
    return {setting: default for setting, default in rows if default != "none"}


@pytest.mark.parametrize(
    ("heading", "outer", "known"),
    [
        ("plan", "", plan_settings.KNOWN_PLAN),
        ("rest", "rota", plan_settings.KNOWN_REST),
        ("reading", "", study.KNOWN_READING),
    ],
)
def test_the_defaults_explained_are_the_defaults(
    heading: str, outer: str, known: tuple[str, ...]
) -> None:
    """Defaults copied from the help into study.yaml are accepted and change nothing."""
    defaults = help_defaults(heading)
    assert set(known) - set(defaults) <= {"paper_start", "area_order", "free_weekdays"}
    lines = [f"{outer}:", f" {heading}:"] if outer else [f"{heading}:"]
    lines += [f"  {setting}: {default}" for setting, default in defaults.items()]
    rest = f"{outer}:\n starts: 2027-01-04\n weeks: [[day, day, day, day, day, off, off]]\n"
    usual = rest if outer else ""
    text = usual + "\n".join(lines[1:] if outer else lines)
    assert study.parse_study(text, "study.yaml")[1] == ()
    assert study.parse_study(text, "study.yaml")[0] == study.parse_study(usual, "study.yaml")[0]


def uncommented(text: str) -> str:
    """A new study.yaml with every setting uncommented; prose comments begin with `# `."""
    return re.sub(r"^#(?! \S)", "", text, flags=re.M)


def test_a_new_study_file_names_every_setting() -> None:
    """Every setting is in the file, ready to be uncommented."""
    text = uncommented(study.format_study("Europe/London"))
    words = (
        *study.KNOWN,
        *study.KNOWN_SOURCE,
        *study.KNOWN_READING,
        *rota.KNOWN,
        *rota.KNOWN_SHIFT,
        *plan_settings.KNOWN_PLAN,
        *plan_settings.KNOWN_REST,
    )
    assert [word for word in words if not re.search(rf"\b{word}:", text)] == []


def test_a_new_study_file_can_be_used_with_every_setting() -> None:
    """With every setting uncommented it is read without a problem and equals the defaults."""
    read, problems = study.parse_study(
        uncommented(study.format_study("Europe/London")), "study.yaml"
    )
    assert problems == ()
    assert read.plan == replace(PlanSettings(), paper_start=read.plan.paper_start)
    assert read.rota is not None
    assert read.rota.rest == RestLimits()


def test_the_list_of_problem_codes_has_each_once() -> None:
    """`missbook help problems` lists what `python scripts/problem_codes.py` finds in the source."""
    script = ROOT / "scripts" / "problem_codes.py"
    command = [sys.executable, script, "--check"]
    assert subprocess.run(command, capture_output=True, text=True, check=False).stderr == ""


@pytest.mark.parametrize(("path", "most"), [(README, 16 * 1024), (DEVELOPERS, 18 * 1024)])
def test_a_document_that_is_read_is_short(path: Path, most: int) -> None:
    """What does not fit belongs in kb/help/, a docstring or scripts/README.md."""
    assert path.stat().st_size <= most


def test_the_readme_names_every_command() -> None:
    """Each command is in the list by moment."""
    listed = README.read_text(encoding="utf-8").split("## The commands by moment")[1]
    names = {command.split()[0] for command in commands()}
    assert sorted(name for name in names if f"`{name}`" not in listed.split("## ")[0]) == []


def test_every_file_named_to_developers_is_there() -> None:
    """Every path in DEVELOPERS.md and scripts/README.md exists."""
    for document in (DEVELOPERS, ROOT / "scripts" / "README.md"):
        named = re.findall(
            r"`((?:kb|tests|scripts|notes)/[\w/.-]+)`", document.read_text(encoding="utf-8")
        )
        assert named
        assert [path for path in named if not (ROOT / path).exists()] == []


def test_the_caution_stands_in_the_readme() -> None:
    """The README says that notes are for an exam, not for care."""
    text = " ".join(README.read_text(encoding="utf-8").split())
    assert "not for patient care" in text
    assert "identifies a patient" in text


def test_nothing_else_is_visible_at_the_top() -> None:
    """Only README, DEVELOPERS, pyproject and four folders are not hidden."""
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "kb", "notes", "tests", "scripts"}
    visible = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    made_by_installing = {"missbook.egg-info", "build"}
    assert visible - made_by_installing == allowed
