"""The published works that formulas follow, by the key used in docstrings and reports."""

import csv
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """One published work. `where` says which part of it is used."""

    authors: str
    year: int
    title: str
    published: str
    doi: str
    where: str

    def __str__(self) -> str:
        doi = f" doi {self.doi}" if self.doi else ""
        stop = "" if self.title.endswith("?") else "."
        return f"{self.authors} ({self.year}). {self.title}{stop} {self.published}.{doi}"


def _works() -> dict[str, Work]:
    """The works of citations.csv."""
    text = Path(__file__).with_suffix(".csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    return {row.pop("key"): Work(year=int(row.pop("year")), **row) for row in rows}


WORKS = _works()
