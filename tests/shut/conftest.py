"""Every command once with hostile texts; the tests look at what came of it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.lines.process import ROOT
from tests.shut.watch import AUDIT, no_strace, strace
from tests.sound.speakers import fake_engine


@pytest.fixture(scope="package")
def played(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which every command has been played, its Pythons and sockets watched."""
    folder = tmp_path_factory.mktemp("shut")
    programs = folder / "bin"
    programs.mkdir()
    fake_engine(programs, "say", seconds=0.3)
    before = [] if no_strace() else strace(folder / "strace.log")
    subprocess.run(
        [*before, sys.executable, "-m", "tests.shut.commands", str(folder)],
        cwd=ROOT,
        env={
            **{k: v for k, v in os.environ.items() if not k.startswith("MATSIDE")},
            "PATH": f"{programs}{os.pathsep}{os.environ['PATH']}",
            "PYTHONPATH": f"{AUDIT}{os.pathsep}{ROOT}",
            "PYTHONUTF8": "1",
            "MATSIDE_AUDIT": str(folder / "audit.log"),
            "MATSIDE_CACHE": str(folder / "cache"),
            "MATSIDE_DATA": str(folder / "data"),
            "MATSIDE_SOUND": "silence",
            "MATSIDE_VOICE_BY": "say",
        },
        check=True,
        timeout=180,
    )
    return folder
