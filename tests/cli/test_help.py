"""`matside help TOPIC`: every key, word, column, plan key and cue of the program is explained."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pexpect
import pytest

from runner.cli.common import WIDEST
from runner.cli.help import SETTINGS, TOPICS, Part, columns, page, parts_of
from runner.cli.main import main
from runner.errors import MEANINGS, Exit
from runner.law.muscles import MUSCLES
from runner.plan.schema import json_schema
from runner.record.rows import COLUMNS
from runner.record.tables import TABLES, DecisionLine, SessionLine, WeekLine
from runner.screen.keys import ENTRY_HELP, KEYED, LETTERED, keys_text
from runner.session.events import KINDS
from runner.session.verb import REHEARSED, VERBS
from runner.sound.sounds import CUES
from tests.lines.process import ROOT, environment, matside


def terms(topic: str) -> set[str]:
    return {term for part in parts_of(topic) for term, _ in part.rows}


def text(topic: str) -> str:
    return " ".join("\n".join(page(parts_of(topic))).split())


@pytest.mark.parametrize("topic", TOPICS)
def test_a_topic_fits_eighty_columns_and_explains_every_term(topic: str) -> None:
    assert max(map(len, page(parts_of(topic)))) <= WIDEST == 80
    assert [term for part in parts_of(topic) for term, meaning in part.rows if not meaning] == []


def test_keys_has_every_key() -> None:
    actions = (*KEYED, *LETTERED, *REHEARSED.values())
    assert {keys_text(action) for action in actions} <= terms("keys")
    assert {key for key, _ in ENTRY_HELP} <= terms("keys")
    assert all(" ".join(action.help.split()) in text("keys") for action in actions)


def test_words_has_every_word_and_every_event() -> None:
    assert {known.form for known in VERBS.values() if known.form} | {"help", "empty line"} <= terms(
        "words"
    )
    names = text("words").partition("The names: ")[2].partition(".")[0].split(", ")
    assert names == list(KINDS)


def test_columns_has_every_column_of_every_table() -> None:
    kinds = {"sessions": SessionLine, "weeks": WeekLine, "held": DecisionLine}
    told = {
        part.heading.split()[1].rstrip(":"): [term for term, _ in part.rows]
        for part in parts_of("columns")
        if part.heading.startswith("--what")
    }
    assert told == {"sets": list(COLUMNS), **{n: list(k._fields) for n, k in kinds.items()}}
    assert told.keys() == set(TABLES)
    assert all(meaning for kind in kinds.values() for _, meaning in columns(kind))


def test_plan_has_every_key_of_every_table() -> None:
    schema = json_schema()
    for name, table in {"Plan": schema, **schema["$defs"]}.items():
        for key, of_key in table["properties"].items():
            assert of_key.get("description"), (name, key)
            assert re.search(rf"\b{key}\b", text("plan")), (name, key)
    assert all(muscle in text("plan") for muscle in MUSCLES)
    assert all(word in text("plan") for word in ("horizontal push", "left first", "overhead"))


def test_each_table_of_a_plan_has_a_part() -> None:
    from runner.cli.help import _TABLES  # noqa: PLC0415 - beside what it is compared with

    assert {name for _, name in _TABLES} - {""} == json_schema()["$defs"].keys()


def test_cues_has_every_cue() -> None:
    assert CUES.keys() <= terms("cues")


def test_files_has_every_setting_and_every_exit_code() -> None:
    named = {
        name
        for path in (ROOT / "runner").rglob("*.py")
        for name in re.findall(r"\bMATSIDE_[A-Z_]+\b", path.read_text(encoding="utf-8"))
    }
    assert named - {"MATSIDE_PHRASE"} == SETTINGS.keys() - {"NO_COLOR"}  # that one is for helpers
    assert MEANINGS.keys() == set(Exit)
    assert {str(code.value) for code in Exit} <= terms("files")


def test_files_names_the_data_directory_in_force(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MATSIDE_DATA", "/somewhere/else")
    assert "The data directory is /somewhere/else." in text("files")


def test_help_alone_lists_the_topics(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["help"]) == Exit.OK
    shown = capsys.readouterr().out
    assert all(f"matside help {topic}" in shown for topic in TOPICS)


def test_an_unknown_topic_is_wrong_usage_and_the_topics_are_named() -> None:
    done = matside("help", "kyes")
    assert (done.returncode, done.stdout) == (Exit.USAGE, "")
    assert all(topic in done.stderr for topic in TOPICS)


def test_a_term_too_long_for_its_column_has_its_meaning_below() -> None:
    lines = page([Part("Long", rows=[("x" * 40, "what it is"), ("y", "short")])])
    assert lines[1:4] == ["  " + "x" * 40, "      what it is", "  y" + " " * 27 + "short"]


def test_a_topic_of_more_than_a_screen_comes_through_the_pager(tmp_path: Path) -> None:
    pager = tmp_path / "pager"
    pager.write_text('#!/bin/sh\necho "PAGER BEGINS"; head -3; echo "PAGER ENDS"\n')
    pager.chmod(0o755)
    size = {"LINES": "", "COLUMNS": ""}  # the terminal's own, not that of whoever runs the tests
    env = environment(PAGER=str(pager), MANPAGER=str(pager), TERM="xterm", **size)
    for rows, paged in ((24, True), (600, False)):
        child = pexpect.spawn(
            sys.executable,
            ["-m", "runner", "help", "keys"],
            cwd=str(ROOT), env=env, dimensions=(rows, 100), encoding="utf-8", timeout=60,
        )  # fmt: skip
        child.expect(pexpect.EOF)
        child.close()
        assert child.exitstatus == Exit.OK
        assert ("PAGER BEGINS" in child.before) is paged
        assert "Keys of a session" in child.before
