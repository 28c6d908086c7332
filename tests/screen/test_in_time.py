"""Running late on the screen: one line says so, a key offers, and only a yes leaves sets out."""

from __future__ import annotations

from pathlib import Path

from tests.screen.hands import Hands, at_the_mat, to_first_rest


async def worked_out(hands: Hands) -> None:
    """The answer is worked out beside the screen."""
    await hands.app.workers.wait_for_complete()
    await hands.pilot.pause()
    await hands.pilot.pause()


def left_out(hands: Hands) -> list[tuple[str, int]]:
    return [
        (r.planned_set.exercise, r.planned_set.number)
        for r in hands.state.rows
        if r.status == "skipped"
    ]


async def test_late_by_the_time_given_from_ready_on(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, within=76) as hands:
        assert "late · m i: leave out sets" in hands.text
        await hands.press("m", "i")
        await worked_out(hands)
        assert "instead of 2:09, without:" in hands.over
        assert "Leave out these sets?" in hands.over
        await hands.press("enter", "m", "n")  # neither is an answer
        assert not left_out(hands)
        await hands.press("m", "i")
        await worked_out(hands)
        await hands.press("y")
        assert left_out(hands)
        assert "2 sets left out: BENCH 1, ROW 1 · u takes it back" in hands.text
        assert "late" not in hands.text
        await hands.press("u")
        assert not left_out(hands)
        assert "late · m i: leave out sets" in hands.text


async def test_late_by_a_pause_and_in_time_again(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, "kestrel-hut") as hands:
        await to_first_rest(hands)
        assert "longer than at its begin" not in hands.text
        await hands.press("p")
        await hands.wait(600)
        await hands.press("space")
        assert "longer than at its begin · m i: leave out sets" in hands.text
        done = len(hands.state.rows)
        await hands.press("m", "i")
        await worked_out(hands)
        assert "sets to come" in hands.over
        assert len(hands.state.rows) == done  # nothing by itself
        await hands.press("y")
        assert left_out(hands)
        assert "longer than at its begin" not in hands.text
        left = len(left_out(hands))
        await hands.press("u")
        assert left > 1
        assert not left_out(hands)  # as one act


async def test_not_late_the_key_asks_for_a_time(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, "kestrel-hut") as hands:
        await hands.press("m", "i")
        assert "End in how many minutes" in hands.over
        await hands.write("soon")
        assert "write minutes from now" in hands.over
        await hands.press("escape", "m", "i", *["backspace"] * 4)
        await hands.write("5m")
        await worked_out(hands)
        said = "The session does not fit into 5:00: it ends at the earliest in 20:55."
        assert said in " ".join(hands.over.split())
        assert "Over in 20:55 instead of" in hands.over
        await hands.press("n", "m", "i")
        await hands.write("40m")
        await worked_out(hands)
        assert "Leave out these sets?" in hands.over
        await hands.press("y")
        assert left_out(hands)


async def test_no_set_is_left_out_while_one_runs(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, "kestrel-hut", within=2700) as hands:
        await to_first_rest(hands)
        await hands.press("m", "i")
        await worked_out(hands)
        assert "Leave out these sets?" in hands.over
        await hands.until("set")
        await hands.pilot.pause()
        assert "Leave out these sets?" not in hands.over  # a set that begins closes it
        await hands.press("y", "m", "i")
        assert not left_out(hands)
        assert "i does nothing in a set" in hands.text
