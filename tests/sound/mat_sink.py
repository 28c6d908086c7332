"""A sound server without hardware: PulseAudio with a null sink, and a recorder of what it plays.

    with mat_sink() as sink, sink.recording() as recorder:
        subprocess.run([...], env={**os.environ, **sink.environ})
        recorder.wait_for_quiet(1.0, deadline_s=20)
    heard = recorder.cues()

Needs the programs of Debian's pulseaudio, pulseaudio-utils and libasound2-plugins. `missing()` says
which are not there, for a skip.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import statistics
import subprocess
import tempfile
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING

from tests.sound.listen import FLOOR, Heard, find_cues, find_notes, from_s16

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

RATE = 48_000
BYTES_PER_S = 2 * RATE
SETTLE_S = 2.5  # of recording before the first cue: the monitor needs time to run steadily
# Real time on a machine that others use: a defect shows every time, their load does not.
TRIES = 5
MEDIAN_MS = 25.0  # of the errors of intervals
START_S = 15.0  # for the server and the recorder to come up

ALSA_CONFIG = """\
</usr/share/alsa/alsa.conf>
pcm.!default { type pulse }
ctl.!default { type pulse }
"""


def missing(*programs: str) -> str:
    """Why there can be no such sink here, else an empty text. `programs` are needed besides."""
    for name in ("pulseaudio", "pactl", "parec", *programs):
        if shutil.which(name) is None:
            return f"{name} is not installed"
    if not any(Path("/usr/lib").glob("**/alsa-lib/libasound_module_pcm_pulse.so")):
        return "ALSA's pulse plugin (libasound2-plugins) is not installed"
    return ""


class Recorder:
    """What the sink plays, from the moment `wait_for(0)` returns; 16-bit mono at 48 kHz."""

    def __init__(self, environ: dict[str, str]) -> None:
        command = ["parec", "-d", "mat.monitor", "--raw", "--format=s16le", "--channels=1"]
        command += [f"--rate={RATE}", "--latency-msec=10"]
        self._process = subprocess.Popen(command, stdout=subprocess.PIPE, env=environ)
        self._data = bytearray()
        self._grown = threading.Condition()
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        with self._process.stdout as out:
            while chunk := os.read(out.fileno(), 65536):
                with self._grown:
                    self._data += chunk
                    self._grown.notify_all()
        with self._grown:
            self._grown.notify_all()

    @property
    def length_s(self) -> float:
        """Seconds recorded so far."""
        return len(self._data) / BYTES_PER_S

    def wait_for(self, length_s: float, deadline_s: float) -> None:
        """Wait until so much is recorded; the recording itself is the clock of a test."""
        with self._grown:
            enough = self._grown.wait_for(lambda: self.length_s >= length_s, deadline_s)
        assert enough, f"recorded {self.length_s:.2f} s of {length_s:.2f} s in {deadline_s} s"

    def wait_for_quiet(self, quiet_s: float, deadline_s: float) -> None:
        """Wait until something was heard and the last `quiet_s` seconds were quiet."""

        def is_over() -> bool:
            samples = abs(from_s16(self.raw))
            tail = round(quiet_s * RATE)
            loud = samples > FLOOR
            return bool(loud[:-tail].any() and not loud[-tail:].any())

        until = time.monotonic() + deadline_s
        while not is_over():
            left_s = until - time.monotonic()
            assert left_s > 0, f"no {quiet_s} s of quiet after a sound within {deadline_s} s"
            self.wait_for(self.length_s + 0.2, max(left_s, 1.0))

    def stop(self) -> None:
        """End the recording."""
        self._process.terminate()
        self._process.wait()
        self._thread.join()

    @property
    def raw(self) -> bytes:
        """The samples so far."""
        return bytes(self._data[: len(self._data) // 2 * 2])

    def cues(self) -> list[Heard]:
        """The cues of the recording, in order, with onsets in seconds of it."""
        return find_cues(find_notes(from_s16(self.raw), RATE))


class Sink:
    """The running server: `environ` makes a program play to it and to nothing else."""

    def __init__(self, folder: Path) -> None:
        self.environ = {
            "XDG_RUNTIME_DIR": str(folder),
            "XDG_CONFIG_HOME": str(folder / "config"),
            "PULSE_RUNTIME_PATH": str(folder / "pulse"),
            "PULSE_STATE_PATH": str(folder / "state"),
            "PULSE_SERVER": f"unix:{folder}/pulse/native",  # no server of its own accord instead
            "ALSA_CONFIG_PATH": str(folder / "asound.conf"),
        }
        (folder / "asound.conf").write_text(ALSA_CONFIG)
        for name in ("config", "pulse", "state"):
            (folder / name).mkdir(mode=0o700)
        command = ["pulseaudio", "--daemonize=no", "--exit-idle-time=-1", "-n"]
        command += ["--log-target=null", "-L", "module-native-protocol-unix", "-L"]
        command += [f"module-null-sink sink_name=mat rate={RATE} channels=2 format=s16le"]
        # A server must not look for the server that it is to be.
        own = {key: text for key, text in self.environ.items() if key != "PULSE_SERVER"}
        self._process = subprocess.Popen(
            command, env={**os.environ, **own}, stderr=subprocess.DEVNULL
        )

    @property
    def pid(self) -> int:
        """The server's process id, to stop or kill it."""
        return self._process.pid

    def wait_until_up(self) -> None:
        """Wait until the server answers and has the sink."""
        until = time.monotonic() + START_S
        while True:
            asked = subprocess.run(
                ["pactl", "list", "short", "sinks"],
                env={**os.environ, **self.environ},
                capture_output=True,
                text=True,
                check=False,
                timeout=START_S,
            )
            if "mat" in asked.stdout:
                return
            assert time.monotonic() < until, f"no sound server: {asked.stderr}"

    @contextlib.contextmanager
    def recording(self) -> Iterator[Recorder]:
        """Record for the time of the block, which begins when the recording runs steadily."""
        recorder = Recorder({**os.environ, **self.environ})
        try:
            recorder.wait_for(SETTLE_S, START_S)
            yield recorder
        finally:
            recorder.stop()

    def end(self) -> None:
        """End the server, also a stopped one."""
        with contextlib.suppress(ProcessLookupError):
            self._process.send_signal(signal.SIGKILL)
        self._process.wait()


def in_time(measure: Callable[[int], list[float]], told: Callable[[str, object], None]) -> None:
    """Hold that errors of intervals, in ms, are small by their median, in one of a few tries.

    `measure` takes the number of its try; an assertion that fails in it ends that try alone, for a
    busy machine tears sounds. The worst error is `told`, and not held against any bound.
    """
    wrong: list[AssertionError | float] = []
    for number in range(TRIES):
        try:
            errors = measure(number)
        except AssertionError as torn:
            wrong.append(torn)
            continue
        median, worst = statistics.median(errors), max(map(abs, errors))
        told("worst_interval_error_ms", round(worst, 1))
        print(f"error of intervals: median {median:.1f} ms, worst {worst:.1f} ms")  # noqa: T201
        if abs(median) <= MEDIAN_MS:
            return
        wrong.append(median)
    raise AssertionError(f"none of {TRIES} tries was heard in time: {wrong}")


@contextlib.contextmanager
def mat_sink() -> Iterator[Sink]:
    """A server for the time of the block. The folder's path is short: it holds a socket."""
    with tempfile.TemporaryDirectory(prefix="mat") as folder:
        sink = Sink(Path(folder))
        try:
            sink.wait_until_up()
            yield sink
        finally:
            sink.end()
