"""README and DEVELOPERS say what is so: commands, the plan, the map and the paths in them.

What `matside help TOPIC` says is held against the program by tests/cli/test_help.py.
"""

from __future__ import annotations

import argparse
import re
import shlex
from pathlib import Path

import pytest

from runner.cli.help import TOPICS
from runner.cli.main import COMMANDS, build_parser
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.session.events import KINDS

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
DOCS = {"README.md": README, "DEVELOPERS.md": DEVELOPERS}


def section(title: str, text: str = README) -> str:
    """What stands under a heading of the second level."""
    found = re.search(rf"^## {re.escape(title)}\n(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL)
    assert found, f"there is no section {title!r}"
    return found[1]


def fences(text: str) -> list[str]:
    """The insides of all fenced blocks."""
    return re.findall(r"^```[a-z]*\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def parsers() -> dict[str, argparse.ArgumentParser]:
    """The parser of each command, and the whole one as `matside`."""
    whole = build_parser()
    commands = next(a for a in whole._actions if isinstance(a, argparse._SubParsersAction))
    return {"matside": whole, **commands.choices}


def test_the_quick_start_is_two_commands_and_nothing_else() -> None:
    (block,) = fences(section("Quick start"))
    lines = block.splitlines()
    assert len(lines) == 2
    assert all(line.startswith("python3 -m venv .venv && ") for line in lines)
    assert lines[0].endswith(" .venv/bin/matside run demo")
    assert "pytest" in lines[1]


def test_the_first_command_shows_that_it_works_and_the_second_uses_every_core() -> None:
    first, second = fences(section("Quick start"))[0].splitlines()
    assert "--quiet" not in first
    assert second.endswith(" -n 6 --dist worksteal")  # two cores, and half of it waits in real time


def test_matside_help_names_every_command_with_what_it_does() -> None:
    text = " ".join(build_parser().format_help().split())
    for name, (_, about) in COMMANDS.items():
        assert f" {name} {about}" in text
    assert COMMANDS.keys() == parsers().keys() - {"matside"}


@pytest.mark.parametrize("name", COMMANDS)
def test_help_of_a_command_has_an_example(name: str) -> None:
    assert f"matside {name}" in (parsers()[name].epilog or "")


def test_the_readme_shows_the_way_to_every_command_but_those_of_care() -> None:
    shown = set(re.findall(r"`matside ([a-z]+)", README))
    assert COMMANDS.keys() <= shown


def test_the_readme_is_two_screens_to_the_first_session() -> None:
    words = README.partition("## Cautions")[0].partition("## Your first session")[2]
    assert len(words.split()) < 500


@pytest.mark.parametrize("topic", TOPICS)
def test_every_topic_of_help_is_pointed_to(topic: str) -> None:
    assert f"`{topic}`" in section("More")


@pytest.mark.parametrize("name", parsers())
def test_help_says_something_of_every_option_and_argument(name: str) -> None:
    parser = parsers()[name]
    bare = [a.dest for a in parser._actions if not a.help and a.dest != "command"]
    assert bare == []
    assert all(
        a.option_strings[0] in parser.format_help() for a in parser._actions if a.option_strings
    )


@pytest.mark.parametrize("doc", DOCS)
def test_every_command_line_shown_can_be_parsed(doc: str) -> None:
    shown = re.findall(r"`(matside [a-z][^`]*)`", DOCS[doc])
    assert shown
    parser = build_parser()
    for line in shown:
        words = shlex.split(line.partition(" > ")[0])[1:]
        parser.parse_args(words)  # leaves the program where it cannot be


def test_every_command_line_of_help_can_be_parsed() -> None:
    shown = [
        line.split("   ")[0].partition(" > ")[0].split()[1:]
        for parser in parsers().values()
        for line in (parser.epilog or "").splitlines()
        if line.startswith("  matside ")
    ]
    assert len(shown) > 10
    for words in shown:
        build_parser().parse_args(words)


def test_the_plan_shown_is_a_good_one() -> None:
    (text,) = fences(section("Your first session"))
    plan = parse_plan(text, "README.md")
    workout = compile_session(plan, "A")
    assert [item.exercise for item in workout.blocks[0].items] == ["floor-push-up", "rucksack-row"]


@pytest.mark.parametrize("doc", DOCS)
def test_every_path_named_is_there(doc: str) -> None:
    text = DOCS[doc]
    named = set(re.findall(r"`((?:runner|tests|sounds|\.ci)/[\w./-]*|[A-Z]+\.md)`", text))
    named |= set(re.findall(r"\]\(([\w./-]+)\)", text))
    assert named
    assert [path for path in sorted(named) if not (ROOT / path).exists()] == []


def test_the_map_has_every_room_and_every_module_in_it() -> None:
    rooms = section("The map", DEVELOPERS)
    there = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "runner").rglob("*.py")
        if path.name not in ("__init__.py", "__main__.py")
    }
    told = set()
    for folder, names in re.findall(r"^\| `(runner/[a-z/]*)` \| (.*?) \|", rooms, re.MULTILINE):
        told |= {f"{folder}{name}.py" for name in re.findall(r"`([a-z_]+)`", names)}
    assert told == there


def test_every_event_that_is_named_exists() -> None:
    flow = section("How data flows", DEVELOPERS)
    named = set(re.findall(r"event `([a-z]+)`", flow))
    assert named
    assert named <= KINDS.keys()


@pytest.mark.parametrize("doc", DOCS)
def test_no_path_of_somebody_s_machine_is_named(doc: str) -> None:
    assert not re.search(r"(?<![\w~.])/(?:home|Users|root|tmp|work|opt)\b", DOCS[doc])
