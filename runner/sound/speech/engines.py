"""The speech engines, best first: which are there, and how to get one."""

from __future__ import annotations

import importlib.util
import shlex
import shutil
import sys
from collections.abc import Mapping
from dataclasses import dataclass

from runner.sound.getting import install

LIBRARY = "espeakng-loader"
_MODULE = "espeakng_loader"
# Program of each engine; text goes to its standard input, never through a shell.
PROGRAMS: Mapping[str, tuple[str, ...]] = {
    "espeak-ng": ("espeak-ng",),
    "say": ("say",),
    "windows-speech": ("powershell.exe", "powershell"),
}
ORDER = (LIBRARY, *PROGRAMS)
_BY_SYSTEM = {"darwin": (LIBRARY, "espeak-ng", "say"), "win32": (LIBRARY, "espeak-ng", *ORDER[3:])}
_ELSEWHERE = (LIBRARY, "espeak-ng")

SETTING = "MATSIDE_VOICE_BY"  # which engines, in which order: `say,espeak-ng`


@dataclass(frozen=True)
class Engine:
    """An engine that may work; `why_not` says why it cannot even be tried."""

    name: str
    program: str = ""  # its path; empty for the library
    why_not: str = ""


def find(name: str) -> Engine:
    """The engine of that name on this machine, after a look whether it is there; loads nothing."""
    if name == LIBRARY:
        there = importlib.util.find_spec(_MODULE) is not None
        return Engine(name, why_not="" if there else "not installed")
    paths = [path for program in PROGRAMS[name] if (path := shutil.which(program))]
    return Engine(name, paths[0]) if paths else Engine(name, why_not="not on this system")


def engines(
    environ: Mapping[str, str], system: str = sys.platform
) -> tuple[tuple[Engine, ...], tuple[str, ...]]:
    """The engines to try, in order, and what is wrong in the setting."""
    asked = [word.strip() for word in environ.get(SETTING, "").split(",") if word.strip()]
    faults = tuple(
        f"{SETTING}: no engine is called {word!r}; write one of {', '.join(ORDER)}"
        for word in asked
        if word not in ORDER
    )
    order = [word for word in asked if word in ORDER] or _BY_SYSTEM.get(system, _ELSEWHERE)
    return tuple(find(name) for name in order), faults


def how_to_get(name: str, system: str = sys.platform) -> str:
    """What to do on this system so that the engine is there; empty where nothing can be done."""
    if name == LIBRARY:
        return f"{shlex.quote(sys.executable)} -m pip install {LIBRARY}"
    if name == "espeak-ng":
        return install(name, system)
    return ""
