"""Every tie of the graph knows its kind and why it is there."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import networkx as nx
from click.testing import CliRunner

from kb.cli import main
from kb.core.ids import NoteId
from kb.knowledge import build_graph, companions, concept_key, format_graphml
from kb.services.session import Session

if TYPE_CHECKING:
    from collections.abc import Callable


def note(area: str, concepts: str = "", questions: str = "", body: str = "Text.") -> str:
    """A note's file."""
    head = f"area: {area}\nconcepts: [{concepts}]\nquestions: [{questions}]\nwritten: 2027-01-10"
    return f"---\n{head}\n---\n{body}\n"


HEADER = "id,at,question,outcome,remark,concept\n"


def row(number: int, question: str, outcome: str, remark: str = "", concept: str = "") -> str:
    """A line of the log."""
    at = f"2027-02-01T10:{number:02}:00+00:00"
    return f"id{number:014},{at},{question},{outcome},{remark},{concept}\n"


LOG = "log/attempts-test.csv"


def test_notes_are_tied_to_area_concept_and_question(session: Callable[..., Session]) -> None:
    """A note's front matter gives one edge of each kind."""
    graph = build_graph(session({"x/a.md": note("nephrology", "ANCA", "north:101")}).base)
    kinds = {node[0]: edge["kind"] for node, edge in graph["note", "a"].items()}
    assert kinds == {"area": "area", "concept": "concept", "question": "question"}


def test_two_spellings_of_a_concept_are_one_node(session: Callable[..., Session]) -> None:
    """British and American spelling, singular and plural, join notes all the same."""
    base = session(
        {
            "x/a.md": note("nephrology", "hypokalaemia"),
            "x/b.md": note("nephrology", "Hypokalemia"),
        }
    ).base
    graph = build_graph(base)
    assert set(graph["concept", concept_key("hypokalaemia")]) == {("note", "a"), ("note", "b")}


def test_a_shared_question_ties_two_notes(session: Callable[..., Session]) -> None:
    """Two notes that answer one question know which."""
    base = session(
        {
            "x/a.md": note("nephrology", "", "north:101"),
            "x/b.md": note("cardiology", "", "north:101"),
        }
    ).base
    found = build_graph(base)["note", "a"].get(("note", "b"))
    assert (found["kind"], found["why"]) == ("shared question", "both answer north:101")


def test_a_mix_up_ties_the_notes_of_its_two_sides(session: Callable[..., Session]) -> None:
    """Misses whose remark names two answers tie the notes about them, and say how often."""
    base = session(
        {
            "x/gout.md": note("nephrology", "gout"),
            "x/other.md": note("nephrology", "pseudogout"),
            LOG: HEADER
            + row(1, "north:101", "wrong", "gout vs pseudogout")
            + row(2, "north:102", "wrong", "pseudogout vs gout")
            + row(3, "north:103", "right", "gout vs pseudogout"),
        }
    ).base
    found = build_graph(base)["note", "gout"].get(("note", "other"))
    assert found["kind"] == "mix-up"
    assert found["why"] == "gout and pseudogout were mixed up twice"


def test_a_second_tie_adds_to_the_first(session: Callable[..., Session]) -> None:
    """A link and a shared question make one edge with both kinds and both weights."""
    files = {
        "x/a.md": note("nephrology", "", "north:101", "See [b](b.md)."),
        "x/b.md": note("nephrology", "", "north:101"),
    }
    found = build_graph(session(files).base)["note", "a"].get(("note", "b"))
    assert found["kind"] == "link+shared question"
    assert found["weight"] == 4.0


def test_likeness_ties_two_notes_in_proportion(session: Callable[..., Session]) -> None:
    """By the larger of the two, and none to a note that is not there."""
    base = session({"x/a.md": note("nephrology"), "x/b.md": note("nephrology")}).base
    near = {"x/a.md": (("x/b.md", 0.7), ("x/gone.md", 0.9)), "x/b.md": (("x/a.md", 0.6),)}
    around = build_graph(base, near)["note", "a"]
    assert [*around] == [("area", "nephrology"), ("note", "b")]
    assert (around["note", "b"]["kind"], around["note", "b"]["weight"]) == ("similar", 0.7)


def test_a_missed_question_weighs_more(session: Callable[..., Session]) -> None:
    """The log weighs the graph: a tie to a question that was missed is stronger."""
    base = session(
        {
            "x/a.md": note("nephrology", "", "north:101, north:102"),
            LOG: HEADER + row(1, "north:101", "wrong") + row(2, "north:102", "right"),
        }
    ).base
    own = build_graph(base)["note", "a"]
    missed, right = own["question", "north:101"], own["question", "north:102"]
    assert missed["weight"] > right["weight"]


def test_an_open_miss_hangs_on_its_area_and_concept(session: Callable[..., Session]) -> None:
    """A miss that no note answers is in the graph; one that came right since is not."""
    base = session(
        {
            "x/a.md": note("nephrology", "ANCA"),
            LOG: HEADER
            + row(1, "north:111", "wrong", concept="ANCA")
            + row(2, "north:112", "wrong")
            + row(3, "north:112", "right"),
        }
    ).base
    graph = build_graph(base)
    assert {node[0] for node in graph["question", "north:111"]} == {"area", "concept"}
    assert ("question", "north:112") not in graph


def test_an_empty_base_has_only_areas(session: Callable[..., Session]) -> None:
    """Nothing written and nothing logged is no error."""
    assert {node[0] for node in build_graph(session().base)} == {"area"}


def test_graphml_reads_back_as_the_same_graph(session: Callable[..., Session]) -> None:
    """Another reader finds every node and tie, with weights and reasons, odd characters too."""
    files = {
        "x/a.md": note("nephrology", "'<&> \"quoted\"'", "north:101", "See [b](b.md)."),
        "x/b.md": note("nephrology", "Ménière", "north:101"),
    }
    graph = build_graph(session(files).base)
    read = nx.read_graphml(io.BytesIO(format_graphml(graph).encode()))
    assert len(read) == len(graph)
    assert 2 * read.number_of_edges() == sum(map(len, graph.values()))
    edge = read.edges["note:a", "note:b"]
    assert (edge["kind"], edge["weight"]) == ("link+shared question", 4.0)
    assert "both answer north:101" in edge["why"]


def test_the_command_writes_graphml(base: Callable[..., Path], tmp_path: Path) -> None:
    """`graph FILE` writes the file and says what is in it."""
    root = base({"x/a.md": note("nephrology", "ANCA")})
    target = tmp_path / "out.graphml"
    words = ["graph", "--out", str(target), "--base", str(root), "--as-of", "2027-02-14"]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0
    assert "note:a" in set(nx.read_graphml(target))
    assert "5 nodes" in result.output


def test_a_failing_note_brings_what_it_leans_on_and_what_it_is_taken_for(
    session: Callable[..., Session],
) -> None:
    """The confused neighbour comes first, then the note it links to; a mere relative stays away."""
    base = session(
        {
            "x/gout.md": note("nephrology", "gout", "north:101", "Builds on [urate](urate.md)."),
            "x/urate.md": note("nephrology", "urate"),
            "x/pseudogout.md": note("nephrology", "pseudogout"),
            "x/cousin.md": note("nephrology", "gout"),
            LOG: HEADER + row(1, "north:101", "wrong", "gout vs pseudogout"),
        }
    ).base
    found = companions(base, {base.notes[1].id}, {base.notes[1].id}, limit=5)
    assert list(found) == ["gout"]
    assert [(one.note, one.kind) for one in found["gout"]] == [
        ("pseudogout", "mix-up"),
        ("urate", "prerequisite"),
    ]
    assert found["gout"][0].why == "gout and pseudogout were mixed up once"


def test_a_title_that_speaks_of_mixing_up_is_not_taken_for_the_mix_up(
    session: Callable[..., Session],
) -> None:
    """The reason names the two that were taken for each other, whatever a note is called."""
    text = "# Often mixed up: gout\n\nNot [pseudogout](pseudogout.md)."
    base = session(
        {
            "x/gout.md": note("nephrology", "gout", "north:101", text),
            "x/pseudogout.md": note("nephrology", "pseudogout"),
            LOG: HEADER + row(1, "north:101", "wrong", "gout vs pseudogout"),
        }
    ).base
    (found,) = companions(base, {base.notes[0].id}, {base.notes[0].id}, 2)["gout"]
    assert found.why == "gout and pseudogout were mixed up once"


def test_a_note_that_leans_on_another_is_not_its_prerequisite(
    session: Callable[..., Session],
) -> None:
    """Links count in their direction: a note does not bring those that link to it."""
    base = session(
        {"x/a.md": note("nephrology", body="See [b](b.md)."), "x/b.md": note("nephrology")}
    ).base
    assert companions(base, {base.notes[1].id}, {base.notes[1].id}, 2) == {}


def test_companions_do_not_mind_an_unknown_note(session: Callable[..., Session]) -> None:
    """A note that is not in the base brings nothing."""
    base = session({"x/a.md": note("nephrology")}).base
    assert companions(base, {NoteId("gone")}, {NoteId("gone")}, 2) == {}


def test_a_tie_is_the_same_from_both_ends(demo: Session) -> None:
    """In the demo base, which has every kind; no node is tied to itself, and all have names."""
    graph = build_graph(demo.base)
    assert graph.names.keys() == graph.keys()
    for node, around in graph.items():
        assert node not in around
        assert all(graph[other][node] is edge for other, edge in around.items())
