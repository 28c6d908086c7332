"""While a session runs, and as a command ends, nothing looks through what has been loaded."""

from __future__ import annotations

import gc
import subprocess
import sys
from pathlib import Path

import pytest

from runner.cli.main import main
from runner.live.clock import NEW_OBJECTS, left_alone
from runner.screen.full_screen import run
from tests.lines.process import ROOT, environment

ENDING = """
import atexit, gc, sys
loaded = len(gc.get_objects())
atexit.register(lambda: print("left alone", gc.get_freeze_count() > loaded))
from runner.cli.main import main
sys.exit(main(["check", "demo"]))
"""


def test_only_what_is_new_is_looked_through_and_only_inside() -> None:
    before, frozen = gc.get_threshold(), gc.get_freeze_count()
    with left_alone():
        assert gc.get_freeze_count() > frozen
        assert gc.get_threshold()[0] == NEW_OBJECTS
        assert len(gc.get_objects()) < 1000
    assert gc.get_threshold() == before
    assert gc.get_freeze_count() <= frozen
    assert len(gc.get_objects()) > 1000


def test_a_full_screen_runs_so() -> None:
    class Screen:
        grace: float | None = None

        def leave(self, code: int, /) -> None:
            """Nobody asks."""

        def run(self) -> int | None:
            return gc.get_threshold()[0]

    assert run(Screen()) == NEW_OBJECTS


def test_line_mode_runs_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[int] = []

    def instead(*given: object, **named: object) -> tuple[int, None]:
        seen.append(gc.get_threshold()[0])
        return 0, None

    monkeypatch.setattr("runner.lines.session.run_plain", instead)
    assert main(["run", "demo", "--plain", "--mute", "--yes", "--data", str(tmp_path)]) == 0
    assert seen == [NEW_OBJECTS]


def test_a_command_ends_without_another_look() -> None:
    done = subprocess.run(
        [sys.executable, "-c", ENDING],
        capture_output=True,
        text=True,
        check=True,
        env=environment(),
        cwd=ROOT,
    )
    assert done.stdout.endswith("left alone True\n")
