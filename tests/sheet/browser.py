"""A real Chromium without a window, driven by its DevTools protocol over a pipe.

One command, or one answer, is a JSON object and a zero byte: the protocol's documentation at
https://chromedevtools.github.io/devtools-protocol/, `--remote-debugging-pipe` of Chromium. No
library is needed for that, and no port is open.
"""

from __future__ import annotations

import base64
import itertools
import json
import os
import select
import shutil
import subprocess
import time
from pathlib import Path
from types import TracebackType
from typing import Any, Self

DEADLINE_S = 60.0
NAMES = ("chromium", "chromium-browser", "google-chrome")
MM = 1 / 25.4  # inches
PAPER = {"A4": (210 * MM, 297 * MM), "Letter": (8.5, 11.0)}  # ISO 216; ANSI/ASME Y14.1


def chromium() -> str | None:
    """The program, None where there is none."""
    return next(filter(None, map(shutil.which, NAMES)), None)


class Browser:
    """One browser with one page; a context manager. `folder` is its profile's, kept between."""

    def __init__(self, folder: Path) -> None:
        program = chromium()
        assert program is not None
        ours, theirs = os.pipe(), os.pipe()  # commands to it, answers from it
        options = [
            "--headless=new", "--remote-debugging-pipe", "--no-sandbox", "--disable-gpu",
            "--no-first-run", "--disable-extensions", "--disable-background-networking",
            "--disable-dev-shm-usage", "--hide-scrollbars", "--force-color-profile=srgb",
            f"--user-data-dir={folder}", "about:blank",
        ]  # fmt: skip

        def as_3_and_4() -> None:
            read, write = os.dup(ours[0]), os.dup(theirs[1])
            os.dup2(read, 3)
            os.dup2(write, 4)

        self.log = (folder / "said.txt").open("wb")
        self._process = subprocess.Popen(
            [program, *options],
            stdin=subprocess.DEVNULL,
            stdout=self.log,
            stderr=self.log,
            preexec_fn=as_3_and_4,  # noqa: PLW1509 - the pipe's numbers are fixed
            close_fds=False,
        )
        os.close(ours[0])
        os.close(theirs[1])
        self._to, self._from = ours[1], theirs[0]
        self._numbers = itertools.count(1)
        self._rest = b""
        self.events: list[dict[str, Any]] = []
        target = self.send("Target.createTarget", url="about:blank")["targetId"]
        self._session: str | None = self.send(
            "Target.attachToTarget", targetId=target, flatten=True
        )["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.send(f"{domain}.enable")

    _session = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._session = None
        try:
            self.send("Browser.close")
            self._process.wait(DEADLINE_S)
        finally:
            if self._process.poll() is None:
                self._process.kill()
                self._process.wait(DEADLINE_S)
            self.log.close()
            os.close(self._to)
            os.close(self._from)

    def send(self, method: str, **params: Any) -> dict[str, Any]:
        """Do a command of the protocol; what it gives."""
        number = next(self._numbers)
        message = {"id": number, "method": method, "params": params}
        if self._session is not None:
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._answer()
            if answer.get("id") == number:
                assert "error" not in answer, (method, answer["error"])
                found: dict[str, Any] = answer["result"]
                return found
            self.events.append(answer)

    def _answer(self) -> dict[str, Any]:
        limit = time.monotonic() + DEADLINE_S
        while b"\0" not in self._rest:
            left = limit - time.monotonic()
            assert left > 0, "the browser does not answer"
            if select.select([self._from], [], [], left)[0]:
                chunk = os.read(self._from, 1 << 20)
                assert chunk, "the browser has ended"
                self._rest += chunk
        one, _, self._rest = self._rest.partition(b"\0")
        answer: dict[str, Any] = json.loads(one)
        return answer

    def open(self, url: str, *, width: int, height: int, script: bool = True) -> None:
        """Load a page in a window of so many CSS pixels; `script`: whether its own may run."""
        self.send("Emulation.setScriptExecutionDisabled", value=not script)
        self.send(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=2, mobile=width < 600,
        )  # fmt: skip
        self.events.clear()
        self.send("Page.navigate", url=url)
        limit = time.monotonic() + DEADLINE_S
        while not any(one.get("method") == "Page.loadEventFired" for one in self.events):
            assert time.monotonic() < limit, "the page does not load"
            self.events.append(self._answer())

    def ask(self, expression: str) -> Any:
        """The value of a JavaScript expression in the page; a promise is waited for."""
        found = self.send(
            "Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True
        )
        assert "exceptionDetails" not in found, found["exceptionDetails"]
        return found["result"].get("value")

    def type(self, text: str) -> None:
        """Type into what has the focus, as a keyboard does."""
        self.send("Input.insertText", text=text)

    def click(self, selector: str) -> None:
        """Click in the middle of the first element of that selector."""
        where = f"document.querySelector({json.dumps(selector)})"
        x, y = self.ask(
            f"(() => {{ const e = {where}; e.scrollIntoView({{block: 'center'}}); "
            "const b = e.getBoundingClientRect(); "
            "return [b.x + b.width / 2, b.y + b.height / 2]; })()"
        )
        for kind in ("mousePressed", "mouseReleased"):
            self.send("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    def picture(self, *, whole: bool = True) -> bytes:
        """A PNG of the page."""
        found = self.send("Page.captureScreenshot", format="png", captureBeyondViewport=whole)
        return base64.b64decode(found["data"])

    def pdf(self, paper: str) -> bytes:
        """The page as it prints on that paper."""
        width, height = PAPER[paper]
        found = self.send(
            "Page.printToPDF", paperWidth=width, paperHeight=height, printBackground=False,
            preferCSSPageSize=False, marginTop=0, marginBottom=0, marginLeft=0, marginRight=0,
        )  # fmt: skip
        return base64.b64decode(found["data"])

    @property
    def trouble(self) -> list[str]:
        """What the page complained of, and what it asked the net for."""
        said = []
        for one in self.events:
            params = one.get("params", {})
            if one.get("method") == "Runtime.exceptionThrown":
                said.append(str(params["exceptionDetails"]))
            if one.get("method") == "Log.entryAdded":
                said.append(params["entry"]["text"])
            if one.get("method") == "Network.requestWillBeSent":
                url = params["request"]["url"]
                said += [] if url.startswith(("file:", "data:")) else [url]
        return said
