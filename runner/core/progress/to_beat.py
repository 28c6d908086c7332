"""What was beaten, finer than the record's column: by set, in total, and where not to judge.

The columns `to_beat` and `beaten` of the record compare plain repetitions set by set, strictly,
and every text counts as they do. For a screen that alone is too coarse: who does two more in the
first set will do one fewer in the third, and has missed nothing. So a set under its count is not
missed while the running total, over the sets that both sessions have, is at last time's or over
it (our choice). And a set is not judged where it could not be fair: recovery under the least in
force, or pain. Such a set feeds no rule, and says so; whether it beat its count stays said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from runner.core.clock_text import clock
from runner.core.progress.history import PastSession, PastSet, Use
from runner.core.values import load_text
from runner.core.workout import Side

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
    pain: bool = False

    @property
    def beaten(self) -> bool:
        """Whether it was beaten as the record has it: by what was done, judged or not."""
        return self.to_beat is not None and self.value > self.to_beat and not self.pain


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
        return sum(s.beaten for s in self.sets)

    @property
    def unjudged(self) -> str:
        """So many sides of sets are not judged, and why; empty where all are."""
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
