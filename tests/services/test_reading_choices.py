"""What chance chooses for the reading list is written down before it is used."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from kb.cli import main
from kb.services.reading_choices import record_choices
from kb.stats.reading_effect import chance_says_early

if TYPE_CHECKING:
    from collections.abc import Callable

    from web_client import Browser

    from kb.services.session import Session

COUNT = 30
STUDY = "reading:\n  chance_order: {}\n"
LOG = "id,at,question,outcome,area\r\n" + "".join(
    f"x{n},2027-01-05T09:00:{n:02}+00:00,north:{n},wrong,cardiology\r\n" for n in range(COUNT)
)


def files(setting: str, count: int = COUNT, words: int = 2000) -> dict[str, str]:
    """Notes on questions missed long ago; 30 of 2,000 words are too many for one day."""
    notes = {
        f"n{n}.md": f"---\nid: n{n}\ntitle: T{n}\nareas: [cardiology]\n"
        f"questions: [north:{n}]\nwritten: 2027-01-06\n---\n{'word ' * words}"
        for n in range(count)
    }
    return {**notes, "study.yaml": STUDY.format(setting), "log/attempts-a.csv": LOG}


def test_choices_are_written_before_the_list_goes_by_them(session: Callable[..., Session]) -> None:
    """One for each note and miss, by one bit of a digest; a second list adds none."""
    opened = session(files("yes"))
    record_choices(opened)
    path = opened.root / "log" / "chance-order-test.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    assert len(lines) == COUNT + 1
    made = {one.note: one.early for one in opened.base.reading_choices}
    assert made == {f"n{n}": chance_says_early(f"n{n}", f"x{n}") for n in range(COUNT)}
    record_choices(opened)
    assert path.read_text(encoding="utf-8").splitlines() == lines


def test_what_was_written_holds_whatever_the_digest_says(session: Callable[..., Session]) -> None:
    """A log that says late for all but one: that one comes first."""
    rows = "".join(
        f"2027-01-07T09:00:00+00:00,n{n},x{n},{'early' if n == 7 else 'late'}\r\n"
        for n in range(COUNT)
    )
    own = {"log/chance-order-b.csv": f"at,note,miss,order\r\n{rows}"}
    report = session({**files("yes"), **own}).report("reread")
    first = next(block for block in report.blocks if getattr(block, "entries", ()))
    assert first.entries[0].note == "n7"


@pytest.mark.parametrize(("setting", "count", "words"), [("no", COUNT, 2000), ("yes", 1, 50)])
def test_nothing_is_chosen_unasked_or_where_all_can_be_read(
    session: Callable[..., Session], setting: str, count: int, words: int
) -> None:
    """The setting is off; or one note is due, and the minutes hold it."""
    opened = session(files(setting, count, words))
    record_choices(opened)
    assert not (opened.root / "log" / "chance-order-test.csv").exists()


@pytest.mark.parametrize("command", ["reread", "today", "carry reread"])
def test_each_command_with_the_list_has_chosen(
    session: Callable[..., Session], monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    """The reports, and a file of the list."""
    opened = session(files("yes"))
    monkeypatch.chdir(opened.root)
    monkeypatch.setattr("kb.cli.call.Call.open", lambda _: opened)
    words = ["--base", str(opened.root), *command.split()]
    assert CliRunner().invoke(main, words).exit_code == 0
    assert (opened.root / "log" / "chance-order-test.csv").exists()


@pytest.mark.parametrize("page", ["/", "/read", "/read/tonight", "/report/reread"])
def test_each_page_with_the_list_has_chosen(browser: Callable[..., Browser], page: str) -> None:
    """Today, the lists, the scroll and the report."""
    own = browser(files("yes"))
    own.get(page)
    assert len(list((own.root / "log").glob("chance-order-*.csv"))) == 1


def test_a_report_alone_writes_nothing(session: Callable[..., Session]) -> None:
    """Only what shows the list to the person does."""
    opened = session(files("yes"))
    opened.report("reread")
    assert not (opened.root / "log" / "chance-order-test.csv").exists()
