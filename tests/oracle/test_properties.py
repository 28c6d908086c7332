"""The properties that the timing law states, of the oracle, on sessions drawn at random."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import HealthCheck, given, settings

from .draw import sessions, steady_sessions
from .model import Load, Session
from .test_ticks import scaled
from .ticks import simulate

few = settings(
    max_examples=30,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@few
@given(sessions(most_sets=2))
def test_scaling(session: Session) -> None:
    once, thrice = simulate(session), simulate(scaled(session, 3))
    assert [(b.planned_set.key, b.start * 3, b.end * 3, b.why) for b in once.bouts] == [
        (b.planned_set.key, b.start, b.end, b.why) for b in thrice.bouts
    ]


@few
@given(sessions())
def test_span_of_a_muscle(session: Session) -> None:
    # The exercise of the set to come decides L, so the sum runs over the sets to come.
    acts = tuple(act for act in session.acts if act.what not in ("ask", "now"))
    bouts = simulate(replace(session, acts=acts)).bouts
    loads: set[Load] = {load for bout in bouts for load in bout.loads if load[2] == "prime"}
    for load in loads:
        mine = [bout for bout in bouts if load in bout.loads]
        least = sum(bout.planned_set.exercise.settings.L for bout in mine[1:])
        worked = sum(bout.end - bout.start for bout in mine)
        assert mine[-1].end - mine[0].start >= worked + least


@few
@given(sessions())
def test_every_bout_had_its_least(session: Session) -> None:
    for bout in simulate(session).bouts:
        if not bout.asked and bout.recovery is not None:
            assert bout.recovery >= bout.planned_set.exercise.settings.L


@few
@given(steady_sessions())
def test_steady_cycle(session: Session) -> None:
    (block,) = session.blocks
    own = block[0].settings
    lengths = [length for exercise in block for length in exercise.expected.values()]
    gaps = sum(own.gap for exercise in block if exercise.sides != "together")
    longest, whole, k = max(lengths), sum(lengths) + gaps, len(block)
    cycle = max(min(max(own.T + longest, whole + k * own.c1), whole + k * own.c2), own.L + longest)
    for exercise in block:
        side = exercise.order[0]
        starts = [
            bout.start
            for bout in simulate(session).bouts
            if bout.planned_set.exercise.id == exercise.id and bout.planned_set.side == side
        ]
        assert starts[-1] - starts[-2] == starts[-2] - starts[-3] == cycle


@few
@given(sessions())
def test_rest_first_decided_is_bounded(session: Session) -> None:
    outcome = simulate(session)
    ends = {bout.end: bout for bout in outcome.bouts}
    for made in outcome.decisions:
        if made.anew:
            continue
        own, exercise = made.coming.exercise.settings, made.coming.exercise
        bounds = [own.T, own.A, own.c1, own.block_rest, own.position, own.gap, session.lead_in]
        bounds.append(made.ceiling or 0)
        bounds.append(session.stations.get(exercise.station or "", 0))
        if made.since in ends:
            bounds.append(ends[made.since].planned_set.exercise.settings.breather)
        assert made.rest <= max(bounds)


@few
@given(sessions())
def test_what_was_planned_was_done_or_left_out_for_a_reason(session: Session) -> None:
    outcome = simulate(session)
    wanted = sum(e.sets * len(e.order) for block in session.blocks for e in block)
    left_out = any(happened.act.what in ("skip", "drop") for happened in outcome.happened)
    assert len(outcome.bouts) <= wanted
    assert left_out or len(outcome.bouts) == wanted
    for before, after in zip(outcome.bouts, outcome.bouts[1:], strict=False):
        assert after.start == before.end + after.rest_before
        assert before.end > before.start
