"""What a key means, by the registry of verbs and by what the count field holds.

The footer, help and the list of `m` say so; the guard against double keys is at the end.

Key names are Textual's. Only keys that every terminal passes on are used: no function keys, and no
control keys that terminals merge with others. A presenter remote is a keyboard with page down, page
up, `.` or `b`, and a button that alternates F5 and escape; the last two do nothing.

Only a few letters do anything by themselves, for fingers slip beside the space bar; `m` lists the
rest. Every key that does nothing says why, except those that the guard takes for repeats.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple

from msgspec import Struct
from rich.cells import cell_len, set_cell_size

from runner.live import face_verbs  # noqa: F401 - whose keys stand among the others
from runner.live.controller import MAIN
from runner.progress.advice import where_rules_come_from
from runner.session.count_field import EntryDoing, EntryLine, Kind
from runner.session.feedback import APART
from runner.session.state import Phase
from runner.session.verb import (
    ALL,
    PRESSED_S,
    QUIET_S,
    REHEARSED,
    REMOTE,
    VERBS,
    Verb,
    key_name,
    key_of,
    verbs,
)
from runner.text import Line, Span

KEYED: tuple[Verb, ...] = tuple(known for known in verbs() if known.keys)
LETTERED: tuple[Verb, ...] = tuple(known for known in verbs() if known.letter)
# Keys of a count, and those that scroll: the list of `m` stays open beside them.
BESIDE_LIST = frozenset({*"0123456789", "slash", "backspace", "enter", "ctrl+j"})


# There is hardly ever anything to undo; and the main key leaves as well.
_NO_HINT = {("undo", "ready"), ("leave", "closed"), ("end", "closed")}
_UNHINTED = ("up", "down", "care", "lighter", "place", "-")  # the sheet names them, or another hint
_TAKES = "take an offer"
_LAST = ("more", "help")
_ALIASES = {"ctrl+j": "enter"}  # what a bare line feed becomes
_WHERE_COUNTED: tuple[Phase, ...] = ("rest", "set", "paused", "wrap-up", "closed")
# While a set is only tried out; the main key is then counted and begins nothing.
TRYOUT_HINTS: tuple[tuple[str, str], ...] = (("space", "try the key"), ("any other key", "back"))
# What help says of the entry; `meaning` has the rules.
ENTRY_HELP: tuple[tuple[str, str], ...] = (
    ("0-9", "Type the oldest missing count, or correct the last."),
    ("/", "Then the repetitions in reserve: 12/2."),
    ("backspace", "Delete the last character."),
    ("space", "Save what you typed. In a set: end it, then save."),
    ("enter", "Save or change what you typed, and nothing else."),
    (". or b", "By remote: take the suggested count, then save it."),
    ("page up/down", "By remote, once it is open: one less, one more."),
)


_TERM = 25  # columns of the keys in front of what they do
_WHEN: dict[Phase, str] = {
    "ready": "before the start",
    "warm-up": "in the warm-up",
    "rest": "in a rest",
    "set": "in a set",
    "paused": "in a pause",
    "wrap-up": "after the last set",
    "closed": "after the end",
}


class Do(Struct, frozen=True):
    """The key means this verb; `then` is done to the field after it."""

    verb: str
    then: EntryDoing | None = None


class Edit(Struct, frozen=True):
    """The key belongs to the count field; `text` is what to type."""

    doing: EntryDoing
    text: str = ""


# What the keys of the table mean beside each kind of field.

_Press = Literal["space", "next", "opener", "back", "enter"]
_PRESSES: dict[str, _Press] = {
    "space": "space",
    "pagedown": "next",
    "right": "next",
    "full_stop": "opener",
    "b": "opener",
    "pageup": "back",
    "left": "back",
    "enter": "enter",
}


class _Cells(NamedTuple):
    """What the keys do to one kind of field. `end`: any main key in a set."""

    space: Do | Edit  # in a rest, pause or wrap-up
    next: Do | Edit  # of page down and right
    end: Do | Edit
    opener: Edit | None  # `.` and `b`
    back: Do | Edit  # page up and left
    enter: Edit


_DO, _UNDO, _SAVE = Do(MAIN), Do("undo"), Edit("save")
# "none": no count is missing. Where a cell of `opener` hangs on the phase, _OPENER has it.
_CELLS: Mapping[Kind, _Cells] = {
    "none": _Cells(_DO, _DO, _DO, None, _UNDO, Edit("name")),
    "empty": _Cells(_DO, _DO, _DO, None, _UNDO, Edit("name")),
    "typed": _Cells(_SAVE, _SAVE, Do(MAIN, "save"), _SAVE, Edit("clear"), _SAVE),
    "opened": _Cells(_SAVE, Edit("plus"), _DO, _SAVE, Edit("minus"), _SAVE),
    "stepped": _Cells(_SAVE, Edit("plus"), _DO, _SAVE, Edit("minus"), _SAVE),
    "doubtful": _Cells(_SAVE, _SAVE, Do(MAIN, "later"), _SAVE, Edit("clear"), _SAVE),
    "correction": _Cells(
        Edit("enter"), Edit("enter"), Do(MAIN, "drop"), _SAVE, Edit("drop"), _SAVE
    ),
}
_OPENER: Mapping[Kind, Mapping[Phase, Do | Edit]] = {
    "none": {"warm-up": Do("pause"), "rest": Do("pause"), "paused": _DO},
    "empty": {"rest": Edit("open"), "paused": _DO, "wrap-up": Edit("open"), "closed": Edit("open")},
}


def keyed_verbs(*, rehearses: bool = False) -> tuple[Verb, ...]:
    """The verbs with a key, of a session or of a rehearsal, the most needed first.

    A key that means something in a session keeps its meaning in a rehearsal, so that people train
    the right ones. Verbs that only keep something give their key to one of the rehearsal's.
    """
    if not rehearses:
        return KEYED
    own = tuple(REHEARSED.values())
    taken = {key for known in own for key in known.keys}
    others = (one for one in KEYED[1:] if not one.kept and taken.isdisjoint(one.keys))
    return (KEYED[0], *own, *others)


def help_page(phase: Phase, *, rehearses: bool) -> list[str]:
    """The keys that count in this phase."""
    known = keyed_verbs(rehearses=rehearses)
    lines = [_explained(one) for one in known if phase in one.phases]
    if phase in _WHERE_COUNTED and not rehearses:
        lines += [f"{keys:<{_TERM}}{what}" for keys, what in ENTRY_HELP]
    return lines


def help_all(*, rehearses: bool) -> list[str]:
    """All keys with the phases in which they count, the list of `m`, and what rules go by."""
    known = keyed_verbs(rehearses=rehearses)
    lines = [f"{_explained(one)} [{phases_text(one.phases)}]" for one in known]
    letters = (one for one in LETTERED if not (rehearses and one.kept))
    lines += ["", "After m:", *map(_explained, letters)]
    if not rehearses:
        lines += ["", "The count of a set:", *(f"{k:<{_TERM}}{what}" for k, what in ENTRY_HELP)]
        lines += ["", *where_rules_come_from()]
    return lines


def keys_text(known: Verb) -> str:
    """The keys of a verb, or its letters after `m`, as help writes them."""
    return ", ".join(map(key_name, known.keys)) or " ".join(known.letter)


def _explained(known: Verb) -> str:
    return f"{keys_text(known):<{_TERM}}{known.help}"


def phases_text(phases: Sequence[Phase]) -> str:
    """The phases in which a key counts, in a few words."""
    first, last = ALL.index(phases[0]), ALL.index(phases[-1])
    if len(phases) == len(ALL):
        return "always"
    if len(phases) > 2 and tuple(phases) == ALL[first : last + 1]:
        return f"{phases[0]} to {phases[-1]}"
    return ", ".join(phases)


def apart(known: Do | Edit) -> float:
    """Seconds between two presses of its key that count; 0 where holding it down does it again."""
    if isinstance(known, Do):
        return (REHEARSED.get(known.verb) or VERBS[known.verb]).apart
    return _EDITS_APART.get(known.doing, 0.0)


_EDITS_APART: dict[EntryDoing, float] = {
    "save": QUIET_S,
    "open": QUIET_S,
    "plus": PRESSED_S,
    "minus": PRESSED_S,
}


def is_remote(key: str) -> bool:
    """Whether this is a button of a presenter remote."""
    return _key(key) in REMOTE


def is_main(key: str) -> bool:
    """Whether this is a main key, whatever it does now."""
    return _key(key) in VERBS[MAIN].keys


def meaning(
    key: str, phase: Phase, line: EntryLine | None, *, rehearses: bool = False
) -> Do | Edit | None:
    """What a key means in this phase beside this field; None: nothing."""
    key = _key(key)
    press = _PRESSES.get(key)
    if press is not None and not (rehearses and press == "opener"):
        cell = _cell(press, phase, line)
        return cell if _counts(cell, phase, rehearses=rehearses) else None
    if len(key) == 1 and key in "0123456789" and phase in _WHERE_COUNTED and not rehearses:
        return Edit("type", key)
    if line is not None and line.mode == "typed" and key in ("slash", "backspace"):
        return Edit("type", "/") if key == "slash" else Edit("back")
    if line is not None and line.touched and key == "backspace":
        return Edit("back")
    return _action_of(key, phase, rehearses=rehearses)


def _cell(press: _Press, phase: Phase, line: EntryLine | None) -> Do | Edit | None:
    kind: Kind = "none" if line is None else line.kind
    if press == "opener" and kind in _OPENER:
        return _OPENER[kind].get(phase)
    ends = press in ("space", "next") and phase == "set"
    cell: Do | Edit | None = getattr(_CELLS[kind], "end" if ends else press)
    return cell


def _counts(cell: Do | Edit | None, phase: Phase, *, rehearses: bool) -> bool:
    """Whether a verb counts in this phase; what is done to the field always does."""
    known = keyed_verbs(rehearses=rehearses)
    return not isinstance(cell, Do) or any(
        one.id == cell.verb and phase in one.phases for one in known
    )


def _action_of(key: str, phase: Phase, *, rehearses: bool) -> Do | None:
    """The verb of a key in this phase."""
    if phase == "paused" and key in VERBS["pause"].keys:
        return Do(MAIN)
    for candidate in keyed_verbs(rehearses=rehearses):
        if key in candidate.keys and phase in candidate.phases:
            return Do(candidate.id)
    return None


def _entry_hints(kind: Kind, phase: Phase, *, remote: bool) -> tuple[tuple[str, str], ...]:
    """The field's own keys, the most needed first."""
    main = key_of(MAIN, remote=remote)
    saves = "enter" if phase == "set" else main
    match kind:
        case "empty":
            opens = remote and phase in ("rest", "wrap-up", "closed")
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
    for candidate in keyed_verbs(rehearses=rehearses):
        if key in candidate.keys and (len(key) > 1 or "rest" in candidate.phases):
            return f"{key_name(key)}: {candidate.label_in(phase)} does nothing {_WHEN[phase]}"
    if len(key) == 1 and key.isalpha():
        return f"{key}: press m first"
    return f"{idle(key, phase)}; ? shows the keys"


def idle(key: str, phase: Phase) -> str:
    """What to say of a key without a meaning in this phase."""
    return f"{key_name(key)} does nothing {_WHEN[phase]}"


def hints(
    phase: Phase,
    line: EntryLine | None = None,
    *,
    rehearses: bool = False,
    remote: bool = False,
    missing: int = 0,
    offered: Sequence[str] = (),
) -> tuple[tuple[str, str], ...]:
    """Key and label of what can be done now, the most needed first: the footer in words.

    `remote`: named by the remote's buttons, where it has one for the action. `missing`: counts
    of which closing asks first. `offered`: verbs that take an offer. The last two are `m` and `?`,
    which stay in a narrow footer.
    """
    entry = () if line is None else _entry_hints(line.kind, phase, remote=remote)
    main = meaning("pagedown" if remote else "space", phase, line, rehearses=rehearses)
    found = [
        (_hinted(known, phase, line, remote=remote), _label(known, phase, missing))
        for known in keyed_verbs(rehearses=rehearses)
        if phase in known.phases
        and known.id not in (*_LAST, *_UNHINTED)
        and (known.id, phase) not in _NO_HINT
        and not (known.id == MAIN and isinstance(main, Edit))  # the field has its keys
    ]
    if phase == "ready" and offered:
        found.insert(1, (" ".join(VERBS[name].keys[0] for name in offered), _TAKES))
    last = [(key_name(VERBS[name].keys[0]), VERBS[name].label_in(phase)) for name in _LAST]
    return (*entry, *found, *last)


def _label(known: Verb, phase: Phase, missing: int) -> str:
    label = known.label_in(phase)
    if known.id != MAIN or phase != "wrap-up" or not missing:
        return label
    return f"{label} (asks: {missing} {'count' if missing == 1 else 'counts'} open)"


def footer(known: Sequence[tuple[str, str]], width: int) -> list[tuple[str, str]]:
    """As many of these hints as fit, the last two among them; at least the first.

    What a hint says in brackets goes before the hint does.
    """
    if _cells(known) <= width:
        return list(known)
    *others, more, help_ = known
    kept: list[tuple[str, str]] = []
    for key, does in others:
        ways = ((key, does), (key, does.partition(" (")[0]))
        fits = [hint for hint in ways if _cells([*kept, hint, more, help_]) <= width]
        if not fits:
            break
        kept.append(fits[0])
    if not kept and _cells([known[0], help_]) <= width:
        return [known[0], help_]
    return [*kept, more, help_] if kept else list(known[:1])


def _cells(row: Sequence[tuple[str, str]]) -> int:
    return sum(cell_len(f"{key} {does}") for key, does in row) + len(APART) * (len(row) - 1)


def key_at(row: str, column: int, known: Sequence[tuple[str, str]]) -> str | None:
    """Textual's name of the key whose hint stands at this column of the footer's row."""
    named = {one: key_name(one) for of in (*KEYED, *REHEARSED.values()) for one in of.keys}
    named["enter"] = "enter"
    for key, does in known:
        begin = row.find(f"{key} {does}")
        if begin < 0:  # what stands in brackets may be left out
            does = does.partition(" (")[0]  # noqa: PLW2901
            begin = row.find(f"{key} {does}")
        if 0 <= begin <= column < begin + len(f"{key} {does}"):
            if key not in named.values():  # several keys, each of one sign
                key = key.replace(" ", key[0])[min(column - begin, len(key) - 1)]  # noqa: PLW2901
            return next((name for name, own in named.items() if own == key), None)
    return None


# The list that `m` opens. It takes rows of ordinary text, never the time or the count.

TITLE, HOW = "MORE", "a letter does it, m closes"
_COLUMN = 25  # cells below which a column of the list says too little

Choices = Sequence[tuple[str, str]]  # letter, and what it does to what


def list_height(choices: Choices, width: int) -> int:
    """Rows in which the list stands whole, in two columns where they are wide enough."""
    return 2 + -(-len(choices) // min(2, max(width // _COLUMN, 1)))


def list_rows(choices: Choices, width: int, height: int, message: str = "") -> list[Line]:
    """The list in that many rows; `message` stands beside the title in the place of the help.

    The title gives way where rows are short, unless there is a message; then the last line says
    how many more there are.
    """
    titled, columns = _columns(choices, width, height, message)
    size = width // max(len(columns), 1)
    rows: list[Line] = []
    if titled:
        room = width - len(TITLE) - 2
        said = "" if room < 1 else _in_cells(message or HOW, room, right=True)
        rows.append(((f"{TITLE}  ", "mark"), (said, "caution" if message else "quiet")))
    for number in range(max(map(len, columns), default=0)):
        spans: list[Span] = []
        for column in columns:
            letter, text = column[number] if number < len(column) else ("", "")
            gap = " " * (column is not columns[-1])
            spans += [(letter.ljust(3), "mark"), (_in_cells(text, size - 3 - len(gap)), "ink")]
            spans.append((gap, "ink"))
        rows.append(tuple(spans))
    return [*rows, *[()] * (height - len(rows))]


def lines_shown(choices: Choices, width: int, height: int, message: str = "") -> int:
    """How many lines of the list have room, the one that says how many more there are apart."""
    _, columns = _columns(choices, width, height, message)
    return sum(letter != "" for column in columns for letter, _ in column)


def letter_at(
    choices: Choices, width: int, height: int, at: tuple[int, int], message: str = ""
) -> str | None:
    """The letter of the line of the list that stands `at` a column and a row of it."""
    titled, columns = _columns(choices, width, height, message)
    number, which = at[1] - titled, at[0] // (width // max(len(columns), 1))
    if number < 0 or which >= len(columns) or number >= len(columns[which]):
        return None
    return columns[which][number][0] or None


def _columns(choices: Choices, width: int, height: int, message: str) -> tuple[bool, list[Choices]]:
    """Whether there is a title, and the lines in two columns, one, or as many as they need."""
    most = max(width // _COLUMN, 1)
    two = min(2, most)
    titled = height > 2 and (bool(message) or -(-len(choices) // two) < height)
    room = max(height - titled, 1)
    wanted = min(max(two, -(-len(choices) // room)), most)
    each = min(-(-len(choices) // wanted), room) or 1
    shown = list(choices[: each * wanted])
    if len(choices) > len(shown) > 1:
        shown[-1] = ("", f"down: {len(choices) - len(shown) + 1} more")
    return titled, [shown[n : n + each] for n in range(0, len(shown), each)]


def _in_cells(text: str, cells: int, *, right: bool = False) -> str:
    """The text in exactly that many cells, cut with an ellipsis where it is longer."""
    blank = " " * (cells - cell_len(text))
    if cell_len(text) > cells:
        return f"{set_cell_size(text, cells - 1)}…"
    return blank + text if right else text + blank


def _hinted(known: Verb, phase: Phase, line: EntryLine | None, *, remote: bool) -> str:
    """The name of a key that does this now."""
    buttons = [key for key in known.keys if remote and key in REMOTE]
    now = (key for key in buttons if meaning(key, phase, line) == Do(known.id))
    return key_name(next(now, known.keys[0]))


def _key(key: str) -> str:
    """The key's name without what a terminal or a caps lock makes of it."""
    return _ALIASES.get(key, key.lower() if len(key) == 1 else key)


# The guard against double keys: wet hands, bouncing buttons, a key held down.
#
# Auto-repeat looks like presses and begins after 0.25 to 0.66 s, then comes about every 33 ms. So
# a main key counts only where no main key was seen shortly before, and a press that was
# ignored counts as seen. No clock: `now` and all times are seconds of one and the same clock.

# Our choices.
FIRST_OF_SET_S = 1.5  # in which no key ends a set
FIRST_OF_REST_S = 2.0  # in which no key cuts a rest
AFTER_SAVING_S = 2.0  # in which no key cuts a rest, since the finger may still be saving


class KeyGuard:
    """Remembers when keys were last seen and says whether one counts."""

    def __init__(self) -> None:
        self.gap = math.inf  # seconds since the last key was seen before; inf for another key
        self._last = ("", -math.inf)
        self._main = self._saved = -math.inf

    def fresh(self, key: str, now: float) -> bool:
        """Whether this is a press of its own, and not a repeat of a key still held down.

        Call it once for every key that arrives. One key may mean two things in a row: the remote's
        pause opens an entry and then saves it, enter raises a doubt and then settles it, `.` pauses
        and then resumes. Held down, it must only do the first. Any other key in between shows that
        it was released.
        """
        before, at = self._last
        self._last = (key, now)
        # Of two keys that came in one read the second may seem the earlier, by microseconds.
        self.gap = max(now - at, 0.0) if before == key else math.inf
        return self.gap >= QUIET_S

    def quiet(self, now: float) -> bool:
        """Whether no main key came shortly before this one, whatever each of them means."""
        before, self._main = self._main, now
        return now - before >= QUIET_S

    def saved(self, now: float) -> None:
        """An entry was saved."""
        self._saved = now

    def main(self, now: float, phase: Phase, since: float) -> bool:
        """Whether a main key pressed now counts; `since` is when the phase began."""
        quiet = self.quiet(now)
        if phase == "set" and now - since < FIRST_OF_SET_S:
            return False
        if phase == "rest":
            if now - since < FIRST_OF_REST_S:
                return False
            if now - self._saved < AFTER_SAVING_S:
                return False
        return quiet
