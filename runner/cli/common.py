"""What several commands share: options that mean the same in each, the data folder, questions.

Every command loads it, so it is light: what takes long to import is imported in its functions.
"""

from __future__ import annotations

import argparse
import getpass
import os
import shutil
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from datetime import date, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Self, TextIO, TypeVar

from runner.errors import Exit, MatsideError
from runner.text import hanging, read_day, read_time, read_volume, seconds_until, shown

Item = TypeVar("Item")


class Help(argparse.RawDescriptionHelpFormatter):
    """Help as wide as the terminal, at most 80 columns.

    The width is asked for once, for every option makes a formatter. By the rule of
    `shutil.get_terminal_size`, whose module is slow to load.
    """

    def __init__(self, prog: str, max_help_position: int = 24) -> None:
        width = min(_columns(), WIDEST) - 2
        super().__init__(prog, max_help_position=max_help_position, width=width)


@lru_cache(maxsize=1)
def _columns() -> int:
    try:
        columns = int(os.environ.get("COLUMNS", "0"))
    except ValueError:
        columns = 0
    if columns > 0:
        return columns
    try:
        return os.get_terminal_size(1).columns or 80
    except OSError:  # no terminal, or no stream at all
        return 80


def examples(parser: argparse.ArgumentParser, *lines: str) -> None:
    """The end of a command's help: ways to call it."""
    parser.epilog = "examples:\n" + "\n".join(f"  {line}" for line in lines)


def data_option(parser: argparse.ArgumentParser) -> None:
    """--data DIR."""
    parser.add_argument(
        "--data",
        metavar="DIR",
        type=Path,
        help="folder of the record and your own plans (default: MATSIDE_DATA, else the platform's "
        "data folder)",
    )


def for_option(parser: argparse.ArgumentParser, text: str) -> None:
    """--for NAME; `text` says what it does here."""
    parser.add_argument("--for", dest="trainee", metavar="NAME", help=text)


def trial_option(parser: argparse.ArgumentParser) -> None:
    """--trial."""
    parser.add_argument("--trial", action="store_true", help="use the record of trial plans")


def force_option(parser: argparse.ArgumentParser) -> None:
    """--force."""
    parser.add_argument("--force", action="store_true", help="overwrite an existing FILE")


def session_option(parser: argparse.ArgumentParser) -> None:
    """--session ID."""
    parser.add_argument(
        "--session", metavar="ID", help="session of the plan (default: the one due)"
    )


def plan_argument(parser: argparse.ArgumentParser) -> None:
    """PLAN."""
    parser.add_argument("plan", metavar="PLAN", help="path or name of a plan: demo")


def heard_options(parser: argparse.ArgumentParser) -> None:
    """--volume and --voice-volume."""
    for name, what in (("--volume", "cues"), ("--voice-volume", "the voice")):
        parser.add_argument(name, metavar="N", type=_volume, help=f"volume of {what}, 0 to 100")


def _volume(text: str) -> int:
    try:
        return read_volume(text)
    except ValueError as fault:
        raise argparse.ArgumentTypeError(str(fault)) from None


def data_dir(given: Path | None) -> Path:
    """--data, else MATSIDE_DATA, else the platform's data directory."""
    if given is not None:
        return given
    named = os.environ.get("MATSIDE_DATA")
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_data_dir("matside", appauthor=False))


def default_trainee() -> str:
    """The login name, or `trainee` without one."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "trainee"


def trainee_name(given: str | None) -> str:
    """--for, else the login name; without control characters, not empty, not endless."""
    from runner.text import trainee_name as as_recorded

    if given is not None and not given.isprintable():
        given = ""
    name = as_recorded(default_trainee() if given is None else given)
    if not name or len(name) > 60 or not name.isprintable():
        raise MatsideError(
            "--for: write a name of 1 to 60 letters, without control characters", code=Exit.USAGE
        )
    return name


def day(text: str | None, option: str) -> date | None:
    """A local date: 2026-11-25; None for an option that is not given."""
    if text is None:
        return None
    found = read_day(text)
    if found is None:
        raise MatsideError(
            f"{option} {text!r} is not a date; write it as 2026-11-25", code=Exit.USAGE
        )
    return found


WIDEST = 80  # most columns of a page


def width(out: TextIO | None = None) -> int:
    """Columns of a page on `out`, by default standard output: the terminal's, at most 80."""
    out = out or sys.stdout
    if not out.isatty():
        return WIDEST
    return min(shutil.get_terminal_size((WIDEST, 24)).columns, WIDEST)


def tell(line: str, out: TextIO | None = None) -> None:
    """A line of a page on `out`; a remark on standard error where no `out` is given.

    A page is as wide as `width` says. Remarks are as wide as the terminal, and one line each where
    they go to a pipe.
    """
    text = shown(line, "?")
    if out is not None:
        wide = width(out)
    else:
        out = sys.stderr
        wide = shutil.get_terminal_size().columns if out.isatty() else max(len(text), 1)
    print("\n".join(hanging(text, wide, words=True)), file=out)


def can_write(signs: str) -> bool:
    """Whether standard output's encoding has these signs."""
    try:
        signs.encode(sys.stdout.encoding or "utf-8")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def show_lines(lines: Sequence[str]) -> None:
    """Print lines; through the pager (`PAGER`, else less) where they fill more than a screen.

    Without a terminal, with an empty `PAGER`, or where no pager starts, they are only printed.
    """
    text = "".join(f"{line}\n" for line in lines)
    if not can_write("…·"):
        text = text.replace("…", ".").replace("·", "+")
    asked = os.environ.get("PAGER", "less -R")
    high = shutil.get_terminal_size().lines
    if asked.strip() and sys.stdout.isatty() and len(lines) >= high and _paged(asked, text):
        return
    sys.stdout.write(text)


def _paged(asked: str, text: str) -> bool:
    """Whether the pager showed it."""
    import shlex
    import subprocess

    try:
        command = shlex.split(asked)
        found = shutil.which(command[0]) if command else None
        if found is None:
            return False
        sys.stdout.flush()
        content = text.encode(sys.stdout.encoding or "utf-8", "backslashreplace")
        subprocess.run([found, *command[1:]], input=content, check=False)  # noqa: S603 - their own
    except (OSError, ValueError):
        return False
    return True


class Busy:
    """A context for work that may take a while: after half a second the terminal shows progress.

    Only on standard error, and erased when the work is done. `each` counts the items of the work;
    without it only the time is shown.
    """

    AFTER, EVERY = 0.5, 0.2  # seconds

    def __init__(self, what: str, stream: TextIO | None = None) -> None:
        self._what, self._stream = what, sys.stderr if stream is None else stream
        self._share: float | None = None
        self._over = threading.Event()
        self._thread: threading.Thread | None = None
        self._shown = False

    def __enter__(self) -> Self:
        if self._stream.isatty():
            self._thread = threading.Thread(target=self._run, daemon=True)
            self._thread.start()
        return self

    def __exit__(self, *exc: object) -> None:
        self._over.set()
        if self._thread is not None:
            self._thread.join()
        if self._shown:
            self._write("\r\x1b[K")

    def each(self, items: Iterable[Item], number: int) -> Iterator[Item]:
        """The items one after the other; `number` is how many there are."""
        for done, item in enumerate(items):
            self._share = done / number
            yield item

    def _run(self) -> None:
        begun, wait = time.monotonic(), self.AFTER
        while not self._over.wait(wait):
            self._shown, wait = True, self.EVERY
            share = self._share
            far = f"{time.monotonic() - begun:.0f} s" if share is None else f"{100 * share:.0f} %"
            self._write(f"\r\x1b[K{self._what} ... {far}")

    def _write(self, text: str) -> None:
        with suppress(OSError, ValueError):  # the terminal has gone
            self._stream.write(text)
            self._stream.flush()


def terminal_bell() -> Callable[[], None] | None:
    """The terminal's bell, where there is one; stdout is data and has none."""
    if not sys.stderr.isatty():
        return None

    def ring() -> None:
        sys.stderr.write("\a")
        sys.stderr.flush()

    return ring


def confirmed(question: str, *, yes: bool, option: str = "--yes") -> bool:
    """Whether the person says yes: by an option, else on the terminal.

    Raises MatsideError (2) where nobody can be asked.
    """
    if yes:
        return True
    return typed(f"{question} [yes/no] ", option).casefold() in {"y", "yes"}


def typed(question: str, option: str) -> str:
    """What the person types. Raises MatsideError (2) where nobody can be asked."""
    if not sys.stdin.isatty():
        raise MatsideError(f"nobody can answer here; pass {option}", code=Exit.USAGE)
    print(question, end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip()


# --within and --until: the time for a session, in seconds.


def time_of_day(text: str, option: str = "--at") -> int:
    """Seconds since midnight. Raises MatsideError, which names the option."""
    found = read_time(text)
    if found is None:
        raise MatsideError(
            f"{option} {text!r} is not a time of day; write it as 18:30", code=Exit.USAGE
        )
    return found


def time_there_is(within: str | None, until: str | None, start: int | None) -> float | None:
    """Seconds for the session by --within or --until; None without either.

    `start` is the second of the day at which it begins, None for now.
    """
    if within is not None and until is not None:
        raise MatsideError(
            "--within and --until exclude each other; leave one out", code=Exit.USAGE
        )
    if within is not None:
        return _within(within)
    if until is None:
        return None
    end = time_of_day(until, "--until")
    if start is None:
        now = datetime.now().astimezone()
        start = now.hour * 3600 + now.minute * 60 + now.second
    seconds = seconds_until(end, start)
    if not seconds:
        begin = f"{start // 3600:02}:{start % 3600 // 60:02}"
        raise MatsideError(
            f"--until {until}: the session starts at {begin}; write a later time", code=Exit.USAGE
        )
    return float(seconds)


def time_given(within: str | None, until: str | None) -> tuple[float | None, datetime | None]:
    """Seconds for the session from its begin, or the local time by which it should be over."""
    seconds = time_there_is(within, until, None)
    if seconds is None or until is None:
        return seconds, None
    # Added to local time, for the clocks may change in between.
    now = datetime.now().astimezone().replace(microsecond=0, tzinfo=None)
    return None, (now + timedelta(seconds=seconds)).astimezone()


def _within(text: str) -> float:
    from runner.plan.faults import BadValueError
    from runner.plan.values import parse_duration

    try:
        seconds = parse_duration(text)
    except BadValueError as bad:
        raise MatsideError(
            f"--within {text!r}: write it like 35m or 35:00", code=Exit.USAGE
        ) from bad
    if seconds <= 0:
        raise MatsideError(
            f"--within {text!r} is not a length of time; write it like 35m", code=Exit.USAGE
        )
    return seconds
