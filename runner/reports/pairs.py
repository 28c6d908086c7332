"""What `matside pairs` prints: which exercises can take turns, and which pairs are best."""

from __future__ import annotations

from collections.abc import Sequence

from runner.law.workout import Workout
from runner.planning import forecast, ordering
from runner.planning.pairing import (
    KINSHIPS,
    MOST_AT_ONCE,
    Clash,
    Entry,
    Pair,
    alternated,
    best_pairs,
    clashes,
    exercise_at,
    free,
    groups,
    item_at,
)
from runner.progress.adjust import Baseline
from runner.reports.timeline import columns
from runner.text import clock, how_many, shown, wrapped

SAME = 0.5  # seconds; lengths are shown to the second


def best_lines(
    workout: Workout, baseline: Baseline, possible: Sequence[Pair], width: int = 80
) -> list[str]:
    """The best set of a session's pairs, and what comes of it."""
    best = best_pairs(free(workout, possible))
    head = "The best pairs (our choice: most pairs, antagonists first, then most time saved):"
    lines = [*wrapped(workout.heading, width), "", *wrapped(head, width)]
    if sum(len(block.items) for block in workout.blocks) > MOST_AT_ONCE:
        lines.append(f"  searched {MOST_AT_ONCE} exercises at a time, in session order")
    rows: list[tuple[str, str, str]] = []
    rows += [(_saving(pair), pair.kinship, _names(workout, pair)) for pair in best]
    for group in groups(workout, best):
        names = " · ".join(_name(workout, entry) for entry in group)
        rows += [("alone", "straight sets", names)] if len(group) == 1 else []
        rows += [("as it is", "circuit", names)] if len(group) > 2 else []
    now = ordering.length_of(workout, baseline)
    then = ordering.length_of(alternated(workout, best), baseline)
    straight = ordering.length_of(forecast.straight(workout), baseline)
    text = (
        f"Length of the session: {clock(then)} with these pairs, {clock(now)} as planned, "
        f"{clock(straight)} as straight sets."
    )
    return [*lines, *_table(rows, width), *wrapped(text, width)]


def better_pairs(
    workout: Workout, baseline: Baseline, possible: Sequence[Pair]
) -> list[tuple[Entry, ...]]:
    """The blocks of the best set of pairs, the plan's own where those are no longer than these."""
    best = best_pairs(free(workout, possible))
    now = ordering.length_of(workout, baseline)
    then = ordering.length_of(alternated(workout, best), baseline)
    return groups(workout, best) if then < now - SAME else own_blocks(workout)


def own_blocks(workout: Workout) -> list[tuple[Entry, ...]]:
    """The blocks as the plan has them."""
    return [
        tuple(Entry(number, index) for index in range(len(block.items)))
        for number, block in enumerate(workout.blocks)
    ]


def change_lines(workout: Workout, blocks: Sequence[Sequence[Entry]], width: int = 80) -> list[str]:
    """What these blocks change in the plan, in a line each."""
    own = {frozenset(block) for block in own_blocks(workout)}
    new = [block for block in blocks if frozenset(block) not in own]
    if not new and [tuple(b) for b in blocks] == own_blocks(workout):
        return ["Keep the plan's blocks: these pairs make the session no shorter."]
    lines = ["What changes:"]
    for block in new:
        names = " · ".join(_name(workout, entry) for entry in block)
        lines += wrapped(f"  {names}: {'take turns' if len(block) > 1 else 'alone'}", width, "    ")
    order = [min(entry.block for entry in block) + 1 for block in blocks]
    if not new:
        lines.append(f"  the order of blocks: {', '.join(map(str, order))}")
    return lines


def pair_lines(workout: Workout, possible: Sequence[Pair], width: int = 80) -> list[str]:
    """All pairs that can take turns and all that must not, beyond the best pairs."""
    lines = ["", "Pairs that can take turns, and the time each saves against straight sets:"]
    by_kin = [pair for kin in KINSHIPS for pair in possible if pair.kinship == kin]
    lines += _table([(_saving(p), p.kinship, _names(workout, p)) for p in by_kin], width)
    if not possible:
        lines.append("  none")
    forbidden = clashes(workout)
    if forbidden:
        lines += ["", "Pairs that must not take turns:"]
    for clash in forbidden:
        lines += wrapped(f"  {_clash(workout, clash)}", width, "    ")
    return lines


def _table(rows: Sequence[tuple[str, str, str]], width: int) -> list[str]:
    if not rows:
        return []
    return [f"  {line}" for line in columns(rows, {0}, width - 2, {2: width})]


def _saving(pair: Pair) -> str:
    return f"saves {clock(pair.saves)}" if pair.saves >= 0 else f"costs {clock(-pair.saves)}"


def _names(workout: Workout, pair: Pair) -> str:
    return f"{_name(workout, pair.first)} · {_name(workout, pair.second)}"


def _name(workout: Workout, entry: Entry) -> str:
    item = item_at(workout, entry)
    ramp = f"{item.ramp} + " if item.ramp else ""
    return f"{shown(exercise_at(workout, entry).name)} {ramp}{item.sets}"


def _clash(workout: Workout, clash: Clash) -> str:
    one, other = (shown(exercise_at(workout, e).name) for e in (clash.first, clash.second))
    reasons = [f"both train {', '.join(clash.shared)}"] if clash.shared else []
    if clash.crossed:
        reasons.append(f"one trains what helps the other: {', '.join(clash.crossed)}")
    return f"{one} · {other}: {'; '.join(reasons)}"


def order_lines(
    workout: Workout, baseline: Baseline, order: ordering.Order, free: ordering.Order
) -> list[str]:
    """Whether an order of blocks gains anything, then that order.

    `free` is the shortest where no priority counts.
    """
    now = ordering.length_of(workout, baseline)
    gain = now - order.seconds
    said = f"A new order saves {clock(gain)}; the plan's own takes {clock(now)}."
    if gain < SAME:
        said = f"No order is shorter than the plan's own, {clock(now)}."
    lines = [*wrapped(workout.heading, 80), "", said]
    lines.append(f"The shortest order, {clock(order.seconds)}:")
    lines += [f"  {number + 1}. {_block_name(workout, number)}" for number in order.blocks]
    early = ordering.early_blocks(workout)
    if early:
        first = ", ".join(str(number + 1) for number in sorted(early))
        lines.append(
            f"{how_many(len(early), 'block')} ({first}) with an exercise of priority 1 come first."
        )
        if free.seconds < order.seconds - SAME:
            other = ", ".join(str(number + 1) for number in free.blocks)
            lines.append(f"Without that rule: {clock(free.seconds)}, in the order {other}.")
    own = list(order.blocks) == sorted(order.blocks)
    return [*lines, "That is the plan's own order."] if own else lines


def _block_name(workout: Workout, number: int) -> str:
    block = workout.blocks[number]
    return " · ".join(_name(workout, Entry(number, index)) for index in range(len(block.items)))
