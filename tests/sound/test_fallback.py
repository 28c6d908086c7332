"""Which way is taken, by programs of the system that work, fail, hang or stop working."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import pytest

from runner.sound import ways
from runner.sound.backends import PROBE_S
from runner.sound.link import Limits
from runner.sound.ways import read_settings
from tests.sound.fakes import SOON_S, fake_player, played, playing

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(
    ("kinds", "expected"),
    [
        ({"pw-play": "works", "paplay": "works", "aplay": "works"}, "pw-play"),
        ({"pw-play": "fails", "paplay": "works", "aplay": "works"}, "paplay"),
        ({"pw-play": "hangs", "aplay": "works"}, "aplay"),
        ({"paplay": "fails", "aplay": "fails"}, "bell"),
        ({}, "bell"),
    ],
)
def test_the_order_of_the_ways(
    kinds: dict[str, str], expected: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    logs = {name: fake_player(tmp_path, name, kind) for name, kind in kinds.items()}
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(ways, "LIBRARIES", ())  # whether or not simpleaudio is installed
    settings = read_settings({}, "linux")
    assert [way.name for way in settings.ways] == ["simpleaudio", "pw-play", "paplay", "aplay"]
    with playing(settings, bell=lambda: None) as player:
        assert player.way == expected
        player.play("start")
        if expected != "bell":
            assert played(player, 1)
        rows = {row.way: row for row in player.report()}
    assert rows[expected].works
    for name, kind in kinds.items():
        if kind == "fails":
            assert rows[name].why_not == "ended with status 7: no such device"
        if kind == "hangs":
            assert rows[name].why_not == f"no answer within {PROBE_S:g} s"
    for name in {"pw-play", "paplay", "aplay"} - set(kinds):
        if rows[name].works is False:
            assert rows[name].why_not == "not on this system"
            assert "install " in rows[name].how
    if expected in logs:
        assert logs[expected].read_text().splitlines()[-1].endswith("start.wav")


def test_a_program_that_stops_working_is_left_for_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake_player(tmp_path, "paplay", "breaks")
    fake_player(tmp_path, "aplay", "works")
    monkeypatch.setenv("PATH", str(tmp_path))
    settings = read_settings({ways.SETTING: "paplay,aplay"})
    with playing(settings, Limits(restarts=0, again_s=())) as player:
        assert player.way == "paplay"
        player.play("start")
        assert player.wait_for(lambda: player.way == "aplay", SOON_S)
        assert player.report()[0].why_not == "ended with status 1"
        assert (player.counts.played, player.counts.lost) == (0, 1)


def test_what_was_lost_is_looked_for_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As when a loudspeaker is unplugged and comes back."""
    log = fake_player(tmp_path, "paplay", "switched")
    off = tmp_path / "paplay.off"
    monkeypatch.setenv("PATH", str(tmp_path))
    settings = read_settings({ways.SETTING: "paplay,bell"})
    with playing(settings, Limits(again_s=(0.05,) * 400), bell=lambda: None) as player:
        player.play("start")
        assert played(player, 1)
        until = time.monotonic() + SOON_S
        while "start.wav" not in log.read_text():  # begun is not yet played
            assert time.monotonic() < until
            player.wait_for(lambda: False, 0.01)
        off.touch()
        player.play("mark")
        assert player.wait_for(lambda: player.way == "bell", SOON_S)
        assert player.counts.lost == 1
        off.unlink()
        assert player.wait_for(lambda: player.way == "paplay", SOON_S)
        player.play("logged")
        assert played(player, 2)
    assert log.read_text().splitlines()[-1].endswith("logged.wav")


def test_what_was_not_there_at_first_is_looked_for_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As when a loudspeaker is switched on during the warm-up."""
    log = fake_player(tmp_path, "paplay", "switched")
    off = tmp_path / "paplay.off"
    off.touch()
    monkeypatch.setenv("PATH", str(tmp_path))
    settings = read_settings({ways.SETTING: "paplay,bell"})
    with playing(settings, Limits(again_s=(0.05,) * 400), bell=lambda: None) as player:
        assert player.way == "bell"
        off.unlink()
        assert player.wait_for(lambda: player.way == "paplay", SOON_S)
        player.play("start")
        assert played(player, 1)
    assert log.read_text().splitlines()[-1].endswith("start.wav")
