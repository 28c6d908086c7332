"""What was beaten, finer than the record's column: by set, in total, and where not to judge.

The columns `to_beat` and `beaten` of the record compare plain repetitions set by set, strictly.
For a screen that is too coarse: who does two more in the first set will do one fewer in the
third, and has missed nothing. So a set under its count is not missed while the running total,
over the sets that both sessions have, is at last time's or over it (our choice). And a set is
not judged where it could not be fair: recovery under the least in force, or over 15 s shorter
than last time, or after pain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from runner.core.progress.history import PastSession, PastSet, Use
from runner.core.values import load_text
from runner.core.workout import Side

SHORTER: Final = 15.0  # seconds of recovery that make a set another one; our choice

Verdict = Literal["beaten", "level", "carried", "missed", "not judged", "no count"]
"""More; the same; fewer, but the running total holds; fewer; and why there is no verdict."""


@dataclass(frozen=True, slots=True)
class SetVerdict:
    """One side of a set against last time."""

    number: int
    side: Side
    value: float
    to_beat: float | None
    verdict: Verdict
    why: str = ""  # of "not judged"


@dataclass(frozen=True, slots=True)
class Judgement:
    """A session of one exercise against last time."""

    sets: tuple[SetVerdict, ...]
    total: float  # over the sets that both sessions have, both sides
    total_to_beat: float | None
    total_verdict: Verdict
    new_count: str = ""  # why there is nothing to compare with

    @property
    def beaten(self) -> int:
        """So many sides of sets were beaten."""
        return sum(s.verdict == "beaten" for s in self.sets)


def judge(today: PastSession, before: Sequence[PastSession]) -> Judgement:
    """Today's sets against those before, which are the same exercise's in their order.

    Each side of each set is held against the last session that has it done at the same version,
    set-up, load and tempo, with a number and without pain.
    """
    last = {(s.number, s.side): s for s in today.counted}
    known = {key: _last(s, before) for key, s in last.items()}
    hurt = _hurt_from(today)
    running: dict[Side, float] = {}
    verdicts = []
    for key, done in last.items():
        old = known[key]
        value = done.value or 0.0
        if old is None:
            verdicts.append(SetVerdict(*key, value, None, "no count"))
            continue
        target = old.value or 0.0
        running[done.side] = running.get(done.side, 0.0) + value - target
        why = _unfair(done, old, hurt)
        verdict = "not judged" if why else _verdict(value, target, running[done.side])
        verdicts.append(SetVerdict(*key, value, target, verdict, why))
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


def _last(done: PastSet, before: Sequence[PastSession]) -> PastSet | None:
    for session in reversed(before):
        for old in session.counted:
            same = (old.number, old.side, old.use) == (done.number, done.side, done.use)
            if same and not old.pain:
                return old
    return None


def _hurt_from(session: PastSession) -> int | None:
    """Number of the first set with pain."""
    return next((s.number for s in session.sets if s.pain), None)


def _unfair(done: PastSet, old: PastSet, hurt: int | None) -> str:
    if hurt is not None and done.number >= hurt:
        return "after pain"
    if done.recovery is None:
        return ""
    if done.recovery_least is not None and done.recovery < done.recovery_least:
        return f"recovery {done.recovery:.0f} s, under the least of {done.recovery_least:.0f} s"
    if old.recovery is not None and old.recovery - done.recovery > SHORTER:
        return f"recovery {old.recovery - done.recovery:.0f} s shorter than last time"
    return ""


def _new_count(today: PastSession, before: Sequence[PastSession]) -> str:
    use = today.use
    if use is None:
        return ""
    old = next((s.use for s in reversed(before) if s.use is not None), None)
    if old is None:
        return "first time: a new count"
    return f"{change_text(old, use)}: a new count" if old != use else ""


def change_text(old: Use, new: Use) -> str:
    """What differs between two uses, in words: "load 4 kg -> 6 kg"."""
    parts = []
    if old.version != new.version:
        parts.append(f"version {old.version} -> {new.version}")
    if old.setup != new.setup:
        parts.append(f"set-up {old.setup or 'none'} -> {new.setup or 'none'}")
    if old.load != new.load:
        parts.append(f"load {_kg(old.load)} -> {_kg(new.load)}")
    if old.tempo != new.tempo:
        parts.append(f"tempo {old.tempo or 'none'} -> {new.tempo or 'none'}")
    return ", ".join(parts)


def _kg(load: float | None) -> str:
    return "none" if load is None else f"{load_text(load)} kg"
