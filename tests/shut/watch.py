"""What was seen of programs that ran under a watch: Python's own, and that of the system."""

from __future__ import annotations

import json
import shutil
import subprocess
from functools import lru_cache
from pathlib import Path
from typing import Any

AUDIT = Path(__file__).parent / "audit"  # on PYTHONPATH, it watches every Python


def events(folder: Path) -> list[list[Any]]:
    return [json.loads(line) for line in (folder / "audit.log").read_text().splitlines()]


@lru_cache(maxsize=1)
def no_strace() -> str:
    """Why there can be no strace here; empty where there can."""
    if shutil.which("strace") is None:
        return "strace is not installed"
    tried = subprocess.run([*strace(Path("/dev/null")), "true"], capture_output=True, check=False)
    return "" if tried.returncode == 0 else "strace may not trace here"


def strace(log: Path) -> list[str]:
    """What stands before a command so that each socket of it and its children is noted."""
    return ["strace", "-f", "-qq", "--seccomp-bpf", "-e", "trace=socket", "-o", str(log)]
