"""No text of a plan or a person is taken for anything else than a text, by any command."""

from __future__ import annotations

import csv
import io
import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest

from runner.cli.main import main
from runner.output import overlay_path
from runner.plan.faults import PlanFaults
from runner.plan.file import parse_plan
from tests.lines.process import session
from tests.shut import hostile_text
from tests.shut.hostile_text import ALL, CONTROLS, MARKUP, PRINTABLE, TRAINEE
from tests.shut.watch import events
from tests.sound.speakers import arguments

FORBIDDEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\u2028\u2029]"
)


def said(folder: Path) -> list[dict[str, Any]]:
    found = json.loads((folder / "said.json").read_text(encoding="utf-8"))
    for one in found:
        one["out"], one["err"] = (
            one[name].encode("latin-1").decode("utf-8") for name in ("out", "err")
        )
    return list(found)


def of(folder: Path, *words: str) -> str:
    """What the commands that begin with these words wrote on stdout."""
    return "".join(one["out"] for one in said(folder) if one["what"][: len(words)] == [*words])


def test_every_command_was_played_and_none_broke(played: Path) -> None:
    done = said(played)
    assert {one["what"][0] for one in done} == {
        "check", "rehearse", "pairs", "run", "log", "next", "review", "export", "import", "cues",
        "backup", "restore", "forget", "screen", "help", "show", "roster", "sheet", "handover",
        "receive", "for", "compose",
    }  # fmt: skip
    assert all(one["code"] in {0, 2, 65, 66} for one in done)
    assert not any("Traceback" in one["err"] for one in done)
    worked = {one["what"][0] for one in done if one["code"] == 0}
    assert worked == {one["what"][0] for one in done}
    screens = {one["what"][1] for one in done if one["what"][0] == "screen"}
    assert {"closed", "rehearsal"} < screens


def test_no_control_character_reaches_a_stream(played: Path) -> None:
    for one in said(played):
        for stream in ("out", "err"):
            found = FORBIDDEN.search(one[stream])
            assert found is None, (one["what"], stream, one[stream][found.start() - 40 :][:80])


def test_markup_stands_as_it_was_written(played: Path) -> None:
    for words in (
        ("check",), ("rehearse",), ("pairs",), ("run",), ("next",), ("review",), ("export",),
        ("screen", "closed"), ("screen", "rehearsal"), ("screen", "exercises"),
        ("screen", "sessions"),
    ):  # fmt: skip
        assert "[bold" in of(played, *words), words
    assert MARKUP in of(played, "run")


def test_no_shell_is_started_and_no_text_is_an_argument(played: Path) -> None:
    started = [one for one in events(played) if one[0] in {"subprocess.Popen", "os.system"}]
    started += [one for one in events(played) if one[0].startswith(("os.exec", "os.posix"))]
    assert started  # the helper of the sound, the voice's
    for event, program, given in started:
        assert event == "subprocess.Popen"
        assert isinstance(given, list)  # a text would go to a shell
        assert Path(program).name not in {"sh", "bash", "dash", "cmd.exe"}
        assert not any("pwned" in word for word in given)
    assert not any("pwned" in word for word in arguments(played / "bin" / "say"))


def test_the_voice_is_given_words_on_its_input(played: Path) -> None:
    given = (played / "bin" / "say.texts").read_text()
    assert "touch pwned" in given  # it was said, by somebody who was asked to
    assert not re.search(r"[$`|<>\[\]=]", given)


def test_no_file_has_a_name_out_of_a_text(played: Path) -> None:
    made = [str(path) for path in played.rglob("*")]
    made += [word for one in events(played) if one[0] in {"open", "os.mkdir"} for word in one[1:]]
    assert len(made) > 50
    # A person's own file has their name, in what a file name can hold.
    own = overlay_path(Path(), TRAINEE).name
    assert (played / "gone" / own).is_file()
    for path in made:
        if Path(path).name.removeprefix(".").startswith(own):
            continue
        assert not re.search(r"pwned|\[bold|\$\(|=1", path)
    pictures = {path.name for path in (played / "pictures").iterdir()}
    assert "trend-press.svg" in pictures
    assert all(re.fullmatch(r"[a-z-]+\.svg", name) for name in pictures)


def test_no_field_of_a_table_is_a_formula(played: Path) -> None:
    texts = [one["out"] for one in said(played) if one["what"][0] == "export" and one["out"]]
    texts += [path.read_text(encoding="utf-8") for path in played.rglob("*.csv")]
    assert len(texts) >= 5
    guarded = 0
    for text in texts:
        for row in csv.reader(io.StringIO(text, newline="")):
            for field in row:
                assert not re.match(r"[=+@\t\r]|-(?![0-9.]+$)", field), field
                guarded += field.startswith("'=1+1")
    assert guarded > 20


def test_pictures_are_well_formed_and_hold_nothing_but_drawing(played: Path) -> None:
    pictures = list(played.rglob("*.svg"))
    assert len(pictures) > 3
    shown = 0
    for path in pictures:
        text = path.read_text(encoding="utf-8")
        assert FORBIDDEN.search(text) is None
        for element in ET.fromstring(text).iter():  # noqa: S314 - our own file
            assert element.tag.rpartition("}")[2] not in {"script", "a", "foreignObject", "image"}
            assert not any(name.startswith("on") or "href" in name for name in element.attrib)
            shown += "[bold" in (element.text or "")
    assert shown


def test_the_timeline_as_data_is_data(played: Path) -> None:
    (found,) = [
        one for one in said(played) if one["what"][0] == "rehearse" and "--json" in one["what"]
    ]
    assert json.loads(found["out"])["plan"] == ALL


@pytest.mark.parametrize("control", CONTROLS, ids=ascii)
def test_no_key_of_a_plan_takes_a_control_character(control: str) -> None:
    """Each key in turn: refused, in rows that do not hold it."""
    written = "".join(f"\\u{ord(c):04x}" for c in control)
    lines = hostile_text.plan("@@").splitlines(keepends=True)
    places = [number for number, line in enumerate(lines) if "@@" in line]
    assert len(places) == 18
    for place in places:
        text = "".join(
            line.replace("@@", f"a{written}b" if number == place else "fine")
            for number, line in enumerate(lines)
        )
        with pytest.raises(PlanFaults) as refused:
            parse_plan(text, f"hut{control}.toml")
        for row in refused.value.lines:
            assert FORBIDDEN.search(row) is None
            assert "\n" not in row
            assert "\r" not in row


def test_a_hostile_plan_is_a_good_one() -> None:
    plan = parse_plan(hostile_text.plan(), "hut.toml")
    assert plan.title == ALL
    assert all(part in plan.exercise["press"].name for part in PRINTABLE)


def test_a_note_with_a_keys_bytes_is_kept_and_no_trouble(tmp_path: Path) -> None:
    """Line mode says what it can show, the record keeps it without them, and all is well."""
    with session("demo", tmp_path, "--yes") as running:
        running.event("opened")
        running.send("note \x1b[A\x9b1mstiff\u202e")
        noted = running.event("noted")
        assert running.end() == 0
    assert noted.pairs["note"] == "?[A?1mstiff?"
    assert not any("NOT KEPT" in line for line in running.err.seen)
    assert not list(tmp_path.glob("*.csv"))


def test_what_is_brought_in_holds_no_control_character(
    tmp_path: Path, played: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Our own exports never do; so a file that does was made by somebody else."""
    rows = list(csv.reader(io.StringIO((played / "sets.csv").read_text(encoding="utf-8"))))
    for column, control in ((3, "\x1b[2J"), (9, "\x9b31m"), (33, "\u202e"), (13, "\x07")):
        changed = [[*row] for row in rows]
        for row in changed[1:]:
            row[column] += control
        file = tmp_path / "hostile.csv"
        with file.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows(changed)
        assert main(["import", str(file), "--yes", "--data", str(tmp_path / "data")]) == 65
        shown = capsys.readouterr()
        assert f"control character in {rows[0][column]}" in shown.err
        assert FORBIDDEN.search(shown.err) is None
    assert TRAINEE not in str(tmp_path)
