"""Each line of the table against `--json`, and what gives way where there is little room."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from rich.cells import cell_len

from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.planning.forecast import session_steps
from runner.planning.muscle_timeline import recoveries
from runner.progress.adjust import Baseline
from runner.reports.report import report
from runner.reports.timeline import table
from tests.reports import oracle
from tests.reports.plans import SMALL, data, said, write

LINE = re.compile(
    r" *(?P<at>[\d:]+)  (?P<rest>.{4})  (?P<why>[a-z]*(?: ready)? *)  (?P<set>\S.*?) {2,}"
    r"(?:(?P<number>\d+(?: warm-up)?(?: left| right)?) {2,})?(?P<work>\d+:\d\d)(?:  (?P<had>\S.*))?"
)


def clock(seconds: float) -> str:
    return f"{round(seconds) // 60}:{round(seconds) % 60:02}"


@pytest.mark.parametrize(
    ("name", "session"), [("small", "A"), *(("kestrel-hut", s) for s in "ABC")]
)
def test_every_line_is_what_the_data_say(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, session: str
) -> None:
    plan = write(tmp_path) if name == "small" else name
    known = data(capsys, tmp_path, plan, "--session", session)
    out = said(capsys, tmp_path, plan, "--session", session)[0].splitlines()
    head = next(at for at, line in enumerate(out) if line.split()[:3] == ["at", "rest", "why"])
    body = out[head + 1 : out.index("", head)]
    lines = [found for line in body if (found := LINE.fullmatch(without_setup(line)))]
    assert len(lines) == len(body)
    steps = [step for step in known["steps"] if step["kind"] != "rest"]
    rests = {step["end_s"]: step for step in known["steps"] if step["kind"] == "rest"}
    had = iter(oracle.recovered(known))
    assert len(lines) == len(steps)
    for line, step in zip(lines, steps, strict=True):
        assert line["at"] == clock(step["start_s"])
        assert line["work"] == clock(step["end_s"] - step["start_s"])
        rest = rests.get(step["start_s"])
        assert line["rest"].strip() == (clock(rest["end_s"] - rest["start_s"]) if rest else "")
        why = rest["why"].replace("lead-in", "get ready") if rest else ""
        assert line["why"].strip() == why
        if step["kind"] == "set":
            check_recovery(line["had"] or "", next(had), step["recovery_s"])
            assert line["number"].split()[0] == str(step["set"])
            assert (step["set_kind"] == "ramp") == ("warm-up" in line["number"])
        else:
            assert line["set"] == step["kind"]


def without_setup(line: str) -> str:
    """The line without what is set up, which stands there where there is room."""
    return re.sub(r"  (?:one|low \d+ cm|high \d+ cm|toes)  ", "    ", line)


def check_recovery(text: str, had: dict[str, float], least: float | None) -> None:
    if not had:
        assert text == ""
        assert least is None
        return
    assert least == pytest.approx(min(had.values()), abs=0.001)
    time, _, rest = text.partition(" ")
    assert time == clock(min(had.values()))
    named = rest.split(";")[0].rstrip("…").split(", ")
    lowest = [muscle for muscle, seconds in had.items() if seconds - min(had.values()) < 0.01]
    assert all(any(m.startswith(name) for m in lowest) for name in named)


def test_of_two_prime_movers_the_one_with_less_comes_first() -> None:
    text = SMALL.replace('prime = ["abdomen"]', 'prime = ["abdomen", "chest"]')
    workout = compile_session(parse_plan(text, "hut.toml"), "A")
    steps = session_steps(workout)
    lines = table(workout, steps, 120)
    assert next(line for line in lines if "Plank" in line and "  1  " in line).endswith(
        "1:00 chest"
    )
    first, second = (
        had
        for step, had in recoveries(steps)
        if step.planned_set and step.planned_set.exercise == "plank"
    )
    assert first == {("chest", "left"): 60.0, ("chest", "right"): 60.0}
    assert len(second) == 4


def test_of_two_sides_the_one_with_less_counts() -> None:
    text = SMALL.replace('prime = ["abdomen"]', 'prime = ["upper-back"]')
    for sides in ("left first", "right first"):
        plan = parse_plan(text.replace('sides = "left first"', f'sides = "{sides}"'), "hut.toml")
        steps = session_steps(workout := compile_session(plan, "A"))
        plank = next(s for s in steps if s.planned_set and s.planned_set.exercise == "plank")
        (had,) = (places for step, places in recoveries(steps) if step is plank)
        less, more = sorted(had.values())
        assert more - less == 20 + 15  # the side done first has had its set and the gap more
        assert plank.recovered == less
        line = next(
            line for line in table(workout, steps, 120) if "Plank" in line and "  1  " in line
        )
        assert line.endswith(f"{clock(less)} upper-back")


@pytest.mark.parametrize("width", [64, 70, 80, 100, 120, 200])
@pytest.mark.parametrize("at", [None, 6 * 3600])
def test_what_is_read_fits_the_terminal(width: int, at: int | None) -> None:
    plan = parse_plan(SMALL.replace("Rucksack row", "Row with the heavy rucksack"), "hut.toml")
    workout = compile_session(plan, "A")
    steps = session_steps(workout)
    lines = table(workout, steps, width, at)
    assert max(map(cell_len, lines)) <= width
    # Number, side and time of recovery are kept whatever is cut.
    row = next(line for line in lines if " 3 right" in line)
    assert "1:15" in row
    assert ("high 80 cm" in row) == (width >= (100 if at is None else 120))
    whole = report(plan, workout, Baseline(), width=width, at=at)
    assert max(map(cell_len, whole)) <= width
