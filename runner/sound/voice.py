"""The voice: phrases rendered before they are needed, and said through the player of the cues.

    voice = Voice(player, os.environ)
    voice.start()
    voice.want(["next, rucksack row, left"])
    voice.say("next, rucksack row, left")
    voice.close()

Nothing is started before `start`. Where no engine works that is said once, and nothing is said.
"""

from __future__ import annotations

import atexit
from collections.abc import Callable, Iterable, Mapping
from typing import Self

from runner.sound.player import Player
from runner.sound.report import Report
from runner.sound.speech.cache import phrase_folder
from runner.sound.speech.engines import engines, how_to_get
from runner.sound.speech.renderer import Patience, Renderer

WITHIN_S = 0.2  # a phrase that has not begun by then might run into a cue; under `speech_gaps.GAP`


class Voice:
    """Speaks through `player`. One thread asks; everything else may come from any."""

    def __init__(
        self, player: Player, environ: Mapping[str, str], patience: Patience | None = None
    ) -> None:
        self._player = player
        found, self._faults = engines(environ)
        self._renderer = Renderer(found, phrase_folder(environ), patience)
        self._started = False
        self._told: str | None = None

    def start(self) -> None:
        """Look for an engine, if that was not done yet."""
        if not self._started:
            self._started = True
            atexit.register(self.close)
            self._renderer.start()

    def want(self, texts: Iterable[str], *, soon: bool = False) -> None:
        """Have these texts rendered; those needed `soon` before all others."""
        self._renderer.want(texts, soon=soon)

    def length(self, text: str) -> float | None:
        """Seconds that a rendered text lasts; None where it is not there."""
        made = self._renderer.done.get(text)
        return None if made is None else made.seconds

    def coming(self, text: str) -> bool:
        """Whether a text is still being rendered."""
        return self._renderer.coming(text)

    def why(self, text: str) -> str:
        """Why a text could not be rendered; empty where that is not known, or not so."""
        return self._renderer.failed.get(text, "")

    def say(self, text: str) -> None:
        """Say a rendered text now, or not at all."""
        made = self._renderer.done.get(text)
        if made is not None:
            self._player.say(made.file, text, WITHIN_S)

    def hush(self) -> None:
        """Cut what is being said."""
        self._player.hush()

    @property
    def engine(self) -> str:
        """The name of the engine that works; empty where there is none, or none yet."""
        at, known = self._renderer.at, self._renderer.engines
        return known[at].name if at is not None and at < len(known) else ""

    @property
    def none(self) -> bool:
        """Whether every engine was tried in vain."""
        return self._renderer.at == len(self._renderer.engines)

    def notice(self, *, pointer: bool = True) -> str:
        """One line for the screen: which engine speaks, or with `pointer` how to get one."""
        if not self._started:
            return "Voice: off."
        if self.none:
            return "Voice: none." + (" To get one: matside cues" if pointer else "")
        if not self.engine:
            return "Voice: still looking for one."
        return f"Voice: {self.engine}."

    def news(self) -> str | None:
        """The notice, once when there turned out to be no voice; else None."""
        if not self.none or self._told is not None:
            return None
        self._told = self.notice()
        return self._told

    def report(self) -> list[Report]:
        """Every engine in the order of preference: does it work, why not, how to get it."""
        rows = [Report("settings", works=False, why_not=fault) for fault in self._faults]
        for index, engine in enumerate(self._renderer.engines):
            why = engine.why_not or self._renderer.why.get(index, "")
            if index == self._renderer.at:
                rows.append(Report(engine.name, works=True))
            elif why:
                how = how_to_get(engine.name) if engine.why_not else ""
                rows.append(Report(engine.name, works=False, why_not=why, how=how))
            else:
                why = "not tried, for a better one works" if self.engine else "not tried"
                rows.append(Report(engine.name, works=None, why_not=why))
        return rows

    def wait_for(self, condition: Callable[[], bool], timeout_s: float) -> bool:
        """Wait until `condition` holds, which is tried again whenever something happened."""
        return self._renderer.wait_for(condition, timeout_s)

    def ready(self, text: str, timeout_s: float) -> bool:
        """Wait until a text is rendered; False where that is in vain or takes longer."""
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
