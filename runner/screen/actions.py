"""What each action of the key registry does."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from rich.text import Text
from textual.app import ComposeResult
from textual.events import Key
from textual.widgets import Static

from runner.errors import Exit, MatsideError
from runner.live.advice import Stand, Standing
from runner.live.driver import Agreed, Store
from runner.live.schedule import Schedule, Shorter, shorter
from runner.live.session_setup import PAIN_ADVICE
from runner.live.sound_controls import Hearing
from runner.progress.advice import where_rules_come_from
from runner.progress.layoff import BEFORE_THE_START
from runner.progress.rules import Advice
from runner.screen.dialogs import Ask, Overlay, Page, PainPlace, Question
from runner.screen.entry import EntryLine
from runner.screen.keys import (
    ENTRY_HELP,
    MAIN,
    Action,
    EntryDoing,
    action,
    actions_of,
    key_name,
    key_of,
)
from runner.screen.live_screen import LiveScreen, PainAsked, UndoAsked
from runner.screen.paint import paint
from runner.session import entries, sounds, verb as cmd
from runner.session.apply import Refused, new_levels
from runner.session.changes import rung_text
from runner.session.events import Ended, Event, Pain, Skipped, Started
from runner.session.feedback import described, short
from runner.session.flow import last_act
from runner.session.words import STEP, Refusal, read_entry, read_line

# Going through what is advised, one exercise at a time: accept, refuse, or leave it for later.

Told = Callable[[str], None]


class Answers(Overlay[None]):
    """One piece of advice after another. Only the keys that it names count."""

    DEFAULT_CSS = """
    Answers { align: center middle; background: transparent; }
    Answers > Static { width: 90%; height: auto; padding: 1 3;
                       background: $mat-raised; color: $mat-ink; }
    """

    def __init__(self, standing: Standing, told: Told) -> None:
        """`told` gets what each answer means, in a few words, before it is kept."""
        super().__init__()
        self._standing, self._told = standing, told
        self._left = [stand.id for stand in standing.stands if stand.proposes]
        self._week = standing.lighter

    def compose(self) -> ComposeResult:
        """The advice at hand."""
        yield Static(Text(self.text))

    @property
    def text(self) -> str:
        """What is asked now."""
        if self._left:
            return "\n".join(_lines(self._stand, len(self._left)))
        if self._week is not None:
            return f"{_week_text(self._week)}\n\ny  accept      n  refuse      escape  later"
        return "Nothing to answer. Any key goes back."

    @property
    def _stand(self) -> Stand:
        return self._standing.find(self._left[0])

    def on_key(self, event: Key) -> None:
        """Accept, refuse, leave the rest for later; other keys are swallowed."""
        event.stop()
        if event.key == "escape" or not (self._left or self._week):
            self.dismiss(None)
        elif event.key == "y" or (event.key.isdigit() and event.key.isascii()):
            self._answer(int(event.key) if event.key.isdigit() else 1)
        elif event.key == "n":
            self._answer(None)

    def _answer(self, choice: int | None) -> None:
        """Take an answer, None to refuse, and go on to the next."""
        try:
            if self._left:
                self._of_exercise(choice)
                self._left.pop(0)
            elif self._week is not None:
                self._told("A lighter week, from today." if choice else "No lighter week.")
                self._standing.answer_lighter(self._week, accepted=choice is not None)
                self._week = None
        except Refused:
            return  # no such choice
        if self._left or self._week is not None:
            self.query_one(Static).update(Text(self.text))
        else:
            self.dismiss(None)

    def _of_exercise(self, choice: int | None) -> None:
        stand = self._stand
        if choice is None:
            self._told(f"{stand.name}: refused.")
            self._standing.refuse(stand)
        elif choice <= len(stand.changes):
            self._told(f"{stand.name}: {stand.changes[choice - 1].text}.")
            self._standing.accept(stand, choice)
        else:
            raise Refused("no such choice")


def _lines(stand: Stand, left: int) -> list[str]:
    advice = stand.advice
    expected = advice.line.partition(" -> ")[2]
    lines = [
        f"{stand.name}   held: {rung_text(stand.rung)}",
        "",
        f"{advice.rule} ({advice.mark}): {advice.reason}",
        "",
    ]
    for choice, change in enumerate(stand.changes, 1):
        key = "y" if choice == 1 else str(choice)
        text = expected if choice == 1 and expected else change.text
        lines.append(f"{key}  accept: {text}")
    lines.append("n  refuse; it rests until something new is done")
    more = f"      ({left - 1} more)" if left > 1 else ""
    lines.append(f"escape  later, with matside next{more}")
    return lines


def _week_text(advice: Advice) -> str:
    return f"{advice.rule} ({advice.mark}): {advice.reason}"


# Being over in time: by key, never by itself, and only after a question.


def in_time(app: LiveScreen) -> None:
    """Show what could be left out; where the session is not late, ask for a time first."""
    if app.live is None or app.schedule is None:
        return
    state, now = app.live.driver.state, app.live.driver.now()
    if app.schedule.late(state, now):
        _work_out(app, app.schedule, cmd.Shorten())
        return

    def take(text: str) -> str | None:
        if not text:
            return None
        try:
            command = read_line(f"shorten {text}")
        except Refused as refused:
            return str(refused)
        if isinstance(command, cmd.Shorten) and app.schedule is not None:
            app.call_later(_work_out, app, app.schedule, command)
        return None

    app.push_screen(Ask("Be over in how many minutes (10m), or by when (07:10)?", take))


def _work_out(app: LiveScreen, schedule: Schedule, command: cmd.Shorten) -> None:
    """Beside the screen: it takes some tenths of a second, in which a cue may fall due."""
    if app.live is None:
        return
    state, now = app.live.driver.state, app.live.driver.now()

    def work() -> None:
        try:
            until = schedule.seconds_for(command, state, now)
            found: Shorter | str = shorter(state, now, until, nearest=True)
        except Refused as refused:
            found = str(refused)
        app.call_from_thread(_show, app, found)

    app.run_worker(work, thread=True, exclusive=True, group="in time")


def _show(app: LiveScreen, found: Shorter | str) -> None:
    if isinstance(found, str):
        app.message = f"{found[0].upper()}{found[1:]}."
        app.refresh_view()
        return

    def answered(yes: bool | None) -> None:  # noqa: FBT001 - a dialog's answer
        if yes:
            app.send(found.command)

    app.push_screen(Question("\n".join((*found.lines, "", "Leave these out?"))), answered)


PAGE = 10  # lines of the sheet that the main key reads on
RECENT_S = 10.0  # seconds in which one press of undo is enough, and in which a second one counts

_COMMANDS: Mapping[str, cmd.Command] = {
    "pause": cmd.Pause(),
    "longer": cmd.Ask(STEP),
    "shorter": cmd.Ask(-STEP),
    "skip": cmd.Skip(),
    "late": cmd.Late(),
    "nocount": cmd.NoCount(),
    "easier": cmd.Step(-1),
    "harder": cmd.Step(1),
    "swap": cmd.Swap(),
    "drop": cmd.Drop(),
}


def act(app: LiveScreen, name: str) -> None:
    """Do an action of the registry, by its id."""
    app.message = ""
    if name in _COMMANDS:
        app.send(_COMMANDS[name])
    else:
        _OTHERS[name](app)
    app.refresh_view()


def edit(app: LiveScreen, doing: EntryDoing, text: str = "") -> None:
    """Do to the field what a key, or the clock, means for it."""
    line = app.line
    app.message = ""
    if doing == "name":
        app.message = f"Nothing is typed. {_main_key(app)}."
    elif line is None:
        if doing == "type":
            _correct(app, text)
    elif doing == "save":
        _save(app, line)
    elif doing == "drop":
        drop_correction(app)
    elif doing == "enter":
        app.message = f"{key_of_enter(app)} changes {line.asked.label}."
    else:
        changed = edited(line, doing, text)
        if changed.asked.was and not changed.touched:
            drop_correction(app)  # emptied: there is nothing to change
        else:
            app.field = app.field.show(changed)
    app.refresh_view()


def edited(line: EntryLine, doing: EntryDoing, text: str = "") -> EntryLine:
    """The line after what does not save it."""
    changed: Mapping[EntryDoing, Callable[[], EntryLine]] = {
        "type": lambda: line.type(text),
        "back": line.backspace,
        "open": line.open,
        "plus": lambda: line.step(1),
        "minus": lambda: line.step(-1),
        "clear": lambda: EntryLine(line.asked),
        "later": line.later,
    }
    return changed[doing]()


def key_of_enter(app: LiveScreen) -> str:
    """What changes a count, on the device whose key was pressed last."""
    return "." if app.remote else "Enter"


def drop_correction(app: LiveScreen) -> None:
    """Leave a count as it is, and say so."""
    line = app.line
    if line is not None and line.asked.was:
        app.field = replace(app.field, line=None)
        app.message = stays(line)
        app.field = app.field.follow(app.live.driver.state, ()) if app.live else app.field


def stays(line: EntryLine) -> str:
    """What is said where a correction is dropped."""
    return f"{line.asked.label} stays {line.asked.was}."


def _main_key(app: LiveScreen) -> str:
    """The main key and what it does now: `space: start now`."""
    phase = "ready" if app.live is None else app.live.driver.state.phase
    return f"{key_of(MAIN, remote=app.remote)}: {action(MAIN).label_in(phase)}"


def _correct(app: LiveScreen, text: str) -> None:
    """A digit where no count is missing: it corrects the last one, but not in a set."""
    if app.live is None or app.REHEARSES:
        return
    state = app.live.driver.state
    opened = app.field.corrected(state)
    if state.phase == "set":
        app.message = f"End the set first: {key_of(MAIN, remote=app.remote)}"
    elif opened is None or opened.line is None:
        app.message = "No count is saved yet."
    else:
        app.field = opened.show(opened.line.type(text))


def _save(app: LiveScreen, before: EntryLine) -> None:
    """Hand the count on; it stays with the reason where it is refused."""
    if app.live is None:
        return
    line, saved = before.save()
    app.field = app.field.show(line)
    if saved is None:
        return
    reason = app.send(saved.entry)
    if reason is not None:
        app.message = ""
        app.field = app.field.show(line.refused(reason))
        return
    app.guard.saved(app.live.driver.now())
    drop = app.line is not None and app.line.asked.was
    if drop:
        app.field = replace(app.field, line=None)
    if saved.remark:
        app.message = f"{app.message} {saved.remark}"


def _main(app: LiveScreen) -> None:
    """The one main action."""
    if app.live is None:
        return
    phase = app.live.driver.state.phase
    if app.tryout:
        app.tried += 1
        app.message = f"Key seen: {app.tried}. t goes back."
        app.player.play("start")
    elif phase == "closed":
        app.leave(Exit.OK)
    elif phase == "rest":
        app.send(cmd.StartNow())
    elif phase == "ready" and not app.cautions_known and _read_on(app):
        app.message = "Read on: what is to be known comes first. The last page begins."
    elif phase == "wrap-up" and not app.REHEARSES and _warns_of_open(app):
        app.message = f"{_not_entered(app)}. Once more closes all the same."
    else:
        app.scroll = 0
        if app.send(cmd.Proceed()) is None and phase == "ready" and not app.cautions_known:
            app.opening.acknowledge(app.live)


def _warns_of_open(app: LiveScreen) -> bool:
    """Whether counts are missing that closing has not been warned of; a remote answers no y."""
    before, app.warned_of = app.warned_of, _open_counts(app)
    return app.warned_of > 0 and app.warned_of != before


def _open_counts(app: LiveScreen) -> int:
    return 0 if app.live is None else len(app.live.driver.state.open_rows)


def _not_entered(app: LiveScreen) -> str:
    count = _open_counts(app)
    return "1 count is not entered yet" if count == 1 else f"{count} counts are not entered yet"


def _read_on(app: LiveScreen) -> bool:
    """A page further down the sheet; False at its end. Nobody acknowledges what was not shown."""
    before = app.scroll
    for _ in range(PAGE):
        _scroll(1)(app)
    return app.scroll != before


def _try_out(app: LiveScreen) -> None:
    app.tryout = not app.tryout
    app.tried = 0
    if app.tryout:
        app.player.play("start")
        app.message = "Can you read this from the mat? Did you hear this? Try the key."


def _end(app: LiveScreen) -> None:
    """Ask whether to close; a number typed and not doubtful is saved first."""
    if app.line is not None and app.line.kind in ("typed", "stepped"):
        _save(app, app.line)

    def answered(yes: bool | None) -> None:  # noqa: FBT001 - a dialog's answer
        if yes:
            app.send(cmd.End())

    warning = f"\n{_not_entered(app)}." if _open_counts(app) and not app.REHEARSES else ""
    app.push_screen(Question(f"Close the session now?{warning}"), answered)


def _heard(change: Callable[[Hearing], str]) -> Callable[[LiveScreen], None]:
    """Change what is heard, and tell how it stands now."""

    def do(app: LiveScreen) -> None:
        app.message = change(app.hearing)

    return do


def _pacer(app: LiveScreen) -> None:
    """Turn the pacer on or off, and say where there is nothing for it to do."""
    if app.live is None:
        return
    driver = app.live.driver
    driver.pace(on=not driver.paced)
    app.message = sounds.told(driver.state, on=driver.paced)


def _scroll(by: int) -> Callable[[LiveScreen], None]:
    def scroll(app: LiveScreen) -> None:
        """Scroll on, if there is anything more to see."""
        view, size = app.view, app.mat_size
        wanted = max(app.scroll + by, 0)
        if view is None:
            return
        now = paint(replace(view, scroll=app.scroll), *size)
        if paint(replace(view, scroll=wanted), *size) != now:
            app.scroll = wanted

    return scroll


def _help(app: LiveScreen) -> None:
    """All keys, those that count now first; one key may mean something else at another time."""
    phase = "ready" if app.live is None else app.live.driver.state.phase
    known = actions_of(rehearses=app.REHEARSES)
    now = [_explained(a) for a in known if phase in a.phases]
    later = [_explained(a) for a in known if phase not in a.phases]
    lines = [*now, "", "At other times:", *later]
    if not app.REHEARSES:
        lines += ["", "The count of a set:", *(f"{keys:<32}{what}" for keys, what in ENTRY_HELP)]
        lines += ["", *where_rules_come_from()]
    app.push_screen(Page("Keys", lines))


def _explained(action: Action) -> str:
    return f"{', '.join(map(key_name, action.keys)):<32}{action.help}"


def _word(label: str, word: str | Callable[[str], str]) -> Callable[[LiveScreen], None]:
    """Ask for a text that line mode's word reads: one way to read it for both.

    `word` may depend on the text.
    """

    def ask(app: LiveScreen) -> None:
        def take(text: str) -> str | None:
            if not text:
                return None
            try:
                said = word if isinstance(word, str) else word(text)
                command = read_line(f"{said} {text}")
            except Refused as refused:
                return str(refused)
            return app.send(command)

        app.push_screen(Ask(label, take))

    return ask


def _undo(app: LiveScreen) -> None:
    """Take the last act back; one that is older, or began or ended a set, at the second press."""
    if app.live is None:
        return
    driver = app.live.driver
    driver.tick()  # what the clock has begun by now is the last act
    events, asked, now = last_act(driver.state), app.undo_asked, app.hand_time()
    app.undo_asked = None
    big = any(_begins_or_ends(event) for event in events)
    if (
        not events
        or not (big or driver.now() - events[0].at > RECENT_S)
        or (asked is not None and asked.act == events[0].act and now <= asked.until)
    ):
        app.send(cmd.Undo())
    else:
        key = key_of("undo", remote=app.remote)
        text = f"{key} again takes back: {described(events, driver.state)}"
        app.undo_asked = UndoAsked(events[0].act, now + RECENT_S, text)
        app.message = text


def _begins_or_ends(event: Event) -> bool:
    """Whether an event begins or ends a set."""
    given_up = isinstance(event, Skipped) and event.given_up == "yes"
    return given_up or isinstance(event, Started | Ended)


def takes_back(app: LiveScreen) -> str:
    """What undo's key on the device in hand does."""
    return f"{key_of('undo', remote=app.remote)} takes it back"


def undo_is_over(app: LiveScreen) -> None:
    """Forget the first press of undo once its time is over, and what was said of it."""
    asked = app.undo_asked
    if asked is not None and app.hand_time() >= asked.until:
        app.undo_asked = None
        app.message = "" if app.message == asked.text else app.message


def _pain(app: LiveScreen) -> None:
    """End what hurts at once; between two exercises ask which, while the rest goes on."""
    if app.live is None:
        return
    state = app.live.driver.state
    row, coming = state.last_begun, state.coming
    if state.phase in ("rest", "paused") and row is not None and coming is not None:
        last, following = row.slot.exercise, coming[0].exercise
        if last != following:
            which = f"l {short(state, last)}, last · n {short(state, following)}, next"
            app.pain_asked = PainAsked(last, following, f"Which hurts? {which}")
            return
    _hurts(app, None)


def answer_pain(app: LiveScreen, key: str) -> bool:
    """Whether the key answers the question which exercise hurts; other keys mean what they do."""
    asked = app.pain_asked
    if asked is None or key not in ("l", "n", "escape"):
        return False
    app.pain_asked, app.undo_asked, app.message = None, None, ""
    if key != "escape":
        _hurts(app, asked.last if key == "l" else asked.next)
    app.refresh_view()
    return True


def _hurts(app: LiveScreen, exercise: str | None) -> None:
    """The exercise is over for today; then ask where it hurts."""
    if app.send(cmd.Hurt(exercise=exercise)) is not None or app.live is None:
        return
    state = app.live.driver.state
    pain = next(e for e in reversed(state.log) if isinstance(e, Pain))

    def told(where: str) -> None:
        if where:
            app.send(cmd.Hurt(where, entry=pain.entry))

    app.push_screen(PainPlace(app.message, PAIN_ADVICE, told, lambda: app.send(cmd.Undo())))


def _gear_word(text: str) -> str:
    """The word for what was really used: `height=60 cm` is a set-up, `12` a load."""
    return "setup" if "=" in text else "load"


def _fix(app: LiveScreen) -> None:
    """Correct an earlier entry: its number and its count."""
    if app.live is None:
        return
    state = app.live.driver.state
    rows = [r for r in state.rows if r.status in ("done", "broken")]
    known = " ".join(f"{r.entry}:{state.exercise(r).short}" for r in rows[-8:])
    asked: list[str] = []  # texts with a doubtful count

    def take(text: str) -> str | None:
        if not text:
            return None
        number, _, count = text.partition(" ")
        row = next((r for r in rows if str(r.entry) == number), None)
        if row is None:
            return f"write the entry's number and its count, such as 3 13; there are {known}"
        entry = read_entry(count, bare=state.exercise(row).measure)
        if isinstance(entry, Refusal):
            return entry.reason
        if len(entry.counts) != 1:
            return "an entry is one side: write one count"
        fix = cmd.Fix(row.entry, entry.measure, entry.counts[0])
        if entries.doubts(state, fix) and text not in asked:
            asked.append(text)
            return f"{count}? Press enter again, or type another number."
        return app.send(fix)

    app.push_screen(Ask(f"Number and count, such as 3 13 ({known})", take))


def _offer(kind: str) -> Callable[[LiveScreen], None]:
    """Take an offer, or give it back: then the others that were taken are taken anew."""

    def take(app: LiveScreen) -> None:
        if app.live is None:
            return
        taken = app.live.driver.state.taken
        if kind not in taken:
            app.send(cmd.Take(kind))
            return
        app.send(cmd.Take(""))
        for other in taken:
            if other != kind:
                app.send(cmd.Take(other))

    return take


def _unwell(app: LiveScreen) -> None:
    """Ask once; after a yes say where to turn, and there is no session today."""

    def read(_: None) -> None:
        app.leave(Exit.OK)

    def answered(yes: bool | None) -> None:  # noqa: FBT001 - a dialog's answer
        if yes and app.send(cmd.Unwell()) is None:
            app.push_screen(Page("Not today", BEFORE_THE_START.answer), read)

    signs = "\n".join(f"- {sign}" for sign in BEFORE_THE_START.signs)
    app.push_screen(Question(f"{BEFORE_THE_START.text}\n\n{signs}"), answered)


def _answer(app: LiveScreen) -> None:
    """Go through what is advised."""
    if app.outcome is None or app.live is None:
        return
    keeper, meant = app.live.driver.keeper, ""
    if not keeper.settled:  # the record may be locked: nobody waits for it here
        app.message = "The record is still being written: press a again in a moment."
        return

    def said(text: str) -> None:
        app.message = text
        if app.outcome is not None:
            app.outcome.forget()
        app.refresh_view()

    def write(answer: Callable[[Store], None]) -> None:
        """Say what the answer means once it is on file."""
        text = meant
        keeper.agree(
            Agreed(
                answer,
                lambda error: app.call_later(said, f"NOT KEPT: {error}" if error else text),
            )
        )

    def told(text: str) -> None:
        nonlocal meant
        meant = text

    try:
        standing = app.outcome.standing(write)
    except MatsideError as error:
        app.message = str(error)
        return
    app.push_screen(Answers(standing, told))


def _today(app: LiveScreen) -> None:
    """Mark the levels that are not as planned as for today only; a second time, keep them."""
    if app.live is None:
        return
    differ = new_levels(app.live.driver.state)
    marked = bool(differ) and all(one.today_only for one in differ)
    app.send(cmd.Keep(today_only=not marked))


_OTHERS: Mapping[str, Callable[[LiveScreen], None]] = {
    "today": _today,
    "main": _main,
    "try": _try_out,
    "end": _end,
    "sound": _heard(Hearing.toggle_sound),
    "volume": _heard(Hearing.quieter),
    "voice": _heard(Hearing.next_mode),
    "voice-volume": _heard(Hearing.voice_quieter),
    "pacer": _pacer,
    "light": lambda app: app.toggle_light(),
    "up": _scroll(-1),
    "down": _scroll(1),
    "help": _help,
    "undo": _undo,
    "pain": _pain,
    "note": _word("Note", "note"),
    "rate": _word("How hard was the session, 0 to 10?", "rpe"),
    "mass": _word("Body mass in kg", "mass"),
    "gear": _word("Really used: kilograms (12), or name=value (height=60 cm)", _gear_word),
    "lighter": _offer("lighter"),
    "place": _offer("place"),
    "unwell": _unwell,
    "answer": _answer,
    "fix": _fix,
    "in-time": in_time,
}
