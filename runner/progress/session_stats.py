"""A session in a few numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from msgspec import Struct

from runner.progress.history import PastSession


class Retention(Struct, frozen=True):
    """How much of the first set the later ones keep; shares of 1."""

    last: float  # last over first
    total: float  # all sets over as many like the first


def retention(counts: Sequence[float]) -> Retention | None:
    """How much later sets keep of the first; sets of 12, 10, 8 give 2/3 and 5/6.

    None for fewer than two sets, and where the first is 0.
    """
    if len(counts) < 2 or not counts[0] > 0:
        return None
    return Retention(counts[-1] / counts[0], sum(counts) / (len(counts) * counts[0]))


def session_load(rpe: float | None, minutes: float | None) -> float | None:
    """Session RPE (0 to 10) times minutes: Foster et al. 2001, J Strength Cond Res 15:109-115.

    None where either is unknown.
    """
    return None if rpe is None or minutes is None else rpe * minutes


class RecoveryHad(Struct, frozen=True):
    """Recovery in seconds, on average over the sets that have both values."""

    had: float
    aimed: float
    under_least: int  # sets that began before the least in force


def recovery_had(
    sets: Iterable[tuple[float | None, float | None, float | None]],
) -> RecoveryHad | None:
    """From (recovery had, aimed at, least in force) of each set, in seconds; None without any."""
    known = [(h, a, least) for h, a, least in sets if h is not None and a is not None]
    if not known:
        return None
    short = sum(least is not None and h < least for h, _, least in known)
    return RecoveryHad(
        sum(h for h, _, _ in known) / len(known), sum(a for _, a, _ in known) / len(known), short
    )


class Length(Struct, frozen=True):
    """A session's length against its forecast, in seconds."""

    forecast: float
    actual: float


class PairedAgainstStraight(Struct, frozen=True):
    """Total retention in paired work and in straight sets of the same exercise and use."""

    exercise: str
    paired: float
    straight: float
    sessions: tuple[int, int]  # paired, straight

    @property
    def kept(self) -> float:
        """What paired work keeps of what straight sets keep; 1 is all of it."""
        return self.paired / self.straight


def paired_against_straight(
    paired: Iterable[PastSession], straight: Iterable[PastSession]
) -> list[PairedAgainstStraight]:
    """Both ways of the same exercise and use; only what exists both ways, by exercise.

    Miranda et al. (Apunts) measured 88 to 105 % of the nominal repetitions in paired work with
    two minutes after every set.
    """
    ways = [_retentions(paired), _retentions(straight)]
    found = []
    for key in ways[0]:
        if key in ways[1]:
            one, other = (way[key] for way in ways)
            found.append(
                PairedAgainstStraight(
                    key[0],
                    sum(one) / len(one),
                    sum(other) / len(other),
                    (len(one), len(other)),
                )
            )
    return found


def _retentions(sessions: Iterable[PastSession]) -> dict[tuple[str, object], list[float]]:
    found: dict[tuple[str, object], list[float]] = {}
    for session in sessions:
        uses = {done.use for done in session.counted}
        kept = retention_of(session)
        # Sets at several loads tell of the loads, not of how they were put together.
        if kept is not None and kept.total > 0 and not session.pain and len(uses) == 1:
            found.setdefault((session.exercise, uses.pop()), []).append(kept.total)
    return found


def values_of(session: PastSession) -> list[float]:
    """Plain counts of a session's sets in order; of one-sided work the mean of both sides."""
    sets: dict[int, list[float]] = {}
    for done in session.counted:
        sets.setdefault(done.number, []).append(done.value or 0.0)
    return [sum(sides) / len(sides) for sides in sets.values()]


def numbers_of(session: PastSession) -> tuple[int, ...]:
    """Of each set with a count, which of the work sets it was: 2 where the first was left out."""
    there = sorted({done.number for done in session.sets if done.kind == "work"})
    counted = dict.fromkeys(done.number for done in session.counted)
    return tuple(there.index(number) + 1 for number in counted)


def retention_of(session: PastSession) -> Retention | None:
    """Retention of a session; None also where the first work set has no count."""
    numbers = numbers_of(session)
    return retention(values_of(session)) if numbers and numbers[0] == 1 else None
