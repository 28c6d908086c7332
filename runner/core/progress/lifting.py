"""What is known of a load: what is really moved, the maximum, and what to pack next; in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from runner.core.progress.equivalent import SetCount, counts_of
from runner.core.progress.history import PastSession, Use
from runner.core.progress.load_moved import rung_moved
from runner.core.progress.one_rep_max import CAUTION_TO, maximum
from runner.core.progress.proposal import Holding, number
from runner.core.progress.rucksack import Packed, Rucksack, rucksack
from runner.core.workout import Rung


def load_lines(holding: Holding, past: Sequence[PastSession]) -> list[str]:
    """Lines about the load of what is held; none for holds, and where no load is known."""
    if holding.exercise.measure == "hold":
        return []
    rung = holding.exercise.ladder[holding.index]
    moved = rung_moved(rung, holding.mass)
    best = _first_set(past, holding.use)
    return [
        *_moved(rung, moved, holding.mass),
        *_maximum(moved, best),
        *_to_pack(holding, past, moved, best),
    ]


def what_to_pack(
    holding: Holding, past: Sequence[PastSession], moved: float | None, best: SetCount
) -> Rucksack | None:
    """The next load from the last first set; None where the version has no other load.

    The goal is the middle of the band, at the reserve aimed at (our choice): lower, and a bad
    day falls under the floor.
    """
    exercise, here = holding.exercise, holding.exercise.ladder[holding.index]
    range_ = [r for r in exercise.ladder if (r.version, r.setup) == (here.version, here.setup)]
    loads = tuple(r.load for r in range_ if r.load is not None)
    to_failure = best.plain + best.left
    if here.load is None or len(loads) < 2 or best.plain < 1:
        return None
    goal = max(sum(exercise.band) / 2 + exercise.reserve, 1.0)
    own = tuple(_own(past, holding.use))
    return rucksack(Packed(to_failure, here.load, moved, loads, goal, own))


def _first_set(past: Sequence[PastSession], use: Use) -> SetCount | None:
    """The first set of the last session at `use` that can be judged."""
    for session in reversed(past):
        counts = counts_of(session, None, use)
        if counts and not session.pain:
            return counts[0]
    return None


def _own(past: Sequence[PastSession], use: Use) -> Iterator[tuple[float, float]]:
    """(kg added, repetitions to failure) of first sets, whatever the load was; oldest first."""
    for session in past:
        there = session.use
        if there is None or there.load is None or session.pain:
            continue
        if (there.version, there.setup, there.tempo) != (use.version, use.setup, use.tempo):
            continue
        counts = counts_of(session, None, there)
        if counts and counts[0].plain >= 1:
            yield there.load, counts[0].plain + counts[0].left


def _moved(rung: Rung, moved: float | None, mass: float | None) -> Iterator[str]:
    if not rung.body_share or moved is None:
        return
    share = f"{100 * rung.body_share:.0f} % of {mass:g} kg"
    added = f" and {rung.load:g} kg" if rung.load else ""
    yield f"moves about {moved:.0f} kg: {share}{added} (published)"


def _maximum(moved: float | None, best: SetCount | None) -> Iterator[str]:
    if not moved or best is None or best.plain < 1:  # no repetition says nothing of a maximum
        return
    reps = best.plain + best.left
    found = maximum(moved, reps)
    if found is None:
        if reps > CAUTION_TO:
            yield f"{number(reps)} repetitions to failure; over {CAUTION_TO} no maximum is given"
        return
    names = ", ".join(found.names)
    caution = "; with caution, few equations hold above 10" if found.caution else ""
    low, high = f"{found.low:.0f}", f"{found.high:.0f}"
    span = low if low == high else f"{low} to {high}"
    yield f"one-repetition maximum about {span} kg by {names}{caution} (published)"


def _to_pack(
    holding: Holding, past: Sequence[PastSession], moved: float | None, best: SetCount | None
) -> Iterator[str]:
    if best is None:
        return
    found = what_to_pack(holding, past, moved, best)
    if found is not None and found.answer not in ("stay", "top"):
        yield f"the next load: {found.text} ({found.mark})"
