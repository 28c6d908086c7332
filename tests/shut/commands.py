"""Every command with hostile texts, one after another in one process: `... FOLDER`.

Leaves `said.json` in the folder: what each of them wrote on its streams, and its exit code.
"""

from __future__ import annotations

import asyncio
import contextlib
import io
import json
import os
import sys
from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from unittest.mock import patch

from runner.cli.main import main
from runner.output import record_path
from runner.record.record import Record
from runner.record.tables import TABLES
from runner.reports.past import look_back
from runner.screen.review_app import PAGES, ReviewApp
from tests.screen.hands import at_the_mat
from tests.screen.piloted import piloted
from tests.screen.watchers import watching
from tests.shut import hostile_text
from tests.shut.hostile_text import ALL, LINES, TRAINEE

YESTERDAY = f"{date.today() - timedelta(days=1):%Y-%m-%d}"  # noqa: DTZ011 - a person's date


class Scene:
    """The commands in one folder, and what they said."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.said = folder, list[dict[str, Any]]()
        self.plan = folder / "plan.toml"
        self.plan.write_text(hostile_text.plan(), encoding="utf-8")

    def do(self, *arguments: str, lines: Sequence[str] = ()) -> int:
        """Run a command with these lines on its input."""
        typed = self.folder / "typed"
        typed.write_bytes("\n".join([*lines, ""]).encode() if lines else b"")
        out, err = io.BytesIO(), io.BytesIO()
        with _streams(typed, out, err):
            try:
                code = main(arguments)
            except SystemExit as end:
                code = int(end.code or 0)
        self.tell(list(arguments), code, out.getvalue(), err.getvalue())
        return code

    def tell(self, what: list[str], code: int, out: bytes, err: bytes = b"") -> None:
        """Remember what was said."""
        self.said.append(
            {"what": what, "code": code, "out": out.decode("latin-1"), "err": err.decode("latin-1")}
        )

    def play(self) -> None:
        """All of them."""
        plan, folder = str(self.plan), self.folder
        self.do("check", plan)
        self.do("help")
        self.do("help", "files")
        self.do("show", "push-up")
        for more in ((), ("--json",), ("--week",), ("--runs", "100"), ("--recovery", "9s")):
            self.do("rehearse", plan, *more)
        self.do("rehearse", plan, "--svg", str(folder / "chart.svg"))
        self.do("rehearse", plan, "--within", "150s")
        shelf = folder / "shelf-of-the-hut.toml"
        shelf.write_text(hostile_text.shelf(), encoding="utf-8")
        asked = ("--sessions", "1", "--minutes", "50", "-o", str(folder / "composed.toml"))
        self.do("compose", str(shelf), *asked)
        self.do("pairs", plan, "--order", "--write", str(folder / "paired.toml"))
        who = ("--for", TRAINEE)
        self.do("run", plan, "--plain", "--mute", *who, lines=LINES)
        self.do("run", plan, "--plain", "--mute", *who, "--yes", lines=LINES)
        self.do("run", plan, "--plain", "--voice", "names", *who, "--yes", lines=LINES)
        paper = ("12 12", "8 9, 8 8", f"note {ALL}\x1b[2J", "")
        self.do("log", plan, "--on", YESTERDAY, *who, "--yes", lines=paper)
        self.do("log", plan, "--on", YESTERDAY, *who, lines=(f"{ALL}\x1b[2J", *paper[1:]))
        text = (f"on {YESTERDAY}", f"note {ALL}", f"{ALL}\x1b[2J 12")
        self.do("log", plan, "--from", "-", *who, "--yes", lines=text)
        self.do("log", "--fix", "--on", YESTERDAY, *who, lines=("1 13", f"2 {ALL}\x1b[2J", "", ""))
        self.do("for", TRAINEE, "--edit", "--plan", plan)
        self.do("for", TRAINEE)
        self.do("check", plan, *who)
        self.do("next", plan, *who)
        self.do("next", plan, *who, "--accept", ALL, "--refuse", "\x1b[2J")
        self.do("run", "--plain", "--mute", *who, "--yes", lines=LINES)
        self.do("review", "--plain", *who)
        self.do("review", "--all", *who)
        self.do("review", "--plain", *who, "--exercise", ALL)
        self.do("review", *who, "--svg", str(folder / "pictures"))
        for form in ((), ("--json",), ("--csv",), (plan,)):
            self.do("roster", *form)
        self.do("sheet", plan, *who, "-o", str(folder / "sheet.html"))
        for table in TABLES:
            self.do("export", "--what", table)
        self.do("export", "-o", str(folder / "sets.csv"))
        self.do("import", str(folder / "sets.csv"), "--yes", "--trial")
        self.do("cues", "--say", f"{ALL}", "--volume", "0")
        self.do("handover", plan, *who, "-o", str(folder / "one.zip"))
        self.do("receive", str(folder / "one.zip"), "--yes", "--data", str(folder / "coach"))
        self.do("backup", str(folder / "copy.db"))
        self.do("restore", str(folder / "copy.db"), "--yes")
        for place in (ALL, "\x1b[2J", "../../pwned\u202e"):
            self.do("check", place)
            self.do("show", place)
            self.do("run", place, "--plain", "--mute")
            self.do("rehearse", plan, "--session", place)
        asyncio.run(self.on_screen())
        self.do("forget", TRAINEE, "-o", str(folder / "gone"), "--yes", "--again", TRAINEE)

    async def on_screen(self) -> None:
        """A whole session on the screen, page by page, and the look back."""
        data = self.folder / "screen"
        async with at_the_mat(data, self.plan, size=(120, 40), yes=False) as hands:
            shown = [hands.over]
            await hands.press("space", "space")
            await hands.press("space")
            while hands.state.phase not in {"wrap-up", "closed"}:
                shown += [hands.text, hands.over]
                await hands.do_set("1", "2", "enter")
            for keys in (["m", "n"], ["m", "i"], ["question_mark"], ["p"]):
                await hands.press(*keys)
                shown += [hands.text, hands.over]
                await hands.press("escape")
            await hands.press("e", "space", "space", "enter")
            shown += [hands.text, hands.over]
            phase = hands.state.phase
        self.tell(["screen", phase], 0, "\n".join(shown).encode())
        await self.watch()
        await self.look_back()

    async def watch(self) -> None:
        """A rehearsal watched on the screen."""
        async with watching(self.folder / "data", str(self.plan), "A", size=(120, 40)) as hut:
            shown = [hut.over]
            await hut.press("space")
            for phase in ("rest", "set", "rest", "set", "wrap-up"):
                await hut.go(phase)
                await hut.wait(0.0)
                shown += [hut.text, hut.over, *hut.banners]
        self.tell(["screen", "rehearsal"], 0, "\n".join(shown).encode())

    async def look_back(self) -> None:
        """The pages of the review."""
        path, now = record_path(self.folder / "data", trial=False), datetime.now().astimezone()
        with Record.open_readonly(path) as record:
            past = look_back(record, TRAINEE)
            assert past is not None
            app = ReviewApp(record, past, now)
            async with piloted(app, (120, 40)) as pilot:
                for key in PAGES:
                    await pilot.press(*key.keys)
                    await pilot.pause()
                    strips = app.screen._compositor.render_strips()
                    shown = ["".join(segment.text for segment in strip) for strip in strips]
                    self.tell(["screen", key.label], 0, "\n".join(shown).encode())


@contextlib.contextmanager
def _streams(typed: Path, out: io.BytesIO, err: io.BytesIO) -> Iterator[None]:
    with (
        typed.open("rb") as file,
        patch.object(sys, "stdin", io.TextIOWrapper(file)),
        patch.object(sys, "stdout", io.TextIOWrapper(out, encoding="utf-8", newline="")),
        patch.object(sys, "stderr", io.TextIOWrapper(err, encoding="utf-8", newline="")),
    ):
        yield
        sys.stdout.detach()  # flushes; what was written stays open
        sys.stderr.detach()


if __name__ == "__main__":
    scene = Scene(Path(sys.argv[1]))
    os.chdir(scene.folder)
    try:
        scene.play()
    finally:
        (scene.folder / "said.json").write_text(json.dumps(scene.said), encoding="utf-8")
