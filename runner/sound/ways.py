"""The ways to make sound, best first, and how to get a better one to work on this system."""

from __future__ import annotations

import importlib.util
import math
import platform
import shlex
import shutil
import sys
from collections.abc import Callable, Mapping

from msgspec import Struct

from runner.text import FULL, read_volume

# How to install a missing package, by the package manager that this system has.

# Each manager's program and its install command. Debian's package names were tried; those of the
# others are from memory.
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
_BY_HAND = {
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
    """The command that installs what Debian calls `package`; empty without one."""
    if system in ("darwin", "win32"):
        return _BY_HAND.get((package, system), "")
    for manager, command in _MANAGERS.items():
        if which(manager):
            return f"{command} {_OTHERS[package].get(manager, package)}"
    return f"on Debian: apt-get install {package}"


# What to try, in order. A program that plays through a sound server comes before one that takes the
# device for itself.
PROGRAMS: Mapping[str, tuple[str, ...]] = {
    "pw-play": ("pw-play",),
    "paplay": ("paplay",),
    "aplay": ("aplay", "-q"),
    "afplay": ("afplay",),
}
COMPILER = "gcc libc6-dev libasound2-dev python3-dev"  # needed to build the library on Linux
LIBRARIES = ("simpleaudio", "winsound")
BELL, SILENCE = "bell", "silence"
DOUBLE = "runner.testing"  # writes cues to a file; named here, never imported
_BY_SYSTEM = {
    "darwin": ("simpleaudio", "afplay"),
    "win32": ("simpleaudio", "winsound"),
}
_BY_DEFAULT = ("simpleaudio", "pw-play", "paplay", "aplay")

SETTING = "MATSIDE_SOUND"  # the ways to try, in order: `paplay,bell`
LEAD_SETTING = "MATSIDE_SOUND_LEAD"  # seconds of quiet before each sound
LEAD_MOST_S = 2.0
VOLUME_SETTING, VOICE_VOLUME_SETTING = "MATSIDE_VOLUME", "MATSIDE_VOICE_VOLUME"  # 0 to 100


class Way(Struct, frozen=True):
    """A way that may work: `arguments` for the helper; None where it cannot be tried.

    `why_not` then says why. `module` is what the helper's process runs.
    """

    name: str
    arguments: tuple[str, ...] | None
    why_not: str = ""
    module: str = "runner.sound.helper"


class Settings(Struct, frozen=True):
    """The settings: the ways to try, whether the bell may ring, the lead in s, faults in them.

    `volume` is that of cues, `voice_volume` that of phrases, 0 to 100.
    """

    ways: tuple[Way, ...]
    bell: bool = True
    lead_s: float = 0.0
    faults: tuple[str, ...] = ()
    volume: int = FULL
    voice_volume: int = FULL
    silence: bool = False  # whether silence is wanted where no way before it works


def find(name: str) -> Way:
    """The way of that name on this machine, and whether it is there at all."""
    if name in PROGRAMS:
        program, *arguments = PROGRAMS[name]
        path = shutil.which(program)
        if path is None:
            return Way(name, None, "not on this system")
        return Way(name, ("--backend", "program", "--", path, *arguments))
    if name in LIBRARIES:
        if importlib.util.find_spec(name) is None:
            return Way(name, None, "not installed")
        return Way(name, ("--backend", name))
    return Way(name, None, "unknown player")


def read_settings(environ: Mapping[str, str], system: str = sys.platform) -> Settings:
    """The settings in `environ`; `faults` says what is wrong in them; never raises.

    `recording:FILE` among the ways writes every cue to FILE instead of playing it, for tests.
    """
    known = {*PROGRAMS, *LIBRARIES, BELL, SILENCE}
    asked = [word.strip() for word in environ.get(SETTING, "").split(",") if word.strip()]
    good = [word for word in asked if word in known or word.startswith("recording:")]
    faults = [
        f"{SETTING}: unknown player {word!r}; write one of {', '.join(sorted(known))}"
        for word in asked
        if word not in good
    ]
    order = good or [*_BY_SYSTEM.get(system, _BY_DEFAULT), BELL]
    silence = SILENCE in order
    if silence:
        order = order[: order.index(SILENCE)]
    bell = BELL in order
    ways = []
    for word in order[: order.index(BELL)] if bell else order:
        kind, _, file = word.partition(":")
        if kind == "recording":
            ways.append(Way(kind, ("--file", file), module=DOUBLE))
        else:
            ways.append(find(word))
    lead_s = _lead(environ.get(LEAD_SETTING, ""), faults)
    volume = _volume(environ, VOLUME_SETTING, faults)
    voice_volume = _volume(environ, VOICE_VOLUME_SETTING, faults)
    return Settings(tuple(ways), bell, lead_s, tuple(faults), volume, voice_volume, silence)


def _volume(environ: Mapping[str, str], name: str, faults: list[str]) -> int:
    text = environ.get(name, "")
    try:
        return read_volume(text) if text.strip() else FULL
    except ValueError as fault:
        faults.append(f"{name}: {fault}")
        return FULL


def _lead(text: str, faults: list[str]) -> float:
    if not text.strip():
        return 0.0
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not 0 <= seconds <= LEAD_MOST_S:
        faults.append(
            f"{LEAD_SETTING}: {text!r} is not a length of time; write seconds from 0 to 2"
        )
        return 0.0
    return seconds


def has_wheel(
    system: str = sys.platform,
    machine: str = platform.machine(),
    python: tuple[int, ...] = sys.version_info[:2],
) -> bool:
    """Whether simpleaudio-patched 1.0.5 has a wheel here: macOS and Windows, up to Python 3.12.

    As `pip download --only-binary` found on PyPI; pyproject's markers say the same.
    """
    known = system == "darwin" or (system == "win32" and machine != "ARM64")
    return known and (3, 11) <= python <= (3, 12)


def how_to_get(name: str, system: str = sys.platform) -> str:
    """How to get the way to work on this system; empty where nothing can be done."""
    if name == "simpleaudio":
        command = f"{shlex.quote(sys.executable)} -m pip install simpleaudio-patched"
        compiler = "" if has_wheel(system) else install(COMPILER, system)
        return f"{compiler}, then: {command}" if compiler else command
    packages = {"pw-play": "pipewire-bin", "paplay": "pulseaudio-utils", "aplay": "alsa-utils"}
    if name in packages:
        return install(packages[name], system)
    return ""
