"""The invented doctor of the demo: what she knows, forgets, recognises and mixes up.

A simple model whose log looks plausible: ability by area that rises with work, questions of unequal
difficulty, forgetting by a power of time, and recognition of questions met before. It is fitted to
no one, and missbook computes nothing from it.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field
from random import Random
from typing import TYPE_CHECKING

from kb.core.ids import Reason

if TYPE_CHECKING:
    from datetime import datetime

MIX_UPS: dict[str, tuple[tuple[str, str], ...]] = {
    "cardiology": (
        ("constriction", "tamponade"),
        ("septal rupture", "papillary muscle rupture"),
        ("aortic stenosis", "hypertrophic cardiomyopathy"),
    ),
    "respiratory": (
        ("sarcoidosis", "tuberculosis"),
        ("ABPA", "chronic pulmonary aspergillosis"),
        ("empyema", "rheumatoid effusion"),
    ),
    "gastroenterology": (
        ("PBC", "PSC"),
        ("Crohn's disease", "ulcerative colitis"),
        ("autoimmune hepatitis", "PBC"),
    ),
    "endocrinology": (
        ("primary hyperparathyroidism", "familial hypocalciuric hypercalcaemia"),
        ("SIADH", "Addison's disease"),
        ("pituitary Cushing's", "ectopic ACTH"),
    ),
    "neurology": (
        ("Lambert-Eaton", "myasthenia gravis"),
        ("PSP", "MSA"),
        ("lateral medullary syndrome", "medial medullary syndrome"),
    ),
    "infectious-diseases": (
        ("typhoid", "dengue"),
        ("toxoplasmosis", "cerebral lymphoma"),
        ("vivax malaria", "falciparum malaria"),
    ),
    "nephrology": (
        ("IgA nephropathy", "post-streptococcal glomerulonephritis"),
        ("distal renal tubular acidosis", "proximal renal tubular acidosis"),
    ),
    "rheumatology": (
        ("gout", "pyrophosphate arthritis"),
        ("EGPA", "granulomatosis with polyangiitis"),
        ("polymyalgia", "polymyositis"),
    ),
    "haematology": (("TTP", "DIC"), ("warm haemolysis", "cold haemolysis")),
    "clinical-pharmacology": (
        ("serotonin syndrome", "neuroleptic malignant syndrome"),
        ("salicylate", "methanol"),
    ),
    "dermatology": (("pemphigus", "pemphigoid"), ("DRESS", "Stevens-Johnson syndrome")),
    "geriatrics": (("delirium", "Lewy body dementia"),),
    "psychiatry": (("delirium", "psychosis"),),
    "ophthalmology": (("retinal artery occlusion", "retinal vein occlusion"),),
    "immunology": (("IgA deficiency", "common variable immunodeficiency"),),
}
"""Pairs that she takes for each other, the most frequent of each area first."""

MOST_MIXED = (4, 3, 2)
"""How often she takes the first, second and third pair of an area for each other at most."""


@dataclass(slots=True)
class Met:
    """Her record on one question so far."""

    last: datetime
    right: bool
    times: int = 1


@dataclass(slots=True)
class Learner:
    """Her state, updated answer by answer, in log odds of a right answer."""

    rng: Random
    areas: tuple[str, ...]
    ability: dict[str, float] = field(default_factory=dict)
    answered: dict[str, int] = field(default_factory=dict)
    difficulty: dict[str, float] = field(default_factory=dict)
    met: dict[str, Met] = field(default_factory=dict)
    quality: dict[str, float] = field(default_factory=dict)
    mixed: Counter[tuple[str, str]] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        """Draw her starting level in each area."""
        for area in self.areas:
            self.ability[area] = self.rng.gauss(0.25, 0.5)
            self.answered[area] = 0

    def chance(self, question: str, area: str, at: datetime, note: str, read: bool) -> float:
        """Her chance of a right answer now.

        Args:
            question: Its reference.
            area: Its area.
            at: The moment.
            note: The note that answers it, if one was written by then, else an empty text.
            read: Whether that note was read in the ten days before.
        """
        total = sum(self.answered.values())
        grown = 0.55 * (1 - math.exp(-self.answered[area] / 120)) + 0.3 * total / 6000
        hard = self.difficulty.setdefault(question, self.rng.gauss(0.0, 0.9))
        odds = self.ability[area] + grown - hard
        known = self.met.get(question)
        if known is not None:
            gap_days = max(0.05, (at - known.last).total_seconds() / 86400)
            odds += (1.9 if known.right else 1.7) * (1 + gap_days) ** -0.25 + 0.3
        if note:
            odds += self._worth(note) + (0.3 if read else 0.0)
        return 1 / (1 + math.exp(-odds))

    def _worth(self, note: str) -> float:
        """How much a note helps her: most help, some she never understood."""
        if note not in self.quality:
            good = self.rng.random() < 0.53
            self.quality[note] = self.rng.gauss(2.2, 0.4) if good else self.rng.gauss(-1.8, 0.5)
        return self.quality[note]

    def learn(self, question: str, area: str, at: datetime, right: bool) -> None:
        """Record that she has met the question."""
        self.answered[area] += 1
        known = self.met.get(question)
        times = known.times + 1 if known else 1
        self.met[question] = Met(last=at, right=right, times=times)

    def certainty(self, chance: float, right: bool) -> int:
        """Her certainty, 1 to 3, a little higher than it should be."""
        feeling = chance + self.rng.gauss(0.05, 0.16) + (0.08 if right else -0.08)
        return 3 if feeling > 0.8 else 2 if feeling > 0.52 else 1

    def reason(self, question: str, certainty: int | None, late: bool, switched: bool) -> Reason:
        """The reason she would give for a miss."""
        if switched:
            return "switched"
        known = self.met.get(question)
        lot = self.rng.random()
        if late and lot < 0.4:
            return "rushed"
        if lot < 0.1:
            return "misread"
        if known is not None and lot < 0.65:
            return "forgotten"
        if certainty == 2 or lot > 0.8:
            return "two-left"
        return "unknown"

    def mix_up(self, question: str, area: str, note: str) -> tuple[str, str]:
        """(taken, meant): the two diagnoses that this question makes her mix up; empty if none.

        After a few mix-ups she has learnt to tell a pair apart.

        Args:
            question: Its reference; the same question always brings the same pair.
            area: Its area.
            note: Title and concepts of the note that answers it, else an empty text: a pair that
                the note is not about would be odd.
        """
        pairs = MIX_UPS.get(area, ())
        if note:
            pairs = tuple(pair for pair in pairs if all(_named(name, note) for name in pair))
        left = [p for p, most in zip(pairs, MOST_MIXED, strict=False) if self.mixed[p] < most]
        if not left:
            return "", ""
        weights = [1 / (rank + 1) for rank in range(len(left))]
        first, second = Random(question).choices(left, weights)[0]
        self.mixed[first, second] += 1
        return (first, second) if self.rng.random() < 0.6 else (second, first)


def _named(name: str, text: str) -> bool:
    """Whether `text` names the diagnosis, in full or by its first word."""
    return name.casefold() in text or name.casefold().split()[0] in text.replace("'s", " ").split()
