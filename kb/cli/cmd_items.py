"""Statistics of a paper from a study group's answers: items, reliability, error."""

from pathlib import Path

import click

from kb.cli.call import Call, explained, today, with_call
from kb.core.errors import FormatError, Place
from kb.presentation.report_model import Column, Facts, Report, Table

TERMS = (
    ("facility", "share of candidates who were right"),
    ("discrimination", "correlation of an item with the score on the other items"),
    ("KR-20", "how alike two papers of this kind would rank the candidates; 1 is identical"),
    (
        "items for KR-20 of 0.9",
        "how many such items would reach 0.9, which is asked of exams for doctors",
    ),
    ("standard error", "how far a candidate's score would move from paper to paper, in items"),
)
COLUMNS = (
    Column("item", "Item"),
    Column("facility", "Facility", "number"),
    Column("discrimination", "Discrimination", "number"),
    Column("alpha_without", "KR-20 without it", "number"),
)


@click.command(name="items")
@click.argument("file", type=click.Path(path_type=Path))
@explained
@with_call
def command(call: Call, file: Path) -> None:
    """Item analysis of a paper from a study group's answers.

    Gives the facility and discrimination of each item, and the paper's KR-20 and standard error.

    FILE is a CSV: the first line names the items, and each further line is one candidate, as 1 and
    0, or as letters with a line named `key`. Names of people are neither needed nor read.
    """
    from kb.importers.score_matrix import parse_matrix
    from kb.importers.table_reader import decoded
    from kb.services.user_files import read_file
    from kb.stats.items import WANTED, exam_statistic, items_for

    text, _ = decoded(read_file(file), str(file))
    matrix = parse_matrix(text, str(file))
    try:
        exam = exam_statistic(matrix.rows)
    except ValueError as error:
        raise FormatError(str(error), place=Place(str(file), 1)) from error
    rows = tuple(
        (
            name,
            round(item.facility, 3),
            _rounded(item.rest_discrimination, 3),
            _rounded(item.alpha_without, 3),
        )
        for name, item in zip(matrix.items, exam.items, strict=True)
    )
    needed = None if exam.kr20 is None else items_for(exam.kr20, exam.item_count)
    facts = Facts(
        "paper",
        (
            ("candidate_count", "Candidates", exam.candidate_count, "count"),
            ("item_count", "Items", exam.item_count, "count"),
            ("mean", "Mean score", round(exam.mean, 3), "number"),
            ("sd", "Standard deviation", round(exam.sd, 3), "number"),
            ("kr20", "KR-20", _rounded(exam.kr20, 4), "number"),
            ("needed_count", f"Items for KR-20 of {WANTED:.1f}", needed, "count"),
            ("sem", "Standard error", _rounded(exam.sem, 3), "number"),
        ),
    )
    blocks = (facts, Table("items", COLUMNS, rows))
    cites = ("kuder1937", "spearman1910", "tighe2010")
    report = Report(f"Paper of {file.name}", blocks, name="items", terms=TERMS, cites=cites)
    call.show(report, call.as_of or today())


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)
