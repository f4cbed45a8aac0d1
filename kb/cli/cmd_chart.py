"""Draw the numbers of a report as a picture: one command for each chart there is."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from kb.charts import WIDTH, chart_module, chart_names, draw, form_of, style_of
from kb.cli.call import Call, with_call
from kb.cli.params import Named, Whole
from kb.cli.report_command import command_of
from kb.presentation.render import render_json, to_json
from kb.presentation.report_model import Text
from kb.services.user_files import write_file


@click.group(name="chart", cls=Named)
def command() -> None:
    """Draw standing, forecast, pace and more as a picture.

    With --out it is written as SVG, PNG or PDF, by the suffix of the file; an existing file is
    replaced. Without, what it would show is printed as words and a table. Every picture is in one
    ink, to be read in grey and on paper. With too little data it says so and writes nothing.
    """


def _chart_command(name: str) -> click.Command:
    """The command that draws one chart."""

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
    @with_call
    def run(
        call: Call,
        /,
        out: Path | None,
        pixels: int,
        **given: Any,  # noqa: ANN401 - the chart's own options
    ) -> None:
        style = style_of(pixels)
        form = form_of(out) if out else ""
        chart = call.session.chart(name, given)
        call.say_problems()
        written = out if out and chart.panels else None
        if written:
            write_file(written, draw(chart, form, style))
        report = replace(chart.report(), areas=call.session.exam.short_names)
        if call.as_json:
            content = json.loads(render_json(report, call.session.today))
            click.echo(to_json({**content, "file": str(written) if written else None}), nl=False)
            return
        if written:
            texts = tuple(block for block in report.blocks if isinstance(block, Text))
            report = replace(report, blocks=(*texts, Text(text=f"Written: {written}")))
        call.show(report)

    return command_of(name, chart_module(name), run)


for _name in chart_names():
    command.add_command(_chart_command(_name))
