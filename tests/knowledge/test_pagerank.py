"""Ranks agree with published figures, and hubs are damped."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Base, Link, Note
from kb.core.settings import Area, Exam, Study
from kb.formats.dates import parse_day
from kb.knowledge import (
    build_graph,
    find_groups,
    near_area,
    near_note,
    nearness,
    order_by_links,
    suggest_links,
)
from kb.services.answer_logging import log_answers

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from kb.services.session import Session


def make_note(name: str, area: str, concepts: Sequence[str] = (), **more: object) -> Note:
    """A note with a path that follows from its name."""
    return Note(
        id=NoteId(name),
        path=f"{area}/{name}.md",
        title=name,
        areas=(AreaId(area),),
        concepts=tuple(concepts),
        **more,  # type: ignore[arg-type]
    )


def make_base(*notes: Note) -> Base:
    """A base of these notes; its areas are theirs."""
    areas = dict.fromkeys(area for note in notes for area in note.areas)
    exam = Exam(
        name="The Quill Examination",
        date=parse_day("2027-05-11"),
        areas=tuple(Area(id=area, name=area, item_count=10) for area in areas),
    )
    return Base(exam=exam, study=Study(), notes=notes)


def link(path: str) -> Link:
    """A link to a path of the base."""
    return Link(target=path, text="it", path=path, line=9)


SIX_PAGES = [(1, 2), (1, 3), (3, 1), (3, 2), (3, 5), (4, 5), (4, 6), (5, 4), (5, 6), (6, 4)]
"""Page 2 leads nowhere. Source: Langville & Meyer 2005 SIAM Rev 47:135."""


def test_the_walk_over_six_pages_gives_the_published_ranks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Begun anywhere, with .9 of its steps along a link. Source: as above."""
    monkeypatch.setattr("kb.knowledge.pagerank.DAMPING", 0.9)
    graph = nx.DiGraph(SIX_PAGES)
    nx.set_edge_attributes(graph, 1.0, "weight")
    ranks = nearness(graph, dict.fromkeys(range(1, 7), 1.0))  # type: ignore[arg-type]
    expected = [0.03721197, 0.05395735, 0.04150565, 0.37508082, 0.20599833, 0.28624589]
    assert [ranks[node] for node in range(1, 7)] == pytest.approx(expected, abs=1e-7)  # type: ignore[index]


def test_a_walk_that_is_sent_on_from_a_page_without_links_gives_the_published_ranks() -> None:
    """From page 2 to page 1 twice in five times, else to page 2. Our walk begins again where it
    began, so what page 2 sends on (.85 of its printed rank) is added to the .15 begun anywhere.

    Source: networkx's own test-suite (dangling weights, alpha .85), to four decimals.
    """
    graph = nx.DiGraph(SIX_PAGES)
    nx.set_edge_attributes(graph, 1.0, "weight")
    expected = [0.10844518, 0.18618601, 0.0710892, 0.2683668, 0.15919783, 0.20671497]
    seeds = dict.fromkeys(range(1, 7), 0.15 / 6)
    seeds[1] += 0.85 * expected[1] * 2 / 5
    seeds[2] += 0.85 * expected[1] * 3 / 5
    ranks = nearness(graph, seeds)  # type: ignore[arg-type]
    assert [ranks[node] for node in range(1, 7)] == pytest.approx(expected, abs=1e-4)  # type: ignore[index]


def test_personalised_rank_for_several_seeds_in_the_complete_graph() -> None:
    """Seeds 1, 1, 4, 4 in K4 give .2324675 twice and .2675325 twice.

    Source: networkx's own test-suite (personalised PageRank of K4, alpha .85); exact by symmetry.
    """
    graph = nx.complete_graph(4)
    nx.set_edge_attributes(graph, 1.0, "weight")
    ranks = nearness(graph, {0: 1, 1: 1, 2: 4, 3: 4})  # type: ignore[dict-item]
    expected = [0.2324675, 0.2324675, 0.2675325, 0.2675325]
    assert [ranks[node] for node in range(4)] == pytest.approx(expected, abs=1e-6)  # type: ignore[index]


def test_a_walk_begun_anywhere_in_the_karate_club() -> None:
    """34 members, 78 ties, degrees 17, 16, 12, 10; PageRank .100919, .096997, .071693.

    Source: Zachary WW 1977 J Anthropol Res 33:452, the network as networkx carries it; ranks
    computed from it with networkx 3.6, unweighted, alpha .85.
    """
    graph = nx.karate_club_graph()
    assert (len(graph), graph.number_of_edges()) == (34, 78)
    assert [graph.degree[node] for node in (33, 0, 32, 2)] == [17, 16, 12, 10]
    nx.set_edge_attributes(graph, 1.0, "weight")
    ranks = nearness(graph, dict.fromkeys(graph, 1.0))
    assert [ranks[node] for node in (33, 0, 32)] == pytest.approx(
        [0.100919, 0.096997, 0.071693], abs=1e-6
    )


def test_groups_of_the_karate_club_reach_the_published_modularity() -> None:
    """Our groups part the club at least as well as the greedy method's .381.

    Source: Clauset A, Newman MEJ, Moore C 2004 Phys Rev E 70:066111 (from memory).
    """
    club = nx.karate_club_graph()
    graph = nx.Graph()
    graph.add_nodes_from(("note", str(node)) for node in club)
    for one, other in club.edges:
        graph.add_edge(("note", str(one)), ("note", str(other)), weight=1.0)
    groups = find_groups(graph, list(graph))
    assert sorted(node for group in groups for node in group) == sorted(graph)
    assert nx.community.modularity(graph, groups) >= 0.3806


def test_groups_are_the_same_every_time() -> None:
    """Grouping is seeded, and the order in which members are named does not change who is in."""
    club = nx.karate_club_graph()
    graph = nx.Graph()
    for one, other in club.edges:
        graph.add_edge(("note", str(one)), ("note", str(other)), weight=1.0)
    assert find_groups(graph, list(graph)) == find_groups(graph, list(graph))


def test_notes_hang_together_by_a_concept_but_not_by_their_area() -> None:
    """Two notes with one concept are a group; a third of the same area stands alone."""
    base = make_base(
        make_note("a", "renal", ["vasculitis"]),
        make_note("b", "renal", ["Vasculitis"]),
        make_note("c", "renal", ["stones"]),
    )
    groups = find_groups(build_graph(base), [("note", name) for name in "abc"])
    assert [[name for _, name in group] for group in groups] == [["a", "b"], ["c"]]


@settings(max_examples=25, deadline=None)
@given(crowd=st.integers(min_value=3, max_value=120), areas=st.integers(min_value=1, max_value=4))
def test_a_hub_never_drowns_a_concept_that_two_notes_share(crowd: int, areas: int) -> None:
    """However crowded a concept grows, the one note that shares a rare concept stays nearest."""
    many = [make_note(f"n{i:03}", f"area{i % areas}", ["common"]) for i in range(crowd)]
    subject = make_note("x", "area0", ["common", "rare"])
    base = make_base(*many, subject, make_note("y", "elsewhere", ["rare"]))
    assert near_note(base, build_graph(base), subject, 1)[0].note == "y"


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_removing_a_note_leaves_the_graph_of_the_others(data: st.DataObject) -> None:
    """The graph without a note has no trace of it, and the ties between the others stay."""
    words = st.lists(st.sampled_from(["one", "two", "three"]), max_size=2)
    notes = [
        make_note(
            f"n{i}",
            data.draw(st.sampled_from(["renal", "chest"])),
            data.draw(words),
            questions=tuple(QuestionId(f"north:{w}") for w in data.draw(words)),
        )
        for i in range(5)
    ]
    whole, less = build_graph(make_base(*notes)), build_graph(make_base(*notes[1:]))
    assert ("note", "n0") not in less
    kept = {
        (one, other) for one in whole for other in whole[one] if ("note", "n0") not in (one, other)
    }
    assert {(one, other) for one in less for other in less[one]} == kept


def test_nearness_sums_to_one() -> None:
    """Nearness is a distribution over what can be reached."""
    base = make_base(make_note("a", "renal", ["x"]), make_note("b", "chest", ["x"]))
    assert sum(nearness(build_graph(base), {("note", "a"): 1.0}).values()) == pytest.approx(1)


def test_what_cannot_be_reached_is_not_near() -> None:
    """A note in another part of the graph has no nearness at all."""
    base = make_base(make_note("a", "renal", ["x"]), make_note("b", "chest", ["y"]))
    assert ("note", "b") not in nearness(build_graph(base), {("note", "a"): 1.0})


def test_a_reason_through_another_note_is_named() -> None:
    """Two notes that both link to a third are near by way of it."""
    base = make_base(
        make_note("a", "renal", links=(link("chest/hub.md"),)),
        make_note("b", "skin", links=(link("chest/hub.md"),)),
        make_note("hub", "chest"),
    )
    found = {n.note: n.why for n in near_note(base, build_graph(base), base.notes[0], 9)}
    assert found["b"] == ("by way of hub",)


def test_a_note_of_the_same_area_alone_is_not_called_near() -> None:
    """Sharing nothing but an area is no reason."""
    base = make_base(make_note("a", "renal"), make_note("b", "renal"))
    assert near_note(base, build_graph(base), base.notes[0], 9) == ()


def test_other_areas_are_listed_only_with_a_reason() -> None:
    """Looking outside an area leaves out its own notes and those that bear on none of them."""
    base = make_base(
        make_note("a", "renal", ["vasculitis"]),
        make_note("b", "chest", ["vasculitis"]),
        make_note("c", "skin", ["rash"]),
    )
    found = near_area(base, build_graph(base), "renal", 9)
    assert [(near.note, near.why) for near in found] == [("b", ("shares vasculitis",))]


def test_a_linked_note_is_not_suggested_again() -> None:
    """Only what is not linked, in either direction, is suggested."""
    base = make_base(
        make_note("a", "renal", ["x"], links=(link("renal/b.md"),)),
        make_note("b", "renal", ["x"]),
        make_note("c", "chest", ["x"]),
    )
    graph = build_graph(base)
    assert [near.note for near in suggest_links(base, graph, base.notes[0], 5)] == ["c"]
    assert [near.note for near in suggest_links(base, graph, base.notes[1], 5)] == ["c"]


def test_reading_order_puts_what_a_note_leans_on_first() -> None:
    """Links come before worth, and worth before name."""
    links = {"a": ["b"], "b": [], "c": [], "d": []}
    first = {"a": (-5.0, "a"), "b": (-1.0, "b"), "c": (-9.0, "c"), "d": (-5.0, "d")}
    assert order_by_links(links, first) == ("c", "b", "a", "d")


def test_links_in_a_circle_do_not_stop_the_order() -> None:
    """Two notes that link to each other stand together, the dearer first."""
    links = {"a": ["b"], "b": ["a"], "c": ["a"]}
    first = {"a": (-1.0, "a"), "b": (-2.0, "b"), "c": (-9.0, "c")}
    assert order_by_links(links, first) == ("b", "a", "c")


def test_what_leads_to_an_urgent_note_is_as_urgent() -> None:
    """A note of no weight stands before a dear one when the dearest builds on it."""
    links = {"dearest": ["base"], "base": [], "dear": []}
    first = {"dearest": (-3.0, "dearest"), "base": (0.0, "base"), "dear": (-2.0, "dear")}
    assert order_by_links(links, first) == ("base", "dearest", "dear")


def test_the_walk_by_hand_is_the_walk_of_the_library() -> None:
    """The same ranks, dangling nodes and seeds outside the graph included.

    Source: Zachary WW 1977 J Anthropol Res 33:452 (the network, carried by networkx).
    """
    graph = nx.karate_club_graph()
    nx.set_edge_attributes(graph, 1.0, "weight")
    graph.add_node(99)
    seeds = {0: 2.0, 5: 1.0, 99: 1.0}
    by_hand = nearness(graph, {**seeds, 1000: 3.0})  # type: ignore[arg-type]
    library = nx.pagerank(graph, personalization=seeds, dangling=seeds, tol=1e-12, max_iter=500)
    assert by_hand == pytest.approx(library, abs=1e-7)


def test_a_walk_without_ties_stays_where_it_began() -> None:
    """A graph of lone nodes."""
    graph = nx.Graph()
    graph.add_nodes_from((1, 2, 3))
    near = nearness(graph, {1: 3.0, 2: 1.0})  # type: ignore[arg-type]
    assert near == pytest.approx({1: 0.75, 2: 0.25})


def test_companions_are_the_same_whoever_asks_with_them(session: Callable[..., Session]) -> None:
    """Of one note alone or of all; first those mixed up with it, then what it builds on, then notes
    with its questions; among these one that fails, then the one that shares more.
    """
    from kb.knowledge import companions

    def note(questions: str, concepts: str, body: str = "x") -> str:
        front = f"---\narea: cardiology\nquestions: [{questions}]\nconcepts: [{concepts}]\n---\n"
        return front + body + "\n"

    files = {
        "a.md": note("north:1, north:2, north:3", "gout", "Lean on [b](b.md)."),
        "b.md": note("north:5", "urate"),
        "c.md": note("north:1", "uric acid"),
        "d.md": note("north:4", "pseudogout"),
        "e.md": note("north:1, north:2", "colchicine"),
        "f.md": note("north:3", "allopurinol"),
    }
    start = session(files)
    miss = Attempt(
        id=AttemptId(""),
        at=start.now,
        question=QuestionId("north:9"),
        outcome="wrong",
        remark="gout vs pseudogout",
    )
    log_answers(start, [miss], title="t", day_only=True)
    failing = {NoteId("a"), NoteId("f")}
    found = companions(start.base, failing, failing, 5)
    assert [(one.note, one.kind) for one in found[NoteId("a")]] == [
        ("d", "mix-up"),
        ("b", "prerequisite"),
        ("f", "shared question"),
        ("e", "shared question"),
        ("c", "shared question"),
    ]
    for own in failing:
        assert companions(start.base, failing, {own}, 5) == {own: found[own]}
