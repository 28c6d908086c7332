"""The README's pictures are today's, and need nothing from elsewhere."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from types import ModuleType
from xml.etree import ElementTree as ET

PICTURES = Path(__file__).parents[1] / "pictures"
LIVE = PICTURES / "live.svg"


def _maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_picture", PICTURES / "make.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


async def test_the_picture_is_todays() -> None:
    today = await _maker().picture()
    assert today == LIVE.read_text(encoding="utf-8"), "run: python tests/pictures/make.py"


def test_the_rehearsal_s_chart_is_todays() -> None:
    kept = (PICTURES / "rehearsal.svg").read_text(encoding="utf-8")
    assert _maker().rehearsal() == kept, "run: python tests/pictures/make.py"


def test_the_trend_is_todays() -> None:
    kept = (PICTURES / "review.svg").read_text(encoding="utf-8")
    assert _maker().review() == kept, "run: python tests/pictures/make.py"


def test_the_picture_needs_nothing_from_elsewhere() -> None:
    text = LIVE.read_text(encoding="utf-8")
    assert "@font-face" not in text
    assert "url(http" not in text
    assert "href" not in text
    assert set(re.findall(r"https?://[^\s\"')<]+", text)) <= {"http://www.w3.org/2000/svg"}


def test_the_picture_is_sound_xml_and_shows_a_rest() -> None:
    root = ET.fromstring(LIVE.read_text(encoding="utf-8"))  # noqa: S314 - our own file
    assert root.tag.endswith("svg")
    words = " ".join("".join(root.itertext()).split())
    assert "█" in words
    assert "how many?" in words
    assert "next, at least" in words
