"""Advice as data: the working level, the proposal, and its rule; all rules by name.

Each rule has a source: a word or two for the screen, explained here for the help.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from math import floor
from typing import Final, Literal

from msgspec import Struct, field
from msgspec.structs import replace

from runner.law.workout import Exercise, Level, Workout
from runner.progress.history import PastSession, Use
from runner.progress.layoff import Layoff
from runner.progress.one_rep_max import CAUTION_TO, ExpectedReps, maximum
from runner.progress.progression import level_moved
from runner.progress.reps import SetCount, counts_of, number

# The rules, and where each comes from.

Source = Literal["published", "common practice", "our choice"]

SOURCES: Final[Mapping[Source, str]] = {
    "published": "a published study or book",
    "common practice": "coaches do this; we know no study of it",
    "our choice": "nobody has published a number, so we chose a careful one",
}


class Rule(Struct, frozen=True):
    """A rule's name, its source, what it says, and what is behind it."""

    name: str
    source: Source
    says: str
    grounds: str


def _rules(*rules: Rule) -> Mapping[str, Rule]:
    return {rule.name: rule for rule in rules}


RULES: Final[Mapping[str, Rule]] = _rules(
    Rule(
        "pain",
        "our choice",
        "An exercise that hurt gets no harder level until two sessions without pain, or 28 days. "
        "The same holds for other exercises of the same main muscle and side. Three painful "
        "sessions within 28 days: leave it out and see a physiotherapist.",
        "The numbers are our choice. A doctor or physiotherapist judges pain; their word comes "
        "first.",
    ),
    Rule(
        "layoff",
        "common practice",
        "Over 14 days without a session: a third fewer sets, two more in reserve, and no harder "
        "level until two sessions of the exercise reach the bottom of the rep range. Over four "
        "weeks: also one level easier. Over eight weeks, or eight weeks without that exercise: "
        "level finding again.",
        "Common practice; the days and amounts differ from coach to coach.",
    ),
    Rule(
        "load",
        "our choice",
        "A small step is the next load or set-up of the version: 2 to 10 % more, or one increment "
        "where the load moved is unknown. The plan's `advance` says when. first set: the first "
        "set at the top of the rep range and no set under its bottom, two sessions running (our "
        "choice). every set: all sets at the top, once (common practice). two for two: two over "
        "the top in the last set, two sessions running (published).",
        "Every set at the top is double progression; two for two is the rule of Baechle and "
        "Earle. Steps of 2 to 10 %: ACSM 2009 (Ratamess et al., Med Sci Sports Exerc 41).",
    ),
    Rule(
        "harder",
        "our choice",
        "A large step is the next version, or a larger load step: the first set at the top of the "
        "rep range, the mean of all sets at 80 % of the top, no set under the bottom, two "
        "sessions running. A set over the rep limit: go up at once (common practice).",
        "Versions lie far more than 10 % apart, so they ask for more than a load step. Up to 40 "
        "repetitions near failure build muscle: Iversen et al. 2021, Sports Med 51.",
    ),
    Rule(
        "bridge",
        "our choice",
        "Only the first set goes up, until it reaches the bottom of the rep range twice; then all "
        "sets follow. This applies where the median of the equations expects fewer repetitions "
        "than the bottom, where no equation applies (holds, an unmeasured version, a load over a "
        "quarter up), and where this level was too hard before. Where even the highest equation "
        "expects less than the bottom, the advice names the count that is enough.",
        "Our choice, by the equations for the one-repetition maximum.",
    ),
    Rule(
        "easier",
        "common practice",
        "The first set under the bottom of the rep range, two sessions running: one level easier, "
        "never with a heavier load.",
        "Common practice; two sessions: our choice, because one bad day is no reason.",
    ),
    Rule(
        "drop",
        "our choice",
        "The last set under half of the first: a longer recovery, one set fewer, or an easier "
        "version for the later sets; what you tried already comes last. What you accept gets "
        "three sessions and two weeks before the next.",
        "Our choice. Longer rests keep more repetitions: Schoenfeld et al. 2016, J Strength Cond "
        "Res 30.",
    ),
    Rule(
        "falling",
        "our choice",
        "Four sessions running at one level, no first set above the one before, and the fourth a "
        "fifth under the first: a lighter week, or the level before.",
        "A lighter week when more work does not help: common practice; the numbers: our choice.",
    ),
    Rule(
        "flat",
        "our choice",
        "Six sessions over three weeks or more within 5 % of their mean, and not rising: at the "
        "top of the rep range the next load; with the mean under the bottom the level before, or "
        "fewer repetitions; otherwise a substitute or a lighter week, each once.",
        "Three weeks, six sessions and 5 %: our choice.",
    ),
    Rule(
        "one set more",
        "published",
        "The counts are flat and the plan gives a main muscle fewer weekly sets than its aim: one "
        "set more, for two exercises of a session at most; never where sets end too early or "
        "always at the limit.",
        "More weekly sets build more muscle: Schoenfeld, Ogborn, Krieger 2017, J Sports Sci 35. "
        "Two "
        "exercises at a time: our choice.",
    ),
    Rule(
        "effort",
        "our choice",
        "The reserve you state over three sessions is two or more above the aim, or always zero "
        "where the aim is higher.",
        "The numbers are our choice. People judge their reserve to about a repetition near the "
        "limit: Hackett et al. 2017, J Strength Cond Res 31.",
    ),
    Rule(
        "sides",
        "common practice",
        "One side does a quarter and two repetitions more than the other, two sessions running: "
        "start with the weaker side, and stop the stronger side at the same count.",
        "The weaker side leads: common practice; a quarter and two repetitions: our choice.",
    ),
    Rule(
        "stay",
        "common practice",
        "No other rule applies: train on at this level.",
        "Common practice.",
    ),
    Rule(
        "level finding",
        "our choice",
        "Start with the easiest version. Stop each set with three or four in reserve, and at the "
        "top of the rep range at the latest. Take the next level each set, until repetitions and "
        "reserve together lie in the rep range.",
        "Our choice; people misjudge their reserve by about one repetition when it is five or "
        "less: Hackett et al. 2017, J Strength Cond Res 31.",
    ),
    Rule(
        "lighter session",
        "our choice",
        "In the first two sessions of a plan, of an exercise or after a layoff, and in a week "
        "with over 30 % more sets than usual: a third fewer sets, two more in reserve, no count "
        "to beat.",
        "The numbers are our choice. The reason: hard unaccustomed work can break down muscle "
        "(CDC/NIOSH on rhabdomyolysis).",
    ),
    Rule(
        "lighter week",
        "common practice",
        "Two exercises get worse two sessions running: a week with a third fewer sets and two "
        "more in reserve.",
        "Common practice.",
    ),
    Rule(
        "maximum",
        "published",
        "Up to 10 repetitions all published equations give the range of the one-repetition "
        "maximum; up to 15 only those that still hold; above 15 none.",
        "Equations: Epley, Brzycki, Lander, Lombardi, Mayhew, O'Conner, Wathan. The linear ones "
        "hold up to 10: Reynolds, Gordon, Robergs 2006, J Strength Cond Res 20.",
    ),
    Rule(
        "rep limit",
        "common practice",
        "A set over the rep limit: the level is too light.",
        "A practical limit. Many say that it lies at 30 to 40 % of the maximum; measured, trained "
        "people did 29.9 squats at 60 % (J Strength Cond Res 2019, 33(3)).",
    ),
)


def rule_text(name: str) -> str:
    """A rule's name for people; the record keeps "stay" for the advice to change nothing."""
    return "no change" if name == "stay" else name


def where_rules_come_from() -> list[str]:
    """A short text for the help: the three sources, then each rule with its own, a line each."""
    lines = ["Each rule with its source:"]
    lines += [f"  {source}: {meaning}." for source, meaning in SOURCES.items()]
    for rule in RULES.values():
        lines.append(f"{rule_text(rule.name)} ({rule.source}): {rule.says}")
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
    "move",  # all sets to the level `index`
    "bridge",  # the first set to the level `index`, the others as they are
    "recovery",  # `seconds` more for each muscle
    "fewer sets",  # one fewer
    "more sets",  # one more
    "easier later",  # the later sets at the level `index`
    "swap",  # the exercise named
    "lighter week",
]


class Change(Struct, frozen=True):
    """What is proposed, as data; nothing changes until it is accepted."""

    kind: ChangeKind
    text: str  # in a few words
    index: int | None = None  # in the exercise's progression
    seconds: float | None = None
    exercise: str | None = None


class Advice(Struct, frozen=True):
    """One line for one exercise and group of sets."""

    exercise: str
    group: str
    rule: RuleName
    reason: str
    change: Change | None = None  # None: go on as before
    others: tuple[Change, ...] = ()  # other choices
    expected: ExpectedReps | None = None  # repetitions after the change
    plan_source: Source | None = None  # where the rule comes from, if it depends on the plan
    lately: bool = False  # it asks for no answer, and was shown after one of the last sessions

    @property
    def source(self) -> Source:
        """Where the rule comes from."""
        return self.plan_source or RULES[self.rule].source

    @property
    def line(self) -> str:
        """Rule, source, reason and what is proposed, in one line."""
        proposed = "" if self.change is None else f" -> {self.change.text}"
        return f"{rule_text(self.rule)} ({self.source}): {self.reason}{proposed}{self.expectation}"

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


class CurrentLevel(Struct, frozen=True):
    """The working level of one exercise and group of sets, with what the rules need beside it."""

    exercise: Exercise
    index: int  # in the progression
    group: str = ""
    first_set: int | None = None  # a bridge: the level that the first set is at already
    mass: float | None = None  # the body's, kg
    refused: Mapping[RuleName, date] = field(default_factory=dict)  # local dates of refusals
    since: date | None = None  # of the last advice accepted: what lasts weeks counts from then
    tried: frozenset[ChangeKind] = frozenset()  # what was accepted here when it was flat
    room: bool = True  # whether one set more is wanted: see `Advisor`
    pain: str = ""  # why pain rules out a step up
    layoff: Layoff | None = None  # the last one
    safe: tuple[str, ...] = ()  # substitutes that stress nothing that it does, where it hurt

    @property
    def since_layoff(self) -> date | None:
        """The first day after the last layoff, which ends a run of sessions."""
        return None if self.layoff is None else self.layoff.back

    @property
    def use(self) -> Use:
        """What the sets use."""
        return Use.of(self.exercise.progression[self.index])


def at_index(current: CurrentLevel, index: int) -> CurrentLevel:
    """The same at another level: its version may have other sides or another measure."""
    version = current.exercise.progression[index].version
    return replace(current, exercise=current.exercise.at(version), index=index)


def counted(current: CurrentLevel, value: float) -> str:
    """A count of the exercise with its unit: `12`, or `30 s` of a hold."""
    return f"{number(value)}{' s' if current.exercise.measure == 'hold' else ''}"


def on_side(current: CurrentLevel) -> str:
    """What to add to counts of one-sided work."""
    return "" if current.exercise.sides == "together" else " on the weaker side"


def named(current: CurrentLevel, index: int) -> str:
    """A level of the progression in words."""
    return Use.of(current.exercise.progression[index]).text


def move(current: CurrentLevel, index: int) -> Change:
    """All sets to another level."""
    return Change("move", named(current, index), index)


def with_free_substitutes(exercise: Exercise, week: Iterable[Workout]) -> Exercise:
    """The exercise with those substitutes alone that none of its sessions has already."""
    there: set[str] = set()
    for workout in week:
        names = {item.exercise for block in workout.blocks for item in block.items}
        there |= names if exercise.id in names else set()
    return replace(exercise, instead=tuple(n for n in exercise.instead if n not in there))


def swaps(current: CurrentLevel, *, safe: bool = False) -> tuple[Change, ...]:
    """The substitutes that the plan names, or those for what hurt."""
    names = current.safe if safe else current.exercise.instead
    return tuple(Change("swap", f"{name} instead", exercise=name) for name in names)


def at_the_end(current: CurrentLevel, *ways: str) -> str:
    """What can be done where the plan has no further level; substitutes are separate choices."""
    known = bool(current.exercise.instead)
    *most, last = ways if known else (*ways, "a substitute")
    text = f"{', '.join(most)} or {last}" if most else last
    return f"a substitute, or add {text} to the plan" if known else f"add {text} to the plan"


def propose(
    current: CurrentLevel,
    rule: RuleName,
    reason: str,
    change: Change | None = None,
    others: tuple[Change, ...] = (),
    *,
    expected: ExpectedReps | None = None,
    source: Source | None = None,
) -> Advice:
    """Advice that changes the working level or something beside it."""
    name, group = current.exercise.id, current.group
    return Advice(name, group, rule, reason, change, others, expected, source)


def stay(current: CurrentLevel, reason: str) -> Advice:
    """The advice to change nothing."""
    return propose(current, "stay", reason, None)


# What is known of a load, in words: what is really moved, and the maximum.


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
    reps = best.beside + best.in_reserve
    found = maximum(moved, reps)
    if found is None:
        yield f"{number(reps)} repetitions to failure; above {CAUTION_TO} no equation holds"
        return
    names = ", ".join(found.names)
    caution = "; with caution, because few equations hold above 10" if found.caution else ""
    low, high = f"{found.low:.0f}", f"{found.high:.0f}"
    span = low if low == high else f"{low} to {high}"
    yield f"one-repetition maximum about {span} kg by {names}{caution} (published)"
