"""The best set of pairs of a session: a maximum-weight matching.

As many exercises in turn as can be, for one left alone costs minutes and the better kinship of
another pair does not make up for it (our choice); of those sets the one with most antagonists,
then with most unrelated pairs, then the one that saves most. The weights are whole numbers, so
that nothing is decided by rounding, and so far apart that no number of lesser things outweighs
a greater one.
"""

from __future__ import annotations

from collections.abc import Iterable

import networkx as nx

from runner.core.rehearsal.pairing import KINSHIPS, Entry, Pair


def best_pairs(possible: Iterable[Pair]) -> list[Pair]:
    """Pairs of which no two have an entry in common, best in the sense above; in session order.

    Pairs that save nothing are left out.
    """
    worth = [pair for pair in possible if pair.saves > 0]
    weights = dict(zip(((p.first, p.second) for p in worth), weighed(worth), strict=True))
    graph = nx.Graph()
    graph.add_weighted_edges_from((*ends, weight) for ends, weight in sorted(weights.items()))
    chosen: set[frozenset[Entry]] = {frozenset(edge) for edge in nx.max_weight_matching(graph)}
    return sorted(
        (pair for pair in worth if frozenset((pair.first, pair.second)) in chosen),
        key=lambda pair: pair.first,
    )


def weighed(pairs: list[Pair]) -> list[int]:
    """What each pair is worth: being one, on top of its kinship, on top of its milliseconds."""
    savings = [round(pair.saves * 1000) for pair in pairs]
    step = sum(savings) + 1  # more than all savings together
    most = len(pairs) + 1  # more than there are pairs
    return [
        step * (most ** len(KINSHIPS) + most ** _rank(pair)) + saving
        for pair, saving in zip(pairs, savings, strict=True)
    ]


def _rank(pair: Pair) -> int:
    return len(KINSHIPS) - 1 - KINSHIPS.index(pair.kinship)
