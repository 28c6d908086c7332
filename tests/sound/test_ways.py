"""Which ways are tried, by the system and by the settings."""

from __future__ import annotations

import sys

import pytest

from runner.sound.getting import install
from runner.sound.ways import LEAD_SETTING, SETTING, how_to_get, read_settings


def names(setting: str, system: str = "linux") -> list[str]:
    return [way.name for way in read_settings({SETTING: setting}, system).ways]


def test_each_system_has_its_ways() -> None:
    assert names("", "linux") == ["simpleaudio", "pw-play", "paplay", "aplay"]
    assert names("", "darwin") == ["simpleaudio", "afplay"]
    assert names("", "win32") == ["simpleaudio", "winsound"]
    assert names("", "freebsd14") == ["simpleaudio", "pw-play", "paplay", "aplay"]
    assert read_settings({}).bell


def test_a_setting_decides_which_and_in_which_order() -> None:
    assert names("aplay, paplay") == ["aplay", "paplay"]
    assert not read_settings({SETTING: "aplay"}).bell
    assert read_settings({SETTING: "aplay,bell"}).bell
    assert names("aplay,bell,paplay") == ["aplay"]
    assert names("silence") == []
    silence = read_settings({SETTING: "silence,bell"})
    assert (silence.ways, silence.bell) == ((), False)


def test_a_wrong_word_is_said_and_the_rest_holds() -> None:
    settings = read_settings({SETTING: "aplai,bell"})
    assert (settings.ways, settings.bell) == ((), True)
    assert settings.faults == (
        "MATSIDE_SOUND: no way is called 'aplai'; write one of "
        "afplay, aplay, bell, paplay, pw-play, silence, simpleaudio, winsound",
    )
    assert names("what") == names("")


@pytest.mark.parametrize(
    ("text", "lead_s"), [("", 0.0), ("0.3", 0.3), ("0", 0.0), ("2", 2.0), (" 1 ", 1.0)]
)
def test_the_lead_is_a_setting(text: str, lead_s: float) -> None:
    settings = read_settings({LEAD_SETTING: text})
    assert (settings.lead_s, settings.faults) == (lead_s, ())


@pytest.mark.parametrize("text", ["-1", "nan", "inf", "3", "long"])
def test_a_wrong_lead_is_said(text: str) -> None:
    settings = read_settings({LEAD_SETTING: text})
    assert settings.lead_s == 0.0
    assert settings.faults == (
        f"MATSIDE_SOUND_LEAD: {text!r} is not a length; write seconds from 0 to 2",
    )


def test_the_double_is_a_way_too() -> None:
    (way,) = read_settings({SETTING: "recording:/some/file"}).ways
    assert way.arguments == ("--backend", "recording", "--file", "/some/file")


def test_how_to_get_a_way_fits_the_system() -> None:
    package = "simpleaudio" if sys.version_info < (3, 12) else "simpleaudio-patched"
    assert f"-m pip install {package} (needs a C compiler and ALSA" in how_to_get(
        "simpleaudio", "linux"
    )
    assert how_to_get("simpleaudio", "darwin").endswith("(needs a C compiler)")
    assert how_to_get("aplay", "linux").endswith(" alsa-utils")
    assert how_to_get("winsound") == ""


@pytest.mark.parametrize(
    ("manager", "package", "said"),
    [
        ("apt-get", "pulseaudio-utils", "sudo apt-get install pulseaudio-utils"),
        ("dnf", "gcc libasound2-dev", "sudo dnf install gcc alsa-lib-devel"),
        ("pacman", "pulseaudio-utils", "sudo pacman -S libpulse"),
        ("apk", "espeak-ng", "sudo apk add espeak-ng"),
        ("none", "alsa-utils", "on Debian: apt-get install alsa-utils"),
    ],
)
def test_the_package_manager_that_is_there_is_named(manager: str, package: str, said: str) -> None:
    assert install(package, "linux", {manager: f"/usr/bin/{manager}"}.get) == said


def test_other_systems_have_their_own() -> None:
    assert install("espeak-ng", "darwin") == "brew install espeak-ng"
    assert install("espeak-ng", "win32").startswith("winget install ")
    assert install("alsa-utils", "darwin") == ""
