"""Finds plans: by path, in the person's own folder, among the shipped ones.

This module reads no plan and loads no reader: `run` draws its first picture, with the plan's title,
before that.
"""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

from runner.errors import Exit, MatsideError
from runner.plan.faults import listed, near_all, quoted
from runner.resources import plans_dir
from runner.text import clean, escaped

SUFFIX = ".toml"
_LONGEST_PATH = 200  # characters of a path shown in a message; our choice


def find_plan(name: str, data_dir: Path) -> Path:
    """The file of a plan: by path, by file stem in `data_dir`/plans, or among the shipped ones.

    Raises MatsideError: exit code 66 where nothing has that name (similar names are listed), 77
    where a folder may not be read.
    """
    path = Path(name)
    try:
        if path.is_file() or (_is_path(name) and os.path.lexists(path)):
            return path
        known = known_plans(data_dir)
        if name in known:
            return known[name]
        if name and os.path.lexists(path):
            return path  # a directory or a device: the reader says so
    except PermissionError as error:
        where = escaped(str(error.filename or name))
        line = f"{where}: not permitted to look here; change its permissions"
        raise MatsideError(line, code=Exit.NO_PERMISSION) from None
    except (OSError, ValueError):  # a name that is too long or holds a NUL
        known = {}
    raise _unknown(name, path, known)


def known_plans(data_dir: Path) -> dict[str, Path]:
    """Every plan that is known by its file stem; a person's own comes before a shipped one."""
    shipped = _plans_in(plans_dir())
    return {**shipped, **_plans_in(data_dir / "plans")}


def plan_titled(title: str, data_dir: Path) -> str:
    """What to type for the plan with that title; "" where no known file has it.

    Known: the person's own plans, files here and in `plans` here, the shipped ones.
    """
    shipped = _plans_in(plans_dir())
    here = [path for folder in (Path(), Path("plans")) for path in _plans_in(folder).values()]
    found = (
        *_plans_in(data_dir / "plans").items(),
        *((str(path), path) for path in here if path.resolve() not in shipped.values()),
        *shipped.items(),
    )
    return next((name for name, path in found if title_of(path) == title), "")


def title_of(path: Path) -> str | None:
    """The title of a plan file; reads nothing else of it. None where it cannot be read."""
    try:
        title = tomllib.loads(path.read_text(encoding="utf-8-sig")).get("title")
    except (OSError, ValueError):
        return None
    return clean(title) if isinstance(title, str) else None


def _plans_in(folder: Path) -> dict[str, Path]:
    try:
        return {
            path.stem: path
            for path in sorted(folder.iterdir())
            if path.suffix == SUFFIX and not path.name.startswith(".")
        }
    except (FileNotFoundError, NotADirectoryError):
        return {}


def _is_path(name: str) -> bool:
    separators = [os.sep] if os.altsep is None else [os.sep, os.altsep]
    return name.endswith(SUFFIX) or any(separator in name for separator in separators)


def _unknown(name: str, path: Path, known: dict[str, Path]) -> MatsideError:
    written = {stem: stem for stem in known}  # what to type for each stem
    if _is_path(name):
        written |= {other.stem: str(other) for other in _beside(path)}
    found = [written[stem] for stem in near_all(path.stem, written)]
    line = f"unknown plan {quoted(name, _LONGEST_PATH)}"
    if found:
        line += f"; did you mean {' or '.join(quoted(other, _LONGEST_PATH) for other in found)}?"
    elif known:
        line += f"; write a path, or one of {listed(known)}"
    else:
        line += "; write the path of a plan file"
    return MatsideError(line, code=Exit.NO_INPUT)


def _beside(path: Path) -> list[Path]:
    try:
        return list(_plans_in(path.parent).values())
    except (OSError, ValueError):
        return []
