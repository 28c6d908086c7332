"""The lines of line mode: each word read into its command, or refused with what to write."""

from __future__ import annotations

import pytest

from runner.session import verb as cmd
from runner.session.apply import Refused
from runner.session.flow import read_line
from runner.session.verb import VERBS, shown
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
    ("end", cmd.End()),
    ("lighter", cmd.Take("lighter")),
    ("place", cmd.Take("place")),
    ("planned", cmd.Take("")),
    ("unwell", cmd.Unwell()),
]


@pytest.mark.parametrize(("line", "command"), LINES)
def test_line(line: str, command: cmd.Command) -> None:
    assert read_line(line) == command


def test_every_word_of_the_session_is_among_them() -> None:
    words = {known.id for known in VERBS.values() if known.decides and known.form}
    assert {line.split()[0] for line, _ in LINES if line.split()} >= words


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("skip 3", "remove"),
        ("note", "note TEXT"),
        ("fix 3", "fix 3 13"),
        ("fix x 13", "fix 3 13"),
        ("fix 3 twelve", "not a number"),
        ("fix 3 12 14", "an entry is one side"),
        ("load -3", "write 0 to 500"),
        ("load 9999", "0 to 500"),
        ("setup", "name=value"),
        ("setup height", "name=value"),
        ("setup height=60 cm;width=3", "name=value"),
        ("rpe 11", "0 to 10"),
        ("rpe \u0661", "write 0 to 10"),
        ("mass 3", "20 to 500"),
        ("jump", "is unknown"),
        ("harde", "unknown word 'harde'. Did you mean \"harder\"?"),
        ("nocuont", 'Did you mean "nocount"?'),
        ("-1", "less than 0"),
        ("1e9", "not a number"),
    ],
)
def test_a_line_that_cannot_be_used(line: str, said: str) -> None:
    with pytest.raises(Refused, match=said):
        read_line(line)


def test_text_is_shown_short_and_without_control_characters() -> None:
    assert shown("\x1b[31mred") == "'?[31mred'"
    assert shown("x" * 90) == repr("x" * 39 + "…")
