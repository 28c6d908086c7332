"""`matside help TOPIC`: the reference, made from the tables that the program itself uses.

A topic is a list of parts: a heading, some text, and rows of a term and its meaning. The terms come
from the registries (keys, words, columns, plan keys, cues, exit codes), so a page cannot name what
the program does not have. Texts that no registry holds are here.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, NamedTuple, get_type_hints

from runner.cli.common import WIDEST, data_dir, examples, show_lines, width
from runner.errors import MEANINGS, Exit
from runner.text import hanging, shown

_TERM = 26  # columns; a longer term has its meaning on the next line


class Part(NamedTuple):
    """A part of a page: `text` holds paragraphs, `rows` pairs of a term and its meaning."""

    heading: str
    text: Sequence[str] = ()
    rows: Sequence[tuple[str, str]] = ()


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(parser, "matside help keys", "matside help plan > plan-keys.txt")
    parser.add_argument(
        "topic", metavar="TOPIC", nargs="?", choices=tuple(TOPICS), help=", ".join(TOPICS)
    )


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    if args.topic is None:
        rows = [(f"matside help {name}", about) for name, (about, _) in TOPICS.items()]
        rows.append(("matside COMMAND --help", "the options of a command, with examples"))
        show_lines(page([Part("Topics", rows=rows)], width()))
        return Exit.OK
    show_lines(page(parts_of(args.topic), width()))
    return Exit.OK


def parts_of(topic: str) -> list[Part]:
    """The parts of a topic. KeyError where there is no such topic."""
    return TOPICS[topic][1]()


def page(parts: Iterable[Part], wide: int = WIDEST) -> list[str]:
    """The parts as lines of at most `wide` columns."""
    lines: list[str] = []
    for part in parts:
        lines += [*([""] if lines else []), part.heading]
        for paragraph in part.text:
            lines += hanging(paragraph, wide)
        term = min(_TERM, max((len(name) for name, _ in part.rows), default=0))
        for name, meaning in part.rows:
            if len(name) > term:
                lines.append(f"  {name}")
                lines += [f"      {line}" for line in hanging(meaning, wide - 6)]
            else:
                indent = " " * (term + 4)
                first, *more = hanging(meaning, wide - term - 4)
                lines += [f"  {name:<{term}}  {first}", *(indent + line for line in more)]
    return lines


def _keys() -> list[Part]:
    from importlib import import_module

    from runner.screen.keys import (
        ENTRY_HELP,
        KEYED,
        LETTERED,
        keys_text,
        phases_text,
    )
    from runner.session.verb import REHEARSED

    import_module("runner.live.rehearsal")  # it has verbs of its own

    def rows(verbs: Iterable[Any]) -> list[tuple[str, str]]:
        return [
            (keys_text(known), f"{known.help} [{phases_text(known.phases)}]") for known in verbs
        ]

    return [
        Part(
            "Keys of a session",
            (
                "The brackets hold the phases in which a key works. The buttons of a presenter "
                "remote are among the keys: page down, page up, and . or b. Any other letter does "
                "nothing by itself. Questions take y or the main key for yes, n or the undo key "
                "for no. A click on a key in the footer or on a line of the list presses it.",
                "Undo takes back what you did last. Where that is older than ten seconds, or "
                "started or ended a set, the first press names it and the second takes it back.",
            ),
            rows(KEYED),
        ),
        Part(
            "Letters of the list that m opens",
            (
                "Each line of the list names what it acts on, and its letter does it. m closes the "
                "list; the main key closes it and does its own work. Where a line has two letters, "
                "the first one opens a second list.",
            ),
            rows(LETTERED),
        ),
        Part(
            "Keys of a count",
            (
                "After a set the screen asks for its count. Type it while the rest runs: it "
                "belongs to that set. The program asks again about a count that looks wrong: 0, "
                "more than twice the top of the rep range, or over one and a half times the best "
                "at that level and at least five more. Save it once more to keep it.",
                "If counts are missing at the end, the main key first says so, and closes at "
                "the second press. `matside log --fix` takes the counts later.",
            ),
            ENTRY_HELP,
        ),
        Part(
            "Keys of a rehearsal",
            (
                "`matside rehearse PLAN --watch` has the keys of a session, except those that "
                "only write something down, and these:",
            ),
            rows(REHEARSED.values()),
        ),
        Part(
            "Keys of a review",
            ("`matside review` shows its keys in its footer; ? names them all.",),
        ),
    ]


def _words() -> list[Part]:
    import runner.live.face_verbs  # noqa: F401 - the words of the faces
    from runner.lines.paper import HELP
    from runner.session.events import KINDS
    from runner.session.verb import help_lines

    return [
        Part(
            "Line mode: in",
            (
                "`matside run PLAN --plain` is for screen readers, simple terminals and scripts. "
                "A session without a terminal runs in line mode by itself. Each line is one "
                "input. A line that cannot be used changes nothing; the reason comes on standard "
                "error. The end of the input closes the session.",
            ),
            list(help_lines()),
        ),
        Part(
            "Line mode: out",
            (
                "Each line is one event, printed when the record holds it: the time in UTC, the "
                "name, "
                "then key=value, with tabs between. A tab, line end or backslash in a value is "
                "\\t, \\n or \\\\. `phase` is the phase after the event. A line about a set has "
                "block, round, exercise, set, side, version and entry, the running number of its "
                "row. A line that the record did not take has kept=no.",
                f"The names: {', '.join(KINDS)}.",
            ),
        ),
        Part(
            "From paper",
            (
                "`matside log PLAN --on DATE` asks for a line an exercise. `--from FILE` takes a "
                "whole text: a line `on DATE` before each session, each line begins with the "
                "exercise's id, and swap, pain and note are about the exercise before them. "
                "rpe 7, mass 74.5 and minutes 50 are about the session.",
            ),
            HELP,
        ),
    ]


def _columns() -> list[Part]:
    from runner.progress.history import SetRow
    from runner.record.tables import DecisionLine, SessionLine, WeekLine

    tables: Mapping[str, tuple[str, type]] = {
        "sets": ("each side of each set", SetRow),
        "sessions": ("each session", SessionLine),
        "weeks": ("each muscle that got a set in an ISO week", WeekLine),
        "held": ("each decision about a level", DecisionLine),
    }
    first = Part(
        "Files of `matside export`",
        (
            "RFC 4180: a header, then rows, with commas between and UTF-8. An empty field does "
            "not apply. Times are RFC 3339, local with the offset, where they do not say UTC. "
            "Seconds (s) have one decimal. A text that a spreadsheet would run as a formula has "
            "an apostrophe in front. New columns are added at the end.",
        ),
    )
    return [
        first,
        *(
            Part(f"--what {name}: a row for {each}", rows=columns(kind))
            for name, (each, kind) in tables.items()
        ),
    ]


def columns(table: type) -> list[tuple[str, str]]:
    """The columns of a table and their meanings, from its fields."""
    hints = get_type_hints(table, include_extras=True)
    return [(name, hint.__metadata__[0]) for name, hint in hints.items()]


def _plan() -> list[Part]:
    from runner.law.muscles import MUSCLES
    from runner.plan.file import LARGEST, MOST_SETS
    from runner.plan.schema import json_schema

    schema = json_schema()
    tables = schema["$defs"]
    timing, effort = (tables[name]["properties"] for name in ("PlanTiming", "EffortKeys"))
    more = {"Exercise": {**timing, **effort}, "Block": timing}
    return [
        Part(
            "Plan files",
            (
                "A plan is a TOML file. `matside check PLAN` lists every fault with its place and "
                "what to write instead. `matside check --schema` prints the JSON Schema, by which "
                "an editor completes and checks. The shipped plans show every part in use.",
                'A duration is "2:00", "45s", "1m30s" or a number of seconds. Loads are kg. A key '
                "with * is needed.",
                f"A plan may have {LARGEST // 1024} KiB, and a session {MOST_SETS} sets.",
            ),
        ),
        *(
            Part(heading, rows=_plan_rows(tables[name] if name else schema, more.get(name, {})))
            for heading, name in _TABLES
        ),
        Part("Muscles", (", ".join(MUSCLES) + ".",)),
    ]


# The tables of a plan in the order in which a reader meets them, with their names in the schema.
_TABLES = (
    ("The file", ""),
    ("[timing]", "PlanTiming"),
    ("[effort]", "EffortKeys"),
    ("[week]", "Week"),
    ("[station.ID]", "Station"),
    ("[exercise.ID]", "Exercise"),
    ("[[exercise.ID.version]]", "Version"),
    ("load = { from, to, by }", "LoadRange"),
    ("setup = { NAME = { from, to, by } }", "SetupRange"),
    ("[[session]]", "Session"),
    ("[[session.block]]", "Block"),
    ("[[session.block.do]]", "Item"),
    ("[[phase]]", "Phase"),
)


def _plan_rows(table: Mapping[str, Any], elsewhere: Mapping[str, Any]) -> list[tuple[str, str]]:
    """The keys of a table of the schema, needed ones marked; last those described `elsewhere`."""
    needed = table.get("required", ())
    keys = table["properties"]
    own = [key for key in keys if keys[key] != elsewhere.get(key)]
    rows = [(f"{key}{' *' if key in needed else ''}", _plan_key(keys[key])) for key in own]
    again = [key for key in keys if key not in own]
    return [*rows, ("as above", "here alone: " + ", ".join(again))] if again else rows


def _plan_key(schema: Mapping[str, Any]) -> str:
    text = str(schema.get("description", "")).removesuffix(".")
    words = schema.get("enum", ())
    if not all(word in text for word in words):
        text += ": " + ", ".join(words)
    default = schema.get("default")
    if isinstance(default, bool):
        default = str(default).lower()
    if default and "default" not in text.lower() and not isinstance(default, list | dict):
        text += f"; default {default}"
    return text


def _cues() -> list[Part]:
    import runner.live.face_verbs  # noqa: F401 - the words of the faces
    from runner.session.verb import key_of
    from runner.sound.sounds import CUES

    return [
        Part(
            "Cues",
            (
                "`matside cues` plays them all. The screen shows whatever a cue says. Two cues "
                "may overlap; a third waits, at most 0.3 s.",
            ),
            [(cue.name, cue.meaning) for cue in CUES.values()],
        ),
        Part(
            "Pacer",
            (
                "A soft tick for each part of a repetition, by the tempo of the version: 2-0-1 "
                "is two seconds down, no pause, one second up. `pacer = true` in the plan, the "
                f"keys {key_of('pacer')} or the word pacer turn it on.",
            ),
        ),
        Part(
            "Voice",
            (
                "Off unless you ask for it. With --voice on it says what comes next with its side "
                "and set-up, calls the last ten seconds of a rest, and says the count to beat, the "
                "missing count, and what a key did. With --voice names it says only what comes "
                "next. A cue always interrupts it.",
                "It speaks by the first of these that works: the extra `voice` (pip install "
                "-e '.[voice]'), the program espeak-ng, say on macOS, the speech of Windows.",
            ),
        ),
        Part(
            "If you hear nothing",
            (
                "`matside cues` names the player in use, what is missing, and how to get it. "
                "Players, in order: the library simpleaudio (the extra `sound`), a player of the "
                "system (pw-play, paplay, aplay, afplay, Windows), the terminal's bell, silence. "
                "Speakers on Bluetooth or HDMI sleep and swallow the first note: try "
                "MATSIDE_SOUND_LEAD=0.5. A failure of sound never stops a session.",
            ),
        ),
    ]


SETTINGS: Mapping[str, str] = {
    "MATSIDE_DATA": "the data directory, as --data",
    "MATSIDE_CACHE": "where spoken phrases are kept; they may be deleted at any time",
    "MATSIDE_SOUND": "players to try, in order: paplay,bell",
    "MATSIDE_SOUND_LEAD": "seconds of quiet before each sound, 0 to 2",
    "MATSIDE_VOLUME": "volume of the cues, 0 to 100, as --volume",
    "MATSIDE_VOICE": "off, on or names, as --voice",
    "MATSIDE_VOICE_VOLUME": "volume of the voice, 0 to 100, as --voice-volume",
    "MATSIDE_VOICE_BY": "engines of speech to try, in order: say,espeak-ng",
    "NO_COLOR": "not empty: no colour; colour is never the only sign",
}


def _files() -> list[Part]:
    return [
        Part(
            "Files",
            (
                f"The data directory is {shown(data_dir(None))}. --data DIR names another. Only "
                "you can read it. Keep it out of folders that a service synchronises: the "
                "record can break. Nothing leaves the machine.",
            ),
            (
                ("record.db", "the record (SQLite), every event of every session"),
                ("trial.db", "the same for plans marked `trial`, like the demo"),
                ("plans/NAME.toml", "your plans; matside run NAME finds them"),
                (
                    "people/NAME.toml",
                    "how a plan differs for one person: matside for NAME",
                ),
                ("copies/", "the three newest copies, made before a restore or an upgrade"),
                ("running.lock", "locked while a session runs"),
            ),
        ),
        Part("Environment", rows=tuple(SETTINGS.items())),
        Part("Exit codes", rows=tuple((str(code.value), text) for code, text in MEANINGS.items())),
        Part(
            "If the program is killed",
            (
                "The session stays open, up to its last event; the next start offers to continue "
                "it. If the terminal then shows nothing of what you type, type `reset` and press "
                "enter.",
            ),
        ),
    ]


# By name: what the topic holds, and the function that makes its parts.
TOPICS: Mapping[str, tuple[str, Callable[[], list[Part]]]] = {
    "keys": ("the keys of the full screen", _keys),
    "words": ("the words of line mode, and what it prints", _words),
    "columns": ("the columns of every table that export writes", _columns),
    "plan": ("every key of a plan file", _plan),
    "cues": ("the sounds, the pacer and the voice", _cues),
    "files": ("where the data lies, settings of the environment, exit codes", _files),
}
