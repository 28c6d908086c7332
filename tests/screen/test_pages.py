"""The pages before the first set and after the last, of real sessions: golden texts and rules."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from runner.live.session_setup import prepare
from runner.screen.info import wrapped
from runner.screen.pages import caution_pages
from runner.session import verb as cmd
from runner.testing import ManualClock
from tests.screen.golden_text import all_same
from tests.screen.hands import DESIGN, Hands, at_the_mat

SIZES = (DESIGN, (120, 40))
DAY = 86400.0


def shown(hands: Hands, name: str) -> dict[str, list[str]]:
    """The screen under the name of its golden text."""
    rows = hands.rows
    return {f"{name}-{len(rows[0])}x{len(rows)}": rows}


async def train(hands: Hands, *, sets: int = 99, uncounted: int = 0, shoulder: int = 0) -> None:
    """Begin, and do so many sets: 12, 11, 10, 12 and so on, the last ones uncounted."""
    assert hands.app.controller.live is not None
    driver = hands.app.controller.live.driver
    driver.send(cmd.Proceed())
    driver.send(cmd.Proceed())
    done = 0
    while driver.state.phase != "wrap-up" and done < sets:
        await hands.until("set")
        await hands.wait(30.0 + done % 3)
        driver.send(cmd.Proceed())
        done += 1
        last = driver.state.phase == "wrap-up" or done > sets - uncounted
        if driver.state.open_rows and not (last and uncounted):
            driver.send(cmd.Enter("reps", (cmd.Count(12.0 - done % 3),)))
        if done == shoulder:
            driver.send(cmd.Hurt("left shoulder"))
    hands.app.controller.message = ""
    await hands.wait(3.0)


def later(days: float) -> ManualClock:
    clock = ManualClock()
    clock.advance(days * DAY)
    return clock


async def trained(data: Path, *days: float, shoulder: int = 0) -> None:
    """Whole sessions A of the winter plan on such days."""
    for day in days:
        async with at_the_mat(data, "kestrel-hut", session="A", clock=later(day)) as hands:
            await train(hands, shoulder=shoulder if day == days[-1] else 0)
            await hands.press("space")
            assert hands.state.phase == "closed"


@pytest.fixture(autouse=True)
def _for_its_owner_alone(tmp_path: Path) -> None:
    tmp_path.chmod(0o700)  # else the page would say that it is not


@pytest.mark.parametrize("size", SIZES)
async def test_the_ready_page_of_somebody_new(tmp_path: Path, size: tuple[int, int]) -> None:
    async with at_the_mat(tmp_path, "kestrel-hut", size=size) as hands:
        all_same(shown(hands, "page-ready-new"))
        assert hands.rows[0].rstrip().endswith("50 min, done by 07:19")
        for section in ("BRING", "TODAY", "OFFERED", "CARE", "SOUND"):
            assert f"\n  {section} " in hands.text
        assert len(re.findall(r"  new\b", hands.text)) == 10
        assert "arrow" not in hands.text  # ten exercises fit


@pytest.mark.parametrize("size", SIZES)
async def test_the_ready_page_after_a_painful_session(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    await trained(tmp_path, 0, 7, shoulder=12)
    async with at_the_mat(
        tmp_path, "kestrel-hut", session="A", clock=later(14), size=size
    ) as hands:
        first = shown(hands, "page-ready")
        assert "last 11 12 10 11" in hands.text
        assert "Push-up: pain, left shoulder, 2 Dec." in hands.text
        before = hands.rows[0].split()[-5]
        await hands.press("e")
        all_same(first | shown(hands, "page-ready-taken"))
        assert "■ e" in hands.text
        assert "3 sets" in next(row for row in hands.rows if "PUSH-UP " in row)
        assert hands.rows[0].split()[-5] < before  # the length follows


async def test_the_finishing_time_follows_the_clock(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, "kestrel-hut", session="A") as hands:
        assert "done by 07:19" in hands.rows[0]
        await hands.wait(60.0)
        assert "done by 07:20" in hands.rows[0]


@pytest.mark.parametrize(
    ("plan", "session"), [("demo", "demo"), *(("kestrel-hut", s) for s in "ABC")]
)
def test_the_cautions_of_the_shipped_plans_fit_a_page(
    plan: str, session: str, tmp_path: Path
) -> None:
    opening = prepare(plan, data=tmp_path, trainee="Ada", clock=ManualClock(), session=session)
    with opening.record:
        (page,) = caution_pages(opening.new_cautions, 76, 20)
        assert len(page) <= 2 + 16
        said = re.findall(r"[^.:]+[.]", " ".join(opening.cautions))
    assert len(said) == len(set(said))  # no sentence twice


def test_where_rows_are_few_the_cautions_take_all_of_them() -> None:
    cautions = ["Stop at once for pain in the chest.", "Breathe steadily.", "Clear the floor."]
    for height in range(1, 7):
        pages = caution_pages(cautions, 20, height)
        text = height if height < 5 else height - 2  # under the title there is a blank row
        assert max(map(len, pages)) <= height
        assert len(pages) == -(-4 // text), height  # two rows, one, one


async def test_a_narrow_ready_page_spares_the_range_first(tmp_path: Path) -> None:
    await trained(tmp_path, 0)
    async with at_the_mat(
        tmp_path, "kestrel-hut", session="A", clock=later(7), size=(60, 26)
    ) as hands:
        assert "8 to 20" not in hands.text
        for row, level, sets in (("SQUAT ", "4 kg", "4 + 1 sets"), ("CALF ", "floor", "3 sets")):
            line = next(text for text in hands.rows if row in text and " last " in text)
            assert level in line
            assert sets in line


async def test_more_exercises_than_fit_are_reached_by_the_arrow_keys(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, "kestrel-hut", session="A", size=(80, 18)) as hands:
        for row in ("BRING", "OFFERED", "CARE", "SOUND"):
            assert f"\n  {row} " in hands.text  # the others stay
        assert "more: arrow down" in hands.text
        assert "CALF" not in hands.text
        await hands.press(*["down"] * 12)
        assert "CALF" in hands.text
        assert "more: arrow up" in hands.text
        assert "\n  SOUND " in hands.text


async def test_one_press_starts_and_two_where_cautions_are_new(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, "kestrel-hut", session="A", yes=False) as hands:
        all_same(shown(hands, "page-ready-cautions"))
        assert "space next page (1 of 2)" in hands.rows[-1]
        assert "start" not in hands.rows[-1]
        await hands.press("space")
        assert hands.state.phase == "ready"
        assert "space start" in hands.rows[-1]
        assert "Read before you start" not in hands.text
        await hands.press("space")
        assert hands.state.phase == "warm-up"
        await hands.press("q", "y")
    async with at_the_mat(tmp_path, "kestrel-hut", session="A", yes=False, clock=later(7)) as hands:
        assert "space start" in hands.rows[-1]
        await hands.press("space")
        assert hands.state.phase == "warm-up"
        await hands.press("q", "y")
    async with at_the_mat(tmp_path, "kestrel-hut", session="C", yes=False, clock=later(9)) as hands:
        assert "Stop at once" not in hands.text  # read before: only what is new comes
        assert "Read before you start" in hands.text


@pytest.mark.parametrize("size", SIZES)
async def test_the_page_after_the_last_set(tmp_path: Path, size: tuple[int, int]) -> None:
    await trained(tmp_path, 0)
    clock = later(7)
    async with at_the_mat(tmp_path, "kestrel-hut", session="A", size=size, clock=clock) as hands:
        await train(hands, uncounted=1)
        first = shown(hands, "page-wrap-up")
        text = hands.text
        assert text.index("COOL DOWN 1:57") < text.index("STILL OPEN") < text.index("DONE TODAY")
        assert "■ 1 count  CALF right, set 3" in text
        assert "CALF 11|10 11|10 11|?" in text
        assert "BEATEN" in text
        assert "NEXT   B, Split squat and row: Friday 4 December, from " in text
        await hands.press("9")
        assert " 9▏" in hands.text
        await hands.press("space")
        assert "CALF 11|10 11|10 11|9" in hands.text
        assert "1 count" not in hands.text.split("DONE TODAY")[0]
        await hands.press("space")
        all_same(first | shown(hands, "page-closed"))
        assert "The session is complete." in hands.text


@pytest.mark.parametrize("size", SIZES)
async def test_the_page_of_a_session_ended_early(tmp_path: Path, size: tuple[int, int]) -> None:
    async with at_the_mat(tmp_path, "kestrel-hut", session="A", size=size) as hands:
        await train(hands, sets=7, uncounted=1)
        await hands.press("q", "y")
        all_same(shown(hands, "page-ended-early"))
        assert "Closed before its end." in hands.text
        assert "first counts: SQUAT, PULL" in hands.text
        assert "BEATEN" not in hands.text  # there was nothing to beat


async def test_a_narrow_footer_names_the_main_key_and_a_click_on_it_counts(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, "kestrel-hut", session="A", size=(60, 20)) as hands:
        await train(hands, uncounted=1)
        assert "space close · u undo · m more" in hands.rows[-1]
        await hands.pilot.click(offset=(hands.rows[-1].index("close"), 19))
        await hands.pilot.pause()
        assert "1 count is missing. Press again" in hands.text


def test_a_number_and_its_unit_stay_together() -> None:
    assert wrapped("Post: chest, 100 cm", 16) == ["Post: chest,", "100 cm"]
