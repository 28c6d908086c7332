"""`matside rehearse --watch`: the rehearsal on the screen."""

from __future__ import annotations

import argparse
import math
from pathlib import Path

from runner.cli.run import no_full_screen
from runner.core.memory import Memory
from runner.core.workout import Workout
from runner.errors import Exit, MatsideError

DEFAULT_SPEED = 20.0
SLOWEST, FASTEST = 0.1, 100.0  # our choice; above 60 the counts of a rest run into one another
_ELSEWHERE = ("json", "svg", "runs", "seed")  # options of the table, chart and figures


def check(args: argparse.Namespace) -> None:
    """Refuse what cannot be watched, before anything is read. Raises MatsideError."""
    if not args.watch:
        for option in ("speed", "mute", "voice"):
            if getattr(args, option):
                raise MatsideError(f"--{option} is for --watch; write --watch too", code=Exit.USAGE)
        return
    if _speed(args.speed) != 1 and args.voice not in (None, "off"):
        raise MatsideError(
            f"--voice {args.voice}: phrases fit at the real speed alone; write --speed 1 too",
            code=Exit.USAGE,
        )
    for name in _ELSEWHERE:
        if getattr(args, name) not in (None, False):
            raise MatsideError(
                f"--watch shows the session on the screen alone; leave --{name} out",
                code=Exit.USAGE,
            )
    why_not = no_full_screen()
    if why_not:
        raise MatsideError(
            f"{why_not}: --watch needs a full screen; without --watch the rehearsal is a table",
            code=Exit.UNAVAILABLE,
        )


def _speed(text: str | None) -> float:
    """--speed N."""
    try:
        speed = DEFAULT_SPEED if text is None else float(text)
    except ValueError:
        speed = math.nan
    if not SLOWEST <= speed <= FASTEST:
        raise MatsideError(
            f"--speed {text}: write how many times as fast, from {SLOWEST:g} to {FASTEST:g}",
            code=Exit.USAGE,
        )
    return speed


def watch(
    args: argparse.Namespace, workout: Workout, memory: Memory, trainee: str, path: Path
) -> int:
    """Rehearse on the screen; the exit code. The record at `path` is only read."""
    from runner.live.clock import FastClock, SystemClock
    from runner.live.rehearsal import prepare_rehearsal
    from runner.screen.watch import run_rehearsal

    opening = prepare_rehearsal(
        workout,
        memory,
        path=path,
        trainee=trainee,
        clock=FastClock(SystemClock(), _speed(args.speed)),
    )
    return run_rehearsal(opening, mute=args.mute, voice=args.voice)
