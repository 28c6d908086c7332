"""A session in a terminal, brought to where it is measured."""

from __future__ import annotations

from pathlib import Path

from runner.screen.keys import FIRST_OF_SET_S
from tests.benchmarks.aids.terminal import Terminal
from tests.plans import plan

REST_S = 900
# The first rest is soon over, the second is long.
PLAN = "trial = true\n" + plan(
    "Kestrel Hut, a long rest",
    {"row": {"short": "ROW", "version": [{"id": "light", "name": "rucksack"}]}},
    [{"row": 3}],
    timing={"recovery": f"{REST_S}s", "lead_in": "1s"},
)


def session(folder: Path, plan: str = PLAN) -> Terminal:
    """The program on its way to the ready sheet."""
    file = folder / "long-rest.toml"
    file.write_text(plan, encoding="utf-8")
    options = ("run", str(file), "--for", "Ada", "--yes", "--data", str(folder))
    return Terminal("-m", "runner", *options)


def to_the_rest(terminal: Terminal) -> None:
    """From the ready sheet through a set into the long rest, its count asked for."""
    terminal.until_text("start")
    terminal.press(" ")
    terminal.until_text("end set")
    terminal.wait(FIRST_OF_SET_S + 0.5)
    terminal.press(" ")
    terminal.until_text("start now")
    terminal.quiet(0.2)
