"""Stand-ins for players of the system, the helper's test double, and a player to try them."""

from __future__ import annotations

import os
import select
import stat
import time
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from runner.sound.link import Limits
from runner.sound.player import Player, open_player
from runner.sound.ways import DOUBLE, Settings, Way

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

SOON_S = 20.0  # a deadline, not a wait
QUICK = Limits(ready_s=10.0, reply_s=1.0, stuck_s=8.0, restarts=2, again_s=())

PLAYERS = {
    "works": 'echo "$@" >> "{log}"; exit 0',
    "fails": 'echo "no such device" >&2; exit 7',
    "hangs": "exec /bin/sleep 600",
    # Plays the silence that it is tried with, and does not end after a real sound.
    "stalls": 'case "$*" in *quiet*) exit 0;; esac; for f; do exec 3< "$f"; done; '
    '/bin/cat <&3 > /dev/null; echo $$ >> "{log}"; exec /bin/sleep 600',
    # Plays that silence, and waits for its server with a real sound.
    "waits": 'case "$*" in *quiet*) exit 0;; esac; echo $$ >> "{log}"; exec /bin/sleep 600',
    # As while a device is unplugged: NAME.off is there.
    "switched": 'if [ -e "$0.off" ]; then exit 5; fi; echo "$@" >> "{log}"',
    # As with a device that opens and then plays nothing.
    "breaks": 'case "$*" in *quiet*) exit 0;; esac; echo "$@" >> "{log}"; exit 1',
}


def fake_player(folder: Path, name: str, kind: str) -> Path:
    """Put a program `name` into `folder`; what it was called with, or its id, is in NAME.log."""
    log = folder / f"{name}.log"
    path = folder / name
    path.write_text("#!/bin/sh\n" + PLAYERS[kind].format(log=log) + "\n")
    path.chmod(path.stat().st_mode | stat.S_IXUSR)
    return log


def double(file: Path, trouble: str = "", name: str = "recording") -> Way:
    """A way that notes the cues in `file`, and misbehaves as `trouble` says."""
    return Way(name, ("--file", str(file), "--trouble", trouble), module=DOUBLE)


def only(*ways: Way, bell: bool = True) -> Settings:
    return Settings(ways, bell=bell)


def noted(file: Path) -> list[str]:
    """The names in a double's file, without the silence that opens the device."""
    if not file.exists():
        return []
    names = [line.split("\t")[0] for line in file.read_text().splitlines()]
    return [name for name in names if name != "(ready)"]


class Ending:
    """Watches for the end of a process, also one that is nobody's child here (Linux)."""

    def __init__(self, pid: int) -> None:
        self._fd = os.pidfd_open(pid)

    def came(self, within_s: float) -> bool:
        """Wait for it; whether it came in time."""
        return bool(select.select([self._fd], [], [], within_s)[0])

    def close(self) -> None:
        os.close(self._fd)


def marked(mark: str) -> list[int]:
    """Processes that were started with this mark in their environment (Linux)."""
    found = []
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            with suppress(OSError):
                if mark.encode() in (folder / "environ").read_bytes():
                    found.append(int(folder.name))
    return found


def left_of(mark: str) -> list[int]:
    """Which of them are left once they have had their time."""
    until = time.monotonic() + SOON_S
    for pid in marked(mark):
        with suppress(ProcessLookupError):
            ending = Ending(pid)
            ending.came(max(until - time.monotonic(), 0.0))
            ending.close()
    return marked(mark)


@contextmanager
def playing(
    settings: Settings,
    limits: Limits = QUICK,
    now: Callable[[], int] = time.monotonic_ns,
    bell: Callable[[], None] | None = None,
    phrases: Path | None = None,
) -> Iterator[Player]:
    player = open_player(settings=settings, limits=limits, now=now, bell=bell, phrases=phrases)
    try:
        assert player.settled(SOON_S)
        yield player
    finally:
        player.close()


def came(player: Player, condition: Callable[[], bool]) -> bool:
    """Wait for what no reply tells of, as a line in a double's file."""
    until = time.monotonic() + SOON_S
    while not player.wait_for(condition, 0.05) and time.monotonic() < until:
        pass
    return condition()


def played(player: Player, number: int) -> bool:
    return player.wait_for(lambda: player.counts.played == number, SOON_S)
