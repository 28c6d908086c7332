"""A rehearsal in a real terminal, sixty times as fast, with what was asked of the sound."""

from __future__ import annotations

import json
import os
import sys
from collections import Counter
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("a pseudo-terminal is POSIX", allow_module_level=True)

import pexpect

from tests.lines.process import ROOT, matside
from tests.oracle.cues import expected_cues
from tests.plan.plans import whole

DEADLINE = 30


def test_every_cue_of_the_demo_is_played_once(tmp_path: Path) -> None:
    timeline = json.loads(matside("rehearse", "demo", "--json").stdout)
    plan = whole("demo")
    wanted = [name for _, name in expected_cues(timeline, plan)]
    cues = tmp_path / "cues.txt"
    environment = {**os.environ, "TERM": "xterm-256color", "MATSIDE_SOUND": f"recording:{cues}"}
    options = ("--watch", "--speed", "60", "--data", str(tmp_path / "data"))
    child = pexpect.spawn(
        sys.executable,
        ["-m", "runner", "rehearse", "demo", *options],
        env={k: v for k, v in environment.items() if k not in ("NO_COLOR", "CI")},
        dimensions=(24, 80),
        timeout=DEADLINE,
        cwd=str(ROOT),
    )
    try:
        child.expect_exact("Sound: recording")
        child.send(" ")
        child.expect_exact("Rehearsed: 2:09")
        child.send("q")
        child.expect_exact("Leave the rehearsal?")
        child.send("y")
        child.expect(pexpect.EOF)
        child.close()
    finally:
        child.close(force=True)
    assert child.exitstatus == 0
    played = [line.split("\t")[0] for line in cues.read_text().splitlines()]
    assert Counter(n for n in played if not n.startswith("(")) == Counter(wanted)
    assert not (tmp_path / "data").exists()
