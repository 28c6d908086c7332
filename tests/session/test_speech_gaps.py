"""When a phrase begins: never into a cue, never beside another, or not at all."""

from __future__ import annotations

from hypothesis import given, strategies as st

from runner.session.phrases import GAP, Phrase, place

COUNT = 0.12
REST = [(27.0, COUNT), (28.0, COUNT), (29.0, COUNT), (30.0, 0.56)]  # three, two, one, start


def phrase(at: float, latest: float, *texts: str) -> Phrase:
    return Phrase((at, *texts), texts or ("long", "short"), at, latest)


def lasts(**lengths: float) -> dict[str, float]:
    return lengths


def test_it_begins_at_its_instant_where_nothing_is_in_the_way() -> None:
    placed = place([phrase(5, 30)], REST, lasts(long=3.0).get, 0.0)
    assert placed is not None
    assert (placed.at, placed.end, placed.text) == (5, 8, "long")


def test_it_waits_until_the_voice_is_free() -> None:
    placed = place([phrase(5, 30)], REST, lasts(long=3.0).get, 7.25)
    assert placed is not None
    assert placed.at == 7.25


def test_it_ends_before_the_next_cue_or_begins_after_it() -> None:
    length = lasts(long=2.0, short=0.4).get
    just = place([phrase(24.75, 30)], REST, length, 0.0)
    assert just is not None
    assert just.at == 24.75
    late = place([phrase(24.76, 40, "long")], REST, length, 0.0)
    assert late is not None
    assert late.at == 30.56 + GAP, "none of the gaps between the counts is two seconds long"


def test_what_does_not_fit_is_said_in_short_or_not_at_all() -> None:
    length = lasts(long=3.0, short=1.0).get
    short = place([phrase(25, 29)], REST, length, 0.0)
    assert short is not None
    assert short.text == "short"
    assert place([phrase(26.5, 29)], REST, length, 0.0) is None


def test_what_is_not_rendered_is_not_said() -> None:
    assert place([phrase(5, 30)], REST, lasts().get, 0.0) is None
    placed = place([phrase(5, 30)], REST, lasts(short=1.0).get, 0.0)
    assert placed is not None
    assert placed.text == "short"


def test_of_two_the_first_named_begins_first() -> None:
    one, other = phrase(5, 30, "long"), phrase(5, 30, "short")
    placed = place([one, other], REST, lasts(long=3.0, short=1.0).get, 6.0)
    assert placed is not None
    assert placed.phrase is one


INSTANT = st.integers(0, 600).map(lambda tenths: tenths / 10)
LENGTH = st.integers(1, 40).map(lambda tenths: tenths / 10)


@given(
    st.lists(st.tuples(INSTANT, LENGTH), max_size=8).map(sorted),
    st.tuples(INSTANT, LENGTH, LENGTH),
    LENGTH,
    INSTANT,
)
def test_no_phrase_meets_a_cue_and_none_could_begin_earlier(
    cues: list[tuple[float, float]], asked: tuple[float, float, float], lasts_s: float, free: float
) -> None:
    at, window, _ = asked
    wanted = phrase(at, at + window, "long")
    # A cue that begins while another sounds ends no earlier than that: give each its own room.
    placed = place([wanted], cues, {"long": lasts_s}.get, free)

    def clear(begin: float) -> bool:
        return all(
            begin + lasts_s + GAP <= cue + 1e-9 or begin >= cue + length + GAP - 1e-9
            for cue, length in cues
        )

    tried = [max(at, free), *(cue + length + GAP for cue, length in cues)]
    possible = sorted(t for t in tried if t >= max(at, free) and clear(t) and t <= wanted.latest)
    if placed is None:
        assert not possible
    else:
        assert clear(placed.at)
        assert max(at, free) <= placed.at <= wanted.latest
        assert abs(placed.at - possible[0]) < 1e-6
