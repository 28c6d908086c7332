"""Where records lie. Light: every command needs it."""

from __future__ import annotations

import getpass
from pathlib import Path


def record_path(data: Path, *, trial: bool) -> Path:
    """The record that a plan's sessions are kept in, in the data directory."""
    return data / ("trial.db" if trial else "record.db")


def default_trainee() -> str:
    """The login name, `trainee` where there is none."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "trainee"
