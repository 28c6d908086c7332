"""A session whose boot time moves: `python -m tests.faults.asleep DATA PLAN SECONDS`.

Linux lets a process go into a time namespace of its own, where CLOCK_BOOTTIME is ahead and
CLOCK_MONOTONIC is not: what a suspend looks like from inside. That needs CAP_SYS_ADMIN; exit 77
where it is not to be had. Prints how many events were told.
"""

from __future__ import annotations

import ctypes
import errno
import os
import sys
from pathlib import Path

from runner.live.clock import SystemClock
from runner.live.driver import SettledEvent
from runner.live.session_setup import prepare
from runner.session import verb as cmd
from tests.faults.hand import events_of, integrity
from tests.lines.manual import Silence

NEW_TIME = 0x80  # CLONE_NEWTIME, linux/sched.h
NOT_PERMITTED = 77
TRIES = 100_000  # EUSERS also means that another process is just looking at this one's memory


def fall_asleep(seconds: int) -> None:
    """Move this process's boot time forward. OSError where that is not permitted."""
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.unshare(NEW_TIME):
        raise OSError(ctypes.get_errno(), "unshare")
    Path("/proc/self/timens_offsets").write_text(f"boottime {seconds} 0", encoding="ascii")
    descriptor = os.open("/proc/self/ns/time_for_children", os.O_RDONLY)
    try:
        for _ in range(TRIES):
            if not libc.setns(descriptor, NEW_TIME):
                return
            if ctypes.get_errno() != errno.EUSERS:
                break
        raise OSError(ctypes.get_errno(), "setns")
    finally:
        os.close(descriptor)


def main(data: Path, plan: str, seconds: int) -> int:
    """Run into the first set, sleep, and look at what the session makes of it."""
    opening = prepare(plan, data=data, trainee="Ada", clock=SystemClock())
    live = opening.begin(Silence())
    driver, told = live.driver, list[SettledEvent]()
    driver.listen(told.extend)
    driver.open()
    driver.send(cmd.Proceed())
    while driver.state.phase != "set":
        driver.tick()
    before = driver.now()
    try:
        fall_asleep(seconds)
    except OSError as error:
        print(f"boot time cannot be moved here: {error}", file=sys.stderr)
        return NOT_PERMITTED
    driver.tick()
    assert seconds <= driver.now() - before < seconds + 5, driver.now() - before
    assert driver.state.phase == "paused", driver.state.phase
    pause = next(one.event for one in told if one.event.name == "paused")
    assert pause.why == "suspend", pause  # type: ignore[attr-defined]
    driver.send(cmd.Proceed())
    driver.send(cmd.End())
    there = events_of(data / "record.db", live.info.id)
    assert [one.event.name for one in told] == [event.name for event in there]
    assert integrity(data / "record.db") == "ok"
    print(len(told))
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])))
