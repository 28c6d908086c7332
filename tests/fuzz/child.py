"""One target fuzzed in a process of its own, with bounded memory, for `python -m tests.fuzz`.

Findings are kept as files and do not end it: each place in the code counts once.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib.util
import json
import os
import sys
import time
import traceback
from collections.abc import Callable
from pathlib import Path

from tests.fuzz.__main__ import UNDER_WAY

MEMORY = 2 * 2**30  # bytes of address space; the program needs a tenth
LONGEST = 65_536  # bytes of an input


class Watched:
    """A target whose runs are counted and whose findings are kept."""

    def __init__(self, run: Callable[[bytes], None], folder: Path) -> None:
        self._run, self._folder = run, folder
        # What is under way stands in a file, for whoever has to end this process from outside.
        self._now = os.open(folder / UNDER_WAY, os.O_WRONLY | os.O_CREAT, 0o600)
        self._begun = self._written = time.monotonic()
        self.runs, self.slowest = 0, 0.0
        self.found: dict[str, str] = {}

    def __call__(self, data: bytes) -> None:
        os.ftruncate(self._now, 0)
        os.pwrite(self._now, data, 0)
        begun = time.process_time()
        try:
            self._run(data)
        except Exception as error:  # noqa: BLE001 - whatever it is, it is a finding
            self._keep(error, data)
        self.slowest = max(self.slowest, time.process_time() - begun)
        self.runs += 1
        if time.monotonic() - self._written > 0.5:
            self.write()

    def _keep(self, error: Exception, data: bytes) -> None:
        last = traceback.extract_tb(error.__traceback__)[-1]
        name = f"{type(error).__name__}-{Path(last.filename).stem}-{last.lineno}"
        if name not in self.found:
            self.found[name] = str(error)[:200]
            (self._folder / f"{name}.input").write_bytes(data)
            text = "".join(traceback.format_exception(error))
            (self._folder / f"{name}.txt").write_text(text, encoding="utf-8")

    def write(self) -> None:
        """Say how far it is; the parent reads the last that was said."""
        self._written = time.monotonic()
        data = {
            "runs": self.runs,
            "seconds": self._written - self._begun,
            "slowest": self.slowest,
            "found": self.found,
        }
        (self._folder / "figures.json").write_text(json.dumps(data), encoding="utf-8")


def main() -> int:
    """Fuzz until the time is over."""
    parser = argparse.ArgumentParser()
    parser.add_argument("target")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=float, required=True)
    parser.add_argument("--engine", choices=("atheris", "own"), required=True)
    args = parser.parse_args()
    _bound_memory()
    if args.engine == "atheris":
        _by_atheris(args.target, args.folder, args.seconds)
    _by_own_loop(args.target, args.folder, args.seconds)
    return 0


def _by_atheris(name: str, folder: Path, seconds: float) -> None:
    """Does not come back: the fuzzer ends the process."""
    import atheris  # noqa: PLC0415 - where it is installed

    with atheris.instrument_imports(include=["runner"]):
        from tests.fuzz.targets import TARGETS  # noqa: PLC0415 - instrumented by being imported

    target = TARGETS[name]
    watched = Watched(target, folder)
    corpus = folder / "corpus"
    corpus.mkdir()
    for number, data in enumerate(target.seeds()):
        (corpus / f"seed-{number}").write_bytes(data)
    options = [f"-max_total_time={max(int(seconds), 1)}", f"-max_len={LONGEST}", "-verbosity=0"]
    atheris.Setup(
        [
            sys.argv[0],
            *options,
            "-rss_limit_mb=1024",
            "-timeout=30",
            f"-artifact_prefix={folder}/",
            str(corpus),
        ],
        watched,
    )
    atheris.Fuzz()


def _by_own_loop(name: str, folder: Path, seconds: float) -> None:
    from tests.fuzz import own  # noqa: PLC0415 - as the other engine has it
    from tests.fuzz.targets import TARGETS  # noqa: PLC0415

    target = TARGETS[name]
    watched = Watched(target, folder)
    until = time.monotonic() + seconds
    own.fuzz(watched, target.seeds(), go_on=lambda: time.monotonic() < until, longest=LONGEST)
    watched.write()


def _bound_memory() -> None:
    if importlib.util.find_spec("resource") is None:
        return
    import resource  # noqa: PLC0415 - where the system has it

    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))


if __name__ == "__main__":
    sys.exit(main())
