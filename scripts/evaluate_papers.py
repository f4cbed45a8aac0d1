"""Forecast scores: of consecutive blocks of a learner's answers, or of a candidate's papers."""

from __future__ import annotations

import csv
from collections import Counter
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from evaluate_answers import Learner, read_learners, repeats

from kb.stats.ability import learn_ability
from kb.stats.forecast import least_right, plain_binomial
from kb.stats.history import History, build_history, noon_number
from kb.stats.score_distribution import at_least, crps, mean_score, quantile

if TYPE_CHECKING:
    import argparse
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

START = 100
DRIFT_PER_ANSWER = 0.002
"""Of ability on the log odds while a block is answered: .2 over 100 answers."""
SHARES = (0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.975)
HEAD = ("learner", "block", "start", "items", "mean", *(f"q{100 * s:g}" for s in SHARES))


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """One forecast, the naive one, and the score that followed."""

    learner: str
    name: str
    start: int
    pmf: tuple[float, ...]
    plain: tuple[float, ...]
    score: int
    cut: int


def forecasts(
    learner: str,
    history: History,
    spans: Sequence[tuple[str, Sequence[int], Mapping[str, int]]],
    cut: float,
    *,
    at_once: bool = True,
) -> list[Forecast]:
    """Forecasts of the rows of each span, each made from the rows before the first of them.

    A span is a paper sat in one go, or answers given one after the other.
    """
    found: list[Forecast] = []
    papers: set[int] = set()
    for name, rows, blueprint in spans:
        start, size = rows[0], len(rows)
        before = history.upto(start)
        drift = 0.0 if at_once else DRIFT_PER_ANSWER * (rows[-1] + 1 - start)
        found.append(
            Forecast(
                learner=learner,
                name=name,
                start=start,
                pmf=tuple(learn_ability(before, papers).score(blueprint, drift)),
                plain=tuple(plain_binomial(before, size)),
                score=int(history.rights[[*rows]].sum()),
                cut=least_right(size, cut) if cut < 1 else int(cut),
            )
        )
        if at_once:
            papers.update(rows)
    return found


def blocks(learner: Learner, size: int, cut: float, first: int) -> list[Forecast]:
    """Each whole block of `size` items never met before, from answer `first` on."""
    met = repeats(learner.history)
    fresh = [row for row in range(first, len(met)) if not met[row]]
    spans = []
    for number, start in enumerate(range(0, len(fresh) - size + 1, size)):
        rows = fresh[start : start + size]
        spans.append((str(number), rows, Counter(learner.history.areas[row] for row in rows)))
    return forecasts(learner.name, learner.history, spans, cut, at_once=False)


def papers(path: Path, blueprint: Path, cut: float) -> list[Forecast]:
    """Each paper of one candidate (columns date, question, area, correct, phase)."""
    with path.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    with blueprint.open(encoding="utf-8", newline="") as lines:
        items = {row["area"]: int(row["questions_per_paper"]) for row in csv.DictReader(lines)}
    days = [noon_number(date.fromisoformat(row["date"][:10])) for row in rows]
    history = build_history(
        [f"bank:{row['question']}" for row in rows],
        [row["area"] for row in rows],
        [row["correct"] == "1" for row in rows],
        days,
    )
    phases = [row["phase"] for row in rows]
    spans = []
    for phase in dict.fromkeys(phases):
        if phase.startswith("paper"):
            start = phases.index(phase)
            stop = start + phases.count(phase)
            whole = sum(items.values()) == stop - start
            counts = items if whole else Counter(history.areas[start:stop])
            spans.append((phase, range(start, stop), counts))
    return forecasts(path.stem, history, spans, cut)


def write(out: Path, rows: list[Forecast]) -> None:
    """One line for each forecast."""
    with out.open("w", encoding="utf-8", newline="") as lines:
        writer = csv.writer(lines)
        writer.writerow([*HEAD, "cut", "p_cut", "score"])
        for row in rows:
            pmf = np.asarray(row.pmf)
            quantiles = [quantile(pmf, share) for share in SHARES]
            head = (row.learner, row.name, row.start, len(pmf) - 1, f"{mean_score(pmf):.4f}")
            writer.writerow(
                [*head, *quantiles, row.cut, f"{at_least(pmf, row.cut):.6f}", row.score]
            )


def measure(rows: list[Forecast]) -> str:
    """Bias, coverage and the ratios to the naive forecast, on one line."""
    if not rows:
        return "no block to forecast"
    bias, ours, theirs, ours_passed, plain_passed = [], [], [], [], []
    inside: list[list[bool]] = [[], [], []]
    for row in rows:
        pmf, plain = np.asarray(row.pmf), np.asarray(row.plain)
        bias.append(100 * (mean_score(pmf) - row.score) / (len(pmf) - 1))
        ours.append(crps(pmf, row.score))
        theirs.append(crps(plain, row.score))
        came = row.score >= row.cut
        ours_passed.append((at_least(pmf, row.cut) - came) ** 2)
        plain_passed.append((at_least(plain, row.cut) - came) ** 2)
        for place, tail in enumerate((0.25, 0.1, 0.025)):
            inside[place].append(_covers(pmf, tail, row.score))
    cover = "/".join(f"{100 * np.mean(rows_in):.0f}" for rows_in in inside)
    return (
        f"{len({row.learner for row in rows})} learners, {len(rows)} forecasts:"
        f" bias {np.mean(bias):+.2f} points, 50/80/95% intervals cover {cover}%,"
        f" CRPS ratio {np.mean(ours) / np.mean(theirs):.3f},"
        f" Brier ratio of P(score >= cut)"
        f" {np.mean(ours_passed) / max(1e-12, float(np.mean(plain_passed))):.3f}"
    )


def _covers(pmf: NDArray[np.float64], tail: float, score: int) -> bool:
    return quantile(pmf, tail) <= score <= quantile(pmf, 1 - tail)


def _forecast(given: argparse.Namespace) -> None:
    learners = read_learners(given.file)
    rows = [row for one in learners for row in blocks(one, given.block, given.cut, given.start)]
    if given.out is not None:
        write(given.out, rows)
    print(measure(rows))


def _doctor(given: argparse.Namespace) -> None:
    rows = papers(given.file, given.blueprint, given.cut)
    if given.out is not None:
        write(given.out, rows)
    print(measure(rows))


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommands `forecast` and `doctor` to scripts/evaluate.py."""
    for name, what, run in (
        ("forecast", "scores of blocks of new items", _forecast),
        ("doctor", "scores of a simulated candidate's papers", _doctor),
    ):
        parser = commands.add_parser(name, help=f"forecast {what}")
        parser.add_argument("file", type=Path, metavar="FILE")
        if name == "forecast":
            parser.add_argument("--block", type=int, default=100)
            parser.add_argument("--start", type=int, default=START)
        else:
            parser.add_argument("--blueprint", type=Path, required=True, metavar="B.csv")
        parser.add_argument("--out", type=Path, metavar="F.csv")
        parser.add_argument(
            "--cut", type=float, default=0.6, help="pass mark: a share below 1, else items"
        )
        parser.set_defaults(run=run)
