"""Take back an answer or a whole batch."""

import click

from kb.cli.call import Call, with_call
from kb.cli.cmd_undo import take_back
from kb.core.errors import NotFoundError
from kb.services.answer_logging import last_import, void
from kb.services.undoing import acts_done


@click.command(name="undo")
@click.argument("what", required=False)
@click.option("--last", is_flag=True, help="Take back this device's last batch.")
@with_call
def command(call: Call, what: str | None, last: bool) -> None:
    """Take back an answer or a whole batch, or reopen a dismissed miss.

    WHAT is its id, which missbook log list shows; or the question whose miss was dismissed; or
    any act of this device by the id that missbook undo --list shows.

    Nothing is erased: a line is added that voids the earlier one.
    """
    if last:
        what = last_import(call.session)
        if not what:
            hint = "missbook log list shows those of other devices"
            raise NotFoundError("this device has no batch to take back", hint=hint)
    if not what:
        raise NotFoundError(
            "nothing was named to take back", hint="give an id from missbook log list, or --last"
        )
    session = call.open()
    if any(act.id == what for act in acts_done(session)):
        take_back(call, session, what)
        return
    count = void(call.session, what)
    no_longer = "1 answer no longer counts" if count == 1 else f"{count} answers no longer count"
    if ":" in what:
        no_longer = "its miss is open again, unless you have got it right since"
    call.answer({"voided": what, "answer_count": count}, f"{what} is taken back: {no_longer}.")
