"""Layoffs, bad days and falling back. All common practice, and marked so."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from itertools import pairwise
from typing import Final

from msgspec import Struct

from runner.law.course import GroupKey
from runner.progress.history import PastSession
from runner.progress.reps import counts_of
from runner.progress.sessions_running import judged, means_of
from runner.text import short_day

# Days away, each "over".
SHORT: Final = 14
LONG: Final = 28
VERY_LONG: Final = 56

BACK: Final = 0.05  # a count this much under the session before is falling back; our choice
EXERCISES: Final = 2  # that fall back
SESSIONS: Final = 2  # running, in which they do


class LayoffRule(Struct, frozen=True):
    """What a layoff asks for."""

    fewer_sets: bool = False  # a third fewer, and two more in reserve
    easier: bool = False  # an easier version as well
    level_finding: bool = False  # level finding again
    text: str = ""


def away(days: int | None) -> LayoffRule:
    """What a number of days since the last session asks for; None before the first session."""
    if days is None or days <= SHORT:
        return LayoffRule()
    text = f"{days} days away"
    if days <= LONG:
        return LayoffRule(fewer_sets=True, text=text)
    if days <= VERY_LONG:
        return LayoffRule(fewer_sets=True, easier=True, text=text)
    return LayoffRule(fewer_sets=True, level_finding=True, text=text)


class Layoff(Struct, frozen=True):
    """A time without any session, and whether it is over."""

    days: int
    back: date | None = None  # the first day after it; None while it lasts


def layoff_of(trained: Iterable[date], today: date) -> Layoff | None:
    """The last layoff up to a day; `trained` are the days on which anything was done."""
    days = [*sorted({on for on in trained if on < today}), today]
    found = [
        Layoff((new - old).days, new) for old, new in pairwise(days) if (new - old).days > SHORT
    ]
    if not found:
        return None
    last = found[-1]
    return Layoff(last.days) if last.back == today and today not in set(trained) else last


def layoff_text(layoff: Layoff) -> str:
    """What a layoff means for every exercise."""
    until = "" if layoff.back is None else f" until {short_day(layoff.back)}"
    return (
        f"{layoff.days} days away{until}: an exercise gets no harder level until {SESSIONS} "
        "sessions of it reach the bottom of its rep range"
    )


def not_back_yet(layoff: Layoff | None, past: Sequence[PastSession], bottom: float) -> str:
    """Why a layoff still rules out a step up; empty where it does not.

    Until two later sessions of the exercise have reached the bottom of its range, lighter ones
    included. `past` has its sessions in order.
    """
    if layoff is None:
        return ""
    ask = f"no harder level until {SESSIONS} sessions reach {bottom:g}"
    if layoff.back is None:
        return f"{layoff.days} days away: {ask}"
    reached = sessions_back(layoff, past, bottom)
    if reached >= SESSIONS:
        return ""
    so_far = f" ({reached} so far)" if reached else ""
    return f"{layoff.days} days away until {short_day(layoff.back)}: {ask}{so_far}"


def sessions_back(layoff: Layoff, past: Sequence[PastSession], bottom: float) -> int:
    """How many sessions after a layoff have reached the bottom of the range."""
    later = [s for s in past if layoff.back is not None and s.on >= layoff.back]
    return sum(any(c.plain >= bottom for c in counts_of(s)) for s in later)


def needs_after(layoff: Layoff, past: Sequence[PastSession], bottom: str, least: float) -> str:
    """What has to come before a step up: `0 of 2 sessions at 8 or more`."""
    back = sessions_back(layoff, past, least)
    return f"{back} of {SESSIONS} sessions at {bottom} or more"


class Question(Struct, frozen=True):
    """The one question before the start, and what a yes means."""

    text: str
    signs: tuple[str, ...]  # what is meant: one of them is a yes
    answer: tuple[str, ...]  # shown after a yes; the session is not started


BEFORE_THE_START: Final = Question(
    "Are you ill, or does anything hurt that did not before?",
    (
        "fever, or an illness that you feel in the whole body",
        "chest pain or pressure, breathlessness at rest, a racing or stumbling heart",
        "dizziness or fainting",
        "a new pain in a joint, a muscle or the back",
    ),
    (
        "Do not train today. You lose nothing by it.",
        "Chest, neck, jaw or arm pain, breathlessness, fainting: call the emergency number now.",
        "Fever or illness: rest until you have been well for a day or longer; after more than a "
        "cold a doctor says when you may train.",
        "Dizziness, or a pain that is new: have a doctor or physiotherapist look at it before you "
        "train again. Their word comes first.",
    ),
)
"""Defers to doctors and physiotherapists; general information, in our words."""


class LighterWeek(Struct, frozen=True):
    """A lighter week, offered where several exercises fall back; it needs an answer."""

    exercises: tuple[str, ...]
    text: str


def falling_back(past: Sequence[PastSession], usual_aim: int | None = None) -> bool:
    """Whether an exercise was worse than the time before in each of its last two sessions.

    By the mean of the sets at the same version, set-up, load and tempo that are judged in all
    three, over 5 % under.
    """
    fair = [s for s in past if s.counted and not (s.level_finding or s.deload or s.pain)]
    found = [j for s in fair if s.use and (j := judged(s, s.use, usual_aim))]
    last = found[-SESSIONS - 1 :]
    if len(last) <= SESSIONS or len({j.session.use for j in last}) > 1:
        return False
    return all(new < old * (1 - BACK) for old, new in pairwise(means_of(last)))


def lighter_week(
    history: Mapping[GroupKey, Sequence[PastSession]],
    aims: Mapping[str, int] | None = None,
    names: Mapping[str, str] | None = None,
) -> LighterWeek | None:
    """A lighter week where two exercises or more fall back in two sessions running.

    `names` are what people call the exercises; one without a name is called by its id.
    """
    usual, called = aims or {}, names or {}
    back = {e for (e, _), past in history.items() if falling_back(past, usual.get(e))}
    if len(back) < EXERCISES:
        return None
    ids = tuple(sorted(back))
    *most, last = (called.get(one, one) for one in ids)
    text = (
        f"{', '.join(most)} and {last} got worse two sessions running: a week with a third fewer "
        "sets and two more in reserve"
    )
    return LighterWeek(ids, text)
