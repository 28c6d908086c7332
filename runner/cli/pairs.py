"""`matside pairs`: which exercises of a session can take turns, or the order of its blocks."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from runner.cli.common import (
    data_dir,
    data_option,
    examples,
    for_option,
    plan_argument,
    session_option,
    show_lines,
    width,
)
from runner.cli.selection import Selection, select
from runner.errors import Exit, MatsideError
from runner.output import new_file
from runner.plan.compile import compile_session
from runner.plan.edit import Blocks, pasted, rewritten
from runner.plan.file import parse_plan
from runner.planning import ordering, pairing
from runner.reports.pairs import (
    SAME,
    best_lines,
    better_pairs,
    change_lines,
    order_lines,
    own_blocks,
    pair_lines,
)
from runner.text import shown


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(
        parser,
        "matside pairs kestrel-hut --session B",
        "matside pairs kestrel-hut --order",
        "matside pairs mine.toml --write mine.toml",
    )
    plan_argument(parser)
    session_option(parser)
    for_option(parser, "trainee whose record is used (default: login name)")
    parser.add_argument(
        "--order", action="store_true", help="show the shortest order of the blocks"
    )
    parser.add_argument(
        "--write",
        metavar="FILE",
        type=Path,
        help="write the plan with these blocks to FILE, which may be PLAN itself",
    )
    parser.add_argument("--force", action="store_true", help="overwrite another existing FILE")
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    with select(args) as selection:
        if selection.overlaid is not None and args.write is not None:
            raise MatsideError(
                f"{selection.trainee} has an overlay, and --write would write it into the plan; "
                "leave --write or --for out",
                code=Exit.USAGE,
            )
        return _show(args, selection)


def _show(args: argparse.Namespace, selection: Selection) -> int:
    blocks, lines, more = _order(selection) if args.order else _pairs(selection)
    session = selection.workout.session
    text = pasted(selection.text, session, blocks)
    written = [shown(line) for line in text.splitlines()]
    changes = change_lines(selection.workout, blocks, width())
    show_lines([*lines, *changes, *more, "", *written])
    if args.write is not None:
        _write(
            selection,
            args.write,
            rewritten(selection.text, session, blocks),
            force=args.force,
            data=data_dir(args.data),
        )
    return Exit.OK


def _pairs(selection: Selection) -> tuple[Blocks, list[str], list[str]]:
    workout, wide = selection.workout, width()
    possible = pairing.possible(workout, selection.baseline)
    blocks = better_pairs(workout, selection.baseline, possible)
    best = best_lines(workout, selection.baseline, possible, wide)
    return blocks, best, pair_lines(workout, possible, wide)


def _order(selection: Selection) -> tuple[Blocks, list[str], list[str]]:
    workout, baseline = selection.workout, selection.baseline
    if len(workout.blocks) > ordering.MOST_BLOCKS:
        raise MatsideError(
            f"session {workout.session} has {len(workout.blocks)} blocks; --order tries "
            f"{ordering.MOST_BLOCKS} at most: merge some blocks",
            code=Exit.USAGE,
        )
    order = ordering.shortest_order(workout, baseline)
    free = order
    if ordering.early_blocks(workout):
        free = ordering.shortest_order(workout, baseline, by_priority=False)
    own = own_blocks(workout)
    shorter = order.seconds < ordering.length_of(workout, baseline) - SAME
    blocks = [own[number] for number in order.blocks] if shorter else own
    return blocks, order_lines(workout, baseline, order, free), []


def _write(selection: Selection, path: Path, text: str, *, force: bool, data: Path) -> None:
    """Write the plan with its new blocks, after reading it back as a plan."""
    compile_session(
        parse_plan(text, str(path), selection.path, selection.data), selection.workout.session
    )
    own = path.exists() and path.samefile(selection.path)
    target = path.resolve() if own else path
    mode = target.stat().st_mode if own else None
    with new_file(target, force=force or own, data=data) as file:
        file.write(text)
    if mode is not None:
        target.chmod(mode)
    print(f"wrote {shown(path)}", file=sys.stderr)
