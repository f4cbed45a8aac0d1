"""The concept graph ranks like the published examples and gives true reasons."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx
import pytest

from kb.knowledge import build_graph, near_area, near_note, nearness

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.knowledge import Near
    from kb.services.session import Session


def note(area: str, concepts: str = "", questions: str = "", body: str = "Text.") -> str:
    """A note's file."""
    return f"---\narea: {area}\nconcepts: [{concepts}]\nquestions: [{questions}]\n---\n{body}\n"


NOTES = {
    "nephrology/a.md": note("nephrology", "vasculitis, ANCA", "north:101", "See [b](b.md)."),
    "nephrology/b.md": note("nephrology", "crescents", "north:102"),
    "cardiology/c.md": note("cardiology", "Vasculitis", "north:1"),
    "cardiology/d.md": note("cardiology", "murmur", "north:101"),
    "neurology/e.md": note("neurology", "stroke", "north:250"),
}


def reasons(found: tuple[Near, ...]) -> dict[str, str]:
    """Reason by note."""
    return {near.note: "; ".join(near.why) for near in found}


def test_a_note_is_near_by_link_question_and_concept(session: Callable[..., Session]) -> None:
    """Each neighbour comes with the reason that joins it, and a stranger does not come."""
    base = session(NOTES).base
    subject = next(n for n in base.notes if n.id == "a")
    found = reasons(near_note(base, build_graph(base), subject, 10))
    assert found["b"] == "linked from it"
    assert found["c"] == "both about Vasculitis"
    assert found["d"] == "answers the same question north:101"
    assert "e" not in found


def test_an_area_lists_the_notes_of_others_that_bear_on_it(
    session: Callable[..., Session],
) -> None:
    """Each says what it shares."""
    base = session(NOTES).base
    near = near_area(base, build_graph(base), "nephrology", 10)
    assert reasons(near) == {"c": "shares Vasculitis", "d": "answers a question of a"}


def test_removing_a_note_removes_its_edges(session: Callable[..., Session]) -> None:
    """Nothing of a deleted note stays in the graph."""
    start = session(NOTES)
    (start.root / "nephrology/a.md").unlink()
    start.reload()
    graph = build_graph(start.base)
    assert ("note", "a") not in graph
    assert ("concept", "anca") not in graph


def test_a_crowded_concept_does_not_drown_a_rare_one(session: Callable[..., Session]) -> None:
    """Sharing a rare concept brings a note nearer than sharing one that forty notes have."""
    files = {f"neurology/n{i}.md": note("neurology", "common") for i in range(40)}
    files["cardiology/x.md"] = note("cardiology", "common, rare")
    files["nephrology/y.md"] = note("nephrology", "rare")
    base = session(files).base
    subject = next(n for n in base.notes if n.id == "x")
    assert near_note(base, build_graph(base), subject, 1)[0].note == "y"


def test_without_a_seed_nothing_is_near(session: Callable[..., Session]) -> None:
    """A vector of zeros, which networkx refuses with ZeroDivisionError, gives an empty answer."""
    graph = build_graph(session(NOTES).base)
    assert nearness(graph, {}) == {}
    assert nearness(graph, {("note", "a"): 0.0}) == {}
    assert nearness(graph, {("note", "nowhere"): 1.0}) == {}


def test_personalised_rank_of_the_complete_graph_on_four_nodes() -> None:
    """17/77 and 26/77 for one seed in K4.

    Source: networkx's own test-suite (personalised PageRank of K4, alpha .85); exact by symmetry.
    """
    graph = nx.complete_graph(4)
    nx.set_edge_attributes(graph, 1.0, "weight")
    ranks = nearness(graph, {3: 1.0})  # type: ignore[dict-item]
    expected = {0: 17 / 77, 1: 17 / 77, 2: 17 / 77, 3: 26 / 77}
    assert ranks == pytest.approx(expected, abs=1e-6)


def test_personalised_rank_in_the_karate_club() -> None:
    """Seeded with member 0, unweighted: 0 .266374, 1 .064888, 2 .054948.

    Source: Zachary WW 1977 J Anthropol Res 33:452 (the network, carried by networkx); the ranks
    are networkx's, recorded from its release 3.6.
    """
    graph = nx.karate_club_graph()
    nx.set_edge_attributes(graph, 1.0, "weight")
    ranks = nearness(graph, {0: 1.0})  # type: ignore[dict-item]
    assert [ranks[node] for node in (0, 1, 2)] == pytest.approx(  # type: ignore[index]
        [0.266374, 0.064888, 0.054948], abs=1e-6
    )


def test_order_of_files_does_not_matter(session: Callable[..., Session]) -> None:
    """The same notes give the same answer every time."""
    base = session(NOTES).base
    subject = next(n for n in base.notes if n.id == "a")
    once = near_note(base, build_graph(base), subject, 10)
    assert near_note(base, build_graph(base), subject, 10) == once
