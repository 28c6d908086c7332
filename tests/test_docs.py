"""README and DEVELOPERS say what is so: the tables, the examples and the paths in them."""

from __future__ import annotations

import argparse
import re
import shlex
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from runner.cli.main import build_parser
from runner.errors import Exit
from runner.plan.compile import compile_session
from runner.plan.file import LARGEST, MOST_SETS, parse_plan
from runner.screen.keys import ACTIONS, ENTRY_HELP, REHEARSAL_ACTIONS, Action, key_name
from runner.session.events import KINDS
from runner.session.words import WORDS
from runner.sound.sounds import CUES
from runner.sound.ways import LEAD_SETTING, SETTING

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
DOCS = {"README.md": README, "DEVELOPERS.md": DEVELOPERS}


def table(*rows: Sequence[str]) -> str:
    """A table in Markdown, its head first."""
    head, *body = rows
    return "\n".join(f"| {' | '.join(row)} |" for row in (head, ["---"] * len(head), *body))


def key_table() -> str:
    """What the README says of the keys of the full screen."""
    return table(("key", "name", "where", "what it does"), *key_rows(ACTIONS))


def rehearsal_key_table() -> str:
    """What the README says of the keys that only a rehearsal has."""
    head = ("key", "in a rehearsal", "where", "what it does")
    return table(head, *key_rows(REHEARSAL_ACTIONS))


def key_rows(actions: Sequence[Action]) -> list[Sequence[str]]:
    """A row for each action."""
    rows: list[Sequence[str]] = []
    for action in actions:
        keys = " ".join(f"`{key_name(key)}`" for key in action.keys)
        where = "everywhere" if len(action.phases) == 7 else ", ".join(action.phases)
        rows.append((keys, action.label, where, action.help))
    return rows


def entry_table() -> str:
    """What the README says of the keys of an entry."""
    return table(("key", "what it does"), *((f"`{key}`", text) for key, text in ENTRY_HELP))


def word_table() -> str:
    """What the README says of the words of line mode."""
    counts = (
        ("`12`, `12/2`", "repetitions for the oldest open entry; /2 adds the reserve"),
        ("`12 14`", "left and right of a one-sided set"),
        ("`45s`", "seconds of a hold"),
    )
    rows = ((f"`{word.form}`", word.meaning) for word in WORDS.values())
    return table(("line", "what it does"), *counts, *rows, ("`help`", "these words"))


def cue_table() -> str:
    """What the README says of the cues."""
    return table(("cue", "meaning"), *((f"`{cue.name}`", cue.meaning) for cue in CUES.values()))


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


def options() -> Iterator[tuple[str, argparse.Action]]:
    """Every option, with its command."""
    for name, parser in parsers().items():
        for action in parser._actions:
            if action.option_strings:
                yield name, action


def option_rows() -> dict[str, str]:
    """The option table: each option, and the commands that it is said to be of."""
    rows = re.findall(r"^\| (`-.*?) \| (.*?) \|", section("Commands"), re.MULTILINE)
    return {
        option: commands
        for cell, commands in rows
        for option in re.findall(r"(?<=`)--?[a-z-]+", cell)
    }


def test_the_quick_start_is_two_commands_and_nothing_else() -> None:
    (block,) = fences(section("Quick start"))
    lines = block.splitlines()
    assert len(lines) == 2
    assert all(line.startswith("python3 -m venv .venv && ") for line in lines)
    assert lines[0].endswith(" .venv/bin/matside run demo")
    assert "pytest" in lines[1]


@pytest.mark.parametrize(
    "made", [key_table, entry_table, rehearsal_key_table, word_table, cue_table]
)
def test_a_table_of_the_readme_is_what_the_program_has(made: object) -> None:
    assert callable(made)
    assert made() in README


@pytest.mark.parametrize(
    ("title", "made"), [("Keys", key_table), ("Line mode", word_table), ("Cues", cue_table)]
)
def test_a_section_has_no_row_of_its_own(title: str, made: object) -> None:
    assert callable(made)
    own = made().splitlines() + (
        [*entry_table().splitlines(), *rehearsal_key_table().splitlines()]
        if title == "Keys"
        else []
    )
    assert [line for line in section(title).splitlines() if line.startswith("|")] == own


def test_every_command_has_an_example() -> None:
    shown = set(re.findall(r"^\| `matside ([a-z]+)", section("Commands"), re.MULTILINE))
    assert shown == parsers().keys() - {"matside"}


def test_the_option_table_has_every_option_with_its_commands_and_no_other() -> None:
    real: dict[str, set[str]] = {}
    for command, action in options():
        if "--help" in action.option_strings:
            real["--help"] = {"matside"}
            continue
        for option in action.option_strings:
            real.setdefault(option, set()).add(command)
    told = {option: set(commands.split(", ")) for option, commands in option_rows().items()}
    assert told == real


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
    (text,) = fences(section("A plan of your own"))
    plan = parse_plan(text, "README.md")
    workout = compile_session(plan, "A")
    assert [item.exercise for item in workout.blocks[0].items] == ["floor-push-up", "rucksack-row"]


def test_the_exit_codes_named_are_ours() -> None:
    told = section("Commands").partition("The exit code is ")[2].partition("`runner/errors.py`")[0]
    codes = {int(code) for code in re.findall(r"\b\d+\b", told)}
    assert codes == {code.value for code in Exit} - {Exit.UNAVAILABLE, Exit.SOFTWARE}


@pytest.mark.parametrize("name", [SETTING, LEAD_SETTING, "MATSIDE_DATA", "NO_COLOR"])
def test_every_setting_of_the_environment_is_told(name: str) -> None:
    assert f"`{name}`" in README


def test_how_much_a_plan_may_hold_is_told() -> None:
    assert f"{LARGEST // 1024} KiB" in README
    assert f"more than {MOST_SETS} sets in a session" in README


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
