"""Whether a session runs late, and what could be left out; nothing is left out by itself."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, timedelta

from msgspec import Struct

from runner.live.session_setup import Live, Opening
from runner.planning.shorten import Fit, end_of, fit_remaining
from runner.session import verb as cmd
from runner.session.apply import Refused, initial
from runner.session.state import State
from runner.text import clock, seconds_until

# Our choices, in seconds: so much over a time that was given is late, so much longer than
# the forecast at the start where none was. Ends of sets shift a session by less all the time.
OVER_GIVEN = 30.0
OVER_PLANNED = 300.0
_COUNTS = ("ready", "warm-up", "rest", "set", "paused")


class TimeLimit(Struct, frozen=True):
    """When everything ends: in a number of seconds, or by a time of day.

    Without both: in the time that was given for the session.
    """

    within: float | None = None
    until: int | None = None  # second of the local day


class ShorterSession(Struct, frozen=True):
    """What could be left out, in lines, and the command that does it."""

    lines: tuple[str, ...]
    command: cmd.LeaveOut


class Schedule:
    """When a session should end: by the given time, else as expected at its begin."""

    def __init__(self, opening: Opening, live: Live) -> None:
        self._live = live
        self._within, self._until = opening.within, opening.until
        # As it was when the session was begun: also where it is gone on with after a cut.
        first = initial(live.driver.state.workout, live.driver.state.baseline)
        self._planned = end_of(first, 0.0)

    @property
    def given(self) -> bool:
        """Whether a time was given."""
        return self._within is not None or self._until is not None

    def due(self, state: State, now: float) -> float:
        """Session second by which all should be done; time while it was cut off does not count."""
        if self._until is not None:
            return (self._until - self._live.info.started).total_seconds()
        begun = now if state.begun is None else state.begun
        return begun + state.away + (self._planned if self._within is None else self._within)

    def late(self, state: State, now: float, end: float | None = None) -> float:
        """Seconds by which it will probably end too late; 0 where that is too little to mention."""
        if state.phase not in _COUNTS or state.course.next is None:
            return 0.0
        over = (end_of(state, now) if end is None else end) - self.due(state, now)
        return over if over >= (OVER_GIVEN if self.given else OVER_PLANNED) else 0.0

    def text(self, state: State, now: float, end: float | None = None) -> str:
        """The same in a few words; empty where it is not late."""
        late = self.late(state, now, end)
        if not late:
            return ""
        than = "late" if self.given else "longer than at its begin"
        return f"{clock(late)} {than}"

    def seconds_for(self, by: TimeLimit, state: State, now: float) -> float:
        """The session second that is meant. Raises Refused for a time in the past."""
        if by.within is not None:
            return now + by.within
        if by.until is None:
            return self.due(state, now)
        # By the person's clocks, and by instants: the clocks may be changed in between.
        local = self._live.info.local(now)
        day = local.hour * 3600 + local.minute * 60 + local.second
        seconds = seconds_until(by.until, day)
        if seconds is None:
            raise Refused("that time of day has passed")
        then = local + timedelta(seconds=seconds)
        return now + (then.astimezone(UTC) - local.astimezone(UTC)).total_seconds()


def shorter(state: State, now: float, until: float, *, nearest: bool = False) -> ShorterSession:
    """What to leave out to end by session second `until`.

    With `nearest` the shortest possible session will do where nothing fits. Raises Refused where
    nothing has to be left out, where nothing fits or can be left out, and during a set.
    """
    if state.phase not in ("ready", "warm-up", "rest", "paused"):
        raise Refused("finish this set first; sets can be left out in a rest or a pause")
    found = fit_remaining(state, now, until)
    if found.fits and not found.left_out:
        raise Refused(f"the session ends in time anyway: in {clock(found.end - now)}")
    short = (
        f"the session does not fit into {clock(max(until - now, 0.0))}: it ends at the earliest in "
    )
    if not found.fits and not (nearest and found.planned_sets):
        raise Refused(f"{short}{clock(found.end - now)}")
    planned_sets = state.course.planned_sets
    sets = tuple((planned_sets[i].exercise, planned_sets[i].number) for i in found.planned_sets)
    lines = [] if found.fits else [f"T{short[1:]}{clock(found.end - now)}."]
    return ShorterSession((*lines, *_lines(state, now, found)), cmd.LeaveOut(sets))


def _lines(state: State, now: float, found: Fit) -> Iterator[str]:
    yield f"Over in {clock(found.end - now)} instead of {clock(found.before - now)}, without:"
    for one in found.left_out:
        name = state.workout.exercises[one.exercise].name
        yield f"  {name}: {one.sets} of {one.of} {'set' if one.of == 1 else 'sets'} to come"
