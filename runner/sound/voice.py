"""The voice: phrases rendered before they are needed, and said through the player of the cues.

    voice = Voice(player, os.environ)
    voice.start()
    voice.want(["next, rucksack row, left"])
    voice.say("next, rucksack row, left")
    voice.close()

Nothing starts before `start`. Where no engine works, one notice says so, and the voice is silent.

The voice is off by default: nobody in a quiet hut at half past six should hear it unasked.
"""

from __future__ import annotations

import atexit
import queue
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple, Self

from msgspec import Struct

from runner.sound.link import Process
from runner.sound.player import Player, Report, to_install
from runner.sound.speech import phrase_folder
from runner.sound.synths import Engine, engines, how_to_get

# The session's side of the rendering process: the first engine that works, one phrase at a time.
# A thread starts and ends the processes and waits for their replies; the session never waits.

MOST = 2000  # phrases of a session; our choice, more than any session has
LONGEST = 300  # letters of a phrase


class RenderLimits(Struct, frozen=True):
    """How long to wait, in seconds, and how often to try (our choice)."""

    ready_s: float = 10.0  # from the start of an engine to its first reply
    phrase_s: float = 8.0  # for one phrase
    fails: int = 3  # phrases in a row that could not be made; then the engine is given up


class RenderedPhrase(NamedTuple):
    """A rendered phrase: its file in the folder, and its length in seconds."""

    file: str
    seconds: float


class Renderer:
    """Renders texts in the background, those needed soon first."""

    def __init__(
        self,
        engines: Sequence[Engine],
        folder: Path,
        limits: RenderLimits | None = None,
    ) -> None:
        self.engines = engines
        self.why: dict[int, str] = {}
        self.at: int | None = None  # index of the engine in use; the number of engines: none works
        self.version = ""
        self.done: dict[str, RenderedPhrase] = {}
        self._folder = folder
        self._patience = limits or RenderLimits()
        self._wake = threading.Condition()
        self._soon: deque[str] = deque()
        self._later: deque[Iterator[str]] = deque()
        self._known: set[str] = set()  # all texts asked for: waiting, made or failed
        self.failed: dict[str, str] = {}  # why a text could not be made
        self._closing = False
        self._process: Process | None = None
        self._replies: queue.SimpleQueue[list[str] | None] = queue.SimpleQueue()
        self._seq = 0
        self._thread = threading.Thread(target=self._run, name="speech", daemon=True)

    def start(self) -> None:
        """Begin; does nothing the second time."""
        if not self._thread.is_alive() and not self._closing and self.at is None:
            self._thread.start()

    def want(self, texts: Iterable[str], *, soon: bool) -> None:
        """Have texts rendered. A text that is not needed soon is made when its turn comes."""
        with self._wake:
            if soon:
                self._soon += [text for text in texts if self._is_new(text)]
            else:
                self._later.append(iter(texts))
            self._wake.notify_all()

    def _is_new(self, text: str) -> bool:
        """Whether a text is allowed and was not asked for before; notes that it now is."""
        if text in self._known or len(self._known) >= MOST or len(text) > LONGEST:
            return False
        self._known.add(text)
        return True

    def coming(self, text: str) -> bool:
        """Whether a text is still to be rendered, and can be."""
        given_up = self.at is not None and self.at >= len(self.engines)
        asked = text in self._known and text not in self.done and text not in self.failed
        return asked and not given_up

    def wait_for(self, condition: Callable[[], bool], timeout_s: float) -> bool:
        """Wait until `condition` holds; tries it again whenever something happened."""
        with self._wake:
            return self._wake.wait_for(condition, timeout_s)

    def close(self) -> None:
        """End the process, whatever it is doing, and leave nothing behind."""
        with self._wake:
            self._closing = True
            self._wake.notify_all()
        process = self._process
        if process is not None:
            process.kill()
        if self._thread.is_alive():
            self._thread.join(2.0)

    # The renderer's thread. Only it starts and ends processes.

    def _run(self) -> None:
        for index, engine in enumerate(self.engines):
            if self._closing:
                return
            self.why[index] = engine.why_not or self._use(index, engine)
        if not self._closing:
            self._settle(len(self.engines))

    def _settle(self, index: int) -> None:
        with self._wake:
            self.at = index
            self._wake.notify_all()

    def _use(self, index: int, engine: Engine) -> str:
        """Render with one engine while it works; returns why it stopped working."""
        try:
            self._begin(engine)
        except OSError as fault:
            return f"no process: {fault.strerror or fault}"
        try:
            reply = self._reply(self._patience.ready_s)
            if reply[0] != "ready":
                return reply[1]
            self.version = reply[1]
            self._settle(index)
            return self._work()
        finally:
            self._end()

    def _work(self) -> str:
        fails = 0
        while (text := self._next()) is not None:
            reply = self._ask(text)
            if reply[0] == "ok":
                fails = 0
                with suppress(ValueError, IndexError):
                    self.done[text] = RenderedPhrase(reply[2], float(reply[3]))
            elif reply[0] == "fail":
                fails += 1
                self.failed[text] = reply[2]
                if fails >= self._patience.fails:
                    return reply[2]
            else:
                self.failed[text] = reply[1]  # the engine may hang at this text
                return reply[1]
            with self._wake:
                self._wake.notify_all()
        return ""

    def _next(self) -> str | None:
        """The text to render now; waits for one. None after the close."""
        while True:
            with self._wake:
                self._wake.wait_for(lambda: self._closing or self._soon or self._later)
                if self._closing:
                    return None
                if self._soon:
                    return self._soon.popleft()
                later = self._later[0]
            try:
                text = next(later, None)  # without the lock, for it may take a moment
            except Exception:  # noqa: BLE001 - a fault of ours costs phrases, not the voice
                text = None
            with self._wake:
                if text is None:
                    self._later.popleft()
                elif self._is_new(text):
                    return text

    def _ask(self, text: str) -> list[str]:
        self._seq += 1
        if self._process is None or not self._process.write(
            f"render\t{self._seq}\t{text}\n".encode()
        ):
            return ["fault", "is gone"]
        return self._reply(self._patience.phrase_s)

    def _reply(self, within_s: float) -> list[str]:
        """The next reply with enough fields; a `fault` where none comes in time."""
        try:
            fields = self._replies.get(timeout=within_s)
        except queue.Empty:
            return ["fault", f"no answer within {within_s:g} s"]
        if fields is None:
            return ["fault", "ended without an answer"]
        return [*fields, "", "", ""]

    def _begin(self, engine: Engine) -> None:
        replies: queue.SimpleQueue[list[str] | None] = queue.SimpleQueue()
        self._replies = replies
        process = Process(
            "runner.sound.speech",
            ["--engine", engine.name, "--program", engine.program, "--folder", str(self._folder)],
            replies.put,
            lambda _status: replies.put(None),
        )
        process.start()
        self._process = process
        with self._wake:
            self._wake.notify_all()

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is not None:
            process.end()


WITHIN_S = 0.2  # seconds; a phrase that begins later might run into a cue; under `phrases.GAP`


class Voice:
    """Speaks through `player`. One thread asks; any thread may call the rest."""

    def __init__(
        self, player: Player, environ: Mapping[str, str], limits: RenderLimits | None = None
    ) -> None:
        self._player = player
        found, self._faults = engines(environ)
        self._renderer = Renderer(found, phrase_folder(environ), limits)
        self._started = False
        self._last_notice: str | None = None

    def start(self) -> None:
        """Look for an engine; does nothing the second time."""
        if not self._started:
            self._started = True
            atexit.register(self.close)
            self._renderer.start()

    def want(self, texts: Iterable[str], *, soon: bool = False) -> None:
        """Have these texts rendered; those needed `soon` first."""
        self._renderer.want(texts, soon=soon)

    def length(self, text: str) -> float | None:
        """How many seconds a rendered text lasts; None where it is not rendered."""
        made = self._renderer.done.get(text)
        return None if made is None else made.seconds

    def coming(self, text: str) -> bool:
        """Whether a text is still being rendered."""
        return self._renderer.coming(text)

    def why(self, text: str) -> str:
        """Why a text could not be rendered; empty where that is unknown, or it could."""
        return self._renderer.failed.get(text, "")

    def say(self, text: str) -> None:
        """Say a rendered text now, or not at all."""
        made = self._renderer.done.get(text)
        if made is not None:
            self._player.say(made.file, text, WITHIN_S)

    def hush(self) -> None:
        """Cut the phrase that is being said."""
        self._player.hush()

    @property
    def engine(self) -> str:
        """The name of the engine that works; empty where none does, or not yet."""
        at, known = self._renderer.at, self._renderer.engines
        return known[at].name if at is not None and at < len(known) else ""

    @property
    def none(self) -> bool:
        """Whether every engine was tried and none works."""
        return self._renderer.at == len(self._renderer.engines)

    def notice(self, *, pointer: bool = True) -> str:
        """One line for the screen: which engine speaks, or with `pointer` how to get one."""
        if not self._started:
            return "Voice: off."
        if self.none:
            return "Voice: none." + (" matside cues shows how to get one" if pointer else "")
        if not self.engine:
            return "Voice: still looking for an engine."
        return f"Voice: {self.engine}."

    def news(self) -> str | None:
        """The notice, once, where no engine turned out to work; else None."""
        if not self.none or self._last_notice is not None:
            return None
        self._last_notice = self.notice()
        return self._last_notice

    def report(self) -> list[Report]:
        """Every engine in order of preference: does it work, why not, how to get it."""
        rows = [Report("settings", works=False, why_not=fault) for fault in self._faults]
        for index, engine in enumerate(self._renderer.engines):
            why = engine.why_not or self._renderer.why.get(index, "")
            if index == self._renderer.at:
                rows.append(Report(engine.name, works=True))
            elif why:
                how = to_install(how_to_get(engine.name)) if engine.why_not else ""
                rows.append(Report(engine.name, works=False, why_not=why, how=how))
            else:
                why = "not tried, because a better one works" if self.engine else "not tried"
                rows.append(Report(engine.name, works=None, why_not=why))
        return rows

    def wait_for(self, condition: Callable[[], bool], timeout_s: float) -> bool:
        """Wait until `condition` holds; tries it again whenever something happened."""
        return self._renderer.wait_for(condition, timeout_s)

    def ready(self, text: str, timeout_s: float) -> bool:
        """Wait until a text is rendered; False where it cannot be, or takes longer."""
        self.wait_for(lambda: self.length(text) is not None or not self.coming(text), timeout_s)
        return self.length(text) is not None

    def close(self) -> None:
        """Leave no process behind."""
        self._renderer.close()
        atexit.unregister(self.close)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: object, fault: object, trace: object) -> None:
        self.close()
