"""Windows, as far as Linux can stand for it: without what POSIX alone has, nothing is missed.

In a process of its own the modules, functions and signals that Python lacks on Windows go, by its
documentation ("Availability: Unix"), and `msvcrt` is a stand-in that locks a byte as described
there, with offsets as a C `long` holds them. What Textual does on Windows is not tried.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
# What the standard library and others choose by the system is loaded before.
WINDOWS = """
import asyncio, os, pkgutil, signal, sqlite3, subprocess, sys, time, types, zoneinfo
import platformdirs, textual.app, wakepy, watchfiles

for name in ("fcntl", "termios", "tty", "pty", "resource", "grp", "pwd", "readline"):
    sys.modules[name] = None
UNIX = {
    os: "fork getuid geteuid getgid killpg setsid nice mkfifo set_blocking uname register_at_fork",
    signal: "SIGHUP SIGALRM SIGUSR1 SIGPIPE SIGQUIT SIGCHLD SIGTSTP alarm setitimer sigwait",
    time: "CLOCK_BOOTTIME CLOCK_MONOTONIC clock_gettime tzset",
}
for module, names in UNIX.items():
    for name in names.split():
        if hasattr(module, name):
            delattr(module, name)

locked = set()
def locking(file, mode, size):
    place = os.lseek(file, 0, os.SEEK_CUR)
    assert size == 1 and place < 2**31
    if mode == msvcrt.LK_UNLCK:
        locked.remove(place)
    elif place in locked:
        raise PermissionError(13, "Permission denied")
    else:
        locked.add(place)
msvcrt = types.ModuleType("msvcrt")
msvcrt.LK_NBLCK, msvcrt.LK_UNLCK, msvcrt.locking = 2, 0, locking
sys.modules["msvcrt"] = msvcrt
sys.platform = "win32"
"""
MODULES = """
import importlib
import runner
for one in pkgutil.walk_packages(runner.__path__, "runner."):
    if not one.name.endswith("__main__"):
        importlib.import_module(one.name)
"""
LOCKS = """
from pathlib import Path
from runner.record import session_lock
record = Path(sys.argv[1]) / "record.db"
assert session_lock.claim(record, "a") and len(locked) == 1
assert session_lock.is_running(record, "a") and not session_lock.is_running(record, "b")
session_lock.release(record, "a")
assert not locked
locked.add(session_lock._lock_place(record, "a")[1])  # another process
assert session_lock.is_running(record, "a") and not session_lock.claim(record, "a")
"""
COMMAND = """
from runner.cli.main import main
sys.exit(main(sys.argv[1:]))
"""


def python(code: str, *arguments: object, lines: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", WINDOWS + code, *map(str, arguments)],
        cwd=ROOT,
        env={**os.environ, "MATSIDE_SOUND": "silence"},
        input=lines,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def test_every_module_loads_and_a_running_session_holds_its_lock(tmp_path: Path) -> None:
    done = python(MODULES + LOCKS, tmp_path)
    assert (done.returncode, done.stderr) == (0, "")


def test_a_session_runs_line_by_line_and_is_exported(tmp_path: Path) -> None:
    where = ("--data", tmp_path, "--for", "Ada")
    done = python(COMMAND, "run", "demo", "--plain", *where, lines="\n\ngo\n\n4\nend\n")
    assert done.returncode == 0, done.stderr
    assert "\tentered\t" in done.stdout
    assert "Traceback" not in done.stderr
    done = python(COMMAND, "export", "--trial", *where)
    assert (done.returncode, len(done.stdout.splitlines())) == (0, 2), done.stderr
