"""What is chosen is worth the most that fits: published cases, and all choices of small ones."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.planning.knapsack import choose

# Source: J. Burkardt, Florida State University, data set knapsack_01, after Kreher and Stinson and
# Martello and Toth 1990: limit, costs, values, the best choice, its cost and its value.
CASES = {
    "P01": (
        165,
        "23 31 29 44 53 38 63 85 89 82",
        "92 57 49 68 60 43 67 84 87 72",
        "1111010000",
        165,
        309,
    ),
    "P02": (26, "12 7 11 8 9", "24 13 23 15 16", "01110", 26, 51),
    "P03": (190, "56 59 80 64 75 17", "50 50 64 46 50 5", "110010", 190, 150),
    "P04": (50, "31 10 20 19 4 3 6", "70 20 39 37 7 5 10", "1001000", 50, 107),
    "P05": (104, "25 35 45 5 25 3 2 2", "350 400 450 20 70 8 5 5", "10111011", 104, 900),
    "P06": (170, "41 50 49 59 55 57 60", "442 525 511 593 546 564 617", "0101001", 169, 1735),
    "P07": (
        750,
        "70 73 77 80 82 87 90 94 98 106 110 113 115 118 120",
        "135 139 149 150 156 163 173 184 192 201 210 214 221 229 240",
        "101010111000011",
        749,
        1458,
    ),
    "P08": (
        6404180,
        "382745 799601 909247 729069 467902 44328 34610 698150 823460 903959 853665 551830 610856"
        " 670702 488960 951111 323046 446298 931161 31385 496951 264724 224916 169684",
        "825594 1677009 1676628 1523970 943972 97426 69666 1296457 1679693 1902996 1844992 1049289"
        " 1252836 1319836 953277 2067538 675367 853655 1826027 65731 901489 577243 466257 369261",
        "110111000110100100000111",
        6402560,
        13549094,
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_the_published_cases(name: str) -> None:
    """Choosing by worth per cost alone fails in seven of these eight. Source: see CASES."""
    limit, costs_text, values_text, bits, cost, value = CASES[name]
    costs = [int(word) for word in costs_text.split()]
    values = [int(word) for word in values_text.split()]
    taken = choose(costs, values, limit)
    assert "".join("01"[place in taken] for place in range(len(costs))) == bits
    assert sum(costs[place] for place in taken) == cost
    assert sum(values[place] for place in taken) == value


@pytest.mark.parametrize(
    ("costs", "values", "limit", "best"),
    [
        ((2, 3, 1, 4), (4, 5, 3, 7), 5, 10),
        ((1, 2, 3, 5), (1, 6, 10, 16), 7, 22),
        ((1, 2, 3, 5), (1, 6, 10, 16), 6, 17),
    ],
)
def test_small_cases_from_textbooks(
    costs: tuple[int, ...], values: tuple[int, ...], limit: int, best: int
) -> None:
    """Source: exercises found in several public collections (seen at second hand)."""
    assert sum(values[place] for place in choose(costs, values, limit)) == best


ITEMS = st.lists(st.tuples(st.integers(0, 12), st.integers(-3, 20)), max_size=9)


@given(ITEMS, st.integers(0, 40))
def test_nothing_is_worth_more_among_all_choices(items: list[tuple[int, int]], limit: int) -> None:
    """On small cases every possible choice is tried."""
    costs, values = [c for c, _ in items], [v for _, v in items]
    best = max(
        sum(values[i] for i in some)
        for count in range(len(items) + 1)
        for some in combinations(range(len(items)), count)
        if sum(costs[i] for i in some) <= limit
    )
    taken = choose(costs, values, limit)
    assert sum(values[i] for i in taken) == best
    assert sum(costs[i] for i in taken) <= limit


@given(ITEMS, st.integers(0, 40))
def test_more_room_is_never_worth_less(items: list[tuple[int, int]], limit: int) -> None:
    """Ten more minutes cannot lose anything."""
    costs, values = [c for c, _ in items], [v for _, v in items]
    now = sum(values[i] for i in choose(costs, values, limit))
    assert sum(values[i] for i in choose(costs, values, limit + 10)) >= now


def test_the_choice_is_the_same_every_time() -> None:
    """Among equals the earlier ones are taken."""
    assert choose([5, 5, 5], [1.0, 1.0, 1.0], 10) == (0, 1)


def test_what_is_worth_nothing_is_never_taken() -> None:
    """Not even where it costs nothing."""
    assert choose([0, 0, 1], [0.0, -1.0, 2.0], 5) == (2,)
    assert choose([0, 1], [0.5, 0.0], 5) == (0,)


def test_places_are_told_in_rising_order() -> None:
    """Also where the later one is worth more for its cost."""
    assert choose((2, 1), (1, 5), 3) == (0, 1)
    assert choose((3, 2, 1), (1, 5, 9), 5) == (1, 2)
