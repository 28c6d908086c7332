"""The speech engines, best first: which are there, how to get one, and how to ask each.

eSpeak NG is under the GPL, version 3 or later: only the process of `runner.sound.speech` loads it,
never the rest of the program. Engines get the text as data: the library in a buffer, a program on
its standard input.
"""

from __future__ import annotations

import ctypes
import importlib
import importlib.util
import os
import platform
import shlex
import shutil
import subprocess
import sys
import wave
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Protocol

from msgspec import Struct

from runner.sound.link import CAN_ASK, ask_death_signal
from runner.sound.wav import Format, read_wav
from runner.sound.ways import install

LIBRARY = "espeakng-loader"
_MODULE = "espeakng_loader"
# The program of each engine; the text goes to its standard input, never through a shell.
PROGRAMS: Mapping[str, tuple[str, ...]] = {
    "espeak-ng": ("espeak-ng",),
    "say": ("say",),
    "windows-speech": ("powershell.exe", "powershell"),
}
ORDER = (LIBRARY, *PROGRAMS)
_BY_SYSTEM = {"darwin": (LIBRARY, "espeak-ng", "say"), "win32": (LIBRARY, "espeak-ng", *ORDER[3:])}
_ELSEWHERE = (LIBRARY, "espeak-ng")

SETTING = "MATSIDE_VOICE_BY"  # the engines to try, in order: `say,espeak-ng`


class Engine(Struct, frozen=True):
    """An engine that may work; `why_not` says why it cannot even be tried."""

    name: str
    program: str = ""  # its path; empty for the library
    why_not: str = ""


def find(name: str) -> Engine:
    """The engine of that name on this machine, and whether it is there; loads nothing."""
    if name == LIBRARY:
        there = importlib.util.find_spec(_MODULE) is not None
        return Engine(name, why_not="" if there else "not installed")
    paths = [path for program in PROGRAMS[name] if (path := shutil.which(program))]
    return Engine(name, paths[0]) if paths else Engine(name, why_not="not on this system")


def engines(
    environ: Mapping[str, str], system: str = sys.platform
) -> tuple[tuple[Engine, ...], tuple[str, ...]]:
    """The engines to try, in order, and the faults in the setting."""
    asked = [word.strip() for word in environ.get(SETTING, "").split(",") if word.strip()]
    faults = tuple(
        f"{SETTING}: unknown engine {word!r}; write one of {', '.join(ORDER)}"
        for word in asked
        if word not in ORDER
    )
    order = [word for word in asked if word in ORDER] or _BY_SYSTEM.get(system, _ELSEWHERE)
    return tuple(find(name) for name in order), faults


def how_to_get(name: str, system: str = sys.platform) -> str:
    """The command that brings the engine to this system; empty without one."""
    if name == LIBRARY:
        return f"{shlex.quote(sys.executable)} -m pip install {LIBRARY}"
    if name == "espeak-ng":
        return install(name, system)
    return ""


# Rendering a phrase; only the process of `runner.sound.speech` does so.

WORDS_A_MINUTE = 160  # our choice: a little under eSpeak's 175, easier to follow from the floor
LIMIT_S = 6.0  # seconds for a phrase; then the program is killed

# speak_lib.h of eSpeak NG
_SYNCHRONOUS, _DONT_EXIT, _UTF8, _RATE = 2, 0x8000, 1, 1

# Text comes on standard input, the file's name from the environment; nothing goes into the script.
_WINDOWS = (
    "$ErrorActionPreference='Stop';Add-Type -AssemblyName System.Speech;"
    "$s=New-Object System.Speech.Synthesis.SpeechSynthesizer;"
    "try{$s.SelectVoiceByHints('NotSet','NotSet',0,[Globalization.CultureInfo]'en-US')}catch{};"
    "$s.SetOutputToWaveFile($env:MATSIDE_PHRASE);"
    "$r=New-Object IO.StreamReader([Console]::OpenStandardInput(),[Text.Encoding]::UTF8);"
    "$s.Speak($r.ReadToEnd());$s.Dispose()"
)


class Trouble(Exception):
    """An engine cannot speak; the text says why, in one line."""


class Synth(Protocol):
    """An engine that works here."""

    version: str  # what a rendering depends on, beside the text

    def render(self, text: str, scratch: Path) -> tuple[Format, bytes]:
        """The samples of a phrase; `scratch` may be written over. Raises Trouble or OSError."""


class Library:
    """eSpeak NG as the package espeakng-loader carries it."""

    def __init__(self) -> None:
        loader: Any = importlib.import_module("espeakng_loader")
        self._espeak = espeak = ctypes.CDLL(str(loader.get_library_path()))
        espeak.espeak_Info.restype = ctypes.c_char_p
        data = os.fsencode(loader.get_data_path())
        rate = espeak.espeak_Initialize(_SYNCHRONOUS, 0, data, _DONT_EXIT)
        if rate <= 0:
            raise Trouble("eSpeak NG cannot find its data")
        if espeak.espeak_SetVoiceByName(b"en") != 0:
            raise Trouble("eSpeak NG has no voice 'en'")
        espeak.espeak_SetParameter(_RATE, WORDS_A_MINUTE, 0)
        self._format = Format(1, 2, rate)
        self._samples = bytearray()
        kind = ctypes.CFUNCTYPE(
            ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
        )
        self._callback = kind(self._take)  # kept: the library holds a bare pointer
        espeak.espeak_SetSynthCallback(self._callback)
        self.version = f"{espeak.espeak_Info(None).decode()} {WORDS_A_MINUTE}"

    def _take(self, samples: Any, number: int, _events: Any) -> int:
        if samples and number > 0:
            self._samples += ctypes.string_at(samples, 2 * number)
        return 0

    def render(self, text: str, scratch: Path) -> tuple[Format, bytes]:
        """The samples of a phrase."""
        del scratch
        self._samples.clear()
        data = text.encode()
        size = len(data) + 1
        if self._espeak.espeak_Synth(data, size, 0, 1, 0, _UTF8, None, None) != 0:
            raise Trouble("eSpeak NG refused the text")
        return self._format, bytes(self._samples)


class Program:
    """A program that reads a text on its standard input and writes a WAV file."""

    def __init__(self, name: str, path: str) -> None:
        self._name, self._path = name, path
        self.version = f"{self._own_version()} {WORDS_A_MINUTE}"

    def _own_version(self) -> str:
        if self._name != "espeak-ng":
            return platform.platform()
        return self._run(["--version"], b"").decode("utf-8", "replace").strip()[:120]

    def _arguments(self, target: Path) -> list[str]:
        match self._name:
            case "espeak-ng":
                return [
                    "-v",
                    "en",
                    "-s",
                    str(WORDS_A_MINUTE),
                    "-b",
                    "1",
                    "-w",
                    str(target),
                    "--stdin",
                ]
            case "say":
                kind = ["--file-format=WAVE", "--data-format=LEI16@22050"]
                return ["-r", str(WORDS_A_MINUTE), "-o", str(target), *kind, "-f", "-"]
            case _:
                return ["-NoProfile", "-NonInteractive", "-Command", _WINDOWS]

    def render(self, text: str, scratch: Path) -> tuple[Format, bytes]:
        """The samples of a phrase."""
        scratch.unlink(missing_ok=True)
        self._run(self._arguments(scratch), text.encode(), scratch)
        try:
            return read_wav(scratch)
        except (EOFError, OSError, wave.Error) as fault:
            raise Trouble(f"wrote no sound: {fault}") from None

    def _run(self, arguments: list[str], text: bytes, target: Path | None = None) -> bytes:
        environment = {**os.environ, "MATSIDE_PHRASE": str(target or "")}
        try:
            done = subprocess.run(  # noqa: S603 - our table's program, no shell
                [self._path, *arguments],
                input=text,
                capture_output=True,
                env=environment,
                timeout=LIMIT_S,
                check=False,
                preexec_fn=ask_death_signal if CAN_ASK else None,
            )
        except subprocess.TimeoutExpired:
            raise Trouble(f"no answer within {LIMIT_S:g} s") from None
        if done.returncode != 0:
            output = done.stderr[:500].decode("utf-8", "replace").strip().split("\n")[0]
            raise Trouble(
                f"ended with status {done.returncode}" + (f": {output}" if output else "")
            )
        return done.stdout


def make(name: str, program: str) -> Synth:
    """The engine of that name; raises Trouble, OSError or ImportError where it cannot speak."""
    return Library() if name == LIBRARY else Program(name, program)
