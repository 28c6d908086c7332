"""The voice: rendered phrases through the player of the cues, or one line that there is none."""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.session.phrases import GAP
from runner.sound.player import Player, open_player
from runner.sound.speech import phrase_folder
from runner.sound.voice import WITHIN_S, Voice
from tests.sound.fakes import QUICK, SOON_S, double, noted, only
from tests.sound.speakers import fake_engine

ROW = "next, rucksack row, left, twelve kilos"


@pytest.fixture
def environ(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """An environment whose only engine is a stand-in, if one is put into its folder."""
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")
    return {"MATSIDE_CACHE": str(tmp_path / "cache"), "MATSIDE_VOICE_BY": "say"}


def player_of(tmp_path: Path, environ: dict[str, str]) -> Player:
    player = open_player(
        settings=only(double(tmp_path / "heard")), limits=QUICK, phrases=phrase_folder(environ)
    )
    assert player.settled(SOON_S)
    return player


def test_it_says_what_was_rendered(tmp_path: Path, environ: dict[str, str]) -> None:
    fake_engine(tmp_path, "say")
    with player_of(tmp_path, environ) as player, Voice(player, environ) as voice:
        assert voice.notice() == "Voice: off."
        assert not voice.coming(ROW)
        voice.want([ROW], soon=True)
        voice.start()
        assert voice.coming(ROW) or voice.length(ROW)
        assert voice.ready(ROW, SOON_S)
        assert voice.notice() == "Voice: say."
        assert voice.news() is None
        assert voice.length(ROW) == pytest.approx(1.0, abs=0.2)
        voice.say("what was never rendered")
        voice.say(ROW)
        assert player.wait_for(lambda: player.counts.said == 1, SOON_S)
        player.play("start")
        assert player.wait_for(lambda: player.counts.played == 1, SOON_S)
        assert [row.works for row in voice.report()] == [True]
    assert noted(tmp_path / "heard") == [f"say {ROW}", "(cut)", "start"]


def test_no_voice_is_said_once_and_costs_nothing(tmp_path: Path, environ: dict[str, str]) -> None:
    with player_of(tmp_path, environ) as player, Voice(player, environ) as voice:
        assert voice.news() is None
        voice.start()
        voice.want([ROW], soon=True)
        assert voice.wait_for(lambda: voice.none, SOON_S)
        assert voice.news() == voice.notice() == "Voice: none. matside cues shows how to get one"
        assert voice.news() is None
        voice.say(ROW)
        assert (voice.length(ROW), voice.coming(ROW), voice.engine) == (None, False, "")
        (row,) = voice.report()
        assert (row.way, row.works, row.why_not) == ("say", False, "not on this system")
        assert voice._renderer._process is None
    assert not (tmp_path / "cache").exists()
    assert noted(tmp_path / "heard") == []


def test_a_cache_that_cannot_be_used_is_a_reason(tmp_path: Path, environ: dict[str, str]) -> None:
    fake_engine(tmp_path, "say")
    (tmp_path / "cache").write_text("no folder")
    with player_of(tmp_path, environ) as player, Voice(player, environ) as voice:
        voice.start()
        assert voice.wait_for(lambda: voice.none, SOON_S)
        assert "cache" in voice.report()[0].why_not


def test_muted_it_keeps_quiet(tmp_path: Path, environ: dict[str, str]) -> None:
    fake_engine(tmp_path, "say")
    with player_of(tmp_path, environ) as player, Voice(player, environ) as voice:
        voice.want([ROW], soon=True)
        voice.start()
        assert voice.ready(ROW, SOON_S)
        player.muted = True
        voice.say(ROW)
        player.muted = False
        voice.say(ROW)
        assert player.wait_for(lambda: player.counts.said == 1, SOON_S)
    assert noted(tmp_path / "heard") == [f"say {ROW}"]


def test_closed_before_it_was_started_nothing_happens(
    tmp_path: Path, environ: dict[str, str]
) -> None:
    with player_of(tmp_path, environ) as player:
        voice = Voice(player, environ)
        voice.close()
        voice.start()
        assert not voice._renderer._thread.is_alive()


def test_a_phrase_begins_early_enough_to_end_before_its_cue() -> None:
    assert WITHIN_S < GAP
