"""How something missing is installed here: by the package manager that this system has."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable, Mapping

# Each manager's program, and how it is told to install. Package names of Debian were tried, those
# of the others are from memory.
_MANAGERS: Mapping[str, str] = {
    "apt-get": "sudo apt-get install",
    "dnf": "sudo dnf install",
    "pacman": "sudo pacman -S",
    "zypper": "sudo zypper install",
    "apk": "sudo apk add",
}
_OTHERS: Mapping[str, Mapping[str, str]] = {
    "pipewire-bin": {"dnf": "pipewire-utils", "pacman": "pipewire", "zypper": "pipewire-tools",
                     "apk": "pipewire-tools"},
    "pulseaudio-utils": {"pacman": "libpulse"},
    "gcc libc6-dev libasound2-dev python3-dev": {
        "dnf": "gcc alsa-lib-devel python3-devel", "pacman": "gcc alsa-lib",
        "zypper": "gcc alsa-devel python3-devel", "apk": "gcc musl-dev alsa-lib-dev python3-dev"},
    "espeak-ng": {},
    "alsa-utils": {},
}  # fmt: skip
_ELSEWHERE = {
    ("gcc libc6-dev libasound2-dev python3-dev", "darwin"): "xcode-select --install",
    (
        "gcc libc6-dev libasound2-dev python3-dev",
        "win32",
    ): "winget install Microsoft.VisualStudio.2022.BuildTools",
    ("espeak-ng", "darwin"): "brew install espeak-ng",
    ("espeak-ng", "win32"): "winget install eSpeak-NG.eSpeak-NG",
}


def install(
    package: str,
    system: str = sys.platform,
    which: Callable[[str], str | None] = shutil.which,
) -> str:
    """The command that installs what Debian calls `package`; empty where there is none for it."""
    if system in ("darwin", "win32"):
        return _ELSEWHERE.get((package, system), "")
    for manager, command in _MANAGERS.items():
        if which(manager):
            return f"{command} {_OTHERS[package].get(manager, package)}"
    return f"on Debian: apt-get install {package}"
