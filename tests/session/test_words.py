"""The lines of line mode: each word read into its command, or refused with what to write."""

from __future__ import annotations

import pytest

from runner.session import verb as cmd
from runner.session.apply import Refused
from runner.session.words import HELP, WORDS, read_line, shown
from tests.session.mat import reps, seconds

LINES: list[tuple[str, cmd.Command]] = [
    ("", cmd.Proceed()),
    ("  ", cmd.Proceed()),
    ("12", reps(12)),
    ("12/2", cmd.Enter("reps", (cmd.Count(12, 2),))),
    ("12 14", reps(12, 14)),
    ("12|14", reps(12, 14)),
    ("45s", seconds(45)),
    ("go", cmd.StartNow()),
    ("+", cmd.Ask(15.0)),
    ("-", cmd.Ask(-15.0)),
    ("pause", cmd.Pause()),
    ("skip", cmd.Skip()),
    ("drop", cmd.Drop()),
    ("swap", cmd.Swap()),
    ("shorten", cmd.Shorten()),
    ("shorten 10m", cmd.Shorten(within=600.0)),
    ("shorten 7 min", cmd.Shorten(within=420.0)),
    ("shorten 07:10", cmd.Shorten(until=7 * 3600 + 600)),
    ("easier", cmd.Step(-1)),
    ("harder", cmd.Step(1)),
    ("load 7.5", cmd.Use(load=7.5)),
    ("setup height=60 cm", cmd.Use(setup=(("height", "60 cm"),))),
    ("setup height=60 cm width=4 cm", cmd.Use(setup=(("height", "60 cm"), ("width", "4 cm")))),
    ("nocount", cmd.NoCount()),
    ("fix 3 13", cmd.Fix(3, "reps", cmd.Count(13))),
    ("fix 3 45s", cmd.Fix(3, "hold", cmd.Count(45))),
    ("fix 3 nocount", cmd.NoCount(3)),
    ("late", cmd.Late()),
    ("undo", cmd.Undo()),
    ("redo", cmd.Redo()),
    ("note cold  hands", cmd.Note("cold  hands")),
    ("pain left knee", cmd.Hurt("left knee")),
    ("pain", cmd.Hurt()),
    ("rpe 7.5", cmd.Rate(7.5)),
    ("mass 74.5", cmd.Weigh(74.5)),
    ("keep", cmd.Keep()),
    ("today", cmd.Keep(today_only=True)),
    ("pacer", cmd.Pace()),
    ("sound", cmd.Hear("sound")),
    ("volume 60", cmd.Hear("volume", "60")),
    ("volume 007", cmd.Hear("volume", "7")),
    ("voice names", cmd.Hear("voice", "names")),
    ("voice-volume 0", cmd.Hear("voice-volume", "0")),
    ("end", cmd.End()),
    ("lighter", cmd.Take("lighter")),
    ("place", cmd.Take("place")),
    ("planned", cmd.Take("")),
    ("unwell", cmd.Unwell()),
    ("advice", cmd.Answer("advice")),
    ("accept 1 2", cmd.Answer("accept 1 2")),
    ("refuse 3", cmd.Answer("refuse 3")),
]


@pytest.mark.parametrize(("line", "command"), LINES)
def test_line(line: str, command: cmd.Command) -> None:
    assert read_line(line) == command


def test_every_word_is_among_them_and_in_the_help() -> None:
    assert {line.split()[0] for line, _ in LINES if line.split()} >= set(WORDS)
    assert all(any(text.startswith(word.form) for text in HELP) for word in WORDS.values())


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("skip 3", "nothing may follow"),
        ("note", "note TEXT"),
        ("fix 3", "fix 3 13"),
        ("fix x 13", "fix 3 13"),
        ("fix 3 twelve", "no number"),
        ("fix 3 12 14", "an entry is one side"),
        ("load -3", "write 0 to 500"),
        ("load 9999", "0 to 500"),
        ("setup", "name=value"),
        ("setup height", "name=value"),
        ("setup height=60 cm;width=3", "name=value"),
        ("rpe 11", "0 to 10"),
        ("rpe \u0661", "write 0 to 10"),
        ("mass 3", "20 to 500"),
        ("volume", "0 to 100: volume 60"),
        ("volume 101", "0 to 100: volume 60"),
        ("volume +5", "0 to 100: volume 60"),
        ("voice-volume \u0661", "0 to 100: voice-volume 60"),
        ("voice", "voice on, voice names or voice off"),
        ("voice loud", "voice on, voice names or voice off"),
        ("sound off", "nothing may follow"),
        ("jump", "is no word of this session"),
        ("harde", "unknown word 'harde'. Did you mean \"harder\"?"),
        ("nocuont", 'Did you mean "nocount"?'),
        ("-1", "less than nothing"),
        ("1e9", "no number"),
    ],
)
def test_a_line_that_cannot_be_used(line: str, said: str) -> None:
    with pytest.raises(Refused, match=said):
        read_line(line)


def test_text_is_shown_short_and_without_control_characters() -> None:
    assert shown("\x1b[31mred") == "'?[31mred'"
    assert shown("x" * 90) == repr("x" * 39 + "…")
