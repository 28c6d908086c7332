"""What stands on a sheet: every number is what `next` and the rehearsal say of the same day."""

from __future__ import annotations

import csv
import io
import json
import re
import stat
from collections import Counter
from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from runner.cli.main import main
from runner.output import record_path
from runner.record.record import Record
from runner.reports.sheet import MOST_COLUMNS
from tests.reports.winter import PLAN as WINTER
from tests.sheet.crew import PLAN, Element, read, sheet, weeks_on_file


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("ada")
    weeks_on_file(folder)
    level(folder, "bar-row=lean-45", "hinge=rucksack:12kg")
    return folder


def level(data: Path, *wanted: str) -> None:
    """Levels that the coach sets."""
    sets = [word for one in wanted for word in ("--set", one)]
    assert main(["next", PLAN, "--for", "Ada", *sets, "--data", str(data)]) == 0


@pytest.fixture(scope="module")
def pages(data: Path) -> dict[str, Element]:
    return {page.attributes["data-session"]: page for page in read(sheet(data)).all(".page")}


def said(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    capsys.readouterr()
    assert main(words) == 0
    return capsys.readouterr().out


def mmss(seconds: float) -> str:
    minutes, left = divmod(round(seconds), 60)
    return f"{minutes}:{left:02}"


def rests(steps: list[dict[str, Any]]) -> Iterator[tuple[int, str, float]]:
    """Block, where in it, and seconds of each rest of a rehearsal."""
    block, last = 0, None
    for rest, done in pairwise(steps):
        if done["kind"] != "set":
            continue
        seconds = rest["end_s"] - rest["start_s"] if rest["kind"] == "rest" else 0.0
        where = "between" if done["block"] == block else "before"
        this = (done["exercise"], done["set"])
        yield done["block"], "sides" if this == last else where, seconds
        block, last = done["block"], this


def span(seconds: list[float]) -> str:
    low, high = mmss(min(seconds)), mmss(max(seconds))
    return low if low == high else f"{low} to {high}"


@pytest.mark.parametrize("session", ["A", "B", "C"])
def test_sets_levels_rests_and_length_are_those_of_the_rehearsal(
    data: Path, pages: dict[str, Element], capsys: pytest.CaptureFixture[str], session: str
) -> None:
    out = said(
        capsys, "rehearse", PLAN, "--for", "Ada", "--session", session, "--json", "--runs", "100",
        "--data", str(data),
    )  # fmt: skip
    rehearsed = json.loads(out)
    page = pages[session]
    assert page.one(".length").text == mmss(rehearsed["total_s"])
    steps = rehearsed["steps"]
    work = [s for s in steps if s["kind"] == "set" and s["set_kind"] == "work"]
    sets = Counter((s["block"], s["exercise"]) for s in work if s["side"] != "right")
    versions = {(s["block"], s["exercise"]): s["version"] for s in work}
    ramps = Counter(
        (s["block"], s["exercise"]) for s in steps if s["kind"] == "set" and s["set_kind"] == "ramp"
    )
    found = []
    for number, block in enumerate(page.all(".block"), 1):
        words = block.one(".rest").text
        by_place: dict[str, list[float]] = {}
        for at, where, seconds in rests(steps):
            if at == number:
                by_place.setdefault(where, []).append(seconds)
        assert f"one set of each, {span(by_place['between'])} in between." in words
        law = {s["law"]["recovery_s"] for s in work if s["block"] == number}
        assert f"So each muscle rests about {span(sorted(law))}." in words
        if number > 1:
            assert f"Rest {span(by_place['before'])} before this block." in words
        assert ("Left and right: " in words) == ("sides" in by_place)
        if "sides" in by_place:
            assert f"Left and right: {span(by_place['sides'])} in between." in words
        for one in block.all(".exercise"):
            key = (number, one.attributes["data-key"])
            found.append(key)
            assert int(one.one(".sets").text.split()[0]) == sets[key]
            assert one.one(".at").text.split(",")[0] == versions[key]
            assert one.attributes["data-level"].split(":")[0] == versions[key]
            assert bool(one.all(".ramp")) == bool(ramps[key])
    assert sorted(found) == sorted(sets)
    done = [(s["block"], s["exercise"]) for s in steps if s["kind"] == "set"]
    order = list(dict.fromkeys(done))
    assert found == order  # the order of doing, warm-up sets among it


def test_levels_and_what_is_needed_are_what_next_says(
    data: Path, pages: dict[str, Element], capsys: pytest.CaptureFixture[str]
) -> None:
    out = said(capsys, "next", PLAN, "--for", "Ada", "--data", str(data))
    parts = [squeezed(part) for part in re.split(r"^ ?\d+  ", out, flags=re.MULTILINE)[1:]]
    seen = steps = 0
    for page in pages.values():
        for one in page.all(".exercise"):
            called = one.one("h3").text.removesuffix(one.one("small").text).strip()
            level = squeezed(f"{called}: {one.one('.at').text} ")
            (part,) = [p for p in parts if re.match(rf"{re.escape(level)}(since|nowork)", p)]
            rows = {row.one("dt").text: row.one("dd").text for row in one.one("dl").all("div")}
            if "Next step" in rows and one.all(".counts"):
                assert squeezed(rows["Next step"]) in part, called
                steps += 1
            if "Advice" in rows:
                assert squeezed(rows["Advice"]) in part
            seen += 1
    assert seen > 25
    assert steps > 15


def squeezed(text: str) -> str:
    """A text without spaces: lines end where they will."""
    return "".join(text.split())


def test_what_to_beat_is_last_time_by_the_exported_rows(
    data: Path, pages: dict[str, Element], capsys: pytest.CaptureFixture[str]
) -> None:
    """The newest closed session with that set at that level."""
    rows = list(csv.DictReader(io.StringIO(said(capsys, "export", "--data", str(data)))))
    known = 0
    for page in pages.values():
        first: Counter[str] = Counter()
        for one in page.all(".exercise"):
            name = one.attributes["data-key"]
            ramp = int(one.one(".ramp").text.split()[0]) if one.all(".ramp") else 0
            begin = first[name] + ramp + 1
            sets = int(one.one(".sets").text.split()[0])
            first[name] += ramp + sets
            texts = []
            for number in range(begin, begin + sets):
                same = [
                    r for r in rows
                    if (r["exercise"], r["set"], r["kind"]) == (name, str(number), "work")
                    and _at(r) == one.one(".at").text and (r["reps"] or r["hold_s"])
                ]  # fmt: skip
                last = max((r["session_start"] for r in same), default="")
                counts = [
                    f"{float(r['reps'] or r['hold_s']):g}"
                    for side in ("both", "left", "right")
                    for r in same
                    if (r["session_start"], r["side"]) == (last, side)
                ]
                texts.append("|".join(counts) or "-")
            shown = [c.text for c in one.all(".counts")]
            wanted = [] if set(texts) == {"-"} else [" ".join(texts)]
            assert shown == wanted, name
            known += bool(wanted)
    assert known > 20


def _at(row: dict[str, str]) -> str:
    setup = [part.replace("=", " ") for part in row["setup"].split(";") if part]
    load = [f"{float(row['load_kg']):g} kg"] if row["load_kg"] else []
    return ", ".join([row["version"], *setup, *load])


def test_a_page_has_lines_for_each_date_and_for_the_level_really_used(data: Path) -> None:
    for columns in (1, MOST_COLUMNS):
        (page,) = read(sheet(data, "--session", "B", "--columns", str(columns))).all(".page")
        for one in page.all(".exercise"):
            lines = [line for line in one.all(".dates") if "paper" in line.attributes["class"]]
            assert [len(line.all("div")) for line in lines] == [columns]
            assert len(one.all(".other")) == columns
        assert len(page.all(".head")[0].all("div")) == columns


def test_cautions_stop_signs_and_a_place_for_pain_are_there(pages: dict[str, Element]) -> None:
    text = pages["A"].text
    for words in ("get medical help", "ask a doctor or physiotherapist first", "Stop if", "Pain ("):
        assert words in text
    rows = {row.text for row in pages["A"].all(".care")}
    assert "Stop if The knee, the hip or the low back hurts." in rows


def test_the_id_is_kept_and_stands_for_one_page(
    data: Path, pages: dict[str, Element], capsys: pytest.CaptureFixture[str]
) -> None:
    again = {p.attributes["data-session"]: p.attributes["data-sheet"] for p in
             read(sheet(data)).all(".page")}  # fmt: skip
    assert again == {name: page.attributes["data-sheet"] for name, page in pages.items()}
    with Record.open_readonly(record_path(data, trial=False)) as record:
        for session, id_ in again.items():
            kept = record.sheet(id_)
            assert kept is not None
            assert (kept.trainee, kept.session) == ("Ada", session)
            for one in pages[session].all(".exercise"):
                use = kept.levels[one.attributes["data-key"], ""]
                assert use.text == one.one(".at").text
    capsys.readouterr()


def test_after_a_layoff_the_level_that_would_be_offered_stands_on_it(tmp_path: Path) -> None:
    weeks_on_file(tmp_path, days_ago=(50, 47, 44, 40, 37, 34))
    level(tmp_path, "squat=rucksack:10kg", "push-up=flat", "bar-row=lean-45", "hinge=rucksack:12kg")
    (page,) = read(sheet(tmp_path, "--session", "A")).all(".page")
    assert any("34 days away" in note.text for note in page.all(".note"))
    told = set()
    for one in page.all(".exercise"):
        rows = {row.one("dt").text: row.one("dd").text for row in one.one("dl").all("div")}
        sets, reserve, *easier = rows["Lighter session"].split(", ")
        planned = int(one.one(".sets").text.split()[0])
        assert int(sets.split()[0]) == max(1, round(planned * 2 / 3))
        assert reserve == "4 in reserve"
        if ", ".join(easier) != one.one(".at").text:
            told.add(one.attributes["data-key"])
    assert told == {"squat", "push-up", "bar-row", "hinge"}  # those that have an easier one


def test_a_phase_of_the_plan_is_that_of_the_day(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = tmp_path / "dark.toml"
    plan.write_text(WINTER + '[[phase]]\nweeks = 2\nsets = "-1"\n', encoding="utf-8")
    (page,) = read(sheet(tmp_path, "--session", "A", plan=str(plan))).all(".page")
    note = page.all(".note")[0].text
    assert "1 set fewer of each exercise. This page is for it, until Sunday" in note
    assert note.endswith("Use a new sheet for the next phase.")
    words = ("rehearse", str(plan), "--for", "Ada", "--session", "A", "--json", "--runs", "100")
    steps = json.loads(said(capsys, *words, "--data", str(tmp_path)))["steps"]
    done = [s for s in steps if s["kind"] == "set" and s["set_kind"] == "work"]
    sets = Counter(s["exercise"] for s in done if s["side"] != "right")
    for one in page.all(".exercise"):
        assert int(one.one(".sets").text.split()[0]) == sets[one.attributes["data-key"]]


def test_the_file_is_for_its_owner_alone_and_never_over_another(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = sheet(data, to=tmp_path / "ada.html")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    words = ["sheet", PLAN, "--for", "Ada", "-o", str(file), "--data", str(data)]
    assert main(words) == 73
    assert main([*words, "--force", "--session", "Z"]) in (2, 66)
    with pytest.raises(SystemExit):
        main([*words, "--columns", "7"])
    capsys.readouterr()


def test_nothing_is_fetched_and_nothing_else_may_run(data: Path) -> None:
    text = sheet(data).read_text(encoding="utf-8")
    assert not re.search(r"(?:https?:)?//[a-z]|url\(|@import|\son[a-z]+=|\sstyle=|<link|<img", text)
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)
    assert policy
    assert policy[1].startswith("default-src &#39;none&#39;")
    assert "unsafe" not in policy[1]


HOSTILE = (
    "</script><script>window.hacked=1</script>\"'><img src=x onerror=window.hacked=1><b>&amp;"
    "{{ 7*7 }}{% x %}<!--"
)
NAME = "Ada <script>window.hacked=1</script>\"'"


def hostile_sheet(tmp_path: Path) -> Path:
    """A sheet whose plan and person have names that would be markup, script or template."""
    plan = WINTER
    for old in ("Push-up", "Kestrel Hut, dark months", "hands on the bench"):
        plan = plan.replace(f'"{old}"', json.dumps(old + HOSTILE))
    file = tmp_path / "plan.toml"
    file.write_text(plan, encoding="utf-8")
    return sheet(tmp_path, plan=str(file), name=NAME)


def test_hostile_texts_of_a_plan_are_text(tmp_path: Path) -> None:
    page = read(hostile_sheet(tmp_path))
    text = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert text.count("<script>") == text.count("</script>") == 1
    first = page.all(".page")[0]
    assert first.attributes["data-plan"] == "Kestrel Hut, dark months" + HOSTILE
    assert " ".join(f"Push-up{HOSTILE}".split()) in first.all("h3")[0].text
    assert NAME in first.text


def test_a_new_name_is_greeted_and_names_like_it_are_shown(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    capsys.readouterr()
    sheet(data, name="Adda", to=tmp_path / "x.html")
    err = capsys.readouterr().err
    assert "Adda is not in the record yet; this is for a new trainee. Similar names: Ada" in err


@pytest.mark.parametrize("wanted", ["matside log --sheet", "written: "])
def test_the_command_says_how_it_comes_back(
    data: Path, capsys: pytest.CaptureFixture[str], wanted: str
) -> None:
    capsys.readouterr()
    sheet(data)
    assert wanted in capsys.readouterr().err


def test_a_page_for_a_date_to_come_has_the_phase_of_that_date(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two weeks as planned, one with a set fewer, then anew; by hand."""
    plan = tmp_path / "dark.toml"
    phases = '[[phase]]\nweeks = 2\n[[phase]]\nweeks = 1\nsets = "-1"\n'
    plan.write_text(WINTER + phases, encoding="utf-8")
    today = datetime.now().astimezone().date()
    monday = today - timedelta(days=today.weekday())
    found = []
    for week in range(1, 4):
        on = monday + timedelta(days=7 * week + 2)
        asked = ("--session", "A", "--on", str(on))
        (page,) = read(sheet(tmp_path, *asked, plan=str(plan))).all(".page")
        sets = sum(int(one.one(".sets").text.split()[0]) for one in page.all(".exercise"))
        found.append((page.all(".note")[0].text.split(":")[0], sets, len(page.all(".exercise"))))
        until = monday + timedelta(days=(13, 20, 34)[week - 1])
        assert f"until Sunday {until}" in page.all(".note")[0].text
    names, sets, exercises = zip(*found, strict=True)
    assert names == (
        "Phase 1 of 2, week 2 of 2", "Phase 2 of 2, week 1 of 1", "Phase 1 of 2, week 1 of 2",
    )  # fmt: skip
    assert sets[0] == sets[2] == sets[1] + exercises[1]
    past = ["sheet", str(plan), "--on", "2020-01-01", "-o", str(tmp_path / "x.html")]
    assert main([*past, "--data", str(tmp_path)]) == 2
    assert "--on 2020-01-01 is past" in capsys.readouterr().err
