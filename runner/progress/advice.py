"""Advice as data: the working level, what is proposed, and by which rule; all rules by name.

Each rule says where it comes from: a word or two for the screen, explained here for the help.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from math import floor
from typing import Final, Literal

from runner.law.workout import Exercise, Workout
from runner.progress.history import Use
from runner.progress.layoff import Layoff
from runner.progress.one_rep_max import Expected
from runner.progress.reps import number

# The rules, and where each comes from.

Mark = Literal["published", "common practice", "our choice"]

MARKS: Final[Mapping[Mark, str]] = {
    "published": "a published source says so; the help names it",
    "common practice": "coaches do so; no study that we could name",
    "our choice": "it has to be some number, and this one is careful",
}


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule's name, its mark, what it says, and what is behind it."""

    name: str
    mark: Mark
    says: str
    grounds: str


def _rules(*rules: Rule) -> Mapping[str, Rule]:
    return {rule.name: rule for rule in rules}


RULES: Final[Mapping[str, Rule]] = _rules(
    Rule(
        "pain",
        "our choice",
        "No step up in an exercise that hurt, nor in others for the same main muscle on a side "
        "that worked, until two sessions have done it without pain or 28 days have passed. Three "
        "painful sessions within 28 days: leave it out and see a physiotherapist.",
        "The numbers are our choice. Pain is for a doctor or physiotherapist to judge; their word "
        "comes before this program's.",
    ),
    Rule(
        "layoff",
        "common practice",
        "Over 14 days without a session: a third fewer sets and two more in reserve, and no step "
        "up before two sessions of the exercise have reached the bottom of the range. Over four "
        "weeks: an easier version too. Over eight weeks, of an exercise alone as well: placing "
        "again.",
        "Common practice; the days and amounts differ from coach to coach.",
    ),
    Rule(
        "load",
        "our choice",
        "A small step, the version's next load or set-up: 2 to 10 % up, or one increment where "
        "the load moved is unknown. By the plan's `advance`: the first set at the top of the "
        "range and no set under its bottom, two sessions running (our choice); every set at the "
        "top, once (common practice); two over the top in the last set, two sessions running "
        "(published).",
        "Every set at the top is double progression; two for two is the rule of Baechle and "
        "Earle. A step of 2 to 10 %: ACSM 2009 (Ratamess et al., Med Sci Sports Exerc 41).",
    ),
    Rule(
        "harder",
        "our choice",
        "Any other step up, the next version or a larger load step: the first set at the top of "
        "the range, the mean of the sets at 80 % of it and none under the bottom, two sessions "
        "running. A set over the rep limit: up at once (common practice).",
        "Versions lie far more than 10 % apart, so they want more than a load does, never less. "
        "Up to 40 repetitions near failure serve: Iversen et al. 2021, Sports Med 51.",
    ),
    Rule(
        "bridge",
        "our choice",
        "Where the median of the equations is under the bottom of the range after a step, where "
        "nobody can say (holds, an unmeasured version, a load over a quarter up), and where the "
        "level was taken back before: the first set takes it, the others stay, until it has "
        "reached the bottom twice. "
        "Where even the highest equation is under the bottom: no step, but the count that does.",
        "Our choice, by the equations for the one-repetition maximum.",
    ),
    Rule(
        "easier",
        "common practice",
        "The first set under the bottom of the range, two sessions running: one level back, never "
        "to a heavier load.",
        "Common practice; two sessions: our choice, for one bad day is no reason.",
    ),
    Rule(
        "drop",
        "our choice",
        "The last set under half of the first: a longer recovery, a set fewer, or an easier "
        "version for the later sets; what was tried already comes last.",
        "Our choice. Longer rests keep more repetitions: Schoenfeld et al. 2016, J Strength Cond "
        "Res 30.",
    ),
    Rule(
        "falling",
        "our choice",
        "Four sessions running at one level, no first set above the one before, the fourth a "
        "fifth under the first: a lighter week, or the level before.",
        "Less work for a while where work does not help: common practice; the numbers: our choice.",
    ),
    Rule(
        "flat",
        "our choice",
        "Six sessions over three weeks or more within 5 % of their mean, and not rising: at the "
        "top of the band the next load; with the mean under the bottom the level before or fewer "
        "repetitions; else a substitute, a lighter week, each once.",
        "Three weeks, six sessions and 5 %: our choice.",
    ),
    Rule(
        "one set more",
        "published",
        "Flat, and the planned week of a main muscle is under its aim: one set more, for two "
        "exercises of a session at most; never where sets end too early or always at the limit.",
        "More weekly sets bring more: Schoenfeld, Ogborn, Krieger 2017, J Sports Sci 35. Two "
        "exercises at a time: our choice.",
    ),
    Rule(
        "effort",
        "our choice",
        "The reserve stated over three sessions: two or more over the aim, or always zero where "
        "some is to be left.",
        "The numbers are our choice. People judge their reserve to about a repetition near the "
        "limit: Hackett et al. 2017, J Strength Cond Res 31.",
    ),
    Rule(
        "sides",
        "common practice",
        "One side ahead by a quarter and by two repetitions in two sessions running: the weaker "
        "side first, and the stronger stops at its count.",
        "The weaker side leads: common practice; a quarter and two repetitions: our choice.",
    ),
    Rule("stay", "common practice", "No other rule speaks: go on as you are.", "Common practice."),
    Rule(
        "placing",
        "our choice",
        "From the easiest version up, each set stopped with three or four left and at the top of "
        "the band at the latest, until repetitions and reserve together lie in the band.",
        "Our choice; people misjudge their reserve by about one repetition with up to five left: "
        "Hackett et al. 2017, J Strength Cond Res 31.",
    ),
    Rule(
        "holding back",
        "our choice",
        "The first two sessions of a plan, of an exercise and after a break, and a week with over "
        "30 % more sets than usual: a third fewer sets, two more in reserve, no count to beat.",
        "The numbers are our choice. Why at all: hard unaccustomed work can break down muscle "
        "(CDC/NIOSH on rhabdomyolysis).",
    ),
    Rule(
        "lighter week",
        "common practice",
        "Two exercises that fall back in two sessions running: a week with a third fewer sets and "
        "two more in reserve.",
        "Common practice.",
    ),
    Rule(
        "maximum",
        "published",
        "The one-repetition maximum is estimated to 10 repetitions as a range over the published "
        "equations, to 15 by those that still hold, above that not at all.",
        "Equations: Epley, Brzycki, Lander, Lombardi, Mayhew, O'Conner, Wathan. Linear ones not "
        "above 10: Reynolds, Gordon, Robergs 2006, J Strength Cond Res 20.",
    ),
    Rule(
        "ceiling",
        "common practice",
        "Over the ceiling of repetitions the version has become too light.",
        "A practical ceiling. That it lies at 30 to 40 % of the maximum is often said; measured, "
        "trained people did 29.9 squats at 60 % (J Strength Cond Res 2019, 33(3)).",
    ),
)


def where_rules_come_from() -> list[str]:
    """A short text for the help: the three sources, then each rule with its own, a line each."""
    lines = ["Each rule names its source:"]
    lines += [f"  {mark}: {meaning}." for mark, meaning in MARKS.items()]
    for rule in RULES.values():
        lines.append(f"{rule.name} ({rule.mark}): {rule.says}")
        lines.append(f"  {rule.grounds}")
    return lines


LONGER: Final = 30.0  # seconds of recovery proposed after a drop; our choice

RuleName = Literal[
    "pain",
    "layoff",
    "harder",
    "bridge",
    "load",
    "easier",
    "drop",
    "falling",
    "flat",
    "one set more",
    "effort",
    "sides",
    "stay",
    "lighter week",
]
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
    source: Mark | None = None  # where the rule comes from, if it depends on the plan

    @property
    def mark(self) -> Mark:
        """Where the rule comes from."""
        return self.source or RULES[self.rule].mark

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
        low, high, middle = (
            floor(value + 0.5)
            for value in (self.expected.low, self.expected.high, self.expected.middle)
        )
        source = f"{len(self.expected.names)} published equations"
        guess = ", outside the counts they hold for" if self.expected.extrapolated else ""
        return f"; expect {middle} ({low} to {high} by {source}{guess})"


@dataclass(frozen=True, slots=True)
class Holding:
    """What a trainee holds in one exercise and group of sets."""

    exercise: Exercise
    index: int  # in the ladder
    group: str = ""
    first_set: int | None = None  # a bridge: where the first set stands already
    mass: float | None = None  # the body's, kg
    refused: Mapping[RuleName, date] = field(default_factory=dict)  # local dates of refusals
    since: date | None = None  # of the last advice accepted: what lasts weeks counts from then
    tried: frozenset[ChangeKind] = frozenset()  # what was accepted here when it was flat
    room: bool = True  # whether one set more is wanted: see `Standing`
    pain: str = ""  # why pain rules out a step up
    layoff: Layoff | None = None  # the last one

    @property
    def since_layoff(self) -> date | None:
        """The first day after the last layoff, which ends a run of sessions."""
        return None if self.layoff is None else self.layoff.back

    @property
    def use(self) -> Use:
        """What the sets use."""
        return Use.of(self.exercise.ladder[self.index])


def counted(holding: Holding, value: float) -> str:
    """A count of the exercise with its unit: `12`, or `30 s` of a hold."""
    return f"{number(value)}{' s' if holding.exercise.measure == 'hold' else ''}"


def on_side(holding: Holding) -> str:
    """What to add to counts of one-sided work."""
    return "" if holding.exercise.sides == "together" else " on the weaker side"


def named(holding: Holding, index: int) -> str:
    """A position of the ladder in words."""
    return Use.of(holding.exercise.ladder[index]).text


def move(holding: Holding, index: int) -> Change:
    """All sets to another position."""
    return Change("move", named(holding, index), index)


def with_free_substitutes(exercise: Exercise, week: Iterable[Workout]) -> Exercise:
    """The exercise with those substitutes alone that none of its sessions has already."""
    there: set[str] = set()
    for workout in week:
        names = {item.exercise for block in workout.blocks for item in block.items}
        there |= names if exercise.id in names else set()
    return replace(exercise, instead=tuple(n for n in exercise.instead if n not in there))


def swaps(holding: Holding) -> tuple[Change, ...]:
    """The substitutes that the plan names."""
    names = holding.exercise.instead
    return tuple(Change("swap", f"{name} instead", exercise=name) for name in names)


def at_the_end(holding: Holding, *ways: str) -> str:
    """What else there is where the plan has no further level; substitutes are choices of theirs."""
    known = bool(holding.exercise.instead)
    *most, last = ways if known else (*ways, "a substitute")
    text = f"{', '.join(most)} or {last}" if most else last
    return f"a substitute, or {text} put into the plan" if known else f"put {text} into the plan"


def propose(
    holding: Holding,
    rule: RuleName,
    reason: str,
    change: Change | None = None,
    others: tuple[Change, ...] = (),
    *,
    expected: Expected | None = None,
    source: Mark | None = None,
) -> Advice:
    """A piece of advice for what is held."""
    name, group = holding.exercise.id, holding.group
    return Advice(name, group, rule, reason, change, others, expected, source)


def stay(holding: Holding, reason: str, others: tuple[Change, ...] = ()) -> Advice:
    """No change; `others` would serve all the same."""
    return propose(holding, "stay", reason, None, others)
