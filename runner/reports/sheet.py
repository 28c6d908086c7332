"""Sheets for print and phone: a page for each session of a person, in one HTML file.

The page is a sheet, not a second runner: it has no clock, no field for each set and nothing to tick
off. It says what `next` and the rehearsal say of the same day. On paper each exercise has an empty
line for each date, and one for the level that was used. On a phone it has a line to type in, in the
notation of paper, and a button copies a text that `matside log --sheet` reads.

The file needs no network: it holds its style and script, and its Content-Security-Policy allows
these two by their hashes and nothing else. Texts of plans are data: Jinja2 escapes each of them,
and the script gets them as attributes and never as code. Jinja2 is a general library, 0.6 MB with
MarkupSafe; only `matside sheet` imports it.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from itertools import groupby
from pathlib import Path
from typing import Final

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup
from msgspec import Struct
from msgspec.structs import replace

from runner.law.course import FIRST, LATER, PlannedSet, station_setups, without_part
from runner.law.workout import Exercise, Level, Workout
from runner.live.advice import Advisor, ExerciseAdvice
from runner.live.history import past_of
from runner.live.offers import LIGHTER_WORD, before_session, offer_lines
from runner.live.session_setup import GENERAL, PAIN_ADVICE, overlay_lines, phase_now
from runner.plan.compile import compile_plan, compile_session
from runner.plan.models import Plan
from runner.plan.person import PersonalPlan
from runner.planning.forecast import Step, session_steps, total
from runner.progress.adjust import Baseline, Offer
from runner.progress.answers import in_force
from runner.progress.deload import MORE_IN_RESERVE
from runner.progress.going_up import still_needs
from runner.progress.layoff import LONG, SHORT
from runner.progress.phases import phase_changes
from runner.progress.progression import easier_than, harder_than
from runner.record.record import Record
from runner.record.sheets import Sheet
from runner.session import apply
from runner.session.aims import aim
from runner.session.apply import initial
from runner.session.changes import level_text
from runner.session.paper import level_word
from runner.session.state import State
from runner.text import clock, how_many, long_day

MOST_COLUMNS: Final = 6  # dates on one page; more leave no room to write; our choice
_FOLDER: Final = Path(__file__).resolve().parent
_SIDES: Final = {"left first": "left first, then right", "right first": "right first, then left"}
AFTER_A_LAYOFF: Final = (
    f"After over {SHORT} days away do a third fewer sets with {MORE_IN_RESERVE} more in reserve; "
    f"after over {LONG} days also start one level easier (common practice)."
)


LIGHTER_WEEK: Final = (
    f"A lighter week is on: until it is over do a third fewer sets, with {MORE_IN_RESERVE} more in "
    "reserve and nothing to beat."
)


class Entry(Struct, frozen=True):
    """The sets of one exercise that are written in one line."""

    key: str  # how a line of the copied text begins: row, or row/slow
    name: str
    short: str
    level: str  # as `next` says it
    version: str  # what the version is called
    code: str  # the level as it is typed: light:12kg
    sets: str
    warm_up: str
    aim: str
    beat: str
    example: str  # what a line may look like
    rows: tuple[tuple[str, str], ...]  # of the card: a term and its text
    care: tuple[tuple[str, str], ...]  # a term and its text: what to be careful with


class BlockOfPage(Struct, frozen=True):
    """Exercises done in turn, and how long to rest, in words."""

    number: int
    rest: str
    entries: tuple[Entry, ...]


class Page(Struct, frozen=True):
    """One session for one person."""

    sheet: Sheet
    name: str
    made: date
    length: str  # minutes and seconds, by the rehearsal
    notes: tuple[str, ...]  # of today: offers, pain, a layoff
    cautions: tuple[str, ...]
    stations: tuple[tuple[str, str], ...]  # name with set-up, and its check
    warm_up: str
    cool_down: str
    blocks: tuple[BlockOfPage, ...]


class Subject(Struct, frozen=True):
    """Whose pages are made, of which plan, and when."""

    record: Record
    trainee: str
    personal: PersonalPlan  # the plan with the trainee's overlay
    now: datetime  # aware, local
    on: date | None = None  # whose phase of the plan the pages have; None: today's

    @property
    def plan(self) -> Plan:
        """The plan as it is for the trainee."""
        return self.personal.plan


def pages(of: Subject, sessions: Sequence[str]) -> list[Page]:
    """A page for each of these sessions of the plan. Raises MatsideError for an unknown one."""
    workouts = compile_plan(of.plan)
    past = past_of(of.record, of.trainee, of.now.date())
    advisor = Advisor(
        of.record, of.trainee, workouts, of.now, plan=of.plan, week=workouts, past=past
    )
    return [_Maker(of, advisor, one).page for one in sessions]


class _Maker:
    """What one page is made of."""

    def __init__(self, of: Subject, advisor: Advisor, session: str) -> None:
        self.of, self.plan, self.past = of, of.plan, advisor.past
        self.items = {(item.exercise.id, item.current.group): item for item in advisor.items}
        workout = compile_session(of.plan, session)
        answers, today = of.record.answers(of.trainee), of.now.date()
        # Without a lighter week, which is over before six dates are.
        changes = in_force(answers, workout=workout)
        lighter = in_force(answers, today, workout) != changes
        on = of.on or today
        phase = phase_now(of.plan, of.record, of.trainee, on, today)
        if phase is not None:
            changes = (*changes, *phase_changes(phase.phase, workout))
        self.now = []
        if phase:
            until = f"This page is for it, until {phase.last_day(on):%A %Y-%m-%d}."
            self.now = [f"{phase.text.capitalize()}. {until} Use a new sheet for the next phase."]
        self.now += [LIGHTER_WEEK] if lighter else []
        baseline = replace(of.record.baseline(of.trainee, workout), changes=changes)
        self.state: State = initial(workout, baseline)
        self.steps = session_steps(workout, baseline)
        fitted = baseline.with_off_range(workout)
        self.before = before_session(
            of.record, of.trainee, fitted, baseline, of.now, past=self.past
        )
        self.lighter = _with_offer(workout, baseline, self.before.offers)

    @property
    def page(self) -> Page:
        """The whole of it."""
        workout = self.state.workout
        today = self.of.now.date()
        lines = overlay_lines(self.of.personal, workout.session, today)
        lines += self.now
        lines += [line for offer in self.before.offers for line in offer_lines(offer)]
        return Page(
            Sheet.of(self.state, self.of.personal.text, self.of.trainee),
            workout.name,
            today,
            clock(total(self.steps)),
            (*lines, *self.before.warnings),
            (*GENERAL, *PAIN_ADVICE[1:], *workout.cautions, AFTER_A_LAYOFF),
            tuple(self._stations()),
            _timed(workout.warm_up, workout.warm_up_moves),
            _timed(workout.cool_down, workout.cool_down_moves),
            tuple(self._blocks()),
        )

    def _stations(self) -> Iterator[tuple[str, str]]:
        workout = self.state.workout
        for name, setup in station_setups(self.state.course.planned_sets, workout).items():
            station = workout.stations[name]
            words = [station.name, *(f"{what} {value}" for what, value in setup)]
            yield ", ".join(words), station.check or ""

    def _blocks(self) -> Iterator[BlockOfPage]:
        for number, found in groupby(_lines(self.state), lambda sets: sets[0].block):
            entries = tuple(map(self._entry, found))
            yield BlockOfPage(number, _rest(self.state.workout, self.steps, number), entries)

    def _entry(self, sets: Sequence[PlannedSet]) -> Entry:
        group, level = sets[0].group, sets[0].level
        exercise = self.state.course.exercise_of(sets[0])
        item = self.items.get((exercise.id, without_part(group)))
        which = _which(group)
        return Entry(
            key=f"{exercise.id}/{group}" if group else exercise.id,
            name=exercise.name + (f", {which}" if which else ""),
            short=exercise.short,
            level=level_text(level),
            version=level.name,
            code=level_word(level),
            sets=how_many(len(sets), "set"),
            warm_up=_warm_up(self.state, sets[0]),
            aim=aim(exercise),
            beat=_beat(self.state, sets),
            example=_example(exercise),
            rows=tuple(row for row in self._rows(exercise, level, item) if row[1]),
            care=tuple(row for row in self._care(exercise, item) if row[1]),
        )

    def _rows(
        self, exercise: Exercise, level: Level, item: ExerciseAdvice | None
    ) -> Iterator[tuple[str, str]]:
        """What the card says, and what brings the next step."""
        card, baseline = self.plan.exercise[exercise.id], self.state.baseline
        yield "Sides", _SIDES.get(exercise.sides, "")
        yield "Start", card.start or ""
        yield "How", card.how or ""
        yield "Counts when", card.counts_when or ""
        yield "Tips", "; ".join(card.cues)
        if item is not None:
            past = self.past.of(exercise.id, item.current.group)
            needs = item.needs or ("" if past else still_needs(item.current, past))
            yield "Next step", needs
            yield "Advice", item.advice.line if item.proposes else ""
        yield "Lighter session", self.lighter.get(exercise.id, "")
        yield "Other levels", _others(exercise, level, baseline)
        instead = (self.plan.exercise[one].name + f" ({one})" for one in exercise.instead)
        yield "Instead", ", ".join(instead)

    def _care(self, exercise: Exercise, item: ExerciseAdvice | None) -> Iterator[tuple[str, str]]:
        card = self.plan.exercise[exercise.id]
        yield "Stop if", card.stop_if or ""
        yield "Care", card.caution or ""
        yield "Way out", card.way_out or ""
        hurt = () if item is None else item.pain
        yield (
            "Pain",
            "; ".join(f"{where or 'no place given'}, {long_day(on)}" for where, on in hurt),
        )


def _lines(state: State) -> list[list[PlannedSet]]:
    """The work sets that are written in one line: of one exercise and group in one block."""
    found: dict[tuple[int, str, str], list[PlannedSet]] = {}
    order: dict[tuple[int, str], int] = {}  # warm-up sets are not asked for, and come first
    for one in state.course.planned_sets:
        order.setdefault((one.block, one.exercise), len(order))
        if one.kind == "work":
            found.setdefault((one.block, one.exercise, one.group), []).append(one)
    return sorted(found.values(), key=lambda sets: order[sets[0].block, sets[0].exercise])


def _which(group: str) -> str:
    """Which sets of an exercise are meant, where not all stand together."""
    plain = without_part(group)
    part = "first set" if group.startswith(FIRST) else ""
    part = "later sets" if group.startswith(LATER) else part
    return ", ".join(filter(None, (plain, part)))


def _warm_up(state: State, first: PlannedSet) -> str:
    """The warm-up sets straight in front of a work set."""
    ramps = [
        one
        for one in state.course.planned_sets
        if (one.kind, one.block, one.exercise) == ("ramp", first.block, first.exercise)
    ]
    if not ramps or ramps[-1].number + 1 != first.number:
        return ""
    return f"{how_many(len(ramps), 'warm-up set')} first: {level_text(ramps[0].level)}"


def _beat(state: State, sets: Sequence[PlannedSet]) -> str:
    """Last time's counts, set by set: `12 11 -`, `12|14 11|13`; empty without one."""
    texts = []
    for one in sets:
        order = state.course.exercise_of(one).side_order
        counts = [apply.to_beat(state, one, side) for side in sorted(order)]
        if all(count is None for count in counts):
            texts.append("-")
        else:
            texts.append("|".join("-" if count is None else f"{count:g}" for count in counts))
    return " ".join(texts) if any(text != "-" for text in texts) else ""


def _example(exercise: Exercise) -> str:
    if exercise.measure == "hold":
        return "45 40" if exercise.sides == "together" else "45|40 40|35"
    return "12 11/2 9" if exercise.sides == "together" else "12|11 11|10"


def _others(exercise: Exercise, level: Level, baseline: Baseline) -> str:
    """The levels on both sides of this one, as they are typed."""
    found = []
    for word, move in (("easier", easier_than), ("harder", harder_than)):
        step = move(exercise, level, baseline.mass, baseline.done(exercise))
        if step.kind != "top":
            found.append(f"{word} {level_word(exercise.progression[step.index])}")
    return ", ".join(found)


def _with_offer(workout: Workout, baseline: Baseline, offers: Iterable[Offer]) -> dict[str, str]:
    """By exercise: sets, reserve and level of the lighter session that is offered, if one is."""
    changes = [c for offer in offers if offer.kind == LIGHTER_WORD for c in offer.adjustments]
    if not changes:
        return {}
    lighter = initial(workout, replace(baseline, changes=(*baseline.changes, *changes)))
    found: dict[str, list[PlannedSet]] = {}
    for one in lighter.course.planned_sets:
        if one.kind == "work":
            found.setdefault(one.exercise, []).append(one)
    exercises = lighter.workout.exercises
    return {
        name: f"{how_many(len(sets), 'set')}, {exercises[name].reserve} in reserve, "
        f"{level_text(sets[0].level)}"
        for name, sets in found.items()
    }


# Rests in words.


def _timed(seconds: float, moves: Sequence[str]) -> str:
    """Warm-up or cool-down: how long, and what to do."""
    if not seconds and not moves:
        return ""
    return ": ".join(filter(None, (clock(seconds) if seconds else "", ", ".join(moves))))


def _rest(workout: Workout, steps: Sequence[Step], number: int) -> str:
    """How a block is done and how long to rest in it, as the rehearsal has it."""
    block = workout.blocks[number - 1]
    before, between, sides = _rests(steps, number)
    parts = []
    many = len(block.items)
    times = _span(between)
    if many > 1:
        turns = "Take turns, one set of each"
        parts.append(f"{turns}, {times} in between." if times else f"{turns}.")
    elif times:
        parts.append(f"Rest {times} between sets.")
    if sides:
        parts.append(f"Left and right: {_span(sides)} in between.")
    timing = [block.timing[item.exercise] for item in block.items]
    if many > 1:
        parts.append(f"So each muscle rests about {_span([one.recovery for one in timing])}.")
    if before and number > 1:
        parts.append(f"Rest {_span(before)} before this block.")
    return " ".join(parts)


def _rests(steps: Sequence[Step], number: int) -> tuple[list[float], list[float], list[float]]:
    """Seconds of the rests before a block, between its sets, and between the sides of a set."""
    before: list[float] = []
    between: list[float] = []
    sides: list[float] = []
    rest, begun = 0.0, False
    for step in steps:
        if step.kind == "rest":
            rest = step.seconds
            continue
        if step.planned_set is not None and step.planned_set.block == number:
            where = before if not begun else between if step.first_side else sides
            where.append(rest)
            begun = True
        rest = 0.0
    return before, between, sides


def _span(seconds: Sequence[float]) -> str:
    """One length or the range of several: `0:39`, `0:39 to 2:00`."""
    if not seconds:
        return ""
    low, high = clock(min(seconds)), clock(max(seconds))
    return low if low == high else f"{low} to {high}"


# The file.


def render(made: Sequence[Page], columns: int) -> str:
    """The HTML file of these pages, with that many dates on each."""
    style, script = (_read(f"sheet.{kind}") for kind in ("css", "js"))
    policy = (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; "
        "base-uri 'none'; form-action 'none'"
    )
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    template = environment.from_string(_read("sheet.html"))
    return template.render(
        pages=made,
        dates=range(1, columns + 1),
        policy=policy,
        style=Markup(style),  # noqa: S704 - our own files
        script=Markup(script),  # noqa: S704
    )


def _read(name: str) -> str:
    return (_FOLDER / name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
