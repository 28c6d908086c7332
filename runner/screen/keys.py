"""One registry of keys: bindings, footer, help and palette come from it, and what a key means.

Key names are Textual's. Only keys that reach a program in every terminal stand here: no function
keys, no control keys that terminals merge with others. A presenter remote is a keyboard with page
down, page up, `.` or `b`, and a button that alternates F5 and escape; the last two do nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from runner.core.session.state import Phase
from runner.screen.entry import EntryLine, Mode

MAIN = "main"
EntryDoing = Literal["type", "back", "save", "open", "plus", "minus"]

_ALL: tuple[Phase, ...] = ("ready", "warm-up", "rest", "set", "paused", "wrap-up", "closed")
_BEGUN: tuple[Phase, ...] = ("warm-up", "rest", "set", "paused", "wrap-up")
_OPEN: tuple[Phase, ...] = ("ready", *_BEGUN)
_WORK: tuple[Phase, ...] = ("rest", "set", "paused")
_AFTER_ONE: tuple[Phase, ...] = (*_WORK, "wrap-up")  # once a set has been done
_SHEETS: tuple[Phase, ...] = ("ready", "wrap-up", "closed")
_COMING: tuple[Phase, ...] = ("warm-up", *_WORK)


@dataclass(frozen=True, slots=True)
class Action:
    """Something a key does: `label` for the footer, `help` a sentence for help and palette."""

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
        ("space", "enter", "pagedown", "right"),
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
        "keep", ("y",), "keep versions", ("wrap-up",), "Keep versions changed today for next time."
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
    "keep",
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
_REMOTE_PAUSE = ("full_stop", "b")
_NEXT = ("pagedown", "right", "space", "up")
_PREVIOUS = ("pageup", "left", "down")
_SCROLLING = ("up", "down")
_ENTERING: tuple[Phase, ...] = ("rest", "paused", "wrap-up")
_ENTRY_HINTS: dict[Mode, tuple[tuple[str, str], ...]] = {
    "untouched": (("0-9", "count"),),
    "typed": (("enter", "save"),),
    "value": ((".", "save"), ("page up/down", "one less or more")),
}
# While a set is only tried out; the main key is then counted and begins nothing.
TRYOUT_HINTS: tuple[tuple[str, str], ...] = (
    ("space", "try the key"),
    ("t", "back"),
    ("?", "help"),
)
# What help says of the entry; `meaning` has the rules.
ENTRY_HELP: tuple[tuple[str, str], ...] = (
    ("0-9", "Type the count of the set that is asked for; the first digit replaces what is grey."),
    ("/", "Then the repetitions left in reserve: 12/2."),
    ("space", "Then the other side of a one-sided set: 12 14, left and right."),
    ("backspace", "Take one sign back."),
    ("enter", "Save what is typed. Untouched, it saves nothing."),
    (". or b", "With a remote: open what is grey, then save it."),
    ("page up/down", "With a remote, once it is open: one less, one more."),
)


@dataclass(frozen=True, slots=True)
class Do:
    """The key means this action of the registry."""

    action: str


@dataclass(frozen=True, slots=True)
class Edit:
    """The key belongs to the open entry; `text` is what to type."""

    doing: EntryDoing
    text: str = ""


_ALWAYS = {"enter": Edit("save"), "backspace": Edit("back"), "slash": Edit("type", "/")}


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


def is_main(key: str) -> bool:
    """Whether this is a key of the main action, whatever it does at the moment."""
    return _key(key) in _BY_ID[MAIN].keys


def meaning(
    key: str, phase: Phase, line: EntryLine | None, *, rehearses: bool = False
) -> Do | Edit | None:
    """What a key means in this phase beside this open entry; None: nothing."""
    key = _key(key)
    if line is not None:
        edit = _edit(key, phase, line)
        if edit is not None:
            return edit
        if key == "enter" and not line.touched:
            return None
    if phase == "paused" and key in _BY_ID["pause"].keys:
        return Do(MAIN)
    for candidate in actions_of(rehearses=rehearses):
        if key in candidate.keys and phase in candidate.phases:
            return Do(candidate.id)
    return None


def _edit(key: str, phase: Phase, line: EntryLine) -> Edit | None:
    """What the key does to the entry, if it belongs to it.

    In a set only digits, slash, backspace and enter do: there every other key, the remote's
    above all, must mean what it always means in a set.
    """
    if len(key) == 1 and key in "0123456789":
        return Edit("type", key)
    if not line.touched:
        return Edit("open") if key in _REMOTE_PAUSE and phase in ("rest", "wrap-up") else None
    if key in _ALWAYS:
        return _ALWAYS[key]
    if phase not in _ENTERING:
        return None
    return _edit_value(key, phase) if line.mode == "value" else _edit_typed(key, line)


def _edit_value(key: str, phase: Phase) -> Edit | None:
    """Beside a value that the remote has opened."""
    if key in _REMOTE_PAUSE:
        return Edit("save")
    if key in _SCROLLING and phase in _SHEETS:  # there they read on
        return None
    if key in _NEXT:
        return Edit("plus")
    return Edit("minus") if key in _PREVIOUS else None


def _edit_typed(key: str, line: EntryLine) -> Edit | None:
    """Beside a typed text: it takes every sign, so that nonsense is refused and not obeyed."""
    if key == "space":
        second = line.asked.one_sided and line.text[-1:].isalnum() and " " not in line.text
        return Edit("type", " ") if second else None
    if key == "full_stop" and line.asked.measure == "hold":
        return Edit("type", ".")
    if key in _REMOTE_PAUSE:
        return Edit("save")
    sign = _SIGNS.get(key, key)
    return Edit("type", sign) if len(sign) == 1 and sign != "?" else None


def _only_enter(phase: Phase, line: EntryLine) -> bool:
    """Whether the remote's keys have gone back to what they always mean, and enter alone saves."""
    return line.mode == "value" and phase not in _ENTERING


def hints(
    phase: Phase, line: EntryLine | None = None, *, rehearses: bool = False
) -> tuple[tuple[str, str], ...]:
    """Key and label of what can be done now, the most needed first: the footer in words."""
    entry = () if line is None else _ENTRY_HINTS["typed" if _only_enter(phase, line) else line.mode]
    space = meaning("space", phase, line, rehearses=rehearses)
    if isinstance(space, Edit) and space.doing == "type":
        entry = (*entry, ("space", "other side"))
    return entry + tuple(
        (key_name(known.keys[0]), known.label_in(phase))
        for known in actions_of(rehearses=rehearses)
        if phase in known.phases
        and (known.id, phase) not in _NO_HINT
        and not (known.id == MAIN and isinstance(space, Edit))  # the entry has its keys
    )


def _key(key: str) -> str:
    """The key's name without what a terminal or a caps lock makes of it."""
    return _ALIASES.get(key, key.lower() if len(key) == 1 else key)
