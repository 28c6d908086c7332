"""`matside cues`: plays every cue and the voice; names what plays them, and what would be better.

Here people also find out what is missing on their system.
"""

from __future__ import annotations

import argparse
import difflib
import os
import time
from collections.abc import Sequence

from runner.cli.common import examples, heard_options, terminal_bell
from runner.errors import Exit, MatsideError
from runner.law.number_words import spoken
from runner.live.sound_controls import Hearing, SoundOptions
from runner.sound.player import Player, Report
from runner.sound.sounds import CUES
from runner.sound.ways import SILENCE

SETTLE_S = 10.0  # seconds; a system player that hangs is given up after a few seconds
VOICE_S = 25.0  # the same for speech engines
GAP_S = 0.6
SENTENCE = "next, rucksack row, left, twelve kilos"


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside cues",
        "matside cues start switch --volume 40",
        "matside cues --say 'hollow hold, thirty seconds'",
    )
    parser.add_argument(
        "cues", metavar="CUE", nargs="*", help="names of the cues to play (default: all)"
    )
    parser.add_argument("--say", metavar="TEXT", help="text for the voice to speak")
    heard_options(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    named = _named(args.cues)
    sentence = _sentence(args.say, named=bool(named))
    wanted = SoundOptions(
        voice="on" if sentence else "off", volume=args.volume, voice_volume=args.voice_volume
    )
    with Hearing(os.environ, wanted, bell=terminal_bell()) as hearing:
        if sentence:
            hearing.voice.want([sentence], soon=True)
        hearing.player.settled(SETTLE_S)
        _play(hearing.player, named or ([] if args.say is not None else list(CUES)))
        if sentence:
            _say(hearing, sentence)
        print()
        print(hearing.player.notice(pointer=False))
        _report(hearing.player.report())
        if sentence:
            print()
            print(hearing.voice_notice(pointer=False))
            _report(hearing.voice.report())
    return Exit.OK


def _named(names: Sequence[str]) -> list[str]:
    """The cues asked for. Raises MatsideError for an unknown one."""
    for name in names:
        if name not in CUES:
            near = difflib.get_close_matches(name, CUES, 1)
            hint = f"did you mean {near[0]}?" if near else f"the cues are {', '.join(CUES)}"
            raise MatsideError(f"unknown cue {name!r}; {hint}", code=Exit.USAGE)
    return list(names)


def _sentence(asked: str | None, *, named: bool) -> str:
    """The sentence to speak: the text asked for, an example beside all cues, or ""."""
    if asked is None:
        return "" if named else SENTENCE
    text = spoken(asked)
    if not text:
        raise MatsideError("--say: write words to speak", code=Exit.USAGE)
    return text


def _play(player: Player, names: Sequence[str]) -> None:
    """Play each cue beside its meaning; where nothing plays, print the meanings at once."""
    silent = _silent(player, player.volume)
    for name in names:
        cue = CUES[name]
        print(f"{cue.name:<8} {cue.meaning}", flush=True)
        if not silent:
            player.play(name)
            time.sleep(cue.length_s + GAP_S + player.lead_s)
    if names and silent:
        print(f"         ({silent})")


def _silent(player: Player, volume: int) -> str:
    """Why nothing is heard at that volume; empty where it is."""
    return "no player" if player.way == SILENCE else "" if volume else "volume 0"


def _say(hearing: Hearing, sentence: str) -> None:
    print(f"{'voice':<8} {sentence}", flush=True)
    voice, player = hearing.voice, hearing.player
    if not voice.ready(sentence, VOICE_S):
        print(f"         ({voice.why(sentence) or 'no voice'})")
        return
    before = player.counts.said
    voice.say(sentence)
    if player.wait_for(lambda: player.counts.said > before, 1.0):
        time.sleep((voice.length(sentence) or 0.0) + GAP_S + player.lead_s)
    else:
        print(f"         ({_silent(player, player.voice_volume) or 'no player'})")


def _report(rows: Sequence[Report]) -> None:
    known = {""}
    for row in rows:
        what = {True: "works", False: f"unavailable: {row.why_not}", None: row.why_not}[row.works]
        print(f"  {row.way:<16} {what}")
        if not row.works and row.how not in known:
            print(f"{'':19}{row.how}")
            known.add(row.how)
