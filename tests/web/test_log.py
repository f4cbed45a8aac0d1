"""The log screen: one answer after the other, each once, with or without scripts."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
from web_client import ADDRESS, Answer, Browser, Elements

from kb.core.errors import KBError
from kb.core.ids import REASONS
from kb.storage import attempt_store

if TYPE_CHECKING:
    from collections.abc import Callable

HEAD = "id,at,question,outcome\n"
JSON = {"Accept": "application/json"}


def one(**fields: str) -> dict[str, str]:
    """The fields of one right answer, changed by `fields`."""
    usual = {"entry": "entry-0001", "source": "north", "item": "41", "outcome": "right"}
    return {**usual, **fields}


def send(page: Browser, *entries: dict[str, Any], token: str | None = None) -> Answer:
    """Send entries as the script of the page does."""
    return Answer(
        page.client.post(
            "/log/queue",
            base_url=ADDRESS,
            json={"entries": list(entries)},
            headers={"Origin": ADDRESS, "X-Token": token or page.token(), **JSON},
        )
    )


def counting(page: Browser) -> list[str]:
    """Questions of the answers that count, in the order of the log."""
    from kb.services.session import Session

    desk = page.app.extensions["missbook"]
    session = Session(page.root, now=desk.clock(), device="look")
    return [f"{a.question} {a.outcome}" for a in session.whole.attempts]


def test_a_right_answer_is_one_press(browser: Callable[..., Browser]) -> None:
    """One press logs it, and the form comes back at the next number with the same source."""
    page = browser()
    answer = page.post("/log", one(round="first"))
    assert answer.status == 303
    assert counting(page) == ["north:41 right"]
    form = page.get(answer.goes_to)
    values = {e.get("name"): e.get("value") for e in form.elements.all("input")}
    assert values["item"] == "42"
    assert "north:41 right: saved." in form.words


def test_a_reason_saves_a_wrong_answer(browser: Callable[..., Browser]) -> None:
    """Pressing a reason says that it was wrong; letters, certainty and remark go with it."""
    page = browser()
    fields = one(reason="two-left", chosen="C", key="B", certainty="2", remark="gout vs pseudogout")
    del fields["outcome"]
    page.post("/log", fields)
    line = (page.root / "log/attempts-test.csv").read_text().splitlines()[1]
    assert ",north:41,,,wrong,,C,B,2,,two-left," in line
    assert line.endswith("gout vs pseudogout")


def test_every_reason_has_its_button(browser: Callable[..., Browser]) -> None:
    """All six words can be touched, and none of them too."""
    form = browser().get("/log").html.split('id="miss"')[0]
    buttons = Elements(form).all("button")
    assert [b["value"] for b in buttons if b.get("name") == "reason"] == [*REASONS, ""]


def test_a_question_can_be_left_blank(browser: Callable[..., Browser]) -> None:
    """Not answered is a third button."""
    page = browser()
    page.post("/log", one(outcome="blank"))
    assert counting(page) == ["north:41 blank"]


def test_the_same_form_sent_twice_is_one_answer(browser: Callable[..., Browser]) -> None:
    """A form that the browser sends again, as after going back, doubles nothing."""
    page = browser()
    page.post("/log", one())
    again = page.post("/log", one())
    assert counting(page) == ["north:41 right"]
    assert "it was saved already" in page.get(again.goes_to).words


def test_each_form_has_an_id_of_its_own(browser: Callable[..., Browser]) -> None:
    """Two forms are two answers, also to the same question."""
    page = browser()
    ids = set()
    for _ in range(2):
        inputs = page.get("/log").elements.all("input")
        ids.add(next(e["value"] for e in inputs if e.get("name") == "entry"))
    assert len(ids) == 2


def test_what_was_typed_stays_when_it_is_refused(browser: Callable[..., Browser]) -> None:
    """A refusal shows the form as it was, and says in one line what is wrong."""
    page = browser()
    answer = page.post("/log", one(item="4 1", remark="gout vs pseudogout", reason="misread"))
    assert answer.status == 400
    assert "is not a question reference" in answer.words
    values = {e.get("name"): e.get("value") for e in answer.elements.all("input")}
    assert (values["item"], values["remark"]) == ("4 1", "gout vs pseudogout")
    assert counting(page) == []


def test_the_form_goes_on_where_the_log_ended(browser: Callable[..., Browser]) -> None:
    """Source, round and next number are those after the last answer of this device."""
    page = browser()
    page.post("/log", one(source="paper-1", item="57"))
    form = page.get("/log")
    chosen = [e["value"] for e in form.elements.all("option") if "selected" in e]
    assert chosen[:2] == ["paper-1", "paper"]
    assert 'value="58"' in form.html


def test_an_undeclared_source_can_be_used_and_is_remembered(
    browser: Callable[..., Browser],
) -> None:
    """A source that study.yaml does not know is typed once, and offered after the declared ones."""
    page = browser()
    page.post("/log", one(source="north", other="Course-7"))
    assert counting(page) == ["course-7:41 right"]
    values = [e["value"] for e in page.get("/log").elements.all("option")]
    assert values[:3] == ["north", "paper-1", "course-7"]


def test_an_item_that_the_source_does_not_have_is_said(browser: Callable[..., Browser]) -> None:
    """It is taken, and one sentence says what to look at."""
    page = browser()
    told = page.get(page.post("/log", one(item="301")).goes_to).words
    assert "North has only 300 questions, yet 301 was logged" in told
    assert counting(page) == ["north:301 right"]


def test_an_answer_can_be_taken_back(browser: Callable[..., Browser]) -> None:
    """The last answers are listed, each with a button that voids it; nothing is erased."""
    page = browser()
    page.post("/log", one())
    own = next(
        e["value"]
        for e in page.get("/log").elements.all("input")
        if e.get("name") == "id" and e["value"]
    )
    answer = page.post("/log/void", {"id": own})
    assert "north:41 is taken back." in page.get(answer.goes_to).words
    assert counting(page) == []
    assert own in (page.root / "log/attempts-test.csv").read_text()


def test_what_does_not_count_cannot_be_taken_back(browser: Callable[..., Browser]) -> None:
    """A second press on the same button changes nothing and says so."""
    assert browser().post("/log/void", {"id": "0" * 16}).status == 404


def test_without_a_token_nothing_is_logged(browser: Callable[..., Browser]) -> None:
    """A form from elsewhere logs nothing."""
    page = browser()
    assert page.post("/log", one(), token="x").status == 403
    assert counting(page) == []


# The queue of the page's script


def test_a_queue_is_taken_in_its_order(browser: Callable[..., Browser]) -> None:
    """All entries that waited are taken at once, with the moments they were given at."""
    page = browser()
    sent = [
        one(entry=f"entry-{n:04}", item=str(n), at=f"2027-02-13T08:00:{n:02}+01:00")
        for n in (41, 42, 43)
    ]
    answers = send(page, *sent).json["answers"]
    assert [a["saved"] for a in answers] == [True, True, True]
    assert counting(page) == ["north:41 right", "north:42 right", "north:43 right"]
    assert "2027-02-13T08:00:42+01:00" in (page.root / "log/attempts-test.csv").read_text()


def test_an_entry_sent_again_counts_once(browser: Callable[..., Browser]) -> None:
    """When the answer to the first sending was lost, the second is told `saved`, and adds none."""
    page = browser()
    first, second = send(page, one()).json, send(page, one()).json
    assert first == second
    assert counting(page) == ["north:41 right"]


def test_an_entry_sent_twice_in_one_message_counts_once(browser: Callable[..., Browser]) -> None:
    """Also when both copies come together."""
    page = browser()
    send(page, one(), one())
    assert counting(page) == ["north:41 right"]


def test_an_entry_counts_once_across_a_restart(browser: Callable[..., Browser]) -> None:
    """A server that was started anew knows what the one before has taken."""
    page = browser()
    send(page, one())
    anew = Browser(page.root, page.app.extensions["missbook"].clock().date())
    assert send(anew, one()).json["answers"][0]["saved"]
    assert counting(anew) == ["north:41 right"]


def test_an_entry_that_another_device_took_counts_once(browser: Callable[..., Browser]) -> None:
    """Sent to the laptop and, when its reply was lost, to the desk's computer, it is one answer."""
    page = browser()
    send(page, one())
    (page.root / "log/attempts-test.csv").rename(page.root / "log/attempts-laptop.csv")
    assert send(page, one()).json["answers"][0]["saved"]
    assert counting(page) == ["north:41 right"]


def test_a_taken_back_entry_stays_so_when_it_comes_again(browser: Callable[..., Browser]) -> None:
    """An old copy of an entry does not bring back what was taken back."""
    page = browser()
    send(page, one(), {"entry": "entry-0002", "void": "entry-0001"})
    assert counting(page) == []
    send(page, one())
    assert counting(page) == []


def test_taking_back_twice_is_taking_back_once(browser: Callable[..., Browser]) -> None:
    """A taking back that is sent again is told as done."""
    page = browser()
    back = {"entry": "entry-0002", "void": "entry-0001"}
    send(page, one(), one(entry="entry-0003", item="42"), back)
    assert send(page, back).json["answers"][0]["saved"]
    assert counting(page) == ["north:42 right"]


def test_a_bad_entry_holds_up_no_other(browser: Callable[..., Browser]) -> None:
    """Each entry is judged by itself; the bad one is told with its sentence."""
    page = browser()
    answers = send(page, one(item="4 1"), one(entry="entry-0002", item="42")).json["answers"]
    assert [a["saved"] for a in answers] == [False, True]
    assert "is not a question reference" in answers[0]["error"]
    assert counting(page) == ["north:42 right"]


@pytest.mark.parametrize("body", [{}, {"entries": 3}, {"entries": [1]}, [], "x"])
def test_what_is_no_queue_is_refused(browser: Callable[..., Browser], body: object) -> None:
    """Nothing is guessed from a message of another shape."""
    page = browser()
    headers = {"Origin": ADDRESS, "X-Token": page.token(), **JSON}
    answer = page.client.post("/log/queue", base_url=ADDRESS, json=body, headers=headers)
    assert answer.status_code == 400


def test_a_stale_token_is_told_and_a_new_one_does(browser: Callable[..., Browser]) -> None:
    """After a restart the old token is refused with 403, and one from /token is taken."""
    page = browser()
    assert send(page, one(), token="old").status == 403
    assert send(page, one()).status == 200
    assert counting(page) == ["north:41 right"]


def test_answers_of_a_day_and_source_are_one_import(browser: Callable[..., Browser]) -> None:
    """Answers logged one by one stand as one import, which can be taken back as a whole."""
    page = browser()
    for number in (41, 42):
        page.post("/log", one(entry=f"entry-{number:04}", item=str(number)))
    lines = (page.root / "log/attempts-test.csv").read_text().splitlines()[1:]
    batches = {line.split(",")[14] for line in lines}
    assert len(batches) == 1
    page.post(f"/log/import/{batches.pop()}/void")
    assert counting(page) == []


def test_logging_goes_on_after_an_import_was_taken_back(browser: Callable[..., Browser]) -> None:
    """What is logged after the day's answers were taken back counts."""
    page = browser()
    page.post("/log", one())
    batch = (page.root / "log/attempts-test.csv").read_text().splitlines()[1].split(",")[14]
    page.post(f"/log/import/{batch}/void")
    page.post("/log", one(entry="entry-0002", item="42"))
    assert counting(page) == ["north:42 right"]


def test_a_torn_line_is_logged_again(browser: Callable[..., Browser]) -> None:
    """An entry whose line was cut off by a power failure was never saved, so it is taken again."""
    page = browser()
    page.post("/log", one())
    log = page.root / "log/attempts-test.csv"
    log.write_bytes(log.read_bytes()[:-2])
    page.post("/log", one())
    assert counting(page) == ["north:41 right"]


def test_a_remark_with_markup_is_shown_as_text(browser: Callable[..., Browser]) -> None:
    """What a remark holds is never part of the page."""
    page = browser()
    page.post("/log", one(reason="misread", outcome="wrong", remark="<script>alert(1)</script>"))
    html = page.get("/log").html
    assert "<script>alert" not in html
    assert "&lt;script&gt;alert" in html


def test_another_source_stays_in_its_field(browser: Callable[..., Browser]) -> None:
    """A new source whose answer was refused is not lost with it."""
    answer = browser().post("/log", one(other="Course-7", item="4 1"))
    values = {e.get("name"): e.get("value") for e in answer.elements.all("input")}
    assert (answer.status, values["other"]) == (400, "Course-7")


def test_a_refusal_is_a_sentence_however_much_was_sent(browser: Callable[..., Browser]) -> None:
    """What a message repeats of the input has an end."""
    answer = browser().post("/log", one(round="x" * 100_000))
    (said,) = [p for p in answer.elements.texts("p") if p.startswith("There is no round")]
    assert len(said) < 600


def test_the_next_form_starts_with_what_there_is(browser: Callable[..., Browser]) -> None:
    """An area that the blueprint does not know does not travel on in an address."""
    answer = browser().post("/log", one(area="x" * 100_000))
    assert answer.goes_to == "/log?source=north&item=42"


def full_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    """From now on the disk takes no line of a log."""

    def refuse(*_: object, **__: object) -> None:
        raise KBError("cannot be written: no space left on device", hint="make room")

    monkeypatch.setattr(attempt_store.atomic_files, "append_lines", refuse)


def test_what_was_typed_stays_when_the_disk_is_full(
    browser: Callable[..., Browser], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The form comes back filled in, and says what to do."""
    page = browser()
    full_disk(monkeypatch)
    answer = page.post("/log", one(reason="misread", outcome="wrong", remark="gout vs pseudogout"))
    assert answer.status == 400
    assert "no space left on device. Make room." in answer.words
    assert 'value="gout vs pseudogout"' in answer.html


def test_a_queue_waits_while_the_disk_is_full(
    browser: Callable[..., Browser], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is told as taken or as refused for good, so that all of it is sent again."""
    page = browser()
    send(page, one())
    back = {"entry": "entry-0002", "void": "entry-0001"}
    with monkeypatch.context() as full:
        full_disk(full)
        for waiting in (back, one(entry="entry-0003", item="42")):
            answer = send(page, waiting)
            assert "answers" not in answer.json
            assert answer.json["error"] == "cannot be written: no space left on device"
    again = send(page, one(entry="entry-0003", item="42"), back)
    assert [a["saved"] for a in again.json["answers"]] == [True, True]
    assert counting(page) == ["north:42 right"]


def test_endless_nesting_is_no_queue(browser: Callable[..., Browser]) -> None:
    """A message built to exhaust its reader is refused like any other that is none."""
    page = browser()
    headers = {"Origin": ADDRESS, "X-Token": page.token(), **JSON}
    answer = page.client.post(
        "/log/queue",
        base_url=ADDRESS,
        data="[" * 100_000,
        content_type="application/json",
        headers=headers,
    )
    assert answer.status_code == 400


def test_the_queue_is_told_what_time_it_is(browser: Callable[..., Browser]) -> None:
    """A device whose clock is wrong can say so; at a set day there is nothing to compare."""
    page = browser()
    assert send(page, one()).json["now"].startswith("2027-02-14T12:00:00")
    at = Browser(page.root, date(2027, 2, 14), as_of=date(2027, 2, 13))
    assert send(at, one()).json["now"] == ""


def test_the_first_source_is_named_above_the_answer(browser: Callable[..., Browser]) -> None:
    """A base that knows no source yet asks for its name where others would be chosen."""
    page = browser({"study.yaml": "timezone: Europe/London\n"})
    html = page.get("/log").html
    assert html.index('name="other"') < html.index('value="right"')
    assert html.count('name="other"') == 1
    fields = {"source": "", "other": "north", "item": "141", "area": "nephrology"}
    assert page.post("/log", {**fields, "outcome": "right", "entry": "ab" * 16}).status == 303
    html = page.get("/log").html
    assert html.index('name="other"') > html.index('value="right"')


def test_before_the_first_answer_today_leads_to_the_log(browser: Callable[..., Browser]) -> None:
    """With the first day of the plan where a bank is known; nothing else is said."""
    page = browser({}).get("/")
    assert "240 minutes today, a day off." in page.words
    assert "/log/block" in [link["href"] for link in page.elements.all("a")]
    assert "No answer logged yet" not in page.words
    unknown = browser({"study.yaml": "timezone: Europe/London\n"}).get("/")
    assert "name your question bank in study.yaml, then log a first block" in unknown.words


def test_a_slip_of_a_source_is_not_logged(browser: Callable[..., Browser]) -> None:
    """As on the command line: one letter changed places is asked about, not made a new source."""
    page = browser()
    form = page.post("/log", one(other="nroth"))
    assert form.status == 400
    assert "'nroth' is not one of your sources. Did you mean north?" in form.words
    (answer,) = send(page, one(source="nroth")).json["answers"]
    assert (answer["saved"], "did you mean north?" in answer["error"]) == (False, True)
    assert counting(page) == []
