"""Take back what this device did, whatever it was."""

from datetime import date

from kb.core.wording import dated
from kb.services.session import Session
from kb.storage import acts
from kb.storage.acts import Act


def acts_done(session: Session) -> tuple[Act, ...]:
    """The acts of this device, the latest first."""
    return acts.acts(session.root, session.device)


def moment(act: Act) -> str:
    """When an act was done, on the clock of then: `5 Apr 2027, 18:30`."""
    return f"{dated(date.fromisoformat(act.at[:10]))}, {act.at[11:16]}"


def undo(session: Session, own: str = "") -> tuple[Act, Act]:
    """Take back the act of that id, or the last one; returns it, and the act of undoing it.

    Raises:
        NotFoundError: There is none, or it is undone already.
        ConflictError: A file is no longer as the act left it; nothing was written.
    """
    wanted = acts.find(session.root, session.device, own)
    return wanted, acts.undo(session.root, session.device, wanted, session.now)
