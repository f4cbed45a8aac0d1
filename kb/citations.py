"""The published works that formulas follow, by the key used in docstrings and reports."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """One published work. `where` says which part of it is used."""

    authors: str
    year: int
    title: str
    published: str
    doi: str = ""
    where: str = ""

    def __str__(self) -> str:
        doi = f" doi {self.doi}" if self.doi else ""
        return f"{self.authors} ({self.year}). {self.title}. {self.published}.{doi}"


WORKS: dict[str, Work] = {
    "wilson1927": Work(
        authors="Wilson EB",
        year=1927,
        title="Probable inference, the law of succession, and statistical inference",
        published="J Am Stat Assoc 22:209-212",
        doi="10.1080/01621459.1927.10502953",
        where="score interval",
    ),
    "newcombe1998": Work(
        authors="Newcombe RG",
        year=1998,
        title="Two-sided confidence intervals for the single proportion",
        published="Stat Med 17:857-872",
        doi="10.1002/(SICI)1097-0258(19980430)17:8<857::AID-SIM777>3.0.CO;2-E",
        where="method 3",
    ),
    "brysbaert2019": Work(
        authors="Brysbaert M",
        year=2019,
        title="How many words do we read per minute?",
        published="J Mem Lang 109:104047",
        doi="10.1016/j.jml.2019.104047",
        where="238 words a minute, silent reading of non-fiction",
    ),
    "nhs-check-digit": Work(
        authors="National data dictionary",
        year=2009,
        title="NHS number: check digit",
        published="data standard, Modulus 11 over weights 10 to 2",
        where="the rule quoted in full by public implementations; seen at second hand",
    ),
    "langville2005": Work(
        authors="Langville AN, Meyer CD",
        year=2005,
        title="A survey of eigenvector methods for web information retrieval",
        published="SIAM Rev 47:135-161",
        doi="10.1137/S0036144503424786",
        where="PageRank with a personalisation vector",
    ),
}
