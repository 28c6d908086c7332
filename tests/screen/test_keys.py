"""The registry of keys, and what each key means where."""

from __future__ import annotations

from collections import Counter
from typing import get_args

import pytest
from msgspec.structs import replace
from textual._ansi_sequences import ANSI_SEQUENCES_KEYS
from textual.keys import Keys, _character_to_key

from runner.screen.keys import (
    ENTRY_HELP,
    KEYED,
    MAIN,
    Do,
    Edit,
    hints,
    is_main,
    is_remote,
    meaning,
)
from runner.session.count_field import AskedCount, EntryLine
from runner.session.state import Phase
from runner.session.verb import VERBS, key_name

PHASES: tuple[Phase, ...] = get_args(Phase)
ASKED = AskedCount("PRESS 2", "reps", suggestion=12, top=15)
OPEN = EntryLine(ASKED)
TYPED = OPEN.type("1")
VALUE = OPEN.open()
CHANGED = EntryLine(replace(ASKED, was="1")).type("2")
REMOTE = ("pagedown", "pageup", "full_stop", "b", "f5", "escape")


@pytest.mark.parametrize("phase", PHASES)
def test_no_key_has_two_meanings_in_a_phase(phase: Phase) -> None:
    keys = Counter(key for known in KEYED if phase in known.phases for key in known.keys)
    assert [key for key, times in keys.items() if times > 1] == []


def test_ids_are_unique_and_every_verb_is_described() -> None:
    assert len({known.id for known in KEYED}) == len(KEYED)
    for known in KEYED:
        assert known.keys
        assert known.phases
        assert known.help.endswith(".")
        assert known.label
        assert VERBS[known.id] is known


def test_only_keys_that_every_terminal_sends() -> None:
    special = {"space", "pagedown", "pageup", "left", "right", "up", "down"}
    signs = {_character_to_key(char) for char in "+-=.?/"}
    for known in KEYED:
        for key in known.keys:
            letter = len(key) == 1 and key.isascii() and key.islower()
            assert letter or key in special or key in signs


def test_key_names_are_those_that_textual_gives() -> None:
    sent = {"\x1b[5~": "pageup", "\x1b[6~": "pagedown", "\x1b[C": "right", "\x1b[D": "left"}
    sent |= {"\x1b[A": "up", "\x1b[B": "down", "\r": "enter", "\n": "ctrl+j", "\x7f": "backspace"}
    for sequence, name in sent.items():
        assert ANSI_SEQUENCES_KEYS[sequence] == (Keys(name),)
    assert _character_to_key(" ") == "space"
    assert _character_to_key(".") == "full_stop"


def test_what_an_entry_needs_is_nobody_elses() -> None:
    taken = {key for known in KEYED for key in known.keys}
    assert taken.isdisjoint({*"0123456789", "slash", "backspace", "s"})


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("key", ["space", "pagedown", "right"])
def test_the_one_main_action(phase: Phase, key: str) -> None:
    assert is_main(key)
    assert meaning(key, phase, None) == Do(MAIN)


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("line", [None, OPEN, TYPED, VALUE])
@pytest.mark.parametrize("key", ["escape", "f5", "f1", "ctrl+h", "tab", "ctrl+q"])
def test_escape_and_function_keys_do_nothing(
    phase: Phase, line: EntryLine | None, key: str
) -> None:
    assert meaning(key, phase, line) is None


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("line", [None, OPEN, TYPED, VALUE])
def test_no_button_of_a_remote_ends_or_drops_anything(phase: Phase, line: EntryLine | None) -> None:
    means = {meaning(key, phase, line) for key in REMOTE}
    acts = {what.verb for what in means if isinstance(what, Do)}
    assert acts <= {MAIN, "undo", "pause"}


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("line", [None, OPEN, TYPED, VALUE, CHANGED])
@pytest.mark.parametrize("key", ["enter", "ctrl+j"])
def test_enter_never_starts_or_ends_anything(
    phase: Phase, line: EntryLine | None, key: str
) -> None:
    assert not is_main(key)
    saves = line is not None and line.touched
    assert meaning(key, phase, line) == Edit("save" if saves else "name")


@pytest.mark.parametrize("phase", ["warm-up", "rest", "set"])
def test_pause(phase: Phase) -> None:
    assert meaning("p", phase, None) == Do("pause")
    for key in ("full_stop", "b"):
        assert meaning(key, phase, None) == (None if phase == "set" else Do("pause"))


@pytest.mark.parametrize("key", ["full_stop", "b", "p", "space", "pagedown"])
def test_paused_goes_on(key: str) -> None:
    assert meaning(key, "paused", None) == Do(MAIN)


@pytest.mark.parametrize("phase", ["warm-up", "rest", "set", "paused", "wrap-up"])
def test_page_up_takes_back(phase: Phase) -> None:
    assert meaning("pageup", phase, None) == Do("undo")


@pytest.mark.parametrize("phase", ["rest", "set", "paused", "wrap-up"])
@pytest.mark.parametrize("line", [OPEN, TYPED, VALUE])
def test_digits_always_belong_to_the_entry(phase: Phase, line: EntryLine) -> None:
    assert meaning("7", phase, line) == Edit("type", "7")
    assert meaning("7", phase, None) == Edit("type", "7")  # a correction
    assert meaning("7", phase, None, rehearses=True) is None


@pytest.mark.parametrize("phase", ["ready", "warm-up"])
def test_before_the_first_set_there_is_nothing_to_count(phase: Phase) -> None:
    assert meaning("7", phase, None) is None


def test_a_typed_entry() -> None:
    assert meaning("enter", "rest", TYPED) == Edit("save")
    assert meaning("backspace", "rest", TYPED) == Edit("back")
    assert meaning("slash", "rest", TYPED) == Edit("type", "/")
    assert meaning("slash", "rest", OPEN) is None
    assert meaning("backspace", "rest", OPEN) is None


def test_other_keys_leave_the_field_alone() -> None:
    assert meaning("minus", "rest", TYPED) == Do("-")
    assert meaning("question_mark", "rest", TYPED) == Do("help")
    assert meaning("x", "set", TYPED) == Do("pain")


def test_the_main_key_ends_a_set_and_then_sees_to_the_field() -> None:
    for key in ("space", "pagedown", "right"):
        assert meaning(key, "set", OPEN) == Do(MAIN)
        assert meaning(key, "set", TYPED) == Do(MAIN, "save")
        assert meaning(key, "set", VALUE) == Do(MAIN)
        assert meaning(key, "set", CHANGED) == Do(MAIN, "drop")
        assert meaning(key, "rest", TYPED) == Edit("save")


@pytest.mark.parametrize("phase", ["rest", "wrap-up"])
def test_the_remote_gives_a_count(phase: Phase) -> None:
    assert meaning("full_stop", phase, OPEN) == Edit("open")
    assert meaning("b", phase, OPEN) == Edit("open")
    for key in ("pagedown", "right"):
        assert meaning(key, phase, VALUE) == Edit("plus")
    assert meaning("pageup", phase, VALUE) == Edit("minus")
    assert meaning("full_stop", phase, VALUE) == Edit("save")
    assert meaning("b", phase, VALUE) == Edit("save")


def test_the_remote_beside_an_entry_nobody_has_opened_starts_and_undoes() -> None:
    assert meaning("pagedown", "rest", OPEN) == Do(MAIN)
    assert meaning("pageup", "rest", OPEN) == Do("undo")


def test_the_remotes_pause_saves_what_was_typed() -> None:
    for phase in ("rest", "set", "paused", "wrap-up"):
        assert meaning("full_stop", phase, TYPED) == Edit("save")


def test_caps_lock_changes_nothing() -> None:
    assert meaning("U", "rest", None) == Do("undo")
    assert meaning("B", "rest", OPEN) == Edit("open")


@pytest.mark.parametrize("phase", PHASES)
def test_hints_say_what_the_main_key_does_and_name_help(phase: Phase) -> None:
    shown = hints(phase)
    assert shown[0] == ("space", VERBS[MAIN].label_in(phase))
    assert shown[-1] == ("?", "help")
    assert all(meaning_of(key, phase) is not None for key, _ in shown)


def meaning_of(name: str, phase: Phase) -> Do | Edit | None:
    keys = [key for known in KEYED for key in known.keys if key_name(key) == name]
    return meaning(keys[0], phase, None)


def test_hints_beside_a_field_begin_with_it() -> None:
    assert hints("rest", OPEN)[0] == ("0-9", "count")
    assert hints("rest", TYPED)[0] == ("space", "save")
    assert hints("set", TYPED)[:2] == (("enter", "save"), ("space", "end set"))
    assert hints("rest", VALUE)[0] == (".", "save")
    assert hints("rest", CHANGED)[0] == ("enter", "change")


def test_hints_name_the_keys_of_the_device_used_last() -> None:
    assert hints("rest", remote=True)[:3] == (
        ("page down", "start now"),
        ("page up", "undo"),
        (".", "pause"),
    )
    assert hints("rest", OPEN, remote=True)[:2] == ((".", "count"), ("page down", "start now"))
    assert ("p", "pause") in hints("rest", OPEN, remote=True)  # `.` opens the count
    assert hints("rest", TYPED, remote=True)[0] == (".", "save")
    assert ("u", "undo") in hints("rest")
    assert is_remote("b")
    assert not is_remote("space")


def test_help_knows_the_keys_of_the_entry() -> None:
    assert {"0-9", "/", "space", "backspace", "enter"} <= {keys for keys, _ in ENTRY_HELP}
