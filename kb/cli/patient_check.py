"""Ask before writing a note that may identify a patient."""

import click

from kb.cli.params import interactive, say
from kb.core.errors import QueryError
from kb.services.note_drafting import identifiers

no_patient_option = click.option(
    "--no-patient", is_flag=True, help="Confirm that it does not identify a patient."
)


def check_no_patient(texts: tuple[str, ...], given: bool, before: str = "") -> None:
    """Go on only if nothing in `texts` looks like a patient's details, what was there `before` left
    out; or if the person says not, or has said so already (`given`).

    Raises:
        QueryError: It may identify a patient.
    """
    known = identifiers(before)
    doubted = [what for what in identifiers(*texts) if what not in known]
    if given or not doubted:
        return
    message = f"this looks like {' and '.join(doubted)}"
    if interactive():
        say(message)
        if click.confirm(
            "Are you sure that this does not identify a patient?", default=False, err=True
        ):
            return
    hint = "take it out: a note never needs to say who a patient was; or add --no-patient"
    raise QueryError(f"{message}; nothing was written", hint=hint)
