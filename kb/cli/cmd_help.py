"""Show the reference: a topic, or a command's own help."""

import re
import sys

import click

from kb.cli.params import echo, width
from kb.presentation.help_topics import help_text, help_topics

PLAIN = str.maketrans("\N{BOX DRAWINGS LIGHT HORIZONTAL}\N{BULLET}", "--")
BLANK = re.compile(r"\n{3,}")


@click.command(name="help")
@click.argument("topic", nargs=-1)
@click.pass_context
def command(ctx: click.Context, topic: tuple[str, ...]) -> None:
    """Explain a TOPIC, such as study.yaml, or list the topics."""
    words = " ".join(topic)
    if not words:
        echo("Topics, each shown by missbook help TOPIC:\n")
        for name, title in help_topics().items():
            echo(f"  {name:<13} {title}")
        echo("\nmissbook COMMAND --help lists a command's options.")
    elif words.casefold() not in help_topics() and (usage := _usage(ctx, topic)):
        echo(usage)
    else:
        echo(_plain(help_text(words)))


def _usage(ctx: click.Context, words: tuple[str, ...]) -> str:
    """The help of the command with these words, empty if there is none."""
    at = ctx.find_root()
    for word in words:
        group = at.command
        found = group.get_command(at, word) if isinstance(group, click.Group) else None
        if found is None:
            return ""
        at = click.Context(found, info_name=word, parent=at)
    return at.get_help()


def _plain(text: str) -> str:
    """Markdown laid out for the terminal, in plain characters."""
    from rich.console import Console
    from rich.markdown import Markdown

    console = Console(width=width(), color_system=None, file=sys.stdout)
    with console.capture() as captured:
        console.print(Markdown(text))
    lines = (line.rstrip() for line in captured.get().translate(PLAIN).splitlines())
    return BLANK.sub("\n\n", "\n".join(lines)).strip("\n")
