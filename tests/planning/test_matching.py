"""The best set of pairs, against every set of pairs gone through."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import networkx as nx
from hypothesis import given, settings, strategies as st

from runner.planning.pairing import KINSHIPS, MOST_AT_ONCE, Entry, Pair, best_pairs, weighed

WORTH = {kin: place for place, kin in enumerate(KINSHIPS)}


def sets_of_pairs(pairs: Sequence[Pair]) -> Iterator[list[Pair]]:
    """Every set of pairs that have no entry in common."""
    if not pairs:
        yield []
        return
    first, *others = pairs
    yield from sets_of_pairs(others)
    ends = {first.first, first.second}
    free = [p for p in others if not ends & {p.first, p.second}]
    yield from ([first, *more] for more in sets_of_pairs(free))


def rank(pairs: Sequence[Pair]) -> tuple[int, ...]:
    """More pairs, then more antagonists, more unrelated ones, then more milliseconds saved."""
    kinds = [WORTH[p.kinship] for p in pairs]
    return len(pairs), kinds.count(0), kinds.count(1), sum(round(p.saves * 1000) for p in pairs)


@st.composite
def graphs(draw: st.DrawFn, most: int = 7, most_pairs: int = 12) -> list[Pair]:
    entries = [Entry(number, 0) for number in range(draw(st.integers(2, most)))]
    couples = [(a, b) for i, a in enumerate(entries) for b in entries[i + 1 :]]
    chosen = draw(st.lists(st.sampled_from(couples), unique=True, max_size=most_pairs))
    return [
        Pair(
            a,
            b,
            draw(st.sampled_from(KINSHIPS)),
            draw(st.floats(-50, 900, allow_nan=False).map(lambda s: round(s, 3))),
        )
        for a, b in chosen
    ]


@settings(deadline=None)
@given(graphs())
def test_no_set_of_pairs_is_better(pairs: list[Pair]) -> None:
    worth = [p for p in pairs if p.saves > 0]
    best = max(map(rank, sets_of_pairs(worth)))
    found = best_pairs(pairs)
    used = [entry for pair in found for entry in (pair.first, pair.second)]
    assert len(used) == len(set(used))
    assert rank(found) == best
    assert set(found) <= set(worth)


def test_what_costs_time_is_no_pair() -> None:
    assert best_pairs([Pair(Entry(0, 0), Entry(1, 0), "antagonists", -1.0)]) == []


@settings(deadline=None, max_examples=30)
@given(graphs(most=14, most_pairs=60))
def test_it_weighs_as_much_as_the_matching_of_a_library_of_graphs(pairs: list[Pair]) -> None:
    worth = [p for p in pairs if p.saves > 0]
    weights = {(p.first, p.second): w for p, w in zip(worth, weighed(worth), strict=True)}
    graph = nx.Graph()
    graph.add_weighted_edges_from((*ends, weight) for ends, weight in weights.items())
    theirs = sum(weights[min(edge), max(edge)] for edge in nx.max_weight_matching(graph))
    assert sum(weights[p.first, p.second] for p in best_pairs(pairs)) == theirs


def test_a_session_of_more_exercises_is_gone_through_in_parts() -> None:
    entries = [Entry(number, 0) for number in range(2 * MOST_AT_ONCE)]
    pairs = [Pair(a, b, KINSHIPS[0], 60.0) for i, a in enumerate(entries) for b in entries[i + 1 :]]
    found = best_pairs(pairs)
    assert sorted(e for p in found for e in (p.first, p.second)) == entries
