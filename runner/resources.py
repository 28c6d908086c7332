"""Where the shipped plans and sounds lie: beside the package in a checkout, inside it in a wheel.

The wheel's build maps the checkout's `plans/` and `sounds/` to `runner/_data/`.

hatchling does that, so that both folders can lie at the top, where people look for them.
"""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def plans_dir() -> Path:
    """The folder of the shipped plans; it may be missing in a broken installation."""
    return _folder("plans")


def sounds_dir() -> Path:
    """The folder of the shipped sounds; it may be missing in a broken installation."""
    return _folder("sounds")


def _folder(name: str, package: Path = _PACKAGE) -> Path:
    # The installed place first: beside an installed package a folder `plans` is somebody else's.
    installed = package / "_data" / name
    return installed if installed.is_dir() else package.parent / name
