"""Draw the numbers of a report as a picture: one command for each chart there is."""

from __future__ import annotations

import inspect
import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.charts import WIDTH, chart_module, chart_names, draw, form_of, style_of
from kb.cli.params import Named, Whole, common, open_session, say_problems, width
from kb.cli.report_command import parameter
from kb.presentation.render import Shown, render_json, render_text, to_json
from kb.presentation.report_model import Text

if TYPE_CHECKING:
    from datetime import date


class Charts(Named):
    """The charts there are."""

    what = "chart"


@click.group(name="chart", cls=Charts)
def command() -> None:
    """Draw standing, forecast, pace and more as a picture.

    With --out it is written as SVG, PNG or PDF, by the suffix of the file; an existing file is
    replaced. Without, what it would show is printed as words and a table. Every picture is in one
    ink, to be read in grey and on paper. With too little data it says so and writes nothing.
    """


def _chart_command(name: str) -> click.Command:
    """The command that draws one chart."""
    module = chart_module(name)

    @common
    @click.option(
        "--out",
        type=click.Path(path_type=Path, dir_okay=False),
        metavar="FILE",
        help="Where to write it: .svg, .png or .pdf.",
    )
    @click.option(
        "--width",
        "pixels",
        type=Whole(),
        default=WIDTH,
        show_default=True,
        metavar="PIXELS",
        help="How wide: 390 for a phone.",
    )
    @click.pass_context
    def run(
        ctx: click.Context,
        /,
        as_json: bool,
        as_of: date | None,
        base_folder: str | None,
        out: Path | None,
        pixels: int,
        **given: Any,  # noqa: ANN401 - the chart's own options
    ) -> None:
        _run(ctx, name, given, out, pixels, as_json, as_of, base_folder)

    for option in reversed(module.OPTIONS):
        run = parameter(option)(run)
    return click.command(name=name, help=inspect.cleandoc(module.__doc__ or ""))(run)


def _run(
    ctx: click.Context,
    name: str,
    given: dict[str, Any],
    out: Path | None,
    pixels: int,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    from kb.storage import atomic_files

    style = style_of(pixels)
    form = form_of(out) if out else ""
    session = open_session(ctx, base_folder, as_of)
    chart = session.chart(name, given)
    say_problems(session)
    written = out if out and chart.panels else None
    if written:
        atomic_files.replace_file(written, draw(chart, form, style), shown=str(written))
    report = chart.report()
    if as_json:
        content = json.loads(render_json(report, session.today))
        click.echo(to_json({**content, "file": str(written) if written else None}), nl=False)
        return
    if written:
        said = Text(text=f"Written: {written}")
        texts = tuple(block for block in report.blocks if isinstance(block, Text))
        report = replace(report, blocks=(*texts, said))
    click.echo(render_text(report, Shown(width=width())), nl=False)


for _name in chart_names():
    command.add_command(_chart_command(_name))
