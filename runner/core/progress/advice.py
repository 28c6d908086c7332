"""After a session, one piece of advice for each exercise and group of sets.

Which rule speaks when several could, and why in this order:

1. pain: nothing is proposed. No rule weighs more than that.
2. over the hard ceiling: one set shows it, so it does not wait for a second session.
3. easier: under the floor the sets are too heavy for what the plan wants; all else comes after.
4. load, where the next position is the next load of the same version; else harder. They do not
   mix: a load step is small and has its published rule, a version's step is far larger.
5. drop: the version is right, the sets fall apart.
6. flat: last of those that propose something, for it needs weeks and never hurries.
7. stay.

Judged are equivalent repetitions at what is held, of one-sided work the weaker side. Sessions
that were there for placing or that held back are passed over. A run of sessions ends at a
session with pain, with another version, or before a break of over 14 days.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Final, Literal

from runner.core.progress.equivalent import SetCount, counts_of
from runner.core.progress.history import PastSession, Use
from runner.core.progress.ladder import MOST_STEP, Step, expect, load_up, step_down, step_up
from runner.core.progress.marks import RULES, Mark
from runner.core.progress.one_rep_max import Expected
from runner.core.progress.runs import (
    OVER_GOAL,
    RUNNING,
    Judged,
    at_the_top,
    dropped,
    flat,
    run_of,
    two_for_two,
    under_the_floor,
)
from runner.core.workout import Exercise

RuleName = Literal["harder", "bridge", "load", "easier", "drop", "flat", "stay"]
ChangeKind = Literal[
    "move",  # all sets to the position `index`
    "bridge",  # the first set to the position `index`, the others as they are
    "recovery",  # `seconds` more for each muscle
    "fewer sets",  # one fewer
    "more sets",  # one more
    "easier later",  # the later sets at the position `index`
    "swap",  # the exercise named
    "lighter week",
]

LONGER: Final = 30.0  # seconds of recovery proposed after a drop; our choice
DOUBT: Final = (
    "; a reserve stated in a set over 12 decides here, and is worth little (Halperin 2022)"
)
QUIET_FOR: Final = 2  # sessions for which refused advice rests; our choice


@dataclass(frozen=True, slots=True)
class Change:
    """What is proposed, as data; nothing changes until it is accepted."""

    kind: ChangeKind
    text: str  # in a few words
    index: int | None = None  # in the exercise's ladder
    seconds: float | None = None
    exercise: str | None = None


@dataclass(frozen=True, slots=True)
class Advice:
    """One line for one exercise and group of sets."""

    exercise: str
    group: str
    rule: RuleName
    reason: str
    change: Change | None = None  # None: go on as before
    others: tuple[Change, ...] = ()  # what else would serve
    expected: Expected | None = None  # repetitions after the change

    @property
    def mark(self) -> Mark:
        """Where the rule comes from, in one word."""
        return RULES[self.rule].mark

    @property
    def line(self) -> str:
        """Rule, mark, reason and what is proposed, in one line."""
        proposed = "" if self.change is None else f" -> {self.change.text}"
        return f"{self.rule} ({self.mark}): {self.reason}{proposed}{self.expectation}"

    @property
    def expectation(self) -> str:
        """The repetitions to expect after the change, in words; empty where nothing is known."""
        if self.expected is None or self.change is None:
            return ""
        low, high = (f"{value:.0f}" for value in (self.expected.low, self.expected.high))
        count = low if low == high else f"{low} to {high}"
        guess = ", a guess outside the equations" if self.expected.extrapolated else ""
        return f"; expect {count}{guess}"


@dataclass(frozen=True, slots=True)
class Holding:
    """What a trainee holds in one exercise and group of sets."""

    exercise: Exercise
    index: int  # in the ladder
    group: str = ""
    first_set: int | None = None  # a bridge: where the first set stands already
    mass: float | None = None  # the body's, kg
    refused: Mapping[RuleName, date] = field(default_factory=dict)  # local dates of refusals

    @property
    def use(self) -> Use:
        """What the sets use."""
        return Use.of(self.exercise.ladder[self.index])


def advise(holding: Holding, past: Sequence[PastSession]) -> Advice:
    """The advice after the last of `past`, the sessions of this exercise and group, in order.

    Advice that was refused rests for two sessions.
    """
    reason = _nothing_to_judge(past)
    if reason:
        return _stay(holding, reason)
    if holding.first_set is not None:
        return _bridge(holding, holding.first_set, past)
    found = _over_the_hard_ceiling(holding, past[-1])
    if found is None and past[-1].held_back:
        return _stay(holding, "this session held back: nothing is judged by it")
    run = run_of(past, holding.use, holding.exercise.reserve)
    if found is None and (not run or run[-1].session is not past[-1]):
        return _stay(holding, "nothing was done at the version held")
    uses = [s.use for p in past for s in p.counted]
    rules: tuple[Callable[[], Advice | None], ...] = (
        lambda: found,
        lambda: _easier(holding, run, uses),
        lambda: _load(holding, run),
        lambda: _harder(holding, run),
        lambda: _drop(holding, run[-1], uses),
        lambda: _flat(holding, run),
    )
    quiet = ""
    for rule in rules:
        advice = rule()
        if advice is None:
            continue
        if not _rests(advice, holding, past):
            return advice
        quiet = f"{advice.rule} was refused lately and rests"
        if advice is found:
            break
    return _stay(holding, quiet or _as_it_stands(holding, run))


def _nothing_to_judge(past: Sequence[PastSession]) -> str:
    if not past:
        return "nothing has been done yet"
    last = past[-1]
    if last.pain:
        return (
            "pain was reported: no change until it is gone, and a doctor or physiotherapist asked"
        )
    if last.placing:
        return "placed in this session; from the next one on there is something to beat"
    return "" if last.counted else "no set has a count"


def _rests(advice: Advice, holding: Holding, past: Sequence[PastSession]) -> bool:
    refused = holding.refused.get(advice.rule)
    return refused is not None and sum(s.on > refused for s in past) <= QUIET_FOR


def _over_the_hard_ceiling(holding: Holding, last: PastSession) -> Advice | None:
    exercise = holding.exercise
    if exercise.measure == "hold":
        return None
    counts = counts_of(last, exercise.reserve, holding.use)
    most = max(counts, key=lambda c: c.plain, default=None)
    if most is None or most.plain <= exercise.hard_ceiling:
        return None
    reason = f"{number(most.plain)} in a set, over the hard ceiling of {exercise.hard_ceiling}"
    return _up(holding, "harder", reason, most)


def _easier(holding: Holding, run: Sequence[Judged], uses: Sequence[Use]) -> Advice | None:
    floor = holding.exercise.band[0]
    if not under_the_floor(run, floor):
        return None
    firsts = " and ".join(number(j.first) for j in run[-RUNNING:])
    reason = f"first sets of {firsts}, under the floor of {number(floor)}{_sides(holding)}"
    step = step_down(holding.exercise, holding.index, holding.mass, uses)
    if step.kind == "top":
        reason += "; this is the easiest: fewer sets, each to the reserve aimed at"
        return _advice(holding, "easier", reason, None, _swaps(holding))
    counts = run[-1].counts[0]
    expected = _expect(holding, step, counts)
    return _advice(holding, "easier", reason, _move(holding, step.index), expected=expected)


def _load(holding: Holding, run: Sequence[Judged]) -> Advice | None:
    exercise, goal = holding.exercise, holding.exercise.band[1]
    step = load_up(exercise, holding.index, holding.mass)
    if step.kind != "load" or not two_for_two([j.last for j in run], goal):
        return None
    lasts = " and ".join(number(j.last) for j in run[-RUNNING:])
    reason = f"last sets of {lasts}, two over {number(goal)} twice running{_sides(holding)}"
    if not two_for_two([j.trusted.last for j in run], goal):
        reason += DOUBT
    return _up(holding, "load", reason, run[-1].counts[0])


def _harder(holding: Holding, run: Sequence[Judged]) -> Advice | None:
    exercise, ceiling = holding.exercise, holding.exercise.band[1]
    if step_up(exercise, holding.index, holding.mass).kind == "load":
        return None
    latest = run[-RUNNING:]
    if len(latest) < RUNNING or not all(at_the_top(j, ceiling) for j in latest):
        return None
    today = latest[-1]
    reason = (
        f"first set {number(today.first)}, on average {number(today.mean)}, twice running at the "
        f"top of {number(ceiling)}{_sides(holding)}"
    )
    if not all(at_the_top(j.trusted, ceiling) for j in latest):
        reason += DOUBT
    return _up(holding, "harder", reason, today.counts[0])


def _up(holding: Holding, rule: RuleName, reason: str, best: SetCount) -> Advice:
    """One position up, if the step is not too large; else a bridge, or repetitions first."""
    exercise = holding.exercise
    step = load_up(exercise, holding.index, holding.mass)
    if step.kind == "top":
        text = f"{reason}; this is the hardest position of the plan"
        return _advice(holding, "stay", text, None, _swaps(holding))
    expected = _expect(holding, step, best)
    floor, move = exercise.band[0], _move(holding, step.index)
    if step.kind == "load" and _too_far(step, expected, floor):
        text = f"{reason}; but the next load is {100 * ((step.ratio or 1) - 1):.0f} % more"
        if best.plain <= exercise.hard_ceiling:
            return _advice(
                holding, rule, f"{text}: more repetitions first", None, (move,), expected=expected
            )
        reason = text
    bridge = Change("bridge", f"the first set with {_named(holding, step.index)}", step.index)
    if step.kind != "version":
        return _advice(holding, rule, reason, move, (), expected=expected)
    if expected is not None and expected.low < floor:
        return _advice(holding, rule, reason, bridge, (move,), expected=expected)
    return _advice(holding, rule, reason, move, (bridge,), expected=expected)


def _too_far(step: Step, expected: Expected | None, floor: float) -> bool:
    """Whether a load step is over 10 % of the load moved, and likely to fall under the floor.

    Likely: by the median of the equations. Their lowest would have nobody ever pack a third
    bottle, their highest is far too hopeful there.
    """
    far = step.ratio is not None and step.ratio > MOST_STEP
    return far and expected is not None and expected.middle < floor


def _drop(holding: Holding, today: Judged, uses: Sequence[Use]) -> Advice | None:
    if not dropped(today):
        return None
    reason = f"from {number(today.first)} down to {number(today.last)}{_sides(holding)}"
    fewer = Change("fewer sets", "one set fewer")
    if any(c.recovery_short for c in today.counts):
        reason += ", with less recovery than the least aimed at: wait it out first"
        return _advice(holding, "drop", reason, None, (fewer,))
    longer = Change("recovery", f"{LONGER:.0f} s more recovery", seconds=LONGER)
    step = step_down(holding.exercise, holding.index, holding.mass, uses)
    later = Change("easier later", f"later sets with {_named(holding, step.index)}", step.index)
    others = (fewer,) if step.kind == "top" else (fewer, later)
    return _advice(holding, "drop", reason, longer, others)


def _flat(holding: Holding, run: Sequence[Judged]) -> Advice | None:
    window = flat(run)
    if not window:
        return None
    weeks = (window[-1].session.on - window[0].session.on).days // 7
    average = sum(j.mean for j in window) / len(window)
    reason = f"{len(window)} sessions in {weeks} weeks at {number(average)} a set, within 5 %"
    left = [c.left for j in window for c in j.counts]
    over = sum(left) / len(left) - holding.exercise.reserve
    if over >= 1:
        reason += (
            f"; you stop with {number(sum(left) / len(left))} left, {holding.exercise.reserve} "
            "are aimed at: go nearer to the limit first"
        )
        return _advice(holding, "flat", reason, None)
    more = Change("more sets", "one set more for some weeks")
    rest = Change("lighter week", "a lighter week first")
    return _advice(holding, "flat", reason, more, (rest, *_swaps(holding)))


def _bridge(holding: Holding, index: int, past: Sequence[PastSession]) -> Advice:
    """A bridge under way: the first set stands at `index`, the others where they were."""
    floor = holding.exercise.band[0]
    new = Use.of(holding.exercise.ladder[index])
    run = run_of(past, new, holding.exercise.reserve)[-RUNNING:]
    firsts = [j.first for j in run]
    named = f"{_named(holding, index)} in the first set"
    if len(firsts) == RUNNING and min(firsts) >= floor:
        reason = f"{named}: {' and '.join(map(number, firsts))}, at the floor twice"
        change = Change("move", f"all sets with {_named(holding, index)}", index)
        return _advice(holding, "bridge", reason, change)
    if under_the_floor(run, floor):
        reason = f"{named}: {' and '.join(map(number, firsts))}, under the floor twice"
        return _advice(holding, "bridge", reason, _move(holding, holding.index))
    so_far = f"{number(firsts[-1])} of {number(floor)}" if firsts else "nothing yet"
    return _stay(holding, f"{named}: {so_far}")


def _expect(holding: Holding, step: Step, best: SetCount) -> Expected | None:
    if holding.exercise.measure == "hold":
        return None
    return expect(step, best.plain, best.left, holding.exercise.reserve)


def _as_it_stands(holding: Holding, run: Sequence[Judged]) -> str:
    floor, ceiling = holding.exercise.band
    today, sides = run[-1], _sides(holding)
    text = f"first set {number(today.first)} of {number(floor)} to {number(ceiling)}{sides}"
    if today.first < floor:
        return f"{text}: under the floor once; a second time asks for an easier position"
    if step_up(holding.exercise, holding.index).kind == "load":
        goal = number(ceiling + OVER_GOAL)
        if today.last >= ceiling + OVER_GOAL:
            return f"last set {number(today.last)}{sides}: the same again asks for the next load"
        return f"{text}; the next load comes at {goal} in the last set, twice"
    if at_the_top(today, ceiling):
        return f"{text}: at the top once; the same again asks for the next position"
    return f"{text}: add repetitions where you can"


def number(value: float) -> str:
    """A count in words: whole, or with one decimal."""
    return f"{value:.1f}".removesuffix(".0")


def _sides(holding: Holding) -> str:
    return "" if holding.exercise.sides == "together" else " on the weaker side"


def _named(holding: Holding, index: int) -> str:
    return Use.of(holding.exercise.ladder[index]).text


def _move(holding: Holding, index: int) -> Change:
    return Change("move", _named(holding, index), index)


def _swaps(holding: Holding) -> tuple[Change, ...]:
    names = holding.exercise.instead
    return tuple(Change("swap", f"{name} instead", exercise=name) for name in names)


def _advice(
    holding: Holding,
    rule: RuleName,
    reason: str,
    change: Change | None,
    others: tuple[Change, ...] = (),
    *,
    expected: Expected | None = None,
) -> Advice:
    name, group = holding.exercise.id, holding.group
    return Advice(name, group, rule, reason, change, others, expected)


def _stay(holding: Holding, reason: str) -> Advice:
    return Advice(holding.exercise.id, holding.group, "stay", reason)
