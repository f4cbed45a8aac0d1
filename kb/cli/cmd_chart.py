"""Draw the numbers of a report as a picture: one command for each chart there is."""

from dataclasses import replace
from typing import Any

import click

from kb.charts import FORMS, WIDTH, chart_module, chart_names, draw, style_of
from kb.cli.call import Call, with_call
from kb.cli.output_file import Target, writes
from kb.cli.params import Named, Whole, echo
from kb.cli.report_command import command_of
from kb.presentation.render import render_json
from kb.presentation.report_model import Text

SUFFIXES = tuple(f".{form}" for form in FORMS)


@click.group(name="chart", cls=Named)
def command() -> None:
    """Draw standing, forecast, pace and more as a picture.

    With --out it is written as SVG, PNG or PDF, depending on the file's suffix; without it, the
    numbers are printed. Pictures are in one ink, so they can be read in grey and on paper. If there
    is too little data, you are told so and nothing is written.
    """


def _chart_command(name: str) -> click.Command:
    """The command that draws one chart."""

    @writes(*SUFFIXES, default="print its numbers")
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
    def run(call: Call, target: Target, pixels: int, **given: Any) -> None:  # noqa: ANN401 - its own
        style = style_of(pixels)
        chart = call.session.chart(name, given)
        call.say_problems()
        out = target.named if chart.panels else None
        written = str(out.file) if out else None
        if out:
            out.write(draw(chart, out.file.suffix.casefold().removeprefix("."), style))
        report = replace(chart.report(whole=call.as_json), areas=call.session.exam.short_names)
        if call.as_json:
            echo(render_json(report, call.session.today, file=written), nl=False)
            return
        if written:
            texts = tuple(block for block in report.blocks if isinstance(block, Text))
            report = replace(report, blocks=(*texts, Text(f"Written: {written}")))
        call.show(report)

    return command_of(name, chart_module(name), run)


for _name in chart_names():
    command.add_command(_chart_command(_name))
