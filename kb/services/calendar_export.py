"""Write the plan as a calendar file, and remember what it held."""

from datetime import timedelta

from kb.core.ids import digest
from kb.export.icalendar_file import write_calendar
from kb.formats.side_logs import CALENDAR
from kb.planning.calendar_entries import Event, calendar_entries, revised
from kb.planning.workload import plan_of
from kb.services.session import Session
from kb.services.user_files import Output
from kb.storage import attempt_store
from kb.storage.scan import scan


def export_calendar(session: Session, output: Output, days: int) -> tuple[Event, ...]:
    """Write the plan of `days` days (0: all to the exam), what is cancelled last.

    The events are remembered, unless the session looks at another day.
    """
    base, today = session.base, session.today
    now, plan = plan_of(base, today)
    names: dict[str, str] = {area.id: area.name for area in base.exam.areas}
    names |= {source.id: source.name for source in base.study.sources}
    last = today + timedelta(days=days - 1) if days else None
    known, _ = attempt_store.read_side_log(session.root, scan(session.root), CALENDAR)
    entries = calendar_entries(now, plan, names, last)
    # Tells one base from another: its first answer, or its blueprint before there is one.
    first = session.whole.attempts[:1]
    areas = (f"{area.id}={area.item_count}" for area in base.exam.areas)
    mark = first[0].id if first else digest("blueprint", *areas)
    events = revised(entries, known, session.now, today, last, base_mark=mark)
    raw = write_calendar(events, name=base.exam.name, zone=base.study.timezone, now=session.now)
    output.write(raw)
    rows = [event.row for event in events if event.row not in set(known)]
    if rows and session.as_of is None:
        attempt_store.append_side_log(session.root, session.device, CALENDAR, *rows)
    return events
