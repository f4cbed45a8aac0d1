"""Topics of the reference: each is a file, found by its name."""

from __future__ import annotations

import pytest

from kb.core.errors import NotFoundError
from kb.presentation.help_topics import FOLDER, help_text, help_topics


def test_each_file_is_a_topic_with_its_title() -> None:
    """The list has every file of the folder, each with a title."""
    topics = help_topics()
    assert set(topics) == {path.stem for path in FOLDER.glob("*.md")}
    assert topics["answer-sheet"] == "Answer sheets"
    assert all(topics.values())


def test_a_topic_is_found_however_it_is_typed() -> None:
    """Capitals, a space for the hyphen and the file's suffix make no difference."""
    assert help_text("Answer sheet") == help_text("answer-sheet.md") == help_text("answer-sheet")


@pytest.mark.parametrize(
    ("typed", "topic"), [("study", "study.yaml"), ("exam", "exam.yaml"), ("sheet", "answer-sheet")]
)
def test_the_beginning_of_a_topics_name_is_enough(typed: str, topic: str) -> None:
    """Nobody types `.yaml` when asking what a setting means."""
    assert help_text(typed) == help_text(topic)


def test_a_slip_is_answered_with_the_nearest_topic() -> None:
    """As everywhere where a name is typed."""
    with pytest.raises(NotFoundError, match="did you mean safety"):
        help_text("safty")


def test_a_setting_leads_to_its_topics() -> None:
    """Who asks for a setting or column is told where it is explained."""
    with pytest.raises(NotFoundError, match=r"it is explained in: study\.yaml"):
        help_text("hours_between")
