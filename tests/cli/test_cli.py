"""The command line: one line and status 2 for bad input, answers on stdout, talk on stderr."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from conftest import EXAM

from kb.cli import main
from kb.cli.cmd_log import WAYS
from kb.cli.command_groups import GROUPS
from kb.cli.params import COMMAND_PROMISES
from kb.core import plugins
from kb.services.report_registry import PROMISED, report_names

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.testing import Result


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[..., Result]:
    """Run missbook in an empty folder."""
    monkeypatch.chdir(tmp_path)

    def call(*arguments: str | Path, text: str | None = None) -> Result:
        return CliRunner().invoke(main, [str(part) for part in arguments], input=text)

    return call


def test_without_a_base_there_is_one_line(run: Callable[..., Result]) -> None:
    """Standard error says what is missing, standard output stays empty, status 2."""
    result = run("check")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith("no base here: no exam.yaml in ")
    assert result.stderr.count("\n") == 2


def test_an_unknown_command_offers_the_nearest(run: Callable[..., Result]) -> None:
    """A slip of the finger costs nothing."""
    result = run("chek")
    assert result.exit_code == 2
    assert "has no command 'chek'" in result.stderr
    assert "check" in result.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ("queue", "--foo"),
        ("queue", "--as-of", "soon"),
        ("find",),
        ("draw", "0"),
        ("log", "undo", "x", "y"),
    ],
)
def test_a_slip_in_the_words_of_a_command_is_one_line_and_a_hint(
    run: Callable[..., Result], arguments: tuple[str, ...]
) -> None:
    """What is wrong comes first, then where the help is."""
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    first, hint, *rest = result.stderr.splitlines()
    assert not rest
    assert not first.startswith(("Usage", "Error"))
    assert hint.startswith("  hint: see ")
    assert hint.endswith(" --help")


def test_a_narrow_character_set_loses_no_answer(
    monkeypatch: pytest.MonkeyPatch, base: Callable[..., Path]
) -> None:
    """What a piped output cannot show is escaped, and JSON stays JSON."""
    root = base({"x.md": "---\ntitle: Δ gap ≥ 12 naïve\narea: cardiology\n---\nText.\n"})
    monkeypatch.setenv("MISSBOOK_BASE", str(root))
    runner = CliRunner(charset="ascii")
    found = json.loads(runner.invoke(main, ["find", "gap", "--json"]).stdout_bytes)
    assert "Δ gap ≥ 12 naïve" in json.dumps(found, ensure_ascii=False)


@pytest.mark.parametrize("group", [(), ("log",)])
def test_no_line_of_the_help_is_cut(run: Callable[..., Result], group: tuple[str, ...]) -> None:
    """The first sentence of every command and report fits its line."""
    result = run(*group, "--help")
    assert result.exit_code == 0
    assert "..." not in result.stdout.split("Options:", 1)[1]


def test_an_off_date_is_refused(run: Callable[..., Result], base: Callable[..., Path]) -> None:
    """--as-of wants a day that exists."""
    result = run("check", "--base", base(), "--as-of", "2027-02-30")
    assert result.exit_code == 2
    assert "'2027-02-30' is not a date" in result.stderr


def test_findings_end_in_status_1(run: Callable[..., Result], base: Callable[..., Path]) -> None:
    """`check` tells scripts that there is something to mend."""
    result = run("check", "--base", base({"x.md": "---\narea: cardiolgy\n---\nx\n"}))
    assert result.exit_code == 1
    assert "x.md:1: area 'cardiolgy' is not in the blueprint" in result.stdout


def test_a_sound_base_ends_in_status_0(
    run: Callable[..., Result], base: Callable[..., Path]
) -> None:
    """Nothing found, nothing to mend."""
    result = run("--base", base(), "check")
    assert result.exit_code == 0
    assert "nothing found" in result.stdout


def test_json_goes_to_standard_output_alone(
    run: Callable[..., Result], base: Callable[..., Path]
) -> None:
    """It can be piped."""
    result = run("check", "--base", base(), "--json", "--as-of", "2027-02-14")
    assert json.loads(result.stdout)["as_of"] == "2027-02-14"


def test_the_environment_can_name_the_base(
    run: Callable[..., Result], base: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """MISSBOOK_BASE serves from anywhere."""
    monkeypatch.setenv("MISSBOOK_BASE", str(base()))
    assert run("check").exit_code == 0


def test_help_lists_commands_by_how_often_they_are_used(run: Callable[..., Result]) -> None:
    """Groups and commands come in the order of the table, and the caution below them."""
    shown = run("--help").stdout
    listed = re.findall(r"^(\S[\w ]*):$|^  ([a-z]+)  ", shown.split("Options:")[1], re.M)
    ordered = [word for heading, group in GROUPS for word in (heading, *group)]
    places = [ordered.index(heading or name) for heading, name in listed]
    assert places == sorted(places)
    assert len(places) > len(GROUPS)
    assert "not for patient care" in shown
    assert all(len(line) <= 80 for line in shown.splitlines())


def test_every_command_has_its_place_in_the_help() -> None:
    """A command or report belongs to one group."""
    placed = [name for _, group in GROUPS for name in group]
    commands = {*plugins.module_names("kb.cli", prefix="cmd_"), *report_names()}
    assert sorted(placed) == sorted(commands)
    assert sorted(WAYS) == sorted(plugins.module_names("kb.cli", prefix="log_"))


def test_a_day_may_be_given_before_the_command(
    run: Callable[..., Result], base: Callable[..., Path]
) -> None:
    """`missbook --as-of DATE check` is `missbook check --as-of DATE`."""
    before = run("--as-of", "2027-02-14", "check", "--base", base(), "--json")
    assert json.loads(before.stdout)["as_of"] == "2027-02-14"


def test_no_choice_in_help_is_empty(run: Callable[..., Result]) -> None:
    """Words to choose from are shown without the one that stands for none."""
    assert "[failing|" in run("queue", "--help").stdout


def test_cite_says_when_nothing_published_is_used(
    run: Callable[..., Result], base: Callable[..., Path]
) -> None:
    """Asking for works is never answered with silence."""
    assert "No published method is used here." in run("check", "--base", base(), "--cite").stdout


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish", "powershell"])
def test_a_shell_can_complete_commands(shell: str) -> None:
    """Each shell is given its script, and the command that begins so."""
    environment = {
        **os.environ,
        "COMP_WORDS": "missbook sta",
        "COMP_CWORD": "sta" if shell == "fish" else "1",
        "COMP_WORD": "sta",
    }
    for what, expected in (("source", "missbook"), ("complete", "standing")):
        environment["_MISSBOOK_COMPLETE"] = f"{shell}_{what}"
        run = subprocess.run(
            [sys.executable, "-m", "kb"],
            env=environment,
            capture_output=True,
            text=True,
            check=False,
            cwd=Path(__file__).parent.parent.parent,
        )
        assert expected in run.stdout, run.stderr


@pytest.mark.parametrize(
    ("shell", "script"),
    [
        (
            "bash",
            'eval "$(_MISSBOOK_COMPLETE=bash_source missbook)"; COMP_WORDS=(missbook sta);'
            ' COMP_CWORD=1; _missbook_completion missbook; echo "${COMPREPLY[@]}"',
        ),
        ("fish", "_MISSBOOK_COMPLETE=fish_source missbook | source; complete -C 'missbook sta'"),
    ],
)
def test_a_shell_that_is_here_completes_as_the_readme_says(
    shell: str, script: str, tmp_path: Path
) -> None:
    """Started with the line of the README, it completes what was typed."""
    program = shutil.which(shell)
    if program is None or os.name == "nt":
        pytest.skip(f"no {shell} here")
    command = tmp_path / "missbook"
    command.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m kb "$@"\n', encoding="utf-8")
    command.chmod(0o755)
    root = str(Path(__file__).parent.parent.parent)
    path = os.pathsep.join((str(tmp_path), os.environ["PATH"]))
    here = {**os.environ, "PATH": path, "PYTHONPATH": root, "HOME": str(tmp_path)}
    run = subprocess.run(
        [program, "-c", script], env=here, capture_output=True, text=True, check=False
    )
    assert run.stdout.split()[:1] in (["standing"], ["plain,standing"]), run.stdout + run.stderr


def test_a_search_of_an_unchanged_base_starts_without_numpy(tmp_path: Path) -> None:
    """To load it takes longer than the search."""
    root = Path(__file__).parent.parent.parent
    here = {**os.environ, "MISSBOOK_CACHE": str(tmp_path), "PYTHONPROFILEIMPORTTIME": "1"}
    find = [sys.executable, "-m", "kb", "--base", "notes", "--as-of", "2027-04-05", "find"]
    for words in ("podagra", "gout"):  # the first makes the index
        run = subprocess.run(
            [*find, words], env=here, capture_output=True, text=True, check=False, cwd=root
        )
    loaded = {line.rpartition("|")[2].strip() for line in run.stderr.splitlines()}
    assert "Gout" in run.stdout
    assert "kb.search.searcher" in loaded
    assert "numpy" not in loaded


def test_every_command_keeps_its_promises() -> None:
    """Each module has what its kind promises, every command has --json and --as-of.

    A packed file has no day to look back to, a page is no answer, and a reference is neither.
    """
    for name in plugins.module_names("kb.cli", prefix="cmd_"):
        module = plugins.load("kb.cli", f"cmd_{name}", COMMAND_PROMISES)
        commands = getattr(module.command, "commands", {"": module.command}).values()
        for command in commands:
            flags = {flag for parameter in command.params for flag in parameter.opts}
            wanted = {"--json", "--as-of"}
            wanted -= {"unpack": {"--as-of"}, "serve": {"--json"}, "help": wanted}.get(name, set())
            assert wanted <= flags, f"{name} {command.name}"


def test_every_report_keeps_its_promises() -> None:
    """Each report has its options, and a docstring that serves as help."""
    for name in report_names():
        module = plugins.load("kb.reports", name, PROMISED)
        assert (module.__doc__ or "").strip().endswith(".")


def test_a_module_that_lacks_its_promise_is_named() -> None:
    """Forgetting one fails loudly, at once."""
    with pytest.raises(TypeError, match=r"kb\.reports\.check lacks absent"):
        plugins.load("kb.reports", "check", ("absent",))


def test_new_writes_a_base_that_loads(run: Callable[..., Result], tmp_path: Path) -> None:
    """Both files are there, explained, and `check` finds nothing."""
    made = run(
        "new", "mine", "--date", "2027-05-11", "--exam", "Quill", "--blueprint", "cardiology=200"
    )
    assert made.exit_code == 0, made.stderr
    assert "not for patient care" in made.stdout
    text = (tmp_path / "mine/exam.yaml").read_text(encoding="utf-8")
    assert text.startswith("# The exam")
    assert (tmp_path / "mine/study.yaml").is_file()
    assert run("check", "--base", "mine").exit_code == 0


def test_new_never_overwrites_a_base(run: Callable[..., Result], tmp_path: Path) -> None:
    """A second time is refused and changes nothing."""
    run("new", "mine", "--date", "2027-05-11")
    before = (tmp_path / "mine/exam.yaml").read_bytes()
    again = run("new", "mine", "--date", "2028-05-11")
    assert again.exit_code == 2
    assert "is a base already" in again.stderr
    assert (tmp_path / "mine/exam.yaml").read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--date", "soon"), "'soon' is not a date"),
        ((), "the exam's date is missing"),
        (("--date", "2172-05-11"), "--date: the exam's day, 2172-05-11, is"),
        (
            ("--date", "2027-05-11", "--blueprint", "cardiology"),
            "is not an area with its questions",
        ),
        (("--date", "2027-05-11", "--blueprint", "a b=3"), "is not a name for an area"),
    ],
)
def test_new_says_what_it_cannot_use(
    run: Callable[..., Result], arguments: tuple[str, ...], said: str
) -> None:
    """One line, status 2, no folder made."""
    result = run("new", "mine", *arguments)
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Traceback" not in result.stderr


def test_a_broken_log_line_is_said_and_the_rest_answers(
    run: Callable[..., Result], base: Callable[..., Path]
) -> None:
    """Other commands go on and point to the line."""
    log = "id,at,question,outcome\r\na,2027-01-02T10:00:00+00:00,north:1,wrong\r\nb,broken\r\n"
    result = run("map", "cardiology", "--base", base({"log/attempts-a.csv": log}))
    assert result.exit_code == 0
    assert "log/attempts-a.csv:3: too few fields" in result.stderr


def test_a_slip_in_the_year_of_the_exam_is_said_at_once(
    run: Callable[..., Result], base: Callable[..., Path]
) -> None:
    """No plan of decades is begun."""
    root = base({"exam.yaml": EXAM.replace("2027-05-11", "2172-05-11")})
    result = run("today", "--base", root)
    assert result.exit_code == 2
    assert "exam.yaml: the exam's day, 2172-05-11, is" in result.stderr


def test_map_offers_the_nearest_name(run: Callable[..., Result], base: Callable[..., Path]) -> None:
    """An area mistyped is one line with a hint."""
    result = run("map", "cardiolgy", "--base", base())
    assert result.exit_code == 2
    assert "hint: did you mean cardiology?" in result.stderr
