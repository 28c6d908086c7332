"""The counts that rules use: what was done, and what was done with the reserve credited.

The bottom of the rep range and the rep limit are compared with repetitions done; the top with
repetitions and reserve, for a set of 10 that could have been 14 is worth more than one of 11 to
failure. At most two are credited, and none in sets over 12. Holds have no reserve: their seconds
count as they are. A text that shows a count with reserve says so, and names what was done beside
it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, Literal

from msgspec import Struct

from runner.law.workout import Side, load_text, parse_setup, setup_words
from runner.progress.history import PastSession, PastSet, Use, beaten
from runner.text import clock

# In sets of more repetitions people misjudge what is left: Halperin et al. 2022, Sports Med
# 52:377-390 (the error grows with a slope of 0.47 above 12, 0.06 below).
TRUSTED_TO: Final = 12
# Nearer to the limit the error is about a repetition, with 7 to 10 left over two: Hackett et al.
# 2017, J Strength Cond Res 31:2162-2168. Two at most: our choice.
MOST_CREDITED: Final = 2


def equivalent(reps: float, reserve: int | None, aimed: int, usual_aim: int | None = None) -> float:
    """Repetitions with reserve: reps + (reserve stated - usual aim); never below 0.

    No reserve stated counts as the day's aim, `aimed`. `usual_aim` is the exercise's, where the
    day aimed at more; by default the day's. At most two are credited, none in sets over 12.
    """
    if reps > TRUSTED_TO:
        return reps
    in_reserve = aimed if reserve is None else reserve
    credit = in_reserve - (aimed if usual_aim is None else usual_aim)
    return max(reps + min(credit, MOST_CREDITED), 0.0)


def doubtful(reps: float, reserve: int | None) -> bool:
    """Whether a stated reserve is worth little: in a set over 12 repetitions (Halperin 2022)."""
    return reserve is not None and reps > TRUSTED_TO


class SetCount(Struct, frozen=True, gc=False):
    """A set as rules judge it; of one-sided work its weaker side."""

    number: int
    value: float  # repetitions with reserve, or seconds of a hold; of the weaker side by that
    beside: float  # repetitions or seconds done, of that same side
    plain: float  # repetitions or seconds done, of the side with fewer
    in_reserve: float  # repetitions in reserve, as given or as aimed at; 0 for holds
    doubtful: bool  # a reserve is stated that is worth little

    @property
    def text(self) -> str:
        """The count that the top is held against: 12, or `12 (14 with reserve)`."""
        if self.value == self.beside:
            return number(self.value)
        return f"{number(self.beside)} ({number(self.value)} with reserve)"


def number(value: float) -> str:
    """A count in words: whole, or with one decimal."""
    return f"{value:.1f}".removesuffix(".0")


def listed(counts: Iterable[str]) -> str:
    """Counts of a row of sessions: `14 13`, with commas where one has more than a number."""
    found = list(counts)
    return (", " if any(" " in one for one in found) else " ").join(found)


def counts_of(
    session: PastSession, usual_aim: int | None = None, use: Use | None = None
) -> tuple[SetCount, ...]:
    """The counted work sets of a session in their order, at `use` alone where it is given.

    A one-sided set counts where both sides were done, each count by its weaker side.
    """
    key = ("counts", usual_aim, use)
    if key not in session.known:
        session.known[key] = _counts_of(session, usual_aim, use)
    counts: tuple[SetCount, ...] = session.known[key]
    return counts


def _counts_of(
    session: PastSession, usual_aim: int | None, use: Use | None
) -> tuple[SetCount, ...]:
    sides: dict[int, list[PastSet]] = {}
    for done in session.counted:
        if use is None or done.use == use:
            sides.setdefault(done.number, []).append(done)
    return tuple(
        _count(set_number, both, usual_aim, hold=session.measure == "hold")
        for set_number, both in sides.items()
        if len(both) > 1 or both[0].side == "both"
    )


def first_done(session: PastSession, use: Use) -> float | None:
    """What was done in the first set at `use` that counts, by the weaker side; None for no set."""
    sides: dict[int, list[PastSet]] = {}
    for done in session.counted:
        if done.use == use:
            sides.setdefault(done.number, []).append(done)
    for both in sides.values():
        if len(both) > 1 or both[0].side == "both":
            return min(s.value or 0.0 for s in both)
    return None


def _count(number: int, both: list[PastSet], usual_aim: int | None, *, hold: bool) -> SetCount:
    found = [(_value(one, usual_aim, hold=hold), one.value or 0.0, one) for one in both]
    value, done, weaker = found[0] if len(found) == 1 else min(found, key=lambda one: one[:2])
    stated = weaker.reserve_aimed if weaker.reserve is None else weaker.reserve
    return SetCount(
        number,
        value,
        done,
        done if len(found) == 1 else min(one[1] for one in found),
        0.0 if hold else stated,
        doubtful=not hold and doubtful(done, weaker.reserve),
    )


def _value(one: PastSet, usual_aim: int | None, *, hold: bool) -> float:
    done = one.value or 0.0
    return done if hold else equivalent(done, one.reserve, one.reserve_aimed, usual_aim)


def mean(counts: tuple[SetCount, ...]) -> float:
    """The mean of what was done in some sets; 0 of none."""
    return sum(c.plain for c in counts) / len(counts) if counts else 0.0


# What was beaten, finer than the record's column: by set, in total, and where not to judge.
#
# The columns `to_beat` and `beaten` of the record compare plain repetitions set by set, strictly,
# and every text counts as they do. For a screen that alone is too coarse: who does two more in
# the first set will do one fewer in the third, and has missed nothing. So a set under its count
# is not missed while the running total, over the sets that both sessions have, is at last time's
# or over it (our choice). And a set is not judged where it could not be fair: recovery under the
# least in force, or pain. Such a set feeds no rule, and says so; whether it beat its count stays
# said.

Verdict = Literal["beaten", "level", "carried", "missed", "not judged", "no count"]
"""More; the same; fewer, but the running total holds; fewer; and why there is no verdict."""


class SetVerdict(Struct, frozen=True):
    """One side of a set against last time."""

    number: int
    side: Side
    value: float
    to_beat: float | None
    verdict: Verdict
    why: str = ""  # of "not judged"
    pain: bool = False

    @property
    def beaten(self) -> bool:
        """Whether it was beaten as the record has it: by what was done, judged or not."""
        return beaten(self.value, self.to_beat, pain=self.pain) == "yes"


class Judgement(Struct, frozen=True):
    """A session of one exercise against last time."""

    sets: tuple[SetVerdict, ...]
    total: float  # over the sets that both sessions have, both sides
    total_to_beat: float | None
    total_verdict: Verdict
    new_count: str = ""  # why there is nothing to compare with

    @property
    def beaten(self) -> int:
        """That many sides of sets were beaten."""
        return sum(s.beaten for s in self.sets)

    @property
    def unjudged(self) -> str:
        """That many sides of sets are not judged, and why; empty where all are."""
        found = [s.why for s in self.sets if s.verdict == "not judged"]
        return f"{len(found)} not judged: {found[0]}" if found else ""


def judge(today: PastSession, before: Sequence[PastSession]) -> Judgement:
    """Today's sets against the counts to beat that they had.

    `before` are the sessions of the same exercise before, in their order: they say why there is
    nothing to beat.
    """
    hurt = _hurt_from(today)
    running: dict[Side, float] = {}
    verdicts = []
    for done in today.counted:
        value, target = done.value or 0.0, done.to_beat
        if target is None:
            verdicts.append(SetVerdict(done.number, done.side, value, None, "no count"))
            continue
        running[done.side] = running.get(done.side, 0.0) + value - target
        why = _unfair(done, hurt)
        verdict = "not judged" if why else _verdict(value, target, running[done.side])
        verdicts.append(SetVerdict(done.number, done.side, value, target, verdict, why, done.pain))
    return _whole(tuple(verdicts), today, before)


def _whole(
    verdicts: tuple[SetVerdict, ...], today: PastSession, before: Sequence[PastSession]
) -> Judgement:
    compared = [v for v in verdicts if v.to_beat is not None]
    total = sum(v.value for v in compared)
    if not compared:
        return Judgement(verdicts, total, None, "no count", _new_count(today, before))
    target = sum(v.to_beat or 0.0 for v in compared)
    unfair = any(v.verdict == "not judged" for v in compared)
    verdict: Verdict = "not judged" if unfair else _verdict(total, target, total - target)
    return Judgement(verdicts, total, target, verdict)


def _verdict(value: float, target: float, ahead: float) -> Verdict:
    if value > target:
        return "beaten"
    if value == target:
        return "level"
    return "carried" if ahead >= 0 else "missed"


def _hurt_from(session: PastSession) -> int | None:
    """Number of the first set with pain."""
    return next((s.number for s in session.sets if s.pain), None)


def _unfair(done: PastSet, hurt: int | None) -> str:
    if hurt is not None and done.number >= hurt:
        return "pain" if done.pain else "after pain"
    if done.recovery_short:
        return f"recovery {clock(done.recovery or 0.0)} of {clock(done.recovery_least or 0.0)}"
    return ""


def _new_count(today: PastSession, before: Sequence[PastSession]) -> str:
    use = today.use
    if use is None:
        return ""
    old = next((s.use for s in reversed(before) if s.use is not None), None)
    if old is None:
        return "first time: a new count to beat"
    return f"{change_text(old, use)}: a new count to beat" if old != use else ""


def change_text(old: Use, new: Use) -> str:
    """What differs between two uses, in words: "load 4 kg -> 6 kg"."""
    parts = []
    if old.version != new.version:
        parts.append(f"version {old.version} -> {new.version}")
    if old.setup != new.setup:
        parts.append(f"set-up {_setup(old.setup)} -> {_setup(new.setup)}")
    if old.load != new.load:
        parts.append(f"load {_kg(old.load)} -> {_kg(new.load)}")
    if old.tempo != new.tempo:
        parts.append(f"tempo {old.tempo or 'none'} -> {new.tempo or 'none'}")
    return ", ".join(parts)


def _setup(text: str) -> str:
    return ", ".join(setup_words(parse_setup(text))) or "none"


def _kg(load: float | None) -> str:
    return "none" if load is None else f"{load_text(load)} kg"
