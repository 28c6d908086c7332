"""One registry of keys: footer and help come from it, and what a key means.

Key names are Textual's. Only keys that reach a program in every terminal stand here: no function
keys, no control keys that terminals merge with others. A presenter remote is a keyboard with page
down, page up, `.` or `b`, and a button that alternates F5 and escape; the last two do nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from runner.screen.entry import Deed, EntryLine, Kind, Press, deeds
from runner.session.state import Phase

MAIN = "main"
EntryDoing = Literal["type", "back"] | Deed

_ALL: tuple[Phase, ...] = ("ready", "warm-up", "rest", "set", "paused", "wrap-up", "closed")
_BEGUN: tuple[Phase, ...] = ("warm-up", "rest", "set", "paused", "wrap-up")
_OPEN: tuple[Phase, ...] = ("ready", *_BEGUN)
_WORK: tuple[Phase, ...] = ("rest", "set", "paused")
_AFTER_ONE: tuple[Phase, ...] = (*_WORK, "wrap-up")  # once a set has been done
_SHEETS: tuple[Phase, ...] = ("ready", "wrap-up", "closed")
_COMING: tuple[Phase, ...] = ("warm-up", *_WORK)


@dataclass(frozen=True, slots=True)
class Action:
    """Something a key does: `label` for the footer, `help` a sentence for help."""

    id: str
    keys: tuple[str, ...]
    label: str
    phases: tuple[Phase, ...]
    help: str
    repeats: bool = False  # holding the key down may do it again and again
    labels: dict[Phase, str] = field(default_factory=dict)  # where the phase says it better

    def label_in(self, phase: Phase) -> str:
        """The footer's word for it in this phase."""
        return self.labels.get(phase, self.label)


ACTIONS: tuple[Action, ...] = (
    Action(
        MAIN,
        ("space", "pagedown", "right"),
        "go on",
        _ALL,
        "Do what comes next: begin, start now, end the set, go on, close.",
        labels={
            "ready": "begin",
            "warm-up": "go on",
            "rest": "start now",
            "set": "end set",
            "paused": "go on",
            "wrap-up": "close",
            "closed": "leave",
        },
    ),
    Action(
        "pause",
        ("p", "full_stop", "b"),
        "pause",
        ("warm-up", "rest", "set"),
        "Stop the session and go on later; recovery goes on meanwhile.",
    ),
    Action(
        "undo", ("u", "pageup", "left"), "undo", ("ready", *_BEGUN), "Take the last action back."
    ),
    Action("rate", ("r",), "how hard", ("wrap-up",), "Say how hard the session was, 0 to 10."),
    Action(
        "today",
        ("t",),
        "only today",
        ("wrap-up", "closed"),
        "Levels that are not as planned are for today only, or kept again.",
    ),
    Action(
        "longer", ("plus", "equals_sign"), "15 s more", ("rest",), "Rest 15 s longer.", repeats=True
    ),
    Action("shorter", ("minus",), "15 s less", ("rest",), "Rest 15 s less.", repeats=True),
    Action("unwell", ("x",), "ill or hurt", ("ready",), "Ill, or a new pain: no session today."),
    Action(
        "answer",
        ("a",),
        "advice",
        ("wrap-up", "closed"),
        "Answer what is advised: accept or refuse.",
    ),
    Action("skip", ("k",), "skip set", _WORK, "Leave out this set, or give up the running one."),
    Action("pain", ("x",), "it hurts", _BEGUN, "Something hurts: end this exercise for today."),
    Action(
        "late",
        ("l",),
        "key was late",
        ("rest", "wrap-up"),
        "The key came late: take 5 s off the last set's end.",
    ),
    Action("fix", ("f",), "fix a count", _AFTER_ONE, "Put an earlier count right."),
    Action("nocount", ("c",), "not counted", _AFTER_ONE, "Leave the open entry uncounted."),
    Action("easier", ("e",), "easier", _COMING, "One position easier from here on."),
    Action("harder", ("h",), "harder", _COMING, "One position harder from here on."),
    Action("swap", ("w",), "swap", _COMING, "Do a substitute for this exercise."),
    Action("drop", ("d",), "drop", _COMING, "Leave out what is left of this exercise."),
    Action("gear", ("g",), "gear used", _AFTER_ONE, "Say which load or set-up was really used."),
    Action("pacer", ("t",), "pacer", _WORK, "A soft tick for each part of a repetition, or none."),
    Action("note", ("n",), "note", _OPEN, "Write a note."),
    Action("mass", ("m",), "body mass", ("ready",), "Enter the body mass of the day in kg."),
    Action("try", ("t",), "try it", ("ready",), "See a set from the mat, hear a cue, try the key."),
    Action("lighter", ("e",), "lighter", ("ready",), "Take the lighter session offered, or not."),
    Action("place", ("f",), "find versions", ("ready",), "Find the versions offered, or not."),
    Action("down", ("down",), "read on", _SHEETS, "Scroll on.", repeats=True),
    Action("up", ("up",), "back", _SHEETS, "Scroll back.", repeats=True),
    Action("sound", ("o",), "sound", _ALL, "Sound on or off."),
    Action("light", ("v",), "light", _ALL, "Light or dark screen."),
    Action("end", ("q",), "end", _OPEN, "Close the session now; asks first."),
    Action(
        "in-time",
        ("a",),
        "shorten",
        ("ready", "warm-up", "rest", "paused"),
        "Be over in time: shows which sets could be left out, and asks.",
    ),
    Action("volume", ("i",), "volume", _OPEN, "Cues a step quieter; after the last step, full."),
    Action("voice", ("z",), "voice", _OPEN, "Voice on, names only, or off."),
    Action("voice-volume", ("j",), "voice volume", _OPEN, "The voice a step quieter, likewise."),
    Action("help", ("question_mark",), "help", _ALL, "All keys."),
)

# What only a rehearsal has. Keys that mean something in a session keep their meaning here, so that
# a rehearsal trains the right ones; only "pause" stops the rehearsal's time instead, and two
# whose only use is to keep something lead to the next set and to the one before.
_RUNNING: tuple[Phase, ...] = ("warm-up", "rest", "set", "paused", "wrap-up")
REHEARSAL_ACTIONS: tuple[Action, ...] = (
    Action(
        "still",
        ("p", "full_stop", "b"),
        "stop here",
        _RUNNING,
        "Let the rehearsal's time stand still; this key or the main key lets it go on.",
    ),
    Action(
        "faster", ("greater_than_sign",), "faster", ("ready", *_RUNNING), "Faster, up to 60 times."
    ),
    Action(
        "slower",
        ("less_than_sign",),
        "slower",
        ("ready", *_RUNNING),
        "Slower, down to the real speed.",
    ),
    Action(
        "next-set",
        ("n",),
        "next set",
        ("warm-up", "rest", "set"),
        "To the last seconds before the next set.",
    ),
    Action(
        "set-before",
        ("r",),
        "set before",
        (*_RUNNING, "closed"),
        "Back to the last seconds before the set before this one.",
    ),
    Action("leave", ("q",), "leave", _ALL, "Leave the rehearsal; asks first."),
)

# What these do is only to be kept, and nothing of a rehearsal is.
_ONLY_KEPT = (
    "lighter",
    "place",
    "unwell",
    "answer",
    "rate",
    "today",
    "late",
    "fix",
    "nocount",
    "gear",
    "note",
    "mass",
    "end",
)

_BY_ID = {action.id: action for action in (*ACTIONS, *REHEARSAL_ACTIONS)}
_TAKEN = {key for action in REHEARSAL_ACTIONS for key in action.keys}
_REHEARSED = (
    ACTIONS[0],
    *REHEARSAL_ACTIONS,
    *(a for a in ACTIONS[1:] if a.id not in _ONLY_KEPT and not _TAKEN.intersection(a.keys)),
)
# Hardly ever is there anything to take back; and the main key leaves as well.
_NO_HINT = {("undo", "ready"), ("leave", "closed")}
_ALIASES = {"ctrl+j": "enter"}  # what a bare line feed becomes
_SIGNS = {
    "full_stop": ".",
    "slash": "/",
    "plus": "+",
    "minus": "-",
    "equals_sign": "=",
    "question_mark": "?",
    "comma": ",",
    "vertical_line": "|",
    "greater_than_sign": ">",
    "less_than_sign": "<",
}
_NAMES = {"pagedown": "page down", "pageup": "page up", **_SIGNS}
_REMOTE = ("pagedown", "pageup", "full_stop", "b")  # buttons of a presenter remote
_PRESSES: dict[str, Press] = {
    "space": "space",
    "pagedown": "next",
    "right": "next",
    "full_stop": "opener",
    "b": "opener",
    "pageup": "back",
    "left": "back",
    "enter": "enter",
}
_WHERE_COUNTED: tuple[Phase, ...] = ("rest", "set", "paused", "wrap-up")
# While a set is only tried out; the main key is then counted and begins nothing.
TRYOUT_HINTS: tuple[tuple[str, str], ...] = (
    ("space", "try the key"),
    ("t", "back"),
    ("?", "help"),
)
# What help says of the entry; `meaning` has the rules.
ENTRY_HELP: tuple[tuple[str, str], ...] = (
    ("0-9", "Type the count of the oldest set without one; with none missing, correct the last."),
    ("/", "Then the repetitions in reserve: 12/2."),
    ("backspace", "Take one sign back."),
    ("space", "Save what is typed. In a set: end the set, then save it."),
    ("enter", "Save or change what is typed. It never starts or ends a set."),
    (". or b", "With a remote: open the grey count, then save it."),
    ("page up/down", "With a remote, once it is open: one less, one more."),
)


_WHEN: dict[Phase, str] = {
    "ready": "before the start",
    "warm-up": "in the warm-up",
    "rest": "in a rest",
    "set": "in a set",
    "paused": "in a pause",
    "wrap-up": "after the last set",
    "closed": "after the end",
}


@dataclass(frozen=True, slots=True)
class Do:
    """The key means this action of the registry; `then` is done to the field after it."""

    action: str
    then: EntryDoing | None = None


@dataclass(frozen=True, slots=True)
class Edit:
    """The key belongs to the open entry; `text` is what to type."""

    doing: EntryDoing
    text: str = ""


def action(name: str) -> Action:
    """The action of this id; KeyError for what is not in the registry."""
    return _BY_ID[name]


def actions_of(*, rehearses: bool = False) -> tuple[Action, ...]:
    """The actions of a session or, `rehearses`, of a rehearsal; the most needed first."""
    return _REHEARSED if rehearses else ACTIONS


def repeats(name: str) -> bool:
    """Whether holding the key of this action down may do it again and again."""
    return _BY_ID[name].repeats


def key_name(key: str) -> str:
    """A key as people call it."""
    return _NAMES.get(key, key)


def key_of(name: str, *, remote: bool = False) -> str:
    """The key of an action as people call it, on the remote where that was used last."""
    keys = _BY_ID[name].keys
    return key_name(next((k for k in keys if k in _REMOTE), keys[0]) if remote else keys[0])


def is_remote(key: str) -> bool:
    """Whether this is a button of a presenter remote."""
    return _key(key) in _REMOTE


def is_main(key: str) -> bool:
    """Whether this is a key of the main action, whatever it does at the moment."""
    return _key(key) in _BY_ID[MAIN].keys


def meaning(
    key: str, phase: Phase, line: EntryLine | None, *, rehearses: bool = False
) -> Do | Edit | None:
    """What a key means in this phase beside this field; None: nothing."""
    key = _key(key)
    press = _PRESSES.get(key)
    if press is not None and not (rehearses and press == "opener"):
        return _of_cell(deeds(line, press, phase), phase, rehearses=rehearses)
    if len(key) == 1 and key in "0123456789" and phase in _WHERE_COUNTED and not rehearses:
        return Edit("type", key)
    if line is not None and line.mode == "typed" and key in ("slash", "backspace"):
        return Edit("type", "/") if key == "slash" else Edit("back")
    if line is not None and line.touched and key == "backspace":
        return Edit("back")
    return _action_of(key, phase, rehearses=rehearses)


def _of_cell(cell: tuple[Deed, ...], phase: Phase, *, rehearses: bool) -> Do | Edit | None:
    """What a cell of the field's table says, where its actions count in this phase."""
    match cell:
        case ("main" | "undo" | "pause" as name, *then):
            known = any(a.id == name and phase in a.phases for a in actions_of(rehearses=rehearses))
            return Do(name, then[0] if then else None) if known else None
        case (doing, *_):
            return Edit(doing)
    return None


def _action_of(key: str, phase: Phase, *, rehearses: bool) -> Do | None:
    """The action of a key in this phase."""
    if phase == "paused" and key in _BY_ID["pause"].keys:
        return Do(MAIN)
    for candidate in actions_of(rehearses=rehearses):
        if key in candidate.keys and phase in candidate.phases:
            return Do(candidate.id)
    return None


def _entry_hints(kind: Kind, phase: Phase, *, remote: bool) -> tuple[tuple[str, str], ...]:
    """The field's own keys, the most needed first."""
    main = key_of(MAIN, remote=remote)
    saves = "enter" if phase == "set" else main
    match kind:
        case "empty":
            opens = remote and phase in ("rest", "wrap-up")
            return ((".", "count"),) if opens else (("0-9", "count"),)
        case "typed" | "doubtful":
            return (("." if remote else saves, "save"),)
        case "opened" | "stepped":
            return ((".", "save"), ("page up/down", "one less or more"))
        case "correction":
            return (("." if remote else "enter", "change"),)
    return ()


def unused(key: str, phase: Phase, *, rehearses: bool = False) -> str:
    """What to say of a key that does nothing in this phase."""
    key = _key(key)
    for candidate in actions_of(rehearses=rehearses):
        if key in candidate.keys:
            return f"{key_name(key)}: {candidate.label} does nothing {_WHEN[phase]}"
    return f"{key_name(key)} does nothing {_WHEN[phase]}; ? shows the keys"


def hints(
    phase: Phase, line: EntryLine | None = None, *, rehearses: bool = False, remote: bool = False
) -> tuple[tuple[str, str], ...]:
    """Key and label of what can be done now, the most needed first: the footer in words.

    `remote`: named by the remote's buttons, where it has one for the action.
    """
    entry = () if line is None else _entry_hints(line.kind, phase, remote=remote)
    main = meaning("pagedown" if remote else "space", phase, line, rehearses=rehearses)
    return entry + tuple(
        (_hinted(known, phase, line, remote=remote), known.label_in(phase))
        for known in actions_of(rehearses=rehearses)
        if phase in known.phases
        and (known.id, phase) not in _NO_HINT
        and not (known.id == MAIN and isinstance(main, Edit))  # the field has its keys
    )


def _hinted(known: Action, phase: Phase, line: EntryLine | None, *, remote: bool) -> str:
    """The name of a key that does this now."""
    buttons = [key for key in known.keys if remote and key in _REMOTE]
    now = (key for key in buttons if meaning(key, phase, line) == Do(known.id))
    return key_name(next(now, known.keys[0]))


def _key(key: str) -> str:
    """The key's name without what a terminal or a caps lock makes of it."""
    return _ALIASES.get(key, key.lower() if len(key) == 1 else key)


# The guard against double keys: wet hands, bouncing buttons, a key held down.
#
# Auto-repeat looks like presses and begins after 0.25 to 0.66 s, then comes about every 33 ms. So
# a main action counts only where no main key was seen shortly before, and a press that was
# ignored counts as seen. No clock: `now` and all times are seconds of one and the same clock.

# Our choices; the first is a little more than the longest delay before auto-repeat.
QUIET_S = 0.7  # without any main key before one that counts
FIRST_OF_SET_S = 1.5  # in which no key ends a set
FIRST_OF_REST_S = 2.0  # in which no key cuts a rest
AFTER_SAVING_S = 2.0  # in which no key cuts a rest, since the finger may still be saving


class KeyGuard:
    """Remembers when keys were last seen and says whether one counts."""

    def __init__(self) -> None:
        self._seen: dict[str, float] = {}
        self._last: tuple[str, float] | None = None
        self._saved: float | None = None

    def fresh(self, key: str, now: float) -> bool:
        """Whether this is a press of its own, and no repeat of a key that is still held down.

        To be asked once for every key that arrives. One key may mean two things in a row: the
        remote's pause opens an entry and then saves it, enter raises a doubt and then settles it,
        `.` pauses and then goes on. Held down it must do the first of them alone. Any other key
        in between shows that it was let go.
        """
        before, self._last = self._last, (key, now)
        return before is None or before[0] != key or now - before[1] >= QUIET_S

    def saw_main(self, now: float) -> None:
        """A main key was seen that meant something else, such as saving an entry."""
        self._seen["main"] = now

    def saved(self, now: float) -> None:
        """An entry was saved."""
        self._saved = now

    def main(self, now: float, phase: Phase, since: float) -> bool:
        """Whether a main key pressed now counts; `since` is when the phase began."""
        quiet = self.once("main", now)
        if phase == "set" and now - since < FIRST_OF_SET_S:
            return False
        if phase == "rest":
            if now - since < FIRST_OF_REST_S:
                return False
            if self._saved is not None and now - self._saved < AFTER_SAVING_S:
                return False
        return quiet

    def once(self, action: str, now: float) -> bool:
        """Whether a key of this action counts: not while it is held down or bounces."""
        before = self._seen.get(action)
        self._seen[action] = now
        return before is None or now - before >= QUIET_S
