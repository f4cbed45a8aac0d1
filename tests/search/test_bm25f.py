"""The ranking formula, against published packages and by hand."""

from __future__ import annotations

import math

import bm25s
import numpy as np
import pytest
from rank_bm25 import BM25Okapi

from kb.search import bm25f
from kb.search.bm25f import K1, B, Collection, Group, Postings

DOCUMENTS = ("Hello there good man!", "It is quite windy in London", "How is the weather today?")
QUERY = ("windy", "London")


def collection(texts: tuple[str, ...]) -> Collection:
    """A collection of texts split on spaces, every word of weight one."""
    parted = [text.split() for text in texts]

    def postings(name: str) -> Postings:
        docs = [doc for doc, words in enumerate(parted) if name in words]
        weights = [float(parted[doc].count(name)) for doc in docs]
        return Postings(docs, weights)

    def frequency(name: str) -> tuple[int, float]:
        held = postings(name)
        return len(held.docs), sum(held.weights)

    lengths = [len(words) for words in parted]
    return Collection(
        (lengths.__getitem__, sum(lengths)), postings, lambda _: {}, frequency, len(parted)
    )


def scores(texts: tuple[str, ...], query: tuple[str, ...]) -> list[float]:
    """What the query's words are worth to each text."""
    found: dict[int, float] = {}
    collection(texts).score([Group(forms=(((word, 0),),)) for word in query], found)
    return [found.get(doc, 0.0) for doc in range(len(texts))]


def test_scores_equal_the_published_package_of_the_same_form() -> None:
    """Same idf, no factor k1 + 1: 0.7198747 at k1 1.5, b 0.75.

    Source: bm25s, its method `lucene`.
    """
    assert (K1, B) == (1.5, 0.75)
    retriever = bm25s.BM25(method="lucene", k1=K1, b=B)
    retriever.index([text.split() for text in DOCUMENTS], show_progress=False)
    theirs = retriever.get_scores(list(QUERY))
    assert scores(DOCUMENTS, QUERY) == pytest.approx([float(x) for x in theirs], abs=1e-6)
    assert scores(DOCUMENTS, QUERY)[1] == pytest.approx(0.7198747, abs=1e-6)


def test_only_idf_and_a_factor_part_it_from_the_classic_form() -> None:
    """With the classic idf and the factor k1 + 1 the sum is 0.93729472.

    Source: rank_bm25, the example of its own description.
    """
    theirs = BM25Okapi([text.split() for text in DOCUMENTS]).get_scores(list(QUERY))
    assert np.round(theirs, 8).tolist() == [0, 0.93729472, 0]
    classic = math.log(3 - 1 + 0.5) - math.log(1 + 0.5)
    ours = scores(DOCUMENTS, QUERY)[1] / collection(DOCUMENTS).idf(1)
    assert ours * classic * (K1 + 1) == pytest.approx(0.93729472, abs=1e-8)


@pytest.mark.parametrize(
    ("k1", "idf", "factor", "published"),
    [
        (1.2, "lucene", 1.0, 0.8242263),
        (1.2, "lucene", 2.2, 1.8132978),
        (1.5, "robertson", 1.0, 0.3749179),
        (1.5, "atire", 2.5, 2.0158024),
    ],
)
def test_the_other_published_forms_have_another_idf_or_factor_only(
    monkeypatch: pytest.MonkeyPatch, k1: float, idf: str, factor: float, published: float
) -> None:
    """Robertson's idf is ln((N - n + .5) / (n + .5)), that of ATIRE ln(N / n); the factor is 1 or
    k1 + 1. Source: the package bm25s, its methods of these names.
    """
    monkeypatch.setattr(bm25f, "K1", k1)
    own = collection(DOCUMENTS).idf(1)
    other = {"lucene": own, "robertson": math.log(2.5 / 1.5), "atire": math.log(3)}[idf]
    found = scores(DOCUMENTS, QUERY)[1] / own * other * factor
    assert found == pytest.approx(published, abs=1e-6)


def test_forms_of_one_thing_count_as_one_word() -> None:
    """Two names of one thing in a text are worth what one name twice is worth."""
    texts = ("MI infarction rest", "MI MI rest", "none at all")
    group = Group(forms=((("MI", 0),), (("infarction", 0),)))
    found: dict[int, float] = {}
    collection(texts).score([group], found)
    assert found[0] == pytest.approx(found[1])


def test_more_of_the_words_is_better() -> None:
    """A text with both words is worth more than one with either twice."""
    both, one = scores(("a b", "a a", "c c"), ("a", "b"))[:2]
    assert both > one


def test_the_order_of_words_in_a_query_does_not_matter() -> None:
    """Scores are the same whatever word comes first."""
    assert scores(DOCUMENTS, QUERY) == pytest.approx(scores(DOCUMENTS, QUERY[::-1]))
