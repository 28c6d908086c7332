"""`matside cues`: hear every cue, and read by which way it plays and how to get a better one."""

from __future__ import annotations

import argparse
import difflib
import sys
import time

from runner.errors import Exit, MatsideError
from runner.sound.cues import CUES
from runner.sound.player import Player, open_player

SETTLE_S = 10.0  # a system player that hangs is given up after a few seconds each
GAP_S = 0.6


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    wanted = args.cues or list(CUES)
    for name in wanted:
        if name not in CUES:
            near = difflib.get_close_matches(name, CUES, 1)
            hint = f"did you mean {near[0]}?" if near else f"there are {', '.join(CUES)}"
            raise MatsideError(f"there is no cue {name!r}; {hint}", code=Exit.USAGE)
    bell = _ring if sys.stderr.isatty() else None
    with open_player(bell=bell) as player:
        player.settled(SETTLE_S)
        _play(player, wanted)
        _report(player)
    return Exit.OK


def _ring() -> None:
    sys.stderr.write("\a")
    sys.stderr.flush()


def _play(player: Player, names: list[str]) -> None:
    for name in names:
        cue = CUES[name]
        print(f"{cue.name:<8} {cue.meaning}", flush=True)
        before = player.counts
        player.play(name)
        time.sleep(cue.length_s + GAP_S + player.lead_s)
        if player.counts.silent > before.silent:
            print("         (nothing to play it with)")


def _report(player: Player) -> None:
    print()
    print(player.notice())
    for row in player.report():
        state = {True: "works", False: "does not work", None: "not tried"}[row.works]
        line = f"  {row.way:<12} {state}"
        if row.why_not:
            line += f": {row.why_not}"
        print(line)
        if row.how and not row.works:
            print(f"{'':15}to get it: {row.how}")
