"""What a start leaves for later: rubbish of what is loaded, and keeping the machine awake."""

from __future__ import annotations

import gc
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest

from runner.cli.main import NEW_OBJECTS as WHILE_LOADING, main
from runner.live.clock import NEW_OBJECTS, collecting_new_objects_only, kept_awake
from runner.screen.full_screen import run
from tests.lines.process import ROOT, environment

ENDING = """
import atexit, gc, sys
loaded = len(gc.get_objects())
atexit.register(lambda: print("left alone", gc.get_freeze_count() > loaded))
from runner.cli.main import main
sys.exit(main(["check", "demo"]))
"""

LOADING = """
import gc
gc.disable()
from pathlib import Path
import runner.cli.main, runner.cli.run, runner.live.session_setup, runner.screen.app
from runner.plan.person import read_for
read_for(Path("plans/kestrel-hut.toml"), Path("nowhere"), "Ada")
print(gc.get_count()[0])
"""
MODELS = """
from runner.plan.models import Table
waiting = [Table]
for table in waiting:
    waiting += table.__subclasses__()
print(len(waiting), [table.__name__ for table in waiting[1:] if table.__pydantic_complete__])
"""
PATIENCE_S = 10.0


def test_only_what_is_new_is_looked_through_and_only_inside() -> None:
    before, frozen = gc.get_threshold(), gc.get_freeze_count()
    with collecting_new_objects_only():
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


def said(code: str) -> str:
    """What a Python of its own prints."""
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env=environment(),
    )
    return done.stdout.strip()


def test_nothing_is_looked_through_before_the_first_screen() -> None:
    assert 10_000 < int(said(LOADING)) < WHILE_LOADING


def test_no_table_of_a_plan_is_built_before_a_plan_is_read() -> None:
    number, _, built = said(MODELS).partition(" ")
    assert (int(number) > 10, built) == (True, "[]")


class Awake:
    """Stands for wakepy: notes which thread asked for what."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.said: list[tuple[str, threading.Thread]] = []
        self.asked = threading.Event()
        module = ModuleType("wakepy")
        module.keep = SimpleNamespace(presenting=self.presenting)  # type: ignore[attr-defined]
        monkeypatch.setitem(sys.modules, "wakepy", module)

    @contextmanager
    def presenting(self, *, on_fail: str) -> Iterator[None]:
        assert on_fail == "pass"
        self.said.append(("asked", threading.current_thread()))
        self.asked.set()
        yield
        self.said.append(("over", threading.current_thread()))


def test_the_machine_is_kept_awake_until_the_end_by_one_thread(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    awake = Awake(monkeypatch)
    monkeypatch.setattr("runner.live.clock.AWAKE_AFTER", 0)
    with kept_awake():
        assert awake.asked.wait(PATIENCE_S)
        assert [what for what, _ in awake.said] == ["asked"]
    (asked, by), (over, of) = awake.said
    assert (asked, over, by) == ("asked", "over", of)
    assert by is not threading.current_thread()
    assert not by.is_alive()


def test_what_ends_at_once_asks_for_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    awake = Awake(monkeypatch)
    monkeypatch.setattr("runner.live.clock.AWAKE_AFTER", PATIENCE_S)
    with kept_awake():
        """Over before the first screen would stand."""
    assert awake.said == []
