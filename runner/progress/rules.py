"""After a session, one piece of advice for each exercise and group of sets.

Which rule speaks when several could, and why in this order:

1. pain: no step up where it hurt. No rule weighs more than that.
2. layoff: no step up before two sessions have shown that the strength is back.
3. over the rep limit: one set shows it, so it does not wait for a second session.
4. easier: under the bottom the sets are too heavy for what the plan wants; all else comes after.
5. up: a small step, or one that asks for more.
6. drop: the version is right, the sets fall apart.
7. falling: the sets get worse from session to session.
8. flat, and one set more: last, for they need weeks and never hurry.
9. stay.

Where pain or a layoff rules out a step up, the rules that lead down still speak. Sessions of
level finding and deloads are passed over, and sets without their least recovery.
A message that asks for no answer shows once, and again after three sessions; pain and a layoff
are no messages but a state, and always show. What asks for an answer stays until it is answered:
`next` always shows it, the end of a session in full when it is new and after three sessions, and
between by the exercise's name alone (our choice).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Final

from msgspec.structs import replace

from runner.progress.advice import (
    LONGER,
    Advice,
    Change,
    ChangeKind,
    CurrentLevel,
    RuleName,
    at_the_end,
    counted,
    move,
    named,
    on_side,
    propose,
    stay,
    swaps,
)
from runner.progress.going_up import (
    bridge_under_way,
    expectation,
    over_the_rep_limit,
    step_ready,
    still_needs,
    up,
)
from runner.progress.history import PastSession
from runner.progress.layoff import not_back_yet
from runner.progress.progression import Step, done_in, load_up, step_down
from runner.progress.reps import number
from runner.progress.sessions_running import (
    JudgedSession,
    at_the_top,
    dropped,
    effort,
    falling,
    flat,
    mean_of,
    means_of,
    run_of,
    too_early,
    too_late,
    two_running,
    under_the_bottom,
)
from runner.progress.weeks import stronger_side

# The rules that do not lead up: easier, drop, falling, flat, one set more.


def easier(
    current: CurrentLevel, run: Sequence[JudgedSession], past: Sequence[PastSession]
) -> Advice | None:
    """The first set under the bottom, two sessions running: one level back.

    Never to a heavier load (see `progression`). Where there is no easier level: a substitute, or
    fewer repetitions in each set.
    """
    bottom = current.exercise.rep_range[0]
    if not under_the_bottom(run, bottom):
        return None
    row = next(r for r in two_running(run) if max(j.first for j in r) < bottom)
    firsts = " and ".join(counted(current, j.first) for j in row)
    reason = f"first sets of {firsts}, under {counted(current, bottom)} two sessions running"
    reason += on_side(current)
    step = _easier_step(current, past)
    if step.kind == "top":
        ways = at_the_end(current, "an easier set-up")
        ways = ways if current.exercise.instead else f"or {ways}"
        reason += f"; the plan has no easier level: do fewer repetitions for now, {ways}"
        return propose(current, "easier", reason, None, swaps(current))
    expected = expectation(current, step, run[-1].counts[0])
    return propose(current, "easier", reason, move(current, step.index), expected=expected)


def drop(
    current: CurrentLevel, run: Sequence[JudgedSession], past: Sequence[PastSession]
) -> Advice | None:
    """The last set under half of the first: what has not been tried yet, recovery first.

    What was accepted gets three sessions and two weeks before anything else is proposed: with
    less, every bad day would bring another remedy, and nobody could say which one served.
    """
    today = run[-1]
    if not dropped(today):
        return None
    first, last = counted(current, today.first), counted(current, today.last)
    reason = f"from {first} down to {last}{on_side(current)}"
    if _on_trial(current, run):
        text = "keep what you agreed to for three sessions and two weeks"
        return stay(current, f"{reason}: {text}")
    step = _easier_step(current, past)
    ways = [
        Change("recovery", f"{LONGER:.0f} s more recovery", seconds=LONGER),
        Change("fewer sets", "one set fewer"),
    ]
    if step.kind != "top":
        later = f"later sets with {named(current, step.index)}"
        ways.append(Change("easier later", later, step.index))
    return _untried(current, "drop", reason, ways)


def fallen(
    current: CurrentLevel, run: Sequence[JudgedSession], past: Sequence[PastSession]
) -> Advice | None:
    """Four sessions running downwards, by a fifth: a lighter week, or the level before.

    Counted from the last advice that was accepted.
    """
    window = falling(_since(current, run))
    if not window:
        return None
    firsts = ", ".join(counted(current, j.first) for j in window)
    reason = f"first sets of {firsts}: falling four sessions running{on_side(current)}"
    ways = [_lighter(current)]
    step = _easier_step(current, past)
    if step.kind != "top":
        ways.append(move(current, step.index))
    return _untried(current, "falling", reason, ways)


def flat_lately(
    current: CurrentLevel, run: Sequence[JudgedSession], past: Sequence[PastSession]
) -> Advice | None:
    """Weeks without change, counted from the last advice that was accepted.

    Where sets end too early, that is mended first. At the top of the band the next load comes,
    though its rule has not asked for it; where the last first set is there, that rule is left to
    ask. Then what has not been tried yet: a substitute, and a lighter week of the exercise.
    Before those comes one set more where the planned week is under its aim, as its own rule.
    """
    window = flat(_since(current, run))
    if not window or too_early(run):
        return None
    weeks = (window[-1].session.on - window[0].session.on).days // 7
    average = mean_of(means_of(window))
    reason = (
        f"{len(window)} sessions in {weeks} weeks at {counted(current, average)} a set, within 5 %"
    )
    step = load_up(current.exercise, current.index, current.mass)
    if step.kind == "load" and all(at_the_top(j, current.exercise.rep_range[1]) for j in window):
        best = window[-1].counts[0]
        return up(current, "flat", f"{reason}, at the top", best, past)
    if run[-1].counts[0].value >= current.exercise.rep_range[1]:
        return None
    ways = (*swaps(current), _lighter(current))
    if average < current.exercise.rep_range[0]:
        return _flat_under(current, past, reason, ways)
    more = Change("more sets", "one set more for some weeks")
    if current.room and more.kind not in current.tried and not too_late(run):
        reason += "; the planned week is under its aim"
        return propose(current, "one set more", reason, more, ways)
    return _untried(current, "flat", reason, ways)


def _flat_under(
    current: CurrentLevel, past: Sequence[PastSession], reason: str, ways: Sequence[Change]
) -> Advice:
    """Flat under the bottom of the range: the level before, else fewer repetitions."""
    reason += f", under {counted(current, current.exercise.rep_range[0])}"
    step = _easier_step(current, past)
    if step.kind == "top":
        reason += "; do fewer repetitions for now"
        return propose(current, "flat", reason, None, tuple(ways))
    return propose(current, "flat", reason, move(current, step.index), tuple(ways))


def _lighter(current: CurrentLevel) -> Change:
    own = current.exercise
    return Change("lighter week", f"a lighter week of {own.name}", exercise=own.id)


def _on_trial(current: CurrentLevel, run: Sequence[JudgedSession]) -> bool:
    """Whether advice was accepted so recently that nobody can know its effect."""
    if current.since is None or not current.tried:
        return False
    days = (run[-1].session.on - current.since).days
    return len(_since(current, run)) < AGAIN or days < TRIAL_DAYS


def _since(current: CurrentLevel, run: Sequence[JudgedSession]) -> list[JudgedSession]:
    """The sessions after the last advice that was accepted."""
    return [j for j in run if current.since is None or j.session.on > current.since]


def _easier_step(current: CurrentLevel, past: Sequence[PastSession]) -> Step:
    done = done_in(current.exercise, past)
    return step_down(current.exercise, current.index, current.mass, done)


def _untried(current: CurrentLevel, rule: RuleName, reason: str, ways: Sequence[Change]) -> Advice:
    """Propose the first way that was not accepted here before, and name the others."""
    new = [way for way in ways if way.kind not in current.tried]
    old = [way for way in ways if way.kind in current.tried]
    if not new:
        reason += "; you tried everything the plan has: put another exercise or rep range into it"
        return propose(current, rule, reason, None, tuple(old))
    return propose(current, rule, reason, new[0], (*new[1:], *old))


# What is worth saying beside the advice: sets that end too early or too late, uneven sides.
#
# A remark asks for no answer, so it shows once, and again after three sessions.

AGAIN: Final = 3  # sessions after which a message shows again; our choice
TRIAL_DAYS: Final = 14  # and sessions as many as `AGAIN`: so long a remedy has; our choice

Rule = Callable[[CurrentLevel, Sequence[PastSession]], Advice | None]


def remarks(current: CurrentLevel, past: Sequence[PastSession]) -> list[Advice]:
    """What is to be said after the last of `past`, beside the advice."""
    return [one for rule in _REMARKS if (one := once(rule, current, past)) is not None]


def said_lately(current: CurrentLevel, past: Sequence[PastSession]) -> list[Advice]:
    """What is still true of those that were said after one of the last sessions."""
    return [
        replace(one, reason=f"{one.reason}; you saw this lately")
        for rule in _REMARKS
        if (one := rule(current, past)) is not None and once(rule, current, past) is None
    ]


def once(rule: Rule, current: CurrentLevel, past: Sequence[PastSession]) -> Advice | None:
    """What a rule says after the last session, unless it said so after the two before."""
    given = rule(current, past)
    if given is None or given.change is not None:
        return given
    return given if shows_again(_said_before(rule, current, past, given)) else None


def is_new(current: CurrentLevel, past: Sequence[PastSession]) -> bool:
    """Whether the advice after the last session is new, or was shown three sessions before.

    What asks for an answer stays until it is answered, but the end of a session shows it in full
    at these times alone.
    """
    past = [s for s in past if s.begun]
    given = _first(current, past)
    return given.rule == "pain" or shows_again(_said_before(_first, current, past, given))


def shows_again(was_true: Iterable[bool]) -> bool:
    """Whether what stays true shows now: once, and again after three sessions.

    `was_true`: whether it was true after each session before, the newest first. Those after which
    it was not count too, for what comes and goes with every good and bad day would nag like what
    stays.
    """
    spoke: list[bool] = []
    for true_then in was_true:
        spoke.append(true_then)
        if len(spoke) >= AGAIN - 1 and not any(spoke[1 - AGAIN :]):
            break  # whatever was said before that has no bearing
    quiet = 0
    for true_then in reversed(spoke):
        quiet = AGAIN - 1 if true_then and not quiet else max(quiet - 1, 0)
    return not quiet


def _said_before(
    rule: Rule, current: CurrentLevel, past: Sequence[PastSession], given: Advice
) -> Iterator[bool]:
    """Whether a rule said the same after each session before the last, the newest first.

    Sessions that were passed over count for nothing.
    """
    for end in range(len(past) - 1, 0, -1):
        last = past[end - 1]
        if last.counted and not (last.deload or last.level_finding):
            before = rule(current, past[:end])
            yield before is not None and _gist(before) == _gist(given)


def _gist(advice: Advice) -> tuple[object, ...]:
    """What two pieces of advice with the same meaning share: the rule, or the change."""
    change = advice.change
    if change is None:
        return (advice.rule,)
    return (change.kind, change.exercise) if change.index is None else (change.index,)


def _run(current: CurrentLevel, past: Sequence[PastSession]) -> list[JudgedSession]:
    run = run_of(past, current.use, current.exercise.reserve)
    return run if run and run[-1].session is past[-1] else []


def _effort(current: CurrentLevel, past: Sequence[PastSession]) -> Advice | None:
    run = _run(current, past)
    found = effort(run)
    if found is None:
        return None
    stated, aimed = map(number, found)
    if too_early(run):
        reason = f"you stop with {stated} in reserve and the aim is {aimed}: do more repetitions"
        return propose(current, "effort", reason)
    if too_late(run):
        reason = f"every set goes to the limit and the aim is {aimed} in reserve: stop earlier"
        return propose(current, "effort", reason)
    return None


def _sides(current: CurrentLevel, past: Sequence[PastSession]) -> Advice | None:
    """One side a quarter ahead, and by two repetitions, in two sessions running."""
    for pair in two_running(_run(current, past)):
        both = [means for j in pair if (means := side_means(j.session)) is not None]
        stronger = {stronger_side(*means) for means in both}
        if len(both) == len(pair) and len(stronger) == 1 and None not in stronger:
            (strong,) = stronger
            weak = "right" if strong == "left" else "left"
            left, right = (counted(current, mean) for mean in both[-1])
            reason = (
                f"left {left}, right {right} on average, two sessions running: {weak} side first; "
                f"stop the {strong} at its count"
            )
            return propose(current, "sides", reason)
    return None


_REMARKS: Final[tuple[Rule, ...]] = (_effort, _sides)


def side_means(session: PastSession) -> tuple[float, float] | None:
    """The mean count of either side, over the sets with both; None where there is no such set."""
    sets: dict[int, dict[str, float]] = {}
    short = {s.number for s in session.counted if s.recovery_short}
    for one in session.counted:
        if one.side != "both" and one.number not in short:
            sets.setdefault(one.number, {})[one.side] = one.value or 0.0
    both = [(s["left"], s["right"]) for s in sets.values() if len(s) > 1]
    if not both:
        return None
    lefts, rights = zip(*both, strict=True)
    return mean_of(lefts), mean_of(rights)


__all__ = ["Advice", "Change", "ChangeKind", "CurrentLevel", "RuleName", "advise"]

QUIET_FOR: Final = 2  # sessions for which refused advice rests; our choice
_HURT: Final = "no harder level until it is gone; see a doctor or physiotherapist if it stays"


def advise(current: CurrentLevel, past: Sequence[PastSession]) -> Advice:
    """The advice after the last of `past`, the sessions of this exercise and group, in order.

    Advice that was refused rests for two sessions. A session in which every set was left out does
    not count.
    """
    past = [s for s in past if s.begun]
    given = _first(current, past)
    lasts = given.change is not None or given.rule in ("stay", "pain", "layoff")
    if lasts or once(_first, current, past) is not None:
        return given
    return replace(given, reason=f"{given.reason}; you saw this lately", lately=True)


def _first(current: CurrentLevel, past: Sequence[PastSession]) -> Advice:
    """The advice of the first rule that applies."""
    if past and past[-1].pain:
        safe = swaps(current, safe=True)
        return propose(current, "pain", current.pain or _HURT, None, safe)
    no_step = _no_step_up(current, past)
    reason = _nothing_to_judge(past)
    if reason:
        return no_step or stay(current, reason)
    if no_step is None:
        return _any(current, past)
    if current.layoff is not None and current.layoff.back is None:
        return no_step  # what was done before it says little of the next session
    down = _lead_down(current, past)
    if down is not None and no_step.rule == "pain":  # it may be why the counts fall
        return replace(down, reason=f"{no_step.reason}; {down.reason}")
    return down or no_step


def _no_step_up(current: CurrentLevel, past: Sequence[PastSession]) -> Advice | None:
    if current.pain:
        return propose(current, "pain", current.pain)
    away = not_back_yet(current.layoff, past, current.exercise.rep_range[0])
    return propose(current, "layoff", away) if away else None


def _any(current: CurrentLevel, past: Sequence[PastSession]) -> Advice:
    """The first of all rules that applies, where nothing rules out a step up."""
    if current.first_set is not None:
        return bridge_under_way(current, current.first_set, past)
    found = over_the_rep_limit(current, past)
    if found is None and past[-1].deload:
        return stay(current, "this session was lighter, so it is not judged")
    run = run_of(past, current.use, current.exercise.reserve, current.since_layoff)
    if found is None and (not run or run[-1].session is not past[-1]):
        return stay(current, _not_in_the_run(current, past))
    rules: tuple[Callable[[], Advice | None], ...] = (
        lambda: found,
        lambda: easier(current, run, past),
        lambda: step_ready(current, run, past),
        lambda: drop(current, run, past),
        lambda: fallen(current, run, past),
        lambda: flat_lately(current, run, past),
    )
    quiet = ""
    for rule in rules:
        advice = rule()
        if advice is None:
            continue
        if not _rests(advice, current, past):
            return advice
        quiet = f"you refused {advice.rule} lately; it comes back after more sessions"
        if advice is found:
            break
    return stay(current, quiet or _as_it_stands(current, run, past))


def _lead_down(current: CurrentLevel, past: Sequence[PastSession]) -> Advice | None:
    """The first rule that leads down and applies, while a step up is ruled out."""
    if current.first_set is not None:
        bridge = bridge_under_way(current, current.first_set, past)
        back = bridge.change is not None and bridge.change.index == current.index
        return bridge if back else None
    run = run_of(past, current.use, current.exercise.reserve, current.since_layoff)
    if not run or run[-1].session is not past[-1]:
        return None
    for rule in (easier, drop, fallen):
        advice = rule(current, run, past)
        if advice is not None and advice.rule != "stay" and not _rests(advice, current, past):
            return advice
    return None


def _not_in_the_run(current: CurrentLevel, past: Sequence[PastSession]) -> str:
    """Why the last session says nothing of the working level."""
    there = [s for s in past[-1].counted if s.use == current.use]
    if there and any(s.recovery_short for s in there):
        return "the last session is not judged: a set started before its least recovery"
    return "no session at this level yet"


def _nothing_to_judge(past: Sequence[PastSession]) -> str:
    if not past:
        return "no session yet"
    last = past[-1]
    if last.level_finding:
        return "this session found the working level; the next one has a count to beat"
    return "" if last.counted else "no set has a count"


def _rests(advice: Advice, current: CurrentLevel, past: Sequence[PastSession]) -> bool:
    refused = current.refused.get(advice.rule)
    return refused is not None and sum(s.on > refused for s in past) <= QUIET_FOR


def _as_it_stands(
    current: CurrentLevel, run: Sequence[JudgedSession], past: Sequence[PastSession]
) -> str:
    bottom = current.exercise.rep_range[0]
    unit = " s" if current.exercise.measure == "hold" else ""
    today = run[-1]
    if today.first < bottom:
        done, least = counted(current, today.first), counted(current, bottom)
        text = f"first set {done}{on_side(current)}, under {least} once"
        return f"{text}: a second session like this asks for an easier level"
    low, high = number(bottom), counted(current, current.exercise.rep_range[1])
    first = f"first set {today.counts[0].text}{unit} of {low} to {high}{on_side(current)}"
    needs = still_needs(current, past)
    if needs or (len(run) > 1 and today.first < run[-2].first):
        return needs or f"{first}, {counted(current, run[-2].first)} the time before"
    return f"{first}: add repetitions where you can"
