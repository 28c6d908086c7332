"""Which ways are tried, by the system and by the settings."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from runner.sound.ways import (
    COMPILER,
    LEAD_SETTING,
    SETTING,
    has_wheel,
    how_to_get,
    install,
    read_settings,
)


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
        "MATSIDE_SOUND: unknown player 'aplai'; write one of "
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
        f"MATSIDE_SOUND_LEAD: {text!r} is not a length of time; write seconds from 0 to 2",
    )


def test_the_double_is_a_way_too() -> None:
    (way,) = read_settings({SETTING: "recording:/some/file"}).ways
    assert (way.arguments, way.module) == (("--file", "/some/file"), "runner.testing")


def test_how_to_get_a_way_fits_the_system(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("runner.sound.ways.shutil.which", lambda name: name == "apt-get")
    how = how_to_get("simpleaudio", "linux")
    assert how.startswith("sudo apt-get install gcc libc6-dev libasound2-dev python3-dev, then: ")
    assert how.endswith(" -m pip install simpleaudio-patched")
    assert how_to_get("aplay", "linux").endswith(" alsa-utils")
    assert how_to_get("winsound") == ""


# As `pip download --no-deps --only-binary=:all: --platform … --python-version …` found them for
# simpleaudio-patched 1.0.5: cp311 and cp312; macosx_10_9_x86_64, macosx_11_0_arm64, win32,
# win_amd64. None for Linux (manylinux, musllinux), win_arm64, Python 3.13 or 3.14.
WHEELS = {
    ("darwin", "arm64", "3.11"): True,
    ("darwin", "arm64", "3.12"): True,
    ("darwin", "x86_64", "3.12"): True,
    ("darwin", "arm64", "3.13"): False,
    ("win32", "AMD64", "3.11"): True,
    ("win32", "AMD64", "3.12"): True,
    ("win32", "AMD64", "3.13"): False,
    ("win32", "ARM64", "3.12"): False,
    ("linux", "x86_64", "3.11"): False,
    ("linux", "aarch64", "3.12"): False,
}


@pytest.mark.parametrize(("system", "machine", "python"), WHEELS)
def test_the_plain_install_brings_the_library_wherever_a_wheel_exists(
    system: str, machine: str, python: str
) -> None:
    """By the general library that installers read markers with."""
    text = (Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8")
    wanted = [
        one
        for line in tomllib.loads(text)["project"]["dependencies"]
        if (one := Requirement(line)).name == "simpleaudio-patched"
    ]
    here = {"sys_platform": system, "platform_machine": machine, "python_version": python}
    brought = any(one.marker is not None and one.marker.evaluate(here) for one in wanted)
    assert brought is WHEELS[system, machine, python]
    major, minor = map(int, python.split("."))
    assert has_wheel(system, machine, (major, minor)) is brought


@pytest.mark.parametrize(
    ("manager", "package", "said"),
    [
        ("apt-get", "pulseaudio-utils", "sudo apt-get install pulseaudio-utils"),
        ("dnf", COMPILER, "sudo dnf install gcc alsa-lib-devel python3-devel"),
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


def test_the_readme_names_what_the_library_is_built_with() -> None:
    assert COMPILER in (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
