"""What was beaten, set by set and in total; bests."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import given, strategies as st
from msgspec.structs import replace

from runner.progress.history import PastSession, Use
from runner.progress.reps import Judgement, change_text, judge as judge_it
from tests.progress.past import PUSH_UP, facing, hurt, session

LAST = session(PUSH_UP, (12, 10, 9))


def judge(today: PastSession, before: Sequence[PastSession]) -> Judgement:
    return judge_it(facing(today, *before), before)


def verdicts(today: PastSession, *before: PastSession) -> list[str]:
    return [s.verdict for s in judge(today, before).sets]


def today(*counts: float, **changes: float | None) -> PastSession:
    done = session(PUSH_UP, counts, 3)
    return replace(done, sets=tuple(replace(s, **changes) for s in done.sets))  # type: ignore[arg-type]


def test_by_set_and_in_total() -> None:
    found = judge(today(13, 10, 8), [LAST])
    assert [(s.to_beat, s.verdict) for s in found.sets] == [
        (12, "beaten"),
        (10, "level"),
        (9, "carried"),
    ]
    assert (found.total, found.total_to_beat, found.total_verdict) == (31, 31, "level")
    assert judge(today(13, 10, 9), [LAST]).total_verdict == "beaten"
    assert judge(today(13, 10, 9), [LAST]).beaten == 1


def test_a_better_first_set_does_not_make_the_later_ones_look_missed() -> None:
    assert verdicts(today(15, 9, 8), LAST) == ["beaten", "carried", "carried"]
    assert verdicts(today(13, 8, 8), LAST) == ["beaten", "missed", "missed"]
    assert verdicts(today(11, 10, 9), LAST) == ["missed", "level", "level"]


def test_each_side_has_a_running_total_of_its_own() -> None:
    before = session(PUSH_UP, [(10, 10), (9, 9)])
    now = session(PUSH_UP, [(12, 9), (8, 8)], 3)
    assert verdicts(now, before) == ["beaten", "missed", "carried", "missed"]


def test_a_set_without_its_least_recovery_says_so_and_counts_as_the_record_has_it() -> None:
    least = judge(today(13, 11, 8, recovery=41.0, recovery_least=105.0), [LAST])
    assert [s.verdict for s in least.sets] == ["not judged"] * 3
    assert least.sets[0].why == "recovery 0:41 of 1:45"
    assert least.unjudged == "3 not judged: recovery 0:41 of 1:45"
    assert (least.beaten, least.total_verdict) == (2, "not judged")
    just = today(11, 9, 8, recovery=105.0, recovery_least=105.0)
    assert verdicts(just, LAST) == ["missed"] * 3
    longer = replace(LAST, sets=tuple(replace(s, recovery=200.0) for s in LAST.sets))
    assert verdicts(today(13, 10, 9, recovery=105.0), longer)[0] == "beaten"


def test_not_judged_after_pain_today_and_not_against_pain_last_time() -> None:
    found = judge(hurt(today(11, 9, 8), 2), [LAST])
    assert [(s.verdict, s.why) for s in found.sets] == [
        ("missed", ""),
        ("not judged", "pain"),
        ("not judged", "after pain"),
    ]
    more = judge(hurt(today(13, 11, 10), 2), [LAST])
    assert [s.beaten for s in more.sets] == [True, False, True]  # as the record has it
    older = session(PUSH_UP, (14, 9, 9), -3)
    assert [s.to_beat for s in judge(today(13, 10, 9), [older, hurt(LAST)]).sets] == [14, 10, 9]


def test_a_changed_set_up_starts_a_new_count_and_says_so() -> None:
    found = judge(session(PUSH_UP, (10, 9), 3, level=1), [LAST])
    assert found.new_count == "version v1 -> v2: a new count to beat"
    assert (found.total_to_beat, found.total_verdict) == (None, "no count")
    assert judge(LAST, []).new_count == "first time: a new count to beat"
    assert judge(today(10, 9), [LAST]).new_count == ""
    assert (
        change_text(Use("a", "anchor=120 cm", 4.0), Use("a", "anchor=140 cm", 6.5, "3-1-1"))
        == "set-up anchor 120 cm -> anchor 140 cm, load 4 kg -> 6.5 kg, tempo none -> 3-1-1"
    )


def test_back_at_an_old_set_up_its_own_last_time_counts() -> None:
    away = session(PUSH_UP, (9, 8), 1, level=1)
    assert [s.to_beat for s in judge(today(13, 10, 9), [LAST, away]).sets] == [12, 10, 9]


def test_sets_that_only_one_session_has() -> None:
    found = judge(today(13, 10, 9, 8), [LAST])
    assert [s.verdict for s in found.sets] == ["beaten", "level", "level", "no count"]
    assert (found.total, found.total_to_beat) == (32, 31)  # over the sets that both have
    skipped = replace(LAST, sets=LAST.sets[1:])
    assert [s.to_beat for s in judge(today(13, 10, 9), [skipped]).sets] == [None, 10, 9]


@given(st.lists(st.integers(0, 30), min_size=1, max_size=4), st.data())
def test_who_is_ahead_in_total_has_missed_no_last_set(last: list[int], data: st.DataObject) -> None:
    sets = st.lists(st.integers(0, 30), min_size=len(last), max_size=len(last))
    now = data.draw(sets)
    found = judge(today(*now), [session(PUSH_UP, last)])
    if sum(now) >= sum(last):
        assert found.sets[-1].verdict != "missed"
        assert found.total_verdict in ("beaten", "level")
    else:
        assert found.total_verdict == "missed"
    strict = [a > b for a, b in zip(now, last, strict=True)]
    assert [s.verdict == "beaten" for s in found.sets] == strict  # as the record's column has it


def test_a_session_with_no_count_names_no_new_one() -> None:
    found = judge(session(PUSH_UP, (None, None), 3), [LAST])
    assert (found.sets, found.total_verdict, found.new_count) == ((), "no count", "")
    assert judge(session(PUSH_UP, (12,), 3), []).new_count == "first time: a new count to beat"
