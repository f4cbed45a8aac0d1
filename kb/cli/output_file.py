"""The file that a command writes: the same options and refusals for every such command."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import Any

import click

from kb.core.wording import listed
from kb.services.user_files import Output, output, usual_file

FILE = click.Path(path_type=Path, dir_okay=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Where a command is to write: to `named` if the person named a file."""

    named: Output | None
    suffixes: tuple[str, ...]
    replace: bool

    def or_usual(self, name: str) -> Output:
        """The file that was named, or one of this name.

        Raises:
            ConflictError: There is a file of that name.
        """
        usual = usual_file(Path.cwd(), name)
        return self.named or output(usual, self.suffixes, replace=self.replace)


def writes(*suffixes: str, default: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Add --out and --replace; the command gets them as one `target`. A file that must not be
    written, or has none of these suffixes, is refused before any work. The `default` is what the
    help says of the file, or is done, where none is named.
    """

    def add(function: Callable[..., None]) -> Callable[..., None]:
        @click.option("--replace", is_flag=True, help="Replace FILE if it is there.")
        @wraps(function)
        def run(*args: Any, file: Path | None, replace: bool, **given: Any) -> None:  # noqa: ANN401
            named = output(file, suffixes, replace=replace) if file else None
            target = Target(named=named, suffixes=suffixes, replace=replace)
            function(*args, target=target, **given)

        text = f"The {listed(suffixes, 'or')} file to write. Default: {default}."
        return click.option("--out", "file", type=FILE, metavar="FILE", help=text)(run)

    return add
