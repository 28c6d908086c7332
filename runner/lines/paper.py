"""Writing up a session from paper, line by line.

At a terminal a line that cannot be used is asked for again. From a pipe nobody can be asked, and a
line taken for the wrong exercise would be worse than none. So the first unusable line ends it, and
nothing is kept.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime
from typing import TextIO

from msgspec import Struct, field
from msgspec.structs import replace

from runner import text
from runner.errors import Exit, MatsideError
from runner.law.workout import load_text
from runner.lines.event_lines import line_of
from runner.live.corrections import SessionCorrection
from runner.live.driver import SettledEvent
from runner.live.paper import LONGEST, Paper, PaperPage, set_word
from runner.live.session_setup import PAIN_ADVICE
from runner.progress.adjust import LevelKey, level_key
from runner.record.rows import SessionInfo
from runner.session import apply, entries, events as ev, verb as cmd
from runner.session.apply import EventInPhase, Refused
from runner.session.changes import level_text
from runner.session.flow import read_line
from runner.session.paper import read_paper
from runner.session.state import Row, State
from runner.session.verb import shown

HELP = (
    ("12 11 9", "a count for each set; 12/2 with 2 in reserve, - for a set left out"),
    ("12 14, 11 13", "one-sided: left and right, a comma between sets; or 12|14 11|13"),
    ("45 40", "seconds of a hold"),
    ("12 11; light:8kg 9", "another level from there on; more sets than planned were added"),
    ("empty line", "the exercise was not done"),
    ("load 12", "kg used; setup height=60 cm: set-up used"),
    ("easier, harder", "one level easier or harder than shown"),
    ("version ID", "another version of the exercise"),
    ("swap ID", "done with that substitute"),
    ("pain PLACE", "it hurt in the last of its sets"),
    ("note TEXT", "a note beside its last set"),
    ("warm-up 10", "a count for each of its warm-up sets"),
    ("row=light:12kg 9", "another exercise than the one asked for, by its id"),
    ("lighter", "it was a lighter session"),
    ("back", "go back to the exercise before"),
)
AFTER = (
    "rpe 7, mass 74.5, minutes 50, lighter, note TEXT; on DATE: another session after this one; "
    "an empty line ends it"
)
_AFTER = (cmd.Rate, cmd.Weigh, cmd.Note)


class EndOfInput(Exception):
    """The input has ended."""


class Talk:
    """Lines from a person or a pipe, and what the program says to them."""

    def __init__(
        self, lines: Iterator[str], out: TextIO, say: TextIO, *, terminal: bool, seen: bool = False
    ) -> None:
        """`terminal`: a person answers; `seen`: the same person would see the events, too."""
        self._lines, self._out, self._say = lines, out, say
        self._terminal, self._seen = terminal, seen
        self._number = 0

    @property
    def terminal(self) -> bool:
        """Whether a person can be asked."""
        return self._terminal

    def say(self, *lines: str) -> None:
        """Tell a person something."""
        for line in lines:
            whole = text.shown(line, "?")
            width = (
                min(shutil.get_terminal_size().columns, 80) if self._terminal else len(whole) or 1
            )
            print("\n".join(text.hanging(whole, width)), file=self._say)
        self._say.flush()

    def ask(self, prompt: str) -> str:
        """The next line. Raises Ended."""
        if self._terminal:
            self._say.write(f"{prompt}> ")
            self._say.flush()
        try:
            line = next(self._lines)
        except StopIteration:
            raise EndOfInput from None
        self._number += 1
        return line.strip()

    def refuse(self, reason: str) -> None:
        """Say what is wrong with the last line; from a pipe, end there (65)."""
        if not self._terminal:
            raise MatsideError(f"line {self._number}: {reason}", "nothing is saved", code=Exit.DATA)
        self.say(f"not used: {reason}")

    def confirmed(self, question: str) -> bool:
        """Whether the answer is yes. Raises Ended where the input ends before an answer."""
        while True:
            if self._terminal:
                self.say(question)
            answer = self.ask("y or n").lower()
            if answer in ("y", "yes"):
                return True
            if answer in ("n", "no"):
                return False
            self.refuse("write y or n")

    def show(
        self, events: list[EventInPhase] | tuple[EventInPhase, ...], info: SessionInfo
    ) -> None:
        """Print what was saved: a line for each event, as line mode does; or to a person."""
        if self._seen:
            day = f"{info.local_date:%A} {info.local_date}"
            self.say(f"Saved: session {info.session} of {day}, for {info.trainee}.")
            return
        for one in events:
            self._out.write(line_of(SettledEvent(one.event, one.phase, kept=True), info) + "\n")
        self._out.flush()


def write_up(paper: Paper, talk: Talk, *, yes: bool) -> int:
    """Ask for a session's counts, show how they are read, and save it; returns the exit code."""
    _introduce(paper, talk)
    talk.say(
        "A count for each set, in one line: 12 11/2 9. An empty line: not done. help shows more."
    )
    try:
        _exercises(paper, talk)
    except EndOfInput:
        return _nothing(talk, "the input ended before the last exercise")
    try:
        _afterwards(paper, talk)
    except EndOfInput:
        if not yes:
            return _nothing(
                talk, "the input ended before you answered y; --yes saves without asking"
            )
    return _finish(paper, talk, yes=yes)


def _finish(paper: Paper, talk: Talk, *, yes: bool) -> int:
    """Show how it is read, ask, and save it."""
    if paper.empty:
        return _nothing(talk, "no set was done", Exit.OK)
    result = paper.result()
    talk.say("", *_understood(result.state, paper.minutes))
    try:
        if not yes and not talk.confirmed("Save this session?"):
            return _nothing(talk, "you answered no", Exit.OK)
    except EndOfInput:
        return _nothing(talk, "the input ended before you answered y; --yes saves without asking")
    paper.keep(result)
    talk.show(result.events, paper.info)
    return Exit.OK


def _nothing(talk: Talk, why: str, code: Exit = Exit.USAGE) -> int:
    talk.say(f"Nothing is saved: {why}.")
    return code


def _introduce(paper: Paper, talk: Talk) -> None:
    info, workout = paper.info, paper.workout
    if not paper.known:
        talk.say(f"{info.trainee} is new here.")
        if paper.near:
            talk.say(f"Similar names: {', '.join(paper.near)} (--for NAME).")
    talk.say(f"{info.local_date:%A} {info.local_date}, {workout.heading}, for {info.trainee}")
    for other in paper.same_day:
        talk.say(
            f"That day has a session already: {other.plan}, {other.session}, "
            f"{other.local(0):%H:%M}. matside saves this one beside it."
        )


def _exercises(paper: Paper, talk: Talk) -> None:
    """Ask for one exercise after the other, except those written already."""
    index = 0
    while index < len(paper.pages):
        page = paper.pages[index]
        if page.written:
            index += 1
            continue
        talk.say(_asked(page, index, len(paper.pages), paper.wrote.get(page.key, "")))
        index += _one(paper, talk, index)


def _asked(page: PaperPage, index: int, of: int, was: str) -> str:
    """The question: exercise, sets, set-up, last time."""
    exercise, level, _ = page.sets_at_levels[-1]
    exercise = exercise.at(level.version)
    planned_sets = (
        replace(page.state.course.planned_sets[index], level=level) for index in page.planned_sets
    )
    beat = " ".join(
        "|".join(
            f"{value:g}"
            for side in ("both", "left", "right")
            if (value := apply.to_beat(page.state, planned_set, side)) is not None
        )
        or "-"
        for planned_set in planned_sets
    )
    known = f"; last time {beat}" if beat.strip("- ") else ""
    sides = "" if exercise.sides == "together" else ", left and right"
    at_level = ", seconds held" if exercise.measure == "hold" else ""
    again = f"; you wrote {was}; write it again" if was else ""
    sets = text.how_many(len(page.planned_sets), "set")
    return (
        f"{index + 1} of {of}  {exercise.name}, {sets}{sides}{at_level}"
        f": {level_text(level)}{known}{again}"
    )


def _one(paper: Paper, talk: Talk, index: int) -> int:
    """Ask until an exercise is written; returns how many exercises to go on, or back."""
    asked = ""  # the line with doubtful counts, already asked about
    while line := talk.ask(paper.pages[index].exercise.short):
        page = paper.pages[index]
        if line == "help":
            talk.say(*(f"{form:<20}{meaning}" for form, meaning in HELP))
        elif line == "back" and index:
            before = paper.pages[index - 1]
            paper.wrote[before.key] = " ".join(set_word(sides) for _, sides in before.sets)
            paper.pages[index - 1] = before.afresh()
            return -1
        elif line == "back":
            talk.refuse("this is the first exercise")
        elif line == "lighter":
            paper.make_lighter()
            talk.say("  a lighter session")
            return 0
        else:
            try:
                at, new = written(paper, line, index)
            except Refused as refused:
                talk.refuse(str(refused))
                continue
            if line != asked and _asks_again(_doubts(new, page.state.baseline.best), talk):
                asked = line
                continue
            last = paper.put(at, new)
            new = paper.pages[at]
            _say_changed(talk, page, new)
            if last != at:
                talk.say(f"  {_later_sets(paper.pages[last])}")
            if at == index and new.written:
                return 1
    return 1


def _say_changed(talk: Talk, page: PaperPage, new: PaperPage) -> None:
    if new.added and new.added != page.added:
        talk.say(f"  {text.how_many(new.added, 'set')} beyond the plan")
    if new.pain is not None and page.pain is None:
        talk.say(*PAIN_ADVICE[1:])
    if not new.written:
        talk.say(f"  {level_text(new.level)}")


def _later_sets(page: PaperPage) -> str:
    """The sets after the first one: `later sets, on the knees: 15 14`."""
    counts = " ".join(set_word(sides) for _, sides in page.sets)
    return f"later sets, {level_text(page.sets[0][0].level)}: {counts}"


def written(paper: Paper, line: str, index: int | None) -> tuple[int, PaperPage]:
    """The page that a line is about, by default the one at `place`, and the page with the line.

    Raises Refused for a line that is impossible or unclear.
    """
    pages = paper.pages
    ids: dict[str, int] = {}  # of several pages with that name, the first that is not written yet
    for at, page in enumerate(pages):
        for name in page.ids:
            if name not in ids or (pages[ids[name]].written and not page.written):
                ids[name] = at
    read = read_paper(line, ids)
    if index is None or read.exercise not in ("", *pages[index].ids):
        if not read.exercise:
            raise Refused(f"name the exercise first: {next(iter(ids))} 12 11")
        index = ids[read.exercise]
    return index, pages[index].having(read.parts)


def _asks_again(doubts: str, talk: Talk) -> bool:
    """Ask about doubtful counts, or report them where nobody answers; True: wait for a line."""
    if doubts and talk.terminal:
        talk.say(f"{doubts}? The same line again keeps it, or write another.")
        return True
    if doubts:
        talk.say(f"{doubts} is written down. If it is wrong: matside log --fix.")
    return False


def _doubts(page: PaperPage, best: Mapping[LevelKey, float]) -> str:
    """The doubtful counts of a page, by the rule of a session, and why."""
    found = (
        f"{exercise.short} {number}: {count.value:g} ({why})"
        for number, ((exercise, level, _), sides) in enumerate(page.sets, 1)
        for _, count in sides
        if count is not None
        and (
            why := entries.doubtful(
                count.value,
                exercise.at(level.version).rep_range[1],
                best.get(level_key(exercise.id, level)),
            )
        )
    )
    return ", ".join(found)


def _afterwards(paper: Paper, talk: Talk) -> None:
    talk.say(AFTER)
    while line := talk.ask("anything else"):
        if line == "help":
            talk.say(AFTER)
            continue
        try:
            _say_of_it(paper, line)
        except Refused as refused:
            talk.refuse(str(refused))
        if paper.then is not None:
            return


def _say_of_it(paper: Paper, line: str) -> None:
    """Take a line about the whole session. Raises Refused."""
    word, _, rest = line.partition(" ")
    if found := re.fullmatch(r"minutes +([0-9]{1,4})", line):
        if not 1 <= int(found[1]) <= LONGEST:
            raise Refused(f"write minutes of 1 to {LONGEST}")
        paper.minutes = float(found[1])
    elif line == "lighter":
        paper.make_lighter()
    elif word == "on":
        paper.then = read_day(rest)
    else:
        command = read_line(line)
        if not isinstance(command, _AFTER):
            raise Refused(f"{shown(line)} is unknown here: {AFTER}")
        paper.after.append(command)


def ask_dates(talk: Talk, sheet: str) -> list[date]:
    """The date of the first session on a sheet. Raises MatsideError (2) where nobody gives one."""
    try:
        while True:
            line = talk.ask(f"sheet {sheet}: date of the session")
            try:
                return [read_day(line.removeprefix("on "))]
            except Refused as refused:
                talk.refuse(str(refused))
    except EndOfInput:
        raise MatsideError("name the date: --on 2026-11-23", code=Exit.USAGE) from None


def read_day(rest: str) -> date:
    """The date after `on`. Raises Refused."""
    found = text.read_day(rest.strip())
    if found is None:
        raise Refused(f"{shown(rest)} is not a date; write it as 2026-11-25")
    return found


# A whole text, as a sheet on a phone copies it.


class Day(Struct):
    """What a text says of one session: its date, if any, and its numbered lines."""

    on: date | None = None
    sheet: str = ""  # the sheet's id
    session: str = ""
    lines: list[tuple[int, str]] = field(default_factory=list)


def days_of(lines: Iterable[str]) -> list[Day]:
    """The sessions of a text, each from its `on DATE`; `sheet ID` holds for all that follow.

    Raises MatsideError (65) for a text after `on` that is not a date.
    """
    found = [Day()]
    for number, line in enumerate(lines, 1):
        word, _, rest = line.strip().partition(" ")
        rest = rest.strip()
        if word == "plan" and rest:
            continue  # only for people: a sheet's id says it
        if word in ("on", "sheet") and rest and found[-1].lines:
            found.append(Day(sheet=found[-1].sheet))
        day = found[-1]
        if word == "on":
            try:
                day.on = read_day(rest)
            except Refused as refused:
                raise _bad(number, str(refused)) from None
        elif word == "sheet" and rest:
            day.sheet = rest
        elif word == "session" and rest:
            day.session = rest
        elif word:
            day.lines.append((number, line.strip()))
    return [day for day in found if day.lines]


def _bad(number: int, reason: str) -> MatsideError:
    return MatsideError(f"line {number}: {reason}", "nothing of it is saved", code=Exit.DATA)


def write_lines(paper: Paper, day: Day) -> list[str]:
    """Write a session's lines on its paper; what is doubtful in them.

    A line without an exercise is about the one before. Raises MatsideError (65) with the number
    of a line that cannot be used.
    """
    index: int | None = None
    doubtful = []
    for number, line in day.lines:
        try:
            if line.partition(" ")[0] in ("rpe", "mass", "minutes", "lighter") or (
                index is None and line.startswith("note ")
            ):
                _say_of_it(paper, line)
            else:
                index, page = written(paper, line, index)
                if doubts := _doubts(page, page.state.baseline.best):
                    doubtful.append(f"line {number}: {doubts}?")
                index = paper.put(index, page)
        except Refused as refused:
            raise _bad(number, str(refused)) from None
    return doubtful


def take_down(paper: Paper, day: Day, talk: Talk, *, yes: bool) -> int:
    """Write up a session from such lines, show how they are read, and save it; the exit code.

    A line without an exercise is about the one before. Raises MatsideError (65) with the number of
    a line that cannot be used.
    """
    _introduce(paper, talk)
    talk.say(*write_lines(paper, day))
    twin = None if paper.empty else paper.twin(paper.result())
    if twin is not None:
        return _nothing(talk, f"the session of {twin.local(0):%H:%M} says the same", Exit.OK)
    return _finish(paper, talk, yes=yes)


def _understood(state: State, minutes: float | None) -> Iterator[str]:
    """The session as it would be saved, a line for each exercise and version."""
    found: dict[tuple[str, str], list[Row]] = {}
    for row in state.rows:
        found.setdefault((state.exercise(row).name, level_text(row.planned_set.level)), []).append(
            row
        )
    width = max((len(name) for name, _ in found), default=0)
    for (name, setup), rows in found.items():
        beaten = sum(row.beaten == "yes" for row in rows)
        judged = sum(row.beaten is not None for row in rows)
        said = f"   beaten: {beaten} of {judged}" if judged else ""
        hurt = "   it hurt" if any(row.pain for row in rows) else ""
        unit = " s" if state.exercise(rows[0]).measure == "hold" else ""
        yield f"  {name:<{width}}  {setup}:  {counts_text(rows)}{unit}{said}{hurt}"
    if state.rpe is not None:
        yield f"  how hard: {state.rpe:g}"
    if minutes is not None:
        yield f"  minutes: {minutes:g}"
    if state.mass is not None:
        yield f"  body mass: {state.mass:g} kg"
    for name in state.taken:
        yield f"  a {name} session"
    undone = sum(s.status == "todo" and s.kind == "work" for s in state.course.planned_sets)
    if undone:
        yield f"  not done: {text.how_many(undone, 'set')}"


def counts_text(rows: list[Row]) -> str:
    """Counts of an exercise in their order: `12 11/2 -`; one-sided `12|14 11|13`."""
    sets: dict[int, dict[str, str]] = {}
    for row in rows:
        sets.setdefault(row.index, {})[row.side] = _count_text(row)
    found = (
        "|".join(one[side] for side in ("both", "left", "right") if side in one)
        for one in sets.values()
    )
    return " ".join("-" if text == "-|-" else text for text in found)  # as it is typed


def _count_text(row: Row) -> str:
    if row.status == "skipped":
        return "-"
    if row.value is None:
        return "nocount" if not row.counted else "?"
    return _amount(row.value, row.reserve)


def _amount(value: float, reserve: int | None) -> str:
    return f"{value:g}" + ("" if reserve is None else f"/{reserve}")


def put_right(correction: SessionCorrection, talk: Talk, now: datetime, *, yes: bool) -> int:
    """List a closed session's entries, take corrections, and keep them; the exit code."""
    info = correction.info
    talk.say(f"{info.local_date}, {info.plan}, session {info.session}, for {info.trainee}")
    talk.say(*map(_entry_text, _with(correction.state)))
    talk.say("Entry and count, like 3 13, or 3 nocount; an empty line ends it.")
    asked = ""  # the line whose count was asked about
    try:
        while line := talk.ask("fix"):
            try:
                command = _correction(correction.state, line)
                if line != asked and _asks_again(_doubted(correction.state, command), talk):
                    asked = line
                    continue
                correction.fix(command, now)
            except Refused as refused:
                talk.refuse(str(refused))
    except EndOfInput:
        pass
    if not correction.events:
        return _nothing(talk, "no entry was corrected", Exit.OK)
    talk.say(*_changes(correction))
    try:
        if not yes and not talk.confirmed("Save this session?"):
            return _nothing(talk, "you answered no", Exit.OK)
    except EndOfInput:
        return _nothing(talk, "the input ended before you answered y; --yes saves without asking")
    correction.keep()
    talk.show(correction.events, info)
    return Exit.OK


def _doubted(state: State, command: cmd.Command) -> str:
    """The counts of a correction that are doubtful, and why."""
    return ", ".join(
        f"{entries.set_name(state, one.row)}: {one.value:g} ({one.why})"
        for one in entries.doubts(state, command)
    )


def _with(state: State) -> list[tuple[State, Row]]:
    return [(state, row) for row in state.rows if row.status in ("done", "broken")]


def _entry_text(of: tuple[State, Row]) -> str:
    state, row = of
    side = "" if row.side == "both" else f" {row.side}"
    return (
        f"{row.entry:>4}  {state.exercise(row).name}, set {row.planned_set.number}{side}, "
        f"{level_text(row.planned_set.level)}: {_count_text(row)}"
    )


def _correction(state: State, line: str) -> cmd.Fix | cmd.NoCount:
    """What a line like `3 13` asks for; holds take plain seconds too. Raises Refused."""
    number, _, count = line.removeprefix("fix ").partition(" ")
    rows = {str(row.entry): row for row in state.rows}
    row = rows.get(number)
    if row is not None and state.exercise(row).measure == "hold":
        count = re.sub(r"^([0-9.]+)(?=/|$)", r"\1s", count.strip())
    command = read_line(f"fix {number} {count.strip()}")
    if not isinstance(command, cmd.Fix | cmd.NoCount):
        raise Refused("write the entry's number and its count: 3 13")
    return command


def _changes(correction: SessionCorrection) -> Iterator[str]:
    """What is different, an entry a line; and that the rest follows."""
    changed = dict.fromkeys(
        one.event.entry for one in correction.events if isinstance(one.event, ev.Corrected)
    )
    for entry in changed:
        row = correction.state.rows[entry - 1]
        beat = "" if row.to_beat is None else f", to beat then {load_text(row.to_beat)}"
        said = {"yes": ": beaten", "no": ": not beaten", None: ""}[row.beaten]
        yield _entry_text((correction.state, row)) + beat + said
    yield "Counts to beat of later sessions stay; bests, advice and weeks use the new count."
