"""Every word of the input table does what it says; a line that cannot be used changes nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.lines.manual import Desk, Ran, run, script
from tests.lines.process import ROOT

EVERY_KEY = ROOT / "tests" / "data" / "every-key.toml"
DEMO = ROOT / "plans" / "demo.toml"
BEGUN = ("", "", "go")  # the first set of `press` runs
ROWS = (*BEGUN, "", "12", "go")  # `press` is done and entered, the left side of `row` runs
ALL = (*ROWS, "", "go", "", "8 9", "go", "", "10", "go", "", "go", "", "7 7")  # to the wrap-up


def play(tmp_path: Path, *lines: str, plan: Path = EVERY_KEY, yes: bool = True) -> Ran:
    return run(plan, tmp_path, script(*lines), yes=yes)


def names(ran: Ran) -> list[str]:
    """Names of the events without the first and, by the end of input, the last."""
    found = [line.name for line in ran.lines]
    assert found[0] == "opened"
    assert found[-1] == "closed"
    return found[1:-1]


def row(ran: Ran, entry: int) -> object:
    return ran.live.driver.state.rows[entry - 1]


def test_an_empty_line_goes_on_through_every_phase(tmp_path: Path) -> None:
    ran = play(tmp_path, *ALL, "")
    assert ran.lines[-1].pairs == {"phase": "closed", "complete": "yes", "by": "person"}
    phases = [line.pairs["phase"] for line in ran.lines]
    order = list(dict.fromkeys(phases))
    assert order == ["ready", "warm-up", "rest", "set", "wrap-up", "closed"]
    values = [(x.side, x.value) for x in ran.live.driver.state.rows]
    assert values == [
        ("both", 12), ("left", 8), ("right", 9), ("both", 10), ("left", 7), ("right", 7),
    ]  # fmt: skip


def test_an_empty_line_in_a_running_rest_does_nothing(tmp_path: Path) -> None:
    ran = run(EVERY_KEY, tmp_path, script("", "", "", "", step=0.2))
    assert names(ran) == ["begun", "resting"]
    assert ran.err.count("not used") == 0


def test_a_set_that_waits_for_the_person_starts_at_an_empty_line(tmp_path: Path) -> None:
    plan = tmp_path / "waits.toml"
    plan.write_text(EVERY_KEY.read_text().replace('set_starts = "clock"', 'set_starts = "key"'))
    # The lead-in is two seconds: the first empty line comes before it is over, the next after.
    ran = run(plan, tmp_path, script("", "", "", "", step=1.5))
    assert names(ran) == ["begun", "resting", "started"]
    started = ran.events("started")[0]
    assert started.pairs["by"] == "person"
    assert started.utc == "2026-11-25T06:30:06.000Z"
    assert "The rest is over; an empty line goes on." in ran.err


def test_numbers_go_to_the_oldest_open_entry_also_during_a_set(tmp_path: Path) -> None:
    ran = play(tmp_path, *BEGUN, "", "go", "", "go", "12/2", "8")
    entered = [(x.pairs["entry"], x.pairs["reps"], x.pairs["phase"]) for x in ran.events("entered")]
    assert entered == [("1", "12", "set"), ("2", "8", "set")]
    assert ran.events("entered")[0].pairs["reserve"] == "2"


def test_the_second_number_waits_for_the_second_side(tmp_path: Path) -> None:
    """Left is typed while right is to come: it is entered at once, right when it ends."""
    ran = play(tmp_path, *ROWS, "", "12 14", "go", "")
    left, right = ran.events("entered")[1:]
    assert (left.pairs["side"], left.pairs["reps"], left.pairs["waits"]) == ("left", "12", "14")
    assert (right.pairs["side"], right.pairs["reps"]) == ("right", "14")
    ended = [x for x in ran.events("ended") if x.pairs["side"] == "right"]
    assert ended[0].utc == right.utc
    assert not ran.live.driver.state.open_rows


def test_a_hold_is_measured_and_seconds_correct_it(tmp_path: Path) -> None:
    to_the_hold = ("",) * 2 + ("go", "") * 6 + ("go",)
    ran = play(tmp_path, *to_the_hold, "", "45s", plan=DEMO)
    by_clock = next(x for x in ran.events("entered") if "hold_s" in x.pairs)
    assert (by_clock.pairs["by"], by_clock.pairs["hold_s"]) == ("clock", "1")
    corrected = ran.events("corrected")
    assert [x.pairs["hold_s"] for x in corrected] == ["45"]
    assert corrected[0].pairs["entry"] == by_clock.pairs["entry"]


def test_nocount_leaves_the_oldest_open_entry_uncounted(tmp_path: Path) -> None:
    ran = play(tmp_path, *BEGUN, "", "nocount")
    assert ran.events("entered")[0].pairs["counted"] == "no"
    assert "reps" not in ran.events("entered")[0].pairs


def test_plus_and_minus_move_this_rest(tmp_path: Path) -> None:
    ran = play(tmp_path, *BEGUN, "", "+", "-")
    more, less = ran.events("asked")[1:]  # the first is the `go` before the set
    assert more.pairs["seconds"] == "15"
    assert float(less.pairs["seconds"]) == -15
    resting = ran.events("resting")[-1]
    assert less.pairs["until"] == resting.pairs["until"]
    assert more.pairs["until"] > resting.pairs["until"]


def test_pause_and_an_empty_line_to_go_on(tmp_path: Path) -> None:
    """The rest runs on meanwhile; where it is over, the lead-in is left."""
    soon = play(tmp_path, *BEGUN, "pause", "12", "")
    assert names(soon)[-5:] == ["ended", "resting", "paused", "entered", "resumed"]
    assert soon.events("paused")[0].pairs["phase"] == "paused"
    assert soon.events("resumed")[0].pairs["phase"] == "rest"
    later = run(EVERY_KEY, tmp_path, script(*BEGUN, "pause", "", step=6.0))
    assert names(later)[-4:] == ["paused", "resumed", "resting", "started"]
    anew = later.events("resting")[-1]
    assert anew.pairs["why"] == "lead-in"
    assert (anew.utc[-9:], anew.pairs["until"][-9:]) == ("0:30.000Z", "0:32.000Z")


@pytest.mark.parametrize(
    ("word", "event", "pairs"),
    [
        ("skip", "skipped", {"exercise": "press", "given_up": "yes", "why": "asked"}),
        ("drop", "skipped", {"exercise": "press", "given_up": "yes", "why": "asked"}),
        ("drop", "dropped", {"exercise": "press", "why": "asked"}),
        ("swap", "swapped", {"exercise": "press", "to": "bench-push-up"}),
        ("harder", "version", {"exercise": "press", "way": "harder", "version": "mark-2"}),
        ("setup anchor=110 cm", "used", {"exercise": "press", "setup": "anchor=110 cm"}),
        ("load 12", "used", {"exercise": "press", "load_kg": "12"}),
        ("note tight band", "noted", {"note": "tight band", "entry": "1"}),
        ("pain left shoulder", "pain", {"where": "left shoulder", "exercise": "press"}),
        ("rpe 7", "rpe", {"rpe": "7"}),
        ("mass 74.5", "mass", {"mass_kg": "74.5"}),
        ("end", "closed", {"complete": "no", "by": "person"}),
    ],
)
def test_words_during_a_set(tmp_path: Path, word: str, event: str, pairs: dict[str, str]) -> None:
    ran = play(tmp_path, *BEGUN, word)
    found = ran.events(event)
    assert len(found) == 1
    assert pairs.items() <= found[0].pairs.items()
    assert "not used" not in ran.err


def test_easier_takes_harder_back(tmp_path: Path) -> None:
    ran = play(tmp_path, *BEGUN, "harder", "harder", "easier", "easier", "easier")
    ways = [(x.pairs["way"], x.pairs["version"], x.pairs["setup"]) for x in ran.events("version")]
    assert ways == [
        ("harder", "mark-2", "anchor=120 cm"),
        ("harder", "mark-2", "anchor=140 cm"),
        ("easier", "mark-2", "anchor=120 cm"),
        ("easier", "mark-1", "anchor=100 cm"),
    ]
    assert "not used: Standing band press is at its easiest level" in ran.err


def test_fix_corrects_the_entry_numbered(tmp_path: Path) -> None:
    ran = play(tmp_path, *ROWS, "", "11", "fix 1 13/1")
    fixed = ran.events("corrected")[0].pairs
    assert (fixed["entry"], fixed["reps"], fixed["reserve"]) == ("1", "13", "1")
    assert ran.live.rows()[0].corrected == "yes"
    assert ran.live.rows()[0].reps == 13


def test_without_a_terminal_a_doubtful_count_is_saved_with_a_remark(tmp_path: Path) -> None:
    ran = run(EVERY_KEY, tmp_path, script(*BEGUN, "", "122"))
    assert [x.pairs["reps"] for x in ran.events("entered")] == ["122"]
    assert "122 (over twice the top of the rep range" in ran.err
    assert "is saved. If it is wrong: fix 1 NUMBER." in ran.err


def test_at_a_terminal_a_doubtful_count_is_asked_again(tmp_path: Path) -> None:
    lines = ("122", "0", "122", "122", "fix 1 120", "13", "fix 1 120", "fix 1 120", "fix 1 0")
    ran = run(EVERY_KEY, tmp_path, script(*BEGUN, "", *lines), terminal=True)
    assert [x.pairs["reps"] for x in ran.events("entered")] == ["122"]
    assert [x.pairs["reps"] for x in ran.events("corrected")] == ["120"]
    assert ran.err.count("? Write the same line again to save it, or another number.") == 6


def test_late_takes_five_seconds_off_the_last_set(tmp_path: Path) -> None:
    ran = run(EVERY_KEY, tmp_path, script("", "", "go", "", "late", step=7.0))
    late = ran.events("late")[0].pairs
    assert (late["seconds"], late["entry"]) == ("5", "1")
    ended = float(ran.events("ended")[0].pairs["work_s"])
    assert float(late["work_s"]) == pytest.approx(ended - 5)
    assert ran.live.rows()[0].work_s == pytest.approx(ended - 5, abs=0.05)


def test_undo_gives_the_running_set_back_with_its_first_start(tmp_path: Path) -> None:
    ran = play(tmp_path, *BEGUN, "", "undo", "")
    undone = ran.events("undone")[0].pairs
    assert (undone["what"], undone["phase"]) == ("ended", "set")
    first, second = ran.events("ended")
    assert first.pairs["entry"] == second.pairs["entry"] == "1"
    assert float(second.pairs["work_s"]) == float(first.pairs["work_s"]) + 2


def test_the_pacer_is_no_event(tmp_path: Path) -> None:
    ran = play(tmp_path, *BEGUN, "pacer", "pacer", "pacer now")
    said = ran.err.splitlines()
    on = said.index("Pacer on. This exercise has no tempo to keep.")
    assert said[on + 1] == "Pacer off."
    assert said[on + 2].startswith("not used: remove")
    assert names(ran) == names(play(tmp_path, *BEGUN))


def test_help_says_every_word_and_makes_no_event(tmp_path: Path) -> None:
    ran = play(tmp_path, "help")
    assert names(ran) == []
    for word in (
        "12/2", "12 14", "45s", "nocount", "go", "+", "-", "pause", "skip", "drop", "swap",
        "easier", "harder", "load", "setup", "fix", "late", "undo", "note", "pain", "rpe",
        "mass", "end", "help",
    ):  # fmt: skip
        assert any(line.startswith(word) or f"  {word}" in line for line in ran.err.splitlines())


UNUSABLE = [
    "-1", "1e9", "١٢", "12 14 16", "12/x", "99999", "nocount now", "gone", "load", "load ten",
    "load -5", "setup", "setup height", "setup width=3 m", "fix", "fix 9 12", "fix one 2", "rpe 11",
    "rpe", "mass 5", "note", "redo", "keep", "late", "45s", "[bold]12[/bold]", "\x1b[2J", "12\x00",
]  # fmt: skip


@pytest.mark.parametrize("line", UNUSABLE)
def test_an_unusable_line_changes_nothing(tmp_path: Path, line: str) -> None:
    """In a running set with one entry open: the reason on stderr, no event, the same state."""
    seen: dict[str, object] = {}

    def watch(desk: Desk, when: str) -> None:
        assert desk.live is not None
        seen[when] = desk.live.driver.state

    lines = iter([*BEGUN, line, None])

    def typist(desk: Desk) -> tuple[float, str | None]:
        text = next(lines)
        if text is line:
            watch(desk, "before")
        elif text is None:
            watch(desk, "after")
        return desk.seconds, text

    ran = run(EVERY_KEY, tmp_path, typist)
    assert seen["before"] == seen["after"]
    refusals = [x for x in ran.err.splitlines() if x.startswith("not used: ")]
    assert len(refusals) == 1
    assert refusals[0].isprintable()
    assert names(ran) == ["begun", "resting", "asked", "started"]


def test_text_of_people_is_data_on_one_line(tmp_path: Path) -> None:
    ran = play(tmp_path, "note a\tb\\c\x1b[31m[red]d")
    noted = ran.events("noted")[0]
    assert noted.pairs["note"] == "a\\tb\\\\c?[31m[red]d"
    assert "\x1b" not in ran.out + ran.err


def test_the_cautions_are_acknowledged_by_beginning_and_not_shown_again(tmp_path: Path) -> None:
    first = play(tmp_path, "", yes=False)
    again = play(tmp_path, "", yes=False)
    assert "Caution: Clear the floor two steps around the post." in first.err
    assert "Caution:" not in again.err


def test_yes_stores_nothing(tmp_path: Path) -> None:
    play(tmp_path, "", yes=True)
    assert "Caution:" in play(tmp_path, "", yes=False).err


def test_cautions_are_not_acknowledged_without_beginning(tmp_path: Path) -> None:
    play(tmp_path, "note later", yes=False)
    assert "Caution:" in play(tmp_path, "", yes=False).err


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("", "PRESS set 1 ended · undo takes it back"),
        ("skip", "PRESS set 1 given up · undo takes it back"),
        ("drop", "PRESS dropped, 2 sets · undo takes it back"),
        ("harder", "PRESS harder: stepping out, anchor 120 cm · undo takes it back"),
        ("swap", "PRESS swapped for BENCH, 1 set · undo takes it back"),
        ("load 12", "PRESS used 12 kg · undo takes it back"),
        ("undo", "Taken back: PRESS set 1 begun"),
        ("pain", "PRESS ends for today, 2 sets left out: pain · undo takes it back"),
    ],
)
def test_a_line_says_what_it_did_and_what_takes_it_back(
    tmp_path: Path, word: str, said: str
) -> None:
    assert said in play(tmp_path, *BEGUN, word).err.splitlines()


def test_redo_takes_the_undo_back_until_something_else_happens(tmp_path: Path) -> None:
    lines = (*BEGUN, "", "12/2", "undo", "redo", "redo", "undo", "note cold", "redo")
    ran = run(EVERY_KEY, tmp_path, script(*lines, step=0.2))
    undone, redone = ran.events("undone"), ran.events("redone")
    assert [(x.pairs["what"], x.pairs["entry"], x.pairs["count"]) for x in undone] == [
        ("entered", "1", "12/2")
    ] * 2
    assert [x.pairs["of"] for x in redone] == [undone[0].pairs["of"]]
    assert ran.err.count("not used: nothing to redo") == 2
    assert ran.live.rows()[0].reps is None


def test_undo_goes_act_by_act_and_at_once(tmp_path: Path) -> None:
    ran = play(tmp_path, *BEGUN, "", "go", "undo", "undo", "")
    assert [x.pairs["what"] for x in ran.events("undone")] == ["started", "ended"]
    first, second = ran.events("ended")
    assert (first.pairs["entry"], second.pairs["entry"]) == ("1", "1")


def test_pain_may_give_its_place_later(tmp_path: Path) -> None:
    ran = play(tmp_path, *BEGUN, "pain", "pain left knee", "go", "pain", "pain", "pain wrist")
    pains = [(x.pairs["exercise"], x.pairs["where"]) for x in ran.events("pain")]
    assert pains == [
        ("press", ""), ("press", "left knee"), ("row", ""), ("row", ""), ("row", "wrist"),
    ]  # fmt: skip
    assert ran.err.count("get medical help now") == 3  # not with a place told later
    assert [(r.exercise, r.pain_where) for r in ran.live.rows() if r.pain] == [
        ("press", "left knee"),
        ("row", "wrist"),
    ]


def test_pain_before_the_first_set_writes_it_as_skipped(tmp_path: Path) -> None:
    ran = play(tmp_path, "", "", "pain left knee")
    (row,) = ran.live.rows()
    assert (row.exercise, row.status, row.pain, row.pain_where) == (
        "press", "skipped", "yes", "left knee",
    )  # fmt: skip


def test_pain_before_the_begin_there_is_no_session_today(tmp_path: Path) -> None:
    ran = play(tmp_path, "pain left knee")
    assert names(ran) == ["pain", "noted"]
    assert ran.lines[-1].pairs["complete"] == "no"
    assert "not started" in ran.live.driver.state.note
