"""`missbook help`: the reference on the terminal."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from kb.cli import main
from kb.presentation.help_topics import help_topics


def shown(*words: str) -> str:
    """What `missbook help WORDS` prints."""
    result = CliRunner().invoke(main, ["help", *words], prog_name="missbook")
    assert result.exit_code == 0, result.output
    return result.output


def test_without_a_topic_it_lists_them() -> None:
    """Each by the word to type and by its title."""
    lines = [line.split(maxsplit=1) for line in shown().splitlines() if line.startswith("  ")]
    assert dict(lines) == help_topics()


@pytest.mark.parametrize("topic", help_topics())
def test_a_topic_fits_a_terminal(topic: str) -> None:
    """No line is longer than 80 columns, and no character is one that some terminals lack."""
    text = shown(topic)
    assert [line for line in text.splitlines() if len(line) > 80] == []
    assert text.isascii()


def test_a_command_shows_its_own_help() -> None:
    """Words that are no topic but a command, also one of a group."""
    assert shown("log", "block").startswith("Usage: missbook log block")
    assert "--minutes" in shown("brief")


def test_an_unknown_topic_is_one_line() -> None:
    """With exit status 2, like every slip."""
    result = CliRunner().invoke(main, ["help", "nonsense-word"])
    assert result.exit_code == 2
    assert "no help topic 'nonsense-word'" in result.output
