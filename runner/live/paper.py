"""A session done without the program, written up later.

Only its date is known. So its rows have no start, no length and no rest. In the record it is at
noon of its date unless the hour is given, or a minute after the trainee's session that is there
already.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo

from msgspec import Struct, field
from msgspec.structs import replace

from runner.errors import Exit, MatsideError
from runner.law.course import find_level, without_part, working_index
from runner.law.workout import Exercise, Level, Workout
from runner.live.clock import Clock
from runner.live.corrections import replayed
from runner.live.offers import LIGHTER_WORD, before_session
from runner.live.session_setup import due_session, phase_now
from runner.output import record_path
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.plan.library import find_plan
from runner.plan.person import read_for
from runner.progress.adjust import MOST_SETS, Adjustment, Offer
from runner.progress.answers import LIGHTER
from runner.progress.history import SetRow
from runner.progress.phases import phase_changes
from runner.progress.progression import easier_than, harder_than
from runner.record.record import Record
from runner.record.rows import NOON, SessionInfo
from runner.record.sheets import Sheet
from runner.record.write import set_row
from runner.session import flow, verb as cmd
from runner.session.apply import Refused, TurnResult, initial, merged
from runner.session.changes import level_text, substitute_of
from runner.session.paper import (
    LEFT_OUT,
    NOT_COUNTED,
    PaperSet,
    Part,
    level_word,
    read_counts,
    read_level,
)
from runner.session.state import State
from runner.session.verb import shown
from runner.session.words import SIDES
from runner.text import how_many

USUAL = Offer(LIGHTER_WORD, "", (), LIGHTER)  # where none was on offer
LONGEST = 24 * 60  # minutes that a session may have lasted; our choice


class SetsAtLevel(NamedTuple):
    """Sets done one after the other at one level of one exercise."""

    exercise: Exercise
    level: Level
    counts: tuple[PaperSet, ...]


class PaperPage(Struct, frozen=True):
    """An exercise of a block: one line of counts, and what is written about it."""

    state: State  # the session, nothing written
    block: int
    exercise: Exercise  # as planned
    group: str  # of sets
    parts: tuple[Part, ...] = ()  # what is written, in its order

    @property
    def planned_sets(self) -> tuple[int, ...]:
        """The places of its planned sets among the session's."""
        return tuple(planned_sets_of(self.state, self))

    @property
    def first(self) -> Level:
        """The level that it is planned at."""
        return self.state.course.planned_sets[self.planned_sets[0]].level

    @property
    def sets_at_levels(self) -> tuple[SetsAtLevel, ...]:
        """What was done; the last one has the level for what is still to be written.

        Raises Refused for what cannot be.
        """
        swaps = [at for at, part in enumerate(self.parts) if part.kind == "swap"]
        last = swaps[-1] if swaps else -1
        parts = self.parts
        if swaps and not any(part.kind == "sets" for part in parts[last:]):
            # No set follows the swap: all that is written was done with the substitute.
            sets = [part for part in parts[:last] if part.kind == "sets"]
            parts = (*parts[last:], *sets)
        here = SetsAtLevel(self.exercise, self.first, ())
        found: list[SetsAtLevel] = []
        for part in parts:
            if part.kind == "sets":
                found.append(
                    here._replace(
                        counts=read_counts(part.text, here.exercise.at(here.level.version))
                    )
                )
            else:
                here = self._changed(here, part)
        return (*found, here)

    def _changed(self, here: SetsAtLevel, part: Part) -> SetsAtLevel:
        """The level for what follows, after a word about it. Raises Refused."""
        if part.kind == "swap":
            return self._swapped(part.text)
        if part.kind in ("level", "version"):
            return here._replace(level=read_level(part.text, here.exercise))
        if part.kind in ("easier", "harder"):
            move = easier_than if part.kind == "easier" else harder_than
            baseline = self.state.baseline
            step = move(here.exercise, here.level, baseline.mass, baseline.done(here.exercise))
            if step.kind == "top":
                name, level = here.exercise.name, level_text(here.level)
                raise Refused(f"{name} has no level {part.kind} than {level}")
            return here._replace(level=here.exercise.progression[step.index])
        if part.kind in ("load", "setup"):
            return here._replace(
                level=_used(flow.read_line(f"{part.kind} {part.text}"), here.level)
            )
        return here

    def _swapped(self, name: str) -> SetsAtLevel:
        planned_set = self.state.course.planned_sets[self.planned_sets[0]]
        first = substitute_of(self.state, planned_set)
        name = name or ("" if first is None else first.id)
        known = [one for one in self.exercise.instead if one in self.state.workout.exercises]
        if name not in known:
            there = f"it has {', '.join(known)}" if known else "it has none"
            raise Refused(f"{self.exercise.name} has no substitute {shown(name)}; {there}")
        here = {s.exercise for s in self.state.course.planned_sets if s.block == self.block}
        if name in here:
            raise Refused(f"{name} stands in this block already: write its sets in its own line")
        exercise = self.state.workout.exercises[name]
        level = working_index(exercise, "", self.state.baseline.working_levels)
        return SetsAtLevel(exercise, exercise.progression[level], ())

    @property
    def level(self) -> Level:
        """The level for what is still to be written."""
        return self.sets_at_levels[-1].level

    @property
    def sets(self) -> tuple[tuple[SetsAtLevel, PaperSet], ...]:
        """Each set that is written, with what it was done with."""
        return tuple((one, counts) for one in self.sets_at_levels for counts in one.counts)

    @property
    def added(self) -> int:
        """Sets beyond the planned ones."""
        return max(len(self.sets) - len(self.planned_sets), 0)

    @property
    def addition(self) -> Adjustment:
        """The same as a change of the session."""
        group = without_part(self.group)
        return Adjustment("sets", self.exercise.id, group, float(self.added), block=self.block)

    @property
    def warm_up_sets(self) -> tuple[tuple[int, PaperSet], ...]:
        """Its warm-up sets that are written, with their indexes. Raises Refused for more."""
        text = " ".join(part.text for part in self.parts if part.kind == "warm-up")
        indexes = list(warm_up_sets_of(self.state, self))
        level = self.state.course.planned_sets[indexes[0]].level if indexes else self.first
        counts = read_counts(text, self.exercise.at(level.version))
        if len(counts) > len(indexes):
            planned = how_many(len(indexes), "warm-up set")
            raise Refused(f"{self.exercise.name} is planned with {planned}, not {len(counts)}")
        return tuple(zip(indexes, counts, strict=False))

    @property
    def key(self) -> tuple[int, str, str]:
        """Which page of the session it is."""
        return self.block, self.exercise.id, self.group

    @property
    def pain(self) -> str | None:
        """Where it hurt, "" for a place unknown; None where nothing did."""
        places = [part.text for part in self.parts if part.kind == "pain"]
        return "; ".join(filter(None, places)) if places else None

    @property
    def note(self) -> str:
        """What stands beside the sets."""
        return "\n".join(part.text for part in self.parts if part.kind == "note" and part.text)

    @property
    def written(self) -> bool:
        """Whether it has counts."""
        return any(part.kind == "sets" for part in self.parts)

    @property
    def ids(self) -> tuple[str, ...]:
        """Names that a line may use: the planned exercise, with its group, and its substitute."""
        own = self.exercise.id
        swapped = (part.text for part in self.parts if part.kind == "swap")
        return (own, *([f"{own}/{self.group}"] if self.group else []), *swapped)

    def having(self, parts: Sequence[Part]) -> PaperPage:
        """The page with more written on it. Raises Refused for what is impossible."""
        page = replace(self, parts=(*self.parts, *parts))
        _ = page.warm_up_sets  # which reads them
        if page.added and len(page.sets) > MOST_SETS:  # which has read all others
            raise Refused(f"{self.exercise.name}: write at most {MOST_SETS} sets")
        return page

    def divided(self) -> tuple[PaperPage, tuple[Part, ...]]:
        """The page with as many sets as it plans, and the sets written beyond them.

        A level written there holds for what follows too.
        """
        room, at_another = len(self.planned_sets), False
        mine: list[Part] = []
        beyond: list[Part] = []
        at_levels = iter(self.sets_at_levels)
        for part in self.parts:
            if part.kind == "sets":
                at_level = next(at_levels)
                texts = [set_word(sides) for sides in at_level.counts]
                if texts[:room]:
                    mine.append(Part("sets", " ".join(texts[:room])))
                if texts[room:]:
                    level = (Part("level", level_word(at_level.level)),) if at_another else ()
                    beyond += [*level, Part("sets", " ".join(texts[room:]))]
                room = max(room - len(texts), 0)
            elif part.kind == "warm-up":
                mine.append(part)
            elif part.kind in ("pain", "note"):
                beyond.append(part)
            else:
                at_another = True
                if room:
                    mine.append(part)
        return replace(self, parts=tuple(mine)), tuple(beyond)

    def afresh(self) -> PaperPage:
        """The page when it is asked for again: without sets, with the rest."""
        return replace(
            self, parts=tuple(part for part in self.parts if part.kind not in ("sets", "warm-up"))
        )


def set_word(sides: PaperSet) -> str:
    """A set as it is written: `12`, `12/2`, `12|14`, `nocount`, `-`."""
    counts = (NOT_COUNTED if count is None else count_word(count) for _, count in sides)
    return SIDES.join(counts) or LEFT_OUT


def count_word(count: cmd.Count) -> str:
    """A count with the reserve stated: `12/2`."""
    return f"{count.value:g}" + ("" if count.reserve is None else f"/{count.reserve}")


def planned_sets_of(state: State, page: PaperPage) -> Iterator[int]:
    """The places of a page's work sets among the session's, in their order."""
    for index, planned_set in enumerate(state.course.planned_sets):
        planned = planned_set.swapped_for or planned_set.exercise
        if (planned_set.kind, planned_set.block, planned) == (
            "work",
            page.block,
            page.exercise.id,
        ) and (planned_set.group == page.group or planned_set.swapped_for):
            yield index


def warm_up_sets_of(state: State, page: PaperPage) -> Iterator[int]:
    """The places of a page's warm-up sets among the session's, in their order."""
    for index, one in enumerate(state.course.planned_sets):
        if (one.kind, one.block, one.exercise, one.group) == (
            "ramp",
            page.block,
            page.exercise.id,
            page.group,
        ):
            yield index


def _used(command: cmd.Command, level: Level) -> Level:
    """The level with the set-up and load used."""
    assert isinstance(command, cmd.Use)  # noqa: S101 - `load` and `setup` are read as nothing else
    unknown = [name for name, _ in command.setup if name not in dict(level.setup)]
    if unknown and level.setup:
        known = ", ".join(name for name, _ in level.setup)
        raise Refused(f"the set-up has no {shown(unknown[0])}; it has {known}")
    load = level.load if command.load is None else command.load
    return replace(level, load=load, setup=merged(level.setup, command.setup))


class Paper(Struct):
    """A session to write up: what it was, and what is known of it so far."""

    workout: Workout
    info: SessionInfo
    record: Record
    start: State  # of the session, nothing written
    pages: list[PaperPage]
    known: bool  # the trainee is in the record
    near: tuple[str, ...]
    same_day: tuple[SessionInfo, ...]  # the trainee's sessions of that date
    lighter_is: Offer  # what a lighter session of that day was
    after: list[cmd.Command] = field(default_factory=list)  # note, effort, body mass
    minutes: float | None = None
    lighter: bool = False
    wrote: dict[tuple[int, str, str], str] = field(default_factory=dict)  # by page, taken back
    then: date | None = None  # the date that is written up next
    kept: bool = False

    def put(self, at: int, page: PaperPage) -> int:
        """Write a page in its place; returns the place of its last set.

        Where the first set has a level of its own, the later ones have a page too: sets beyond the
        first go there. Raises Refused for what cannot be there.
        """
        later = next((n for n in range(at + 1, len(self.pages)) if self._later(page, n)), None)
        if later is None or not page.added:
            self.pages[at] = page
            return at
        page, beyond = page.divided()
        self.pages[later] = self.pages[later].having(beyond)
        self.pages[at] = page
        return later

    def _later(self, page: PaperPage, at: int) -> bool:
        """Whether the page at a place has the later sets of the same exercise in the block."""
        other = self.pages[at]
        same = (other.block, other.exercise.id) == (page.block, page.exercise.id)
        return same and without_part(other.group) == without_part(page.group)

    def make_lighter(self) -> None:
        """It was a lighter session: fewer planned sets, and no count to beat.

        Written sets stay; those beyond the fewer ones count as added.
        """
        self.lighter = True
        pages = {page.key: page for page in _pages(self._begun(())[-1].state)}
        for old in self.pages:
            # Of the versions that a plan names for its sets, one may have no set any more.
            key = old.key if old.key in pages else next(k for k in pages if k[:2] == old.key[:2])
            moved = (Part("level", level_word(old.first)),) if key != old.key and old.parts else ()
            new = pages[key]
            pages[key] = replace(new, parts=(*new.parts, *moved, *old.parts))
        self.pages = list(pages.values())

    def _begun(self, added: Sequence[Adjustment]) -> list[TurnResult]:
        """Its opening, and what was different from the plan."""
        found = [flow.opened(self.start)]
        taken = (self.lighter_is,) if self.lighter else ()
        changes = (*(change for offer in taken for change in offer.adjustments), *added)
        if changes:
            other = cmd.DoneOtherwise(tuple(offer.kind for offer in taken), changes)
            found.append(flow.handle(found[-1].state, other, 0.0))
        return found

    def result(self) -> TurnResult:
        """The session as it is read, from its opening to its close."""
        found = self._begun([page.addition for page in self.pages if page.added])
        end = cmd.End(), (self.minutes or 0.0) * 60
        commands = [*self._sets(found[-1].state), *self.after]
        for command, at in (*((one, 0.0) for one in commands), end):
            found.append(flow.handle(found[-1].state, command, at))
        return TurnResult(found[-1].state, tuple(one for each in found for one in each.events))

    def _sets(self, state: State) -> list[cmd.Command]:
        """The sets in the order of the session; those nobody wrote down are left alone."""
        written = [one for page in self.pages for one in _of_page(page, state)]
        return [command for _, command in sorted(written, key=lambda one: one[0])]

    @property
    def empty(self) -> bool:
        """Whether no set was done."""
        return not any(counts for page in self.pages for _, counts in page.sets)

    def twin(self, result: TurnResult) -> SessionInfo | None:
        """A session of that day with the same counts: the same text came twice.

        Or one that had these counts until an entry was corrected: the text is the old one.
        """
        mine = [_set_as_written(set_row(self.info, result.state, row)) for row in result.state.rows]
        for other in self.same_day:
            same = (other.plan, other.session) == (self.info.plan, self.info.session)
            if same and mine in (
                list(map(_set_as_written, self.record.session_rows(other.id))),
                self._sets_when_closed(other),
            ):
                return other
        return None

    def _sets_when_closed(self, other: SessionInfo) -> list[tuple[object, ...]]:
        """What a session said when it was closed; nothing where that is not known any more."""
        events = self.record.events(other.id)
        closed = next((at for at, event in enumerate(events, 1) if event.name == "closed"), 0)
        with suppress(MatsideError):
            state = replayed(other, events[:closed])
            return [_set_as_written(set_row(other, state, row)) for row in state.rows]
        return []

    def keep(self, result: TurnResult) -> None:
        """Save the whole of it, or nothing. Raises Unwritable."""
        events = [one.event for one in result.events]
        self.record.write_up(self.info, list(enumerate(events, 1)), result.state)
        self.kept = True


def _set_as_written(row: SetRow) -> tuple[object, ...]:
    """What a person says of a set."""
    done = (row.reps, row.hold_s, row.reserve, row.status, row.pain, row.note)
    return (row.exercise, row.set, row.side, row.version, row.setup, row.load_kg, *done)


def open_paper(
    of: str | Sheet,
    *,
    data: Path,
    trainee: str,
    clock: Clock,
    on: date,
    at: time | None = None,
    session: str | None = None,
) -> Paper:
    """A session of a plan, by its name, on a date, with the working levels of then.

    Or that of a sheet: of its plan as it was, at the levels that stand on it. Raises MatsideError
    for a plan that cannot be used, a date to come, an hour that the clocks left out, and a record
    that cannot be written.
    """
    sheet = of if isinstance(of, Sheet) else None
    if isinstance(of, Sheet):
        plan, text = parse_plan(of.plan_text, of.plan), of.plan_text
        session, trainee = of.session, of.trainee
    else:
        personal = read_for(find_plan(of, data), data, trainee)
        plan, text = personal.plan, personal.text
    now = clock.local()
    if on > now.date():
        raise MatsideError(f"--on {on} is in the future; today is {now.date()}", code=Exit.USAGE)
    record = Record.open(record_path(data, trial=plan.trial))
    try:
        workout = compile_session(plan, session or due_session(plan, record, trainee))
        same_day = tuple(record.sessions_on(trainee, on))
        begun = _begun(on, at, now, [one.started for one in same_day])
        written = None if sheet is None else sheet.levels
        baseline = record.baseline(trainee, workout, before=begun, written=written)
        phase = phase_now(plan, record, trainee, on)
        if sheet is not None:
            baseline = replace(baseline, changes=sheet.changes)
        elif phase is not None:
            changes = (*baseline.changes, *phase_changes(phase.phase, workout))
            baseline = replace(baseline, changes=changes)
        offers = before_session(record, trainee, workout, baseline, begun).offers
        lighter = next((one for one in offers if one.kind == LIGHTER_WORD), USUAL)
        known = trainee in record.trainees()
        near = () if known else tuple(record.similar(trainee))
    except BaseException:
        record.close()
        raise
    start = initial(workout, baseline)
    info = SessionInfo.opened(begun, workout, text, trainee)
    return Paper(workout, info, record, start, _pages(start), known, near, same_day, lighter)


def find_sheet(data: Path, id_: str) -> Sheet | None:
    """The sheet with that id, as a person types it, also of a trial plan; None if unknown."""
    for trial in (False, True):
        with Record.open_readonly(record_path(data, trial=trial)) as record:
            found = record.sheet(id_)
        if found is not None:
            return found
    return None


def _of_page(page: PaperPage, state: State) -> Iterator[tuple[tuple[int, int], cmd.Command]]:
    """What a page makes happen, each with its place in the session."""
    warm_up = [counts for _, counts in page.warm_up_sets]
    for index, counts in zip(warm_up_sets_of(state, page), warm_up, strict=False):
        level = state.course.planned_sets[index].level
        step = find_level(page.exercise, level)
        yield (index, 1), cmd.WriteUp(index, step, counts, level.load, level.setup)
    planned_sets, sets = list(planned_sets_of(state, page)), page.sets
    planned_sets += [n for n in _sets_of_any_part(state, page) if n not in planned_sets]
    if page.pain is not None and not any(counts for _, counts in sets):
        sets = ((page.sets_at_levels[0], ()),)  # it hurt before the first of them
    last = max((at for at, (_, counts) in enumerate(sets) if counts), default=0)
    now = page.exercise.id
    for at, ((exercise, level, _), counts) in enumerate(sets):
        if exercise.id != now:
            yield (
                (planned_sets[at], 0),
                cmd.SwappedOnPaper(
                    now, exercise.id, page.block, page.group if now == page.exercise.id else ""
                ),
            )
            now = exercise.id
        yield (
            (planned_sets[at], 1),
            cmd.WriteUp(
                planned_sets[at],
                find_level(exercise, level),
                counts,
                level.load,
                level.setup,
                page.pain if at == last else None,
                page.note if at == last else "",
            ),
        )


def _sets_of_any_part(state: State, page: PaperPage) -> Iterator[int]:
    """The places of the work sets of a page's exercise and group, the first and the later ones.

    A lighter session may have no page for the later ones.
    """
    here = (page.block, page.exercise.id, without_part(page.group))
    for index, one in enumerate(state.course.planned_sets):
        if one.kind == "work" and (one.block, one.exercise, without_part(one.group)) == here:
            yield index


def _pages(state: State) -> list[PaperPage]:
    """One for each exercise of a block, and each version that the plan names for its sets."""
    found: dict[tuple[int, str, str], int] = {}
    firsts: dict[tuple[int, str], int] = {}  # a ramp set is not asked for, and comes first
    for index, planned_set in enumerate(state.course.planned_sets):
        firsts.setdefault((planned_set.block, planned_set.exercise), index)
        if planned_set.kind == "work":
            found.setdefault((planned_set.block, planned_set.exercise, planned_set.group), index)
    in_order = sorted(found.items(), key=lambda one: (firsts[one[0][:2]], one[1]))
    return [
        PaperPage(state, block, state.workout.exercises[name], group)
        for (block, name, group), _ in in_order
    ]


def _begun(on: date, at: time | None, now: datetime, taken: Sequence[datetime]) -> datetime:
    """When the session stands in the record, in local time; never one that is taken."""
    begun = _local(datetime.combine(on, at or NOON), now)
    if at is not None and begun > now:
        raise MatsideError(f"--at {at:%H:%M} on {on} is in the future", code=Exit.USAGE)
    begun = min(begun, now)
    while begun.astimezone(UTC).replace(microsecond=0) in {t.replace(microsecond=0) for t in taken}:
        begun += timedelta(minutes=1)
    return begun


def _local(naive: datetime, now: datetime) -> datetime:
    """That time of the local clocks. An hour that came twice is its first."""
    zone = now.tzinfo
    named = isinstance(zone, ZoneInfo) or zone is UTC
    local = naive.replace(tzinfo=zone) if named else naive.astimezone()
    if local.astimezone(UTC).astimezone(local.tzinfo).replace(tzinfo=None) != naive:
        raise MatsideError(
            f"the clocks left out {naive:%H:%M} on {naive:%Y-%m-%d}; write a time that exists",
            code=Exit.USAGE,
        )
    return local
