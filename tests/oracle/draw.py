"""Whole random sessions in the oracle's terms, drawn so that every division is exact.

    from .draw import sessions
    @given(sessions())

Everything shrinks towards one block of one two-sided exercise of one set without disturbances.
"""

from __future__ import annotations

from functools import cache

from hypothesis import strategies as st

from .model import Act, Exercise, Expect, Median, Session, Settings, Side, Sides, static

GRAIN = 12  # divides by 1 to 4; see model.py
MUSCLES = ("chest", "upper-back", "quadriceps", "biceps", "low-back")
STATIONS = ("bar", "bench")
WAYS = ("low", "high")


@cache
def grains(most: int) -> st.SearchStrategy[int]:
    """Multiples of a grain, from 0."""
    return st.integers(0, most).map(lambda n: n * GRAIN)


LENGTHS = st.integers(1, 6).map(lambda n: n * 2 * GRAIN)  # of a bout
LENGTH_OR_AS_EXPECTED = st.none() | LENGTHS
HISTORY = st.lists(LENGTHS, max_size=3).map(tuple)
SIDES: st.SearchStrategy[Sides] = st.sampled_from(
    ["together", "together", "left first", "right first"]
)
EIGHTHS = st.sampled_from([7, 7, 8, 6, 1])
PRIME = st.lists(st.sampled_from(MUSCLES), min_size=1, max_size=2, unique=True)
HELPERS = st.lists(st.sampled_from(MUSCLES), max_size=2, unique=True)
STATION = st.sampled_from([None, *STATIONS])
WAY = st.sampled_from([None, *WAYS])
BREATHER = st.just(0) | grains(12)


@st.composite
def recoveries(draw: st.DrawFn) -> tuple[int, int, int]:
    """T, L and A: L in eighths of T, A in whole lengths up to T."""
    wanted = draw(st.integers(1, 5)) * 8 * GRAIN
    least = wanted * draw(EIGHTHS) // 8
    return wanted, least, draw(st.integers(0, wanted // 24)) * 24


@st.composite
def muscles(draw: st.DrawFn, *, one_sided: bool) -> tuple[tuple[str, ...], ...]:
    """Prime, assisting, on both sides. A muscle may be prime or assisting and on both sides."""
    prime = tuple(draw(PRIME))
    assist = tuple(muscle for muscle in draw(HELPERS) if muscle not in prime)
    return prime, assist, tuple(draw(HELPERS)) if one_sided else ()


@st.composite
def exercises(
    draw: st.DrawFn,
    name: str,
    block: tuple[int, int, int],
    common: tuple[int, int, int] | None,
    most_sets: int,
) -> Exercise:
    """One exercise; `block` is c1, c2 and block rest, `common` the block's T, L, A or None."""
    sides = draw(SIDES)
    order: tuple[Side, ...] = ("both",) if sides == "together" else ("left", "right")
    sets = draw(st.integers(1, most_sets))
    wanted, least, cross = draw(recoveries()) if common is None else common
    prime, assist, both = draw(muscles(one_sided=sides != "together"))
    station = draw(STATION)
    expected = {side: draw(LENGTHS) for side in order}
    numbers = range(1, sets + 1)
    actual = {(n, side): draw(LENGTH_OR_AS_EXPECTED) for n in numbers for side in order}
    c1, c2, block_rest = block
    return Exercise(
        id=name,
        sets=sets,
        settings=Settings(
            T=wanted,
            L=least,
            A=cross,
            c1=c1,
            c2=c2,
            gap=draw(grains(4)),
            block_rest=block_rest,
            position=draw(grains(3)),
            breather=draw(BREATHER),
        ),
        expected=expected,
        ramp=draw(st.integers(0, min(1, sets))),
        expected_ramp={side: draw(LENGTHS) for side in order},
        actual={key: value for key, value in actual.items() if value is not None},
        history={side: draw(HISTORY) for side in order},
        prime=prime,
        assist=assist,
        both_sides=both,
        sides=sides,
        station=station,
        setups=tuple(draw(WAY) for _ in numbers) if station else (),
    )


@st.composite
def blocks(
    draw: st.DrawFn, number: int, most_exercises: int, most_sets: int
) -> tuple[Exercise, ...]:
    """One block; ids are unique in a session."""
    c1 = draw(grains(6))
    block = (c1, c1 + draw(grains(5)), draw(grains(8)))
    common = draw(st.none() | recoveries())
    many = draw(st.integers(1, most_exercises))
    return tuple(
        draw(exercises(f"{number}{'abcd'[n]}", block, common, most_sets)) for n in range(many)
    )


def acts() -> st.SearchStrategy[Act]:
    """Draw one disturbance; pauses of a running set keep its length exact for a median."""
    bout, after = st.integers(0, 10), st.integers(1, 24) | st.integers(1, 150)
    asked = st.integers(-60, 60).map(lambda n: n or 15)
    pause = st.integers(1, 300)
    rest, set_ = st.just("rest"), st.just("set")
    return st.one_of(
        st.builds(Act, st.just("skip"), rest, bout, after),
        st.builds(Act, st.just("ask"), rest, bout, after, asked),
        st.builds(Act, st.just("pause"), rest, bout, after, pause),
        st.builds(Act, st.just("drop"), rest, bout, after),
        st.builds(Act, st.just("now"), rest, bout, after),
        st.builds(Act, st.just("skip"), set_, bout, after, whole=st.booleans()),
        st.builds(Act, st.just("drop"), set_, bout, after),
        st.builds(Act, st.just("pause"), set_, bout, LENGTHS, pause),
    )


ACTS = st.lists(acts(), max_size=4).map(tuple)
STOOD = st.dictionaries(st.sampled_from(STATIONS), st.sampled_from(WAYS))
EXPECT: st.SearchStrategy[Expect] = st.sampled_from([static, Median()])


@st.composite
def sessions(
    draw: st.DrawFn,
    *,
    disturbed: bool = True,
    expect: st.SearchStrategy[Expect] = EXPECT,
    most_blocks: int = 2,
    most_exercises: int = 4,
    most_sets: int = 3,
) -> Session:
    """Draw a whole session. At most four exercises a block, else the level is not exact."""
    many = draw(st.integers(1, most_blocks))
    return Session(
        blocks=tuple(draw(blocks(n, most_exercises, most_sets)) for n in range(1, many + 1)),
        lead_in=draw(grains(3)),
        acts=draw(ACTS) if disturbed else (),
        stations={station: draw(grains(10)) for station in STATIONS},
        stood=draw(STOOD),
        expect=draw(expect),
    )


@st.composite
def steady_sessions(draw: st.DrawFn) -> Session:
    """Draw one block of 2 to 4 exercises of six sets each where nothing but the round decides.

    Distinct prime movers, no helpers, one recovery for all, lengths as expected, no forced rest.
    """
    wanted, least, cross = draw(recoveries())
    c1 = draw(grains(6))
    settings = Settings(wanted, least, cross, c1, c1 + draw(grains(6)), draw(grains(4)), 0, 0, 0)
    block = []
    for muscle in MUSCLES[: draw(st.integers(2, 4))]:
        sides = draw(SIDES)
        order: tuple[Side, ...] = ("both",) if sides == "together" else ("left", "right")
        expected = {side: draw(LENGTHS) for side in order}
        block.append(Exercise(muscle, 6, settings, expected, prime=(muscle,), sides=sides))
    return Session((tuple(block),), lead_in=0)
