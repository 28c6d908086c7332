"""The rules that lead up: when a level is ready for the next, and how the step is made.

A small step (the version's next load or set-up, 2 to 10 % up, or one increment where the load moved
is unknown) comes by the plan's `advance`: the first set at the top of the range and no set under
its bottom, two sessions running; or all sets at the top, once; or two over the top in the last set,
two sessions running. Any other step is larger, so it asks for more: the first set at the top, the
mean of the sets at 80 % of it and none under the bottom, two sessions running. A set over the rep
limit asks for a step at once.

After the step the equations say what to expect. Where that reaches the bottom, all sets take the
step. Where it is under the bottom, where nobody can say (`progression.unforeseen`), and where the
level was taken back once before, only the first set takes it: a bridge. Where even the highest
equation stays under the bottom, nothing is proposed; `still_needs` names the count that is enough.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import ceil, floor
from typing import Final

from msgspec import Struct

from runner.progress.advice import (
    Advice,
    Change,
    CurrentLevel,
    RuleName,
    Source,
    at_index,
    at_the_end,
    counted,
    move,
    named,
    on_side,
    propose,
    stay,
    swaps,
)
from runner.progress.history import PastSession, Use
from runner.progress.one_rep_max import ExpectedReps
from runner.progress.progression import Step, done_in, expect, load_up, unforeseen
from runner.progress.reps import SetCount, counts_of, listed, number
from runner.progress.sessions_running import (
    MOST_OF_IT,
    OVER_GOAL,
    RUNNING,
    JudgedSession,
    at_the_top,
    last_there,
    run_of,
    two_running,
)
from runner.text import short_day

ADVANCE_SOURCE: Final[dict[str, Source]] = {
    "first set": "our choice",
    "every set": "common practice",  # double progression
    "two for two": "published",  # Baechle and Earle, Essentials of Strength Training
}


class Requirement(Struct, frozen=True):
    """What a step up asks for."""

    sessions: int  # running
    met: Callable[[JudgedSession], bool]
    shown: Callable[[JudgedSession], str]  # the count that decides
    what: str  # the sets that decide
    goal: str
    source: Source
    beside: Callable[
        [JudgedSession], str
    ]  # what is missing although the count is there; "" for nothing
    often: str  # how often it is asked for

    def rows(self, run: Sequence[JudgedSession]) -> list[tuple[JudgedSession, ...]]:
        """The sessions that may be taken together, each with the last one at its end."""
        if self.sessions < RUNNING or len(run) < RUNNING:
            return [tuple(run[-1:])]
        return list(two_running(run))

    def is_met(self, run: Sequence[JudgedSession]) -> tuple[JudgedSession, ...]:
        """The sessions that meet it; empty where it is not met."""
        whole = (row for row in self.rows(run) if len(row) == self.sessions)
        return next((row for row in whole if all(map(self.met, row))), ())


def requirement(current: CurrentLevel, step: Step) -> Requirement:
    """What the step asks for, by its size and the plan's `advance`."""
    bottom, top = current.exercise.rep_range
    unit = " s" if current.exercise.measure == "hold" else ""

    def amount(value: float) -> str:
        return f"{number(value)}{unit}"

    def under(judged: JudgedSession) -> str:
        few = judged.least
        return f"a set of {amount(few)}, under {amount(bottom)}" if few < bottom else ""

    def low(judged: JudgedSession) -> str:
        most = MOST_OF_IT * top
        mean = judged.mean_with_reserve
        little = f"{amount(mean)} on average, under {amount(most)}" if mean < most else ""
        return under(judged) or little

    def first(judged: JudgedSession) -> str:
        return f"{judged.counts[0].text}{unit}"

    if not step.small:
        return Requirement(
            RUNNING,
            lambda j: at_the_top(j, top) and not under(j),
            first,
            "first set",
            amount(top),
            "our choice",
            low,
            "twice",
        )
    source = ADVANCE_SOURCE[current.exercise.advance]
    if current.exercise.advance == "every set":
        return Requirement(
            1,
            lambda j: j.complete and min(c.value for c in j.counts) >= top,
            lambda j: min(j.counts, key=lambda c: c.value).text + unit,
            "lowest set",
            amount(top),
            source,
            lambda j: "" if j.complete else "a set without a count",
            "all sets once",
        )
    if current.exercise.advance == "two for two":
        goal = top + OVER_GOAL
        return Requirement(
            RUNNING,
            lambda j: j.counts[-1].value >= goal,
            lambda j: j.counts[-1].text + unit,
            "last set",
            amount(goal),
            source,
            lambda _: "",
            "twice",
        )
    return Requirement(
        RUNNING,
        lambda j: j.counts[0].value >= top and not under(j),
        first,
        "first set",
        amount(top),
        source,
        under,
        "twice",
    )


def over_the_rep_limit(current: CurrentLevel, past: Sequence[PastSession]) -> Advice | None:
    """A set over the rep limit in the last session: up, at once. Holds have none."""
    exercise = current.exercise
    if exercise.measure == "hold":
        return None
    short = {s.number for s in past[-1].counted if s.recovery_short}
    counts = counts_of(past[-1], exercise.reserve, current.use)
    most = max((c for c in counts if c.number not in short), key=lambda c: c.plain, default=None)
    if most is None or most.plain <= exercise.rep_limit:
        return None
    reason = f"{number(most.plain)} in a set, over the rep limit of {exercise.rep_limit}"
    return up(current, "harder", reason, most, past, source="common practice")


def step_ready(
    current: CurrentLevel, run: Sequence[JudgedSession], past: Sequence[PastSession]
) -> Advice | None:
    """The next level, where the counts ask for it."""
    step = _next(current, past)
    wanted = requirement(current, step)
    row = wanted.is_met(run)
    if not row:
        return None
    counts = " and ".join(wanted.shown(j) for j in row)
    sets = f"{wanted.what}{'s' if len(row) > 1 else ''} {counts}"
    mean = "" if step.small else f", {counted(current, row[-1].mean_with_reserve)} on average"
    twice = ", two sessions running" if len(row) > 1 else ""
    reason = f"{sets} of {wanted.goal}{on_side(current)}{mean}{twice}"
    rule: RuleName = "load" if step.kind == "load" else "harder"
    return up(current, rule, reason, row[-1].counts[0], past, source=wanted.source)


def up(
    current: CurrentLevel,
    rule: RuleName,
    reason: str,
    best: SetCount,
    past: Sequence[PastSession],
    *,
    source: Source | None = None,
) -> Advice | None:
    """One level up: all sets, a bridge, or None where the step is too large for now.

    Where the trainee has been at the new level and reached the bottom, that says more than any
    equation; where the level was taken back under the bottom, the step is bridged this time.
    """
    exercise = current.exercise
    step = _next(current, past)
    if step.kind == "top":
        tempo = () if exercise.measure == "hold" else ("a slower tempo",)
        ways = at_the_end(current, "more load", "another set-up", *tempo)
        reason += f"; the plan has no harder level: {ways}"
        return propose(current, rule, reason, None, swaps(current), source=source)
    next_level = at_index(current, step.index)
    last = last_there(past, next_level.use, exercise.reserve)
    bottom = next_level.exercise.rep_range[0]
    known = last is not None and last[0] >= bottom
    expected = None if known else expectation(current, step, best)
    if last is not None:
        reason += f"; {counted(next_level, last[0])} there on {short_day(last[1])}"
    if not known and _too_far(current, expected) and best.plain <= exercise.rep_limit:
        return None
    to = move(current, step.index)
    bridge = Change("bridge", f"the first set with {named(current, step.index)}", step.index)
    under = expected is not None and _whole(expected.middle) < bottom
    careful = under or last is not None or unforeseen(exercise, current.index, step)
    first, other = (bridge, to) if careful and not known else (to, bridge)
    return propose(current, rule, reason, first, (other,), expected=expected, source=source)


def _next(current: CurrentLevel, past: Sequence[PastSession]) -> Step:
    done = done_in(current.exercise, past)
    return load_up(current.exercise, current.index, current.mass, done)


def _too_far(current: CurrentLevel, expected: ExpectedReps | None) -> bool:
    """Whether even the highest equation stays under the bottom of the range."""
    return expected is not None and _whole(expected.high) < current.exercise.rep_range[0]


def _whole(value: float) -> int:
    return floor(value + 0.5)


def expectation(current: CurrentLevel, step: Step, best: SetCount) -> ExpectedReps | None:
    """Repetitions to expect after a step, at the reserve aimed at; None for holds.

    `best` with its reserve is what could be done short of the aim, so the aim comes on top.
    """
    if "hold" in (current.exercise.measure, at_index(current, step.index).exercise.measure):
        return None
    aim = current.exercise.reserve
    return expect(step, best.value, aim, aim)


# What is still missing.


def still_needs(current: CurrentLevel, past: Sequence[PastSession]) -> str:
    """What the next step still needs, in counts; empty at the hardest level, or if nothing.

    `first set 14 13 of 15: twice at 15, then 6 kg`. The counts are those of the sessions that
    the rule looks at, the newest last.
    """
    if current.first_set is not None:
        return _bridge_needs(current, current.first_set, past)
    step = _next(current, past)
    if step.kind == "top":
        return ""
    run = run_of(past, current.use, current.exercise.reserve, current.since_layoff)
    then = f", then {_short(current, step)}"
    wanted = requirement(current, step)
    if not run:
        sets = wanted.what if wanted.sessions == RUNNING else ""
        return f"{sets} {wanted.often} at {wanted.goal}{then}".strip()
    if wanted.is_met(run):
        return _far_needs(current, step, wanted.is_met(run), past, then)
    row = max(wanted.rows(run), key=lambda row: _trailing(row, wanted.met))
    counts = listed(wanted.shown(j) for j in row)
    beside = next((why for j in reversed(row) if (why := wanted.beside(j))), "")
    beside = f" ({beside})" if beside else ""
    side = on_side(current)
    more = wanted.sessions - _trailing(row, wanted.met)
    often = "once more" if more < wanted.sessions else wanted.often
    return f"{wanted.what} {counts} of {wanted.goal}{side}{beside}: {often} at {wanted.goal}{then}"


def _far_needs(
    current: CurrentLevel,
    step: Step,
    row: Sequence[JudgedSession],
    past: Sequence[PastSession],
    then: str,
) -> str:
    """The count that is enough, where even the highest equation is under the bottom."""
    best, exercise = row[-1].counts[0], current.exercise
    last = last_there(past, Use.of(exercise.progression[step.index]), exercise.reserve)
    known = last is not None and last[0] >= exercise.rep_range[0]
    if known or not _too_far(current, expectation(current, step, best)):
        return ""
    limit = exercise.rep_limit
    aim, bottom = exercise.reserve, number(exercise.rep_range[0])
    counts = range(ceil(best.value) + 1, limit + 1)
    fits = (n for n in counts if not _too_far(current, expect(step, float(n), aim, aim)))
    enough = next(fits, limit + 1)
    return f"first set {best.text} of {enough}: once at {enough}{then}, to reach {bottom} there"


def _bridge_needs(current: CurrentLevel, index: int, past: Sequence[PastSession]) -> str:
    current = at_index(current, index)
    bottom = current.exercise.rep_range[0]
    run = run_of(past, current.use, current.exercise.reserve, current.since_layoff)
    rows: list[tuple[JudgedSession, ...]] = [*two_running(run)] or [tuple(run[-1:])]
    row = max(rows, key=lambda row: _trailing(row, lambda j: j.first >= bottom))
    trailing = _trailing(row, lambda j: j.first >= bottom)
    if trailing >= RUNNING:
        return ""
    least = counted(current, bottom)
    so_far = listed(counted(current, j.first) for j in row)
    often = "once more" if trailing else "twice"
    text = named(current, index)
    sets = f"first set {so_far} of" if so_far else "first set of"
    return f"{sets} {least} with {text}: {often} at {least}, then all sets"


def _trailing(row: Sequence[JudgedSession], met: Callable[[JudgedSession], bool]) -> int:
    """How many of the latest sessions of a row meet it."""
    count = 0
    for judged in reversed(row):
        if not met(judged):
            break
        count += 1
    return count


def _short(current: CurrentLevel, step: Step) -> str:
    """The next level by what is new in it: `6 kg`, `anchor 140 cm`, a version in full."""
    here, there = (
        current.exercise.progression[current.index],
        current.exercise.progression[step.index],
    )
    if step.kind == "load" and there.load is not None:
        return f"{there.load:g} kg"
    if step.kind == "set-up":
        new = [f"{name} {value}" for name, value in there.setup if (name, value) not in here.setup]
        return ", ".join(new) or named(current, step.index)
    return named(current, step.index)


# A bridge under way.


def bridge_under_way(current: CurrentLevel, index: int, past: Sequence[PastSession]) -> Advice:
    """A bridge: the first set is at the level `index`, the others where they were."""
    new = at_index(current, index)
    bottom = new.exercise.rep_range[0]
    run = run_of(past, new.use, current.exercise.reserve, current.since_layoff)
    where = f"{named(current, index)} in the first set"
    for row in two_running(run):
        counts = " and ".join(counted(new, j.first) for j in row)
        if all(j.first >= bottom for j in row):
            change = Change("move", f"all sets with {named(current, index)}", index)
            reason = f"{where}: {counts}, at {counted(new, bottom)} two sessions running"
            return propose(current, "bridge", reason, change)
        if all(j.first < bottom for j in row):
            back = move(current, current.index)
            reason = f"{where}: {counts}, under {counted(new, bottom)} two sessions running"
            return propose(current, "bridge", reason, back)
    return stay(current, f"bridge: {_bridge_needs(current, index, past)}")
