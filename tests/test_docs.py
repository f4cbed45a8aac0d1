"""The README says what is true: every sample is run, every command and setting is named."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from kb.cli import COMMAND_PROMISES, main
from kb.core import plugins
from kb.core.ids import REASONS
from kb.formats import attempt_log, exam, study
from kb.services.session import report_names

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
    """The text with the output of every console sample replaced by what really comes out.

    A block ```text NAME``` is written to the file NAME first; a line that begins with `$ missbook`
    is run on a copy of the demo base, as of the demo's day.
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
    monkeypatch.setenv("MISSBOOK_BASE", str(tmp_path / "notes"))
    monkeypatch.setenv("MISSBOOK_DEVICE", "laptop")
    monkeypatch.chdir(tmp_path)
    text = README.read_text(encoding="utf-8")
    actual = run_samples(text, tmp_path)
    if request.config.getoption("--update-golden"):
        README.write_text(actual, encoding="utf-8", newline="\n")
        text = actual
    assert actual == text


def test_the_readme_opens_with_the_job() -> None:
    """One paragraph directly below the title says what this is for."""
    first = README.read_text(encoding="utf-8").split("\n\n")[1]
    assert "missed" in first
    assert "notes" in first
    assert len(first.split()) > 30


@pytest.mark.parametrize("command", commands())
def test_every_command_is_named(command: str) -> None:
    """The README leaves none out."""
    assert f"`missbook {command}" in README.read_text(encoding="utf-8")


def test_every_setting_column_and_reason_is_named() -> None:
    """Keys of exam.yaml and study.yaml, columns of the log and reason words are documented."""
    text = README.read_text(encoding="utf-8")
    words = (*exam.KNOWN, *exam.KNOWN_AREA, *study.KNOWN, *study.KNOWN_SOURCE)
    missing = [word for word in (*words, *attempt_log.COLUMNS, *REASONS) if f"`{word}`" not in text]
    assert missing == []


def test_every_problem_code_is_listed() -> None:
    """DEVELOPERS.md lists each stable word that a Problem can carry."""
    listed = DEVELOPERS.read_text(encoding="utf-8")
    used: set[str] = set()
    for path in sorted((ROOT / "kb").rglob("*.py")):
        source = path.read_text(encoding="utf-8")
        used.update(re.findall(r'code="([a-z0-9-]+)"', source))
        used.update(re.findall(r'_problem\(\s*\S+, "([a-z0-9-]+)"', source))
        used.update(re.findall(r'report\(\s*[^"\n]*, "([a-z0-9-]+)",', source))
    assert len(used) > 20
    assert sorted(code for code in used if f"`{code}`" not in listed) == []


def test_the_caution_stands_in_the_readme() -> None:
    """Notes are for an exam, not for care."""
    text = " ".join(README.read_text(encoding="utf-8").split())
    assert "not advice for care" in text
    assert "identifies a patient" in text


def test_nothing_else_is_visible_at_the_top() -> None:
    """README, DEVELOPERS, pyproject and five folders, whatever else is hidden."""
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "kb", "notes", "tests", "scripts"}
    visible = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    made_by_installing = {"missbook.egg-info", "build"}
    assert visible - made_by_installing == allowed
