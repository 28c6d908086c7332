"""The law as the session machine applies it, against the dumb one that steps through ticks."""

from __future__ import annotations

from collections import Counter

from hypothesis import HealthCheck, given, settings

from tests.oracle.draw import sessions
from tests.oracle.model import Act, Exercise, Session, Settings
from tests.oracle.ticks import simulate
from tests.session.translate import by_machine, commands_of, expected_of, fitted, same

many = settings(
    max_examples=150,
    suppress_health_check=[
        HealthCheck.too_slow,
        HealthCheck.data_too_large,
        HealthCheck.large_base_example,
    ],
)


def check(drawn: Session) -> None:
    session = fitted(drawn)
    outcome = simulate(session)
    wanted, got = expected_of(session, outcome), by_machine(session, outcome)
    assert len(got) == len(wanted), (wanted, got)
    for number, (one, other) in enumerate(zip(wanted, got, strict=True)):
        assert same(one, other), f"bout {number}: the oracle has\n{one}\nthe machine\n{other}"


@many
@given(sessions(disturbed=False))
def test_sessions_without_disturbance(session: Session) -> None:
    check(session)


@many
@given(sessions())
def test_sessions_with_skips_drops_pauses_and_what_was_asked_for(session: Session) -> None:
    check(session)


def test_the_comparison_can_fail() -> None:
    """A second more for one changeover is seen."""
    own = Settings(T=96, L=84, A=72, c1=24, c2=36, gap=12, block_rest=48, position=0, breather=0)
    one = Exercise("press", 2, own, {"both": 24}, expected_ramp={"both": 0}, prime=("chest",))
    two = Exercise("row", 2, own, {"both": 24}, expected_ramp={"both": 0}, prime=("lats",))
    act = Act("ask", "rest", 1, 5, 15)
    session = fitted(Session(((one, two),), lead_in=12, acts=(act,)))
    outcome = simulate(session)
    assert [command for _, command in commands_of(outcome)]
    wanted, got = expected_of(session, outcome), by_machine(session, outcome)
    assert all(same(a, b) for a, b in zip(wanted, got, strict=True))
    undisturbed = by_machine(session, simulate(fitted(Session(((one, two),), lead_in=12))))
    differing = Counter(same(a, b) for a, b in zip(wanted, undisturbed, strict=True))
    assert differing[False] == 3
