"""Commands drawn at random, at instants drawn at random: nothing breaks what must always hold."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from hypothesis import given, settings, strategies as st

from runner.law.workout import Level, Station, Workout
from runner.session import events as ev, flow, verb as cmd
from runner.session.apply import Refused, replay
from runner.session.feedback import report
from runner.session.state import State
from runner.session.verb import VERBS, Command
from tests.law.builders import exercise, part, timing, workout
from tests.session.mat import Mat, through_json

HIGH, LOW = (("height", "90 cm"),), (("height", "60 cm"),)
PRESS = exercise(
    "press", 20.0, ["chest"], assist=("triceps",), measure="reps", instead=("bench",),
    progression=(
        Level("a", "a", load=8.0, load_step=2.0), Level("a", "a", load=10.0, load_step=2.0),
    ),
)  # fmt: skip
ROW = exercise(
    "row", 15.0, ["lats"], both_sides=("low-back",), sides="right first", station="bar",
    progression=(Level("low", "low", LOW), Level("high", "high", HIGH)),
)  # fmt: skip
DIP = exercise("dip", 25.0, ["triceps"], instead=("press", "bench"), station="bar",
               progression=(Level("high", "high", HIGH),))  # fmt: skip
SPLIT = exercise("split", 30.0, ["quadriceps"], sides="left first", measure="reps")
BENCH = exercise("bench", 10.0, ["chest"])

DECK = {
    "everything": workout(
        [part(PRESS, 2, ramp=1), part(ROW, 2, timing(breather=20), versions=("low", "high"))],
        [part(SPLIT, 2), part(DIP, 1)],
        beside=[BENCH],
        stations=[Station("bar", "Low bar", change=25.0)],
        warm_up=30.0,
        cool_down=20.0,
        reach=1.0,
    ),
    "one set": workout([part(SPLIT, 1)]),
    "by key": workout(
        [part(PRESS, 2), part(DIP, 2)],
        beside=[BENCH],
        by_key=True,
        stations=[Station("bar", "Low bar")],
    ),
}
PLANS = st.sampled_from(sorted(DECK))

COUNT = st.builds(cmd.Count, st.integers(0, 40).map(float), st.none() | st.integers(0, 5))
MEASURE = st.sampled_from(["reps", "hold"])
BEGIN_OR_GO_ON = st.just(cmd.Proceed())
COMMANDS: st.SearchStrategy[cmd.Command] = st.one_of(
    BEGIN_OR_GO_ON,
    BEGIN_OR_GO_ON,
    st.sampled_from(
        [
            cmd.StartNow(), cmd.Ask(15.0), cmd.Ask(-15.0), cmd.Pause(), cmd.Skip(), cmd.Drop(),
            cmd.LeaveOut((("press", 2), ("row", 3), ("press", 3))),
            cmd.Swap(), cmd.Step(-1), cmd.Step(1), cmd.Use(load=9.0), cmd.Use(setup=HIGH),
            cmd.NoCount(), cmd.Late(), cmd.Undo(), cmd.Undo(), cmd.Redo(), cmd.Note("cold"),
            cmd.Hurt("elbow"), cmd.Hurt(), cmd.Hurt(exercise="press"), cmd.Hurt("", "row"),
            cmd.Rate(6.0), cmd.Weigh(74.5), cmd.Keep(), cmd.Keep(today_only=True),
            cmd.Return(), cmd.End(),
        ]
    ),
    st.builds(cmd.Enter, MEASURE, st.lists(COUNT, min_size=1, max_size=2).map(tuple)),
    st.builds(cmd.Fix, st.integers(1, 6), MEASURE, COUNT),
    st.builds(cmd.NoCount, st.integers(1, 6)),
    st.builds(cmd.Pause, st.just("suspend"), st.integers(0, 200).map(float)),
)  # fmt: skip
WAITS = st.sampled_from([0.0, 0.5, 3.0, 11.0, 17.0, 30.0, 45.0, 120.0])
STEPS = st.lists(st.tuples(WAITS, COMMANDS), max_size=40)


def always(before: State, state: State, latest: list[ev.Event]) -> None:
    """What holds after every step."""
    assert [row.entry for row in state.rows] == list(range(1, len(state.rows) + 1))
    assert len({(row.index, row.side) for row in state.rows}) == len(state.rows)
    running = [row for row in state.rows if row.status == "running"]
    assert running == ([state.rows[-1]] if state.phase == "set" else [])
    for row in state.rows:
        if row.start is not None and row.end is not None:
            assert row.end >= row.start
        assert (row.work or 0.0) >= 0.0
        assert (row.rest_before or 0.0) >= 0.0
        assert (row.recovery or 0.0) >= 0.0
    starts = [row.start for row in state.rows if row.start is not None]
    assert starts == sorted(starts)
    if state.phase == "rest":
        assert state.until is not None
        assert state.rest_from is not None
        assert state.coming is not None
    if state.phase == "wrap-up":
        assert state.coming is None
    if latest:
        said = report(latest, state, undo="u takes it back")
        by_clock = isinstance(latest[0], ev.Started | ev.Ended) and latest[0].by == "clock"
        assert by_clock or said or any(isinstance(event, ev.Closed) for event in latest)
    back = (ev.Undone, ev.Late)
    if not any(isinstance(event, back) for event in latest):
        ledger, old = state.course.ledger, before.course.ledger
        assert all(ledger.prime[place] >= end for place, end in old.prime.items())
        assert all(ledger.synergist[place] >= end for place, end in old.synergist.items())


def ordered(latest: list[ev.Event], now: float) -> None:
    """No event is later than now, and within a step none is before the one before it."""
    assert all(event.at <= now for event in latest)
    assert all(one.at <= other.at for one, other in pairwise(latest))


def attempt(mat: Mat, command: cmd.Command) -> bool:
    """Ask for something; whether it was not refused."""
    before = mat.state
    try:
        mat._take(flow.handle(mat.state, command, mat.now))
    except Refused as refused:
        return bool(mat.state is not before or not str(refused))
    return True


def perform(plan: Workout, steps: list[tuple[float, cmd.Command]]) -> Mat:
    mat = Mat(plan)
    for waits, command in steps:
        at = mat.now + waits
        while (due := flow.deadline(mat.state)) is not None and due <= at:
            before = mat.state
            mat.until(due)
            always(before, mat.state, mat.latest)
        mat.until(at)
        before, events = mat.state, len(mat.events)
        last_at = mat.events[-1].at
        if not attempt(mat, command):
            continue
        latest = mat.events[events:]
        always(before, mat.state, latest)
        ordered(latest, mat.now)
        cut_off = isinstance(command, cmd.Return)
        assert cut_off or not latest or latest[0].at >= last_at
    return mat


@settings(max_examples=150)
@given(PLANS, STEPS)
def test_whatever_is_asked_the_state_is_the_replay(
    name: str, steps: list[tuple[float, cmd.Command]]
) -> None:
    plan = DECK[name]
    mat = perform(plan, steps)
    assert replay(plan, mat.baseline, mat.events) == mat.state
    kept = through_json(mat.events)
    assert kept == mat.events
    assert replay(plan, mat.baseline, kept) == mat.state


@settings(max_examples=60)
@given(PLANS, STEPS)
def test_a_record_cut_anywhere_can_be_gone_on_with(
    name: str, steps: list[tuple[float, cmd.Command]]
) -> None:
    """Whole acts are on file or not; from each, the session goes on and comes to an end."""
    plan = DECK[name]
    mat = perform(plan, steps)
    cut = [e for e in mat.events if e.act <= mat.state.acts // 2]
    back = Mat(plan)
    back.events, back.state = cut, replay(plan, mat.baseline, cut)
    back.now = mat.now + 60.0
    if back.phase == "closed":
        return
    back.at_once(cmd.Return())
    if back.phase in ("ready", "warm-up"):
        back.begin()
    for _ in range(40):
        if back.phase == "wrap-up":
            break
        if back.phase == "rest":
            back.do(cmd.StartNow())
        back.do(cmd.Proceed(), after=5.0)
    assert back.phase == "wrap-up"
    assert back.do(cmd.End()).state.complete


@settings(max_examples=60)
@given(PLANS, STEPS)
def test_undo_down_to_the_bottom(name: str, steps: list[tuple[float, cmd.Command]]) -> None:
    """Undoing all there is ends where nothing was done yet, or at a return."""
    plan = DECK[name]
    mat = perform(plan, [step for step in steps if not isinstance(step[1], cmd.End | cmd.Return)])
    closed = mat.phase == "closed"
    for _ in range(200):
        if not attempt(mat, cmd.Undo()):
            break
    assert replay(plan, mat.baseline, mat.events) == mat.state
    if not closed:
        assert mat.phase in ("ready", "warm-up", "rest")  # nothing was done
        assert mat.rows == ()
        assert mat.state.course.ledger.prime == {}
        assert (mat.state.note, mat.state.rpe, mat.state.mass, mat.state.waits) == (
            "",
            None,
            None,
            {},
        )


def refusal(asked: Callable[..., object], *of: object) -> str:
    """Why it is refused; "" where it is not."""
    try:
        asked(*of)
    except Refused as refused:
        return str(refused)
    return ""


@settings(max_examples=50)
@given(PLANS, STEPS)
def test_the_list_offers_what_the_session_takes_and_refuses_the_rest_by_its_reason(
    name: str, steps: list[tuple[float, cmd.Command]]
) -> None:
    mat = perform(DECK[name], steps)
    for known in VERBS.values():
        command = known.takes
        if not (known.letter and mat.phase in known.phases and isinstance(command, Command)):
            continue
        listed = refusal(known.line, mat.state)
        assert listed == refusal(flow.handle, mat.state, command, mat.now), known.id
