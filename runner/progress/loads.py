"""What is known of a load: what is really moved, and the maximum; in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from runner.law.workout import Level
from runner.progress.advice import CurrentLevel
from runner.progress.history import PastSession, Use
from runner.progress.one_rep_max import CAUTION_TO, maximum
from runner.progress.progression import level_moved
from runner.progress.reps import SetCount, counts_of, number


def load_lines(current: CurrentLevel, past: Sequence[PastSession]) -> list[str]:
    """Lines about the load of the working level; none for holds, and where no load is known."""
    if current.exercise.measure == "hold":
        return []
    level = current.exercise.progression[current.index]
    moved = level_moved(level, current.mass)
    best = _first_set(past, current.use)
    return [
        *_moved(level, moved, current.mass),
        *_maximum(moved, best),
    ]


def _first_set(past: Sequence[PastSession], use: Use) -> SetCount | None:
    """The first set of the last session at `use` that can be judged."""
    for session in reversed(past):
        counts = counts_of(session, None, use)
        if counts and not session.pain:
            return counts[0]
    return None


def _moved(level: Level, moved: float | None, mass: float | None) -> Iterator[str]:
    if not level.body_share or moved is None:
        return
    share = f"{100 * level.body_share:.0f} % of {mass:g} kg"
    added = f" and {level.load:g} kg" if level.load else ""
    yield f"moves about {moved:.0f} kg: {share}{added} (published)"


def _maximum(moved: float | None, best: SetCount | None) -> Iterator[str]:
    if not moved or best is None or best.plain < 1:  # no repetition says nothing of a maximum
        return
    reps = best.beside + best.left
    found = maximum(moved, reps)
    if found is None:
        if reps > CAUTION_TO:
            yield f"{number(reps)} repetitions to failure; above {CAUTION_TO} no equation holds"
        return
    names = ", ".join(found.names)
    caution = "; with caution, because few equations hold above 10" if found.caution else ""
    low, high = f"{found.low:.0f}", f"{found.high:.0f}"
    span = low if low == high else f"{low} to {high}"
    yield f"one-repetition maximum about {span} kg by {names}{caution} (published)"
