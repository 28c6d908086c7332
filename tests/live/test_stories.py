"""Six trainees through twelve weeks of real sessions on manual time, advice accepted.

The story itself is printed by `python -m tests.live.stories`; here stands what must be true of it.
"""

from __future__ import annotations

import pytest

from runner.output import record_path
from runner.progress.history import SetRow
from runner.record.record import Record
from tests.live.stories import Winter, winters

Told = tuple[Winter, list[str], list[SetRow]]
THREE = ("steady", "plateau", "bad_back", "pain_again")  # with the plan of three exercises


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Told]:
    found: dict[str, Told] = {}
    for winter in winters(tmp_path_factory.mktemp("winters"), short=True):
        lines: list[str] = []
        winter.run(lines.append)
        with Record.open_readonly(record_path(winter.data, trial=False)) as record:
            assert record.integrity() == "ok"
            found[winter.data.name] = (winter, lines, list(record.rows()))
    return found


def held_versions(winter: Winter) -> list[tuple[str, str, float | None, str]]:
    with Record.open_readonly(record_path(winter.data, trial=False)) as record:
        changes = record.level_decisions()
    return [(h.exercise, h.version, h.load_kg, h.reason) for h in changes]


def test_every_week_is_told(told: dict[str, Told]) -> None:
    for winter, lines, rows in told.values():
        weeks = [line for line in lines if line.startswith("\n## week")]
        assert len(weeks) == len({day // 7 for day in winter.days})
        assert len({row.session_id for row in rows}) == len(winter.trained)
        words = ("Beaten", "Next", "Week", "Session", "Sets")
        for word in () if winter.typed_in else words:
            assert sum(line.startswith(f"  {word}: ") for line in lines) >= len(weeks)


def test_the_first_sessions_find_the_versions_and_hold_back(told: dict[str, Told]) -> None:
    for winter, _, rows in (told[name] for name in THREE):
        assert [kind for day, kind in winter.offers if day == 0] == ["lighter", "place"]
        placed = {e for e, _, _, reason in held_versions(winter) if reason == "placed"}
        assert placed == {"push-up", "rucksack-row", "squat"}
        first = rows[0].session_id
        assert all(r.to_beat is None for r in rows if r.session_id == first)


def test_what_is_held_is_what_was_accepted_and_used_next(told: dict[str, Told]) -> None:
    """Between two sessions nothing moves but by an answer, and the next session uses it."""
    for winter, _, rows in (told[name] for name in THREE):
        moves = [a for a in winter.accepted if a[3] in ("move", "bridge")]
        changes = [h for h in held_versions(winter) if h[3] != "placed"]
        assert len(changes) >= len(moves)
        for exercise in ("push-up", "rucksack-row", "squat"):
            last = [h for h in held_versions(winter) if h[0] == exercise][-1]
            done = [r for r in rows if r.exercise == exercise and r.status == "done"][-1]
            used_since = done.version, done.load_kg
            known = {(v, kg) for e, v, kg, _ in held_versions(winter) if e == exercise}
            assert used_since in known or last[1:3] == used_since


def test_the_steady_one_moves_on_and_the_load_rises_in_steps(told: dict[str, Told]) -> None:
    winter, _, _ = told["steady"]
    rules = {rule for _, _, rule, _ in winter.accepted}
    assert {"load", "harder"} <= rules
    assert not rules & {"easier", "lighter week"}


def test_the_one_who_plateaus_is_told_so(told: dict[str, Told]) -> None:
    winter, _, _ = told["plateau"]
    assert any(rule in ("flat", "lighter week") for _, _, rule, _ in winter.accepted)


def test_pain_and_a_break_are_met_with_less(told: dict[str, Told]) -> None:
    winter, lines, rows = told["bad_back"]
    text = "\n".join(lines)
    assert "not started: ill, or a new pain" in text
    assert any(row.pain == "yes" for row in rows)
    hurt_on = next(day for day in winter.hurts)
    assert not any(day == hurt_on and id_ == "squat" for day, id_, _, _ in winter.accepted)
    back = next(day for day in winter.trained if day > hurt_on + 28)
    assert "lighter" in [kind for day, kind in winter.offers if day == back]
    assert "days away" in text


def test_a_rucksack_alone_goes_up_by_its_loads(told: dict[str, Told]) -> None:
    winter, _, rows = told["loads_only"]
    moves = [rule for _, _, rule, kind in winter.accepted if kind in ("move", "bridge")]
    assert moves.count("load") >= 10
    for exercise in ("squat", "row", "press", "curl"):
        used = [r.load_kg or 0.0 for r in rows if r.exercise == exercise and r.set == 1]
        assert used[-1] > used[-30]  # weeks later


def test_pain_that_comes_back_is_named_at_the_start_and_not_forgotten(
    told: dict[str, Told],
) -> None:
    winter, lines, _ = told["pain_again"]
    last = max(winter.hurts)
    text = "\n".join(lines)
    often = "3 sessions within 28 days (left shoulder): 12 Oct, 16 Oct, 19 Oct: leave it out, and"
    assert f"Push-up: pain (our choice): {often} see a physiotherapist" in text
    starts = [line for line in lines if line.startswith("  ! Push-up: pain, ")]
    assert starts[0] == "  ! Push-up: pain, left shoulder, 12 Oct."
    assert starts[-1].startswith(f"  ! Push-up: pain, {often}")
    assert len(starts) == 2 + 1 + 6  # after the first, the second and, for two weeks, the third
    rested = [a for a in winter.accepted if a[1] == "push-up" and a[0] <= last + 28]
    assert not rested


def test_a_month_typed_in_at_once_asks_once_for_each_exercise(told: dict[str, Told]) -> None:
    winter, lines, rows = told["month_on_paper"]
    asked = [(day, id_) for day, id_, _, _ in winter.accepted]
    assert 4 <= len(asked) == len(set(asked))
    assert {day for day, _ in asked} <= {25, 53, 81}
    assert len({row.session_start[:10] for row in rows}) == len(winter.days)
    used = [row.load_kg for row in rows if row.exercise == "squat"]
    assert used[0] is not None
    assert used[0] > 5  # what was written on paper, not what the plan begins with
    assert not any("nothing was done at" in line for line in lines)
