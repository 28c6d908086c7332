"""The best set of pairs, against every set of pairs gone through."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from hypothesis import given, settings, strategies as st

from runner.planning.pairing import KINSHIPS, Entry, Pair
from runner.reports.pairs import best_pairs

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
def graphs(draw: st.DrawFn) -> list[Pair]:
    entries = [Entry(number, 0) for number in range(draw(st.integers(2, 7)))]
    couples = [(a, b) for i, a in enumerate(entries) for b in entries[i + 1 :]]
    chosen = draw(st.lists(st.sampled_from(couples), unique=True, max_size=12))
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
