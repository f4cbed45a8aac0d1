"""The tracker and the recall model agree with their definitions, worked out answer by answer.

The loops below keep no arrays and share no code with the models: each figure is computed from all
earlier answers anew. The constants are those of the published fits (see the docstrings of both
modules), written out a second time, so that none changes unnoticed.
"""

from __future__ import annotations

import math
from itertools import product
from typing import Any, NamedTuple

import numpy as np
import pytest
from scipy.optimize import minimize

from kb.core.answers import coded
from kb.stats.history import History, build_history
from kb.stats.recall_model import Kind, Recall, _record_features
from kb.stats.tracker import Tracker, outcome_weights

MODELS = tuple(product((3, 8, 20, 60), (8, 25, 80, math.inf), (3, 10, 40, math.inf)))
"""Strength of the prior within an area, half-life over all areas, half-life within the area."""

START = {
    "first": [-0.1, 0.88, 0.2, 0.1],
    "retry": [1.09, 0.08, 0.69, -0.42, -1.86, -0.39, 0.59, -1.3, 0.96, 0.39, 0.49],
    "revisit": [-1.06, -0.14, 1.29, 0.0, -0.35, -0.5, 1.68, -2.58, 2.4, 0.65, 0.38],
}
SPREAD = {"first": [0.35, 0.15, 0.1, 0.1], "retry": [0.5] + [0.2] * 10}
SPREAD["revisit"] = SPREAD["retry"]


class Answer(NamedTuple):
    """One answer; `day` is nan where it is not known."""

    question: str
    area: str
    day: float
    right: bool


def answers(count: int, seed: int) -> list[Answer]:
    """Answers to two dozen questions of three areas: some come back at once, some after long."""
    random = np.random.default_rng(seed)
    found = []
    for row in range(count):
        number = int(random.integers(0, 24))
        day = math.nan if row == 9 else row / 7
        found.append(Answer(f"q:{number}", "abc"[number % 3], day, bool(random.random() < 0.6)))
    return found


def history_of(told: list[Answer]) -> History:
    """The columns of these answers."""
    questions, areas, days, rights = map(list, zip(*told, strict=True))
    return build_history(questions, areas, rights, days)


def faded(told: list[tuple[bool, float]], half_life: float) -> tuple[float, float]:
    """Right answers and answers, each fading with the evidence that came after it."""
    fade, x, n = 0.5 ** (1 / half_life), 0.0, 0.0
    for right, weight in told:
        amount = weight if math.isinf(half_life) else (1 - fade**weight) / (1 - fade)
        x, n = x * fade**weight + right * amount, n * fade**weight + amount
    return x, n


def model_chances(told: list[Answer], weights: list[float], area: str) -> list[float]:
    """What each model says of the next answer in an area."""
    everything = [(a.right, w) for a, w in zip(told, weights, strict=True)]
    inside = [(a.right, w) for a, w in zip(told, weights, strict=True) if a.area == area]
    found = []
    for strength, overall, own in MODELS:
        x, n = faded(everything, overall)
        m = (x + 6.5) / (n + 10)
        x, n = faded(inside, own)
        found.append((x + strength * m) / (n + strength))
    return found


def standings_of(told: list[Answer], weights: list[float], *asked: str) -> list[list[float]]:
    """Before each answer and after all: the chance in its area (after all: in those asked for), as
    the models' mean, each weighed by the likelihood of the answers so far.
    """
    likely = np.ones(len(MODELS))
    found = []
    for row, answer in enumerate(told):
        said = np.array(model_chances(told[:row], weights[:row], answer.area))
        found.append([float(likely @ said / likely.sum())])
        likely *= (said if answer.right else 1 - said) ** weights[row]
    now = [np.array(model_chances(told, weights, area)) for area in asked]
    return [*found, [float(likely @ said / likely.sum()) for said in now]]


def log_odds(p: float) -> float:
    """Log odds of a chance."""
    return math.log(p / (1 - p))


def features(told: list[Answer], level: float, next_one: Answer, after: bool) -> list[float]:
    """What is known before an answer; `after` leaves out the last answer in the area."""
    form = 0.65
    for answer in told:
        form = 0.9 * form + 0.1 * answer.right
    last = [a.right for a in told if a.area == next_one.area][-1:]
    ending = [log_odds(min(0.98, max(0.02, form))) - 0.6]
    ending += [0.0 if after or not last else 0.5 if last[0] else -0.5]
    own = [row for row, answer in enumerate(told) if answer.question == next_one.question]
    beginning = [1.0, log_odds(level)]
    if not own:
        return beginning + ending
    hits = sum(told[row].right for row in own)
    since, days = len(told) - own[-1], next_one.day - told[own[-1]].day
    repeats = len(told) - len({answer.question for answer in told})
    soon = math.log(1 + min(50, since)) / 5
    return [
        *beginning,
        math.log(1 + hits),
        math.log(1 + len(own) - hits),
        soon,
        0.0 if math.isnan(days) else math.log(1 + 24 * days) / 3,
        math.log(1 + since) / 5 - soon,
        math.log(1 + len(told)) / 5 - 1,
        repeats / (len(told) + 10),
        *ending,
    ]


def kind_of(told: list[Answer], question: str) -> str:
    """Whether a question is new, or was missed or right last time."""
    own = [answer.right for answer in told if answer.question == question]
    return "first" if not own else "revisit" if own[-1] else "retry"


def fitted(rows: list[tuple[list[float], bool]], kind: str) -> np.ndarray:
    """The likeliest coefficients under the normal prior, by a general optimiser."""
    start, spread = np.array(START[kind]), np.array(SPREAD[kind])
    if not rows:
        return start
    known, rights = np.array([row for row, _ in rows]), np.array([right for _, right in rows])

    def loss(beta: np.ndarray) -> float:
        z = known @ beta
        likely = np.logaddexp(0, np.where(rights, -z, z)).sum()
        return float(likely + ((beta - start) ** 2 / spread**2).sum() / 2)

    return minimize(loss, start, method="BFGS", options={"gtol": 1e-7}).x


def worked(told: list[Answer], asked: list[Answer]) -> tuple[list[float], list[float]]:
    """The chance before each answer, and for each question asked after all of them."""
    weights = list(outcome_weights(history_of(told)))
    areas = [answer.area for answer in asked]
    weighed = standings_of(told, weights, *areas)
    plain = standings_of(told, [1.0] * len(told), *areas)
    shares = {"first": [0.6, 0.2, 0.2], "repeat": [0.9, 0.05, 0.05]}
    evidence = {"first": np.zeros(3), "repeat": np.zeros(3)}
    rows: dict[str, list[tuple[list[float], bool]]] = {kind: [] for kind in START}

    def three(before: list[Answer], answer: Answer, levels: list[float], *, after: bool) -> Any:
        kind = kind_of(before, answer.question)
        known = features(before, levels[0], answer, after)
        recalled = 1 / (1 + math.exp(-(fitted(rows[kind], kind) @ known)))
        which = "first" if kind == "first" else "repeat"
        scaled = np.array(shares[which]) * np.exp(evidence[which])
        said = np.array([recalled, *levels])
        return kind, known, which, said, float(scaled @ said / scaled.sum())

    found = []
    for row, answer in enumerate(told):
        levels = [weighed[row][0], plain[row][0]]
        kind, known, which, said, chance = three(told[:row], answer, levels, after=False)
        found.append(chance)
        evidence[which] = 0.98 * evidence[which] + np.log(said if answer.right else 1 - said)
        rows[kind].append((known, answer.right))
    last = zip(asked, weighed[-1], plain[-1], strict=True)
    return found, [three(told, answer, [w, p], after=True)[-1] for answer, w, p in last]


@pytest.mark.parametrize("seed", [1, 2])
def test_the_tracker_is_the_average_of_its_models(seed: int) -> None:
    """Before each of 60 answers, after all, and with evidence that does not always weigh 1."""
    told = answers(60, seed)
    history = history_of(told)
    weights = outcome_weights(history)
    assert len({*weights}) > 2
    tracker = Tracker(history, weights)
    *before, after = standings_of(told, list(weights), *"abcz")
    assert tracker.chances == pytest.approx([one for (one,) in before], abs=1e-9)
    assert [tracker.chance(area) for area in "abcz"] == pytest.approx(after, abs=1e-9)


def test_recall_is_what_its_definition_says() -> None:
    """Before each of 66 answers, and for questions that are new, were missed or were right."""
    told = answers(66, 3)
    recall = Recall(history_of(told))
    known = {kind_of(told, f"q:{n}"): f"q:{n}" for n in range(24)}
    names = ["q:99", known["retry"], known["revisit"]]
    asked = [Answer(name, "abc"[int(name[2:]) % 3], 12.5, False) for name in names]
    before, now = worked(told, asked)
    assert recall.chances() == pytest.approx(before, abs=1e-5)
    numbers = np.array([recall.history.meetings.index.get(name, -1) for name in names])
    areas = coded([answer.area for answer in asked], 3)
    assert recall.of_questions(numbers, areas, 12.5) == pytest.approx(now, abs=1e-5)


def test_far_back_is_counted_up_to_its_limits() -> None:
    """Log(1 + 50) / 5 within 50 answers, log(1 + 1,000) / 5 beyond; a day is 24 hours."""
    facts = np.array([[2, 1, 60, 3.0, 1500, 0.25], [0, 3, 5000, math.nan, 40, 0.0]])
    log = math.log
    first = [log(3), log(2), log(51) / 5, log(73) / 3, (log(61) - log(51)) / 5, log(1001) / 5 - 1]
    other = [0, log(4), log(51) / 5, 0, (log(1001) - log(51)) / 5, log(41) / 5 - 1]
    assert _record_features(facts) == pytest.approx(np.array([[*first, 0.25], [*other, 0]]))


def test_each_kind_has_the_rows_of_its_answers() -> None:
    """In the order of the history."""
    told = answers(40, 4)
    recall = Recall(history_of(told))
    kinds = [kind_of(told[:row], answer.question) for row, answer in enumerate(told)]
    for kind in Kind:
        expected = [row for row, name in enumerate(kinds) if name == kind.name.casefold()]
        assert recall.rows(kind).index.tolist() == expected
