"""`matside receive`: merges a handover into the record."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from runner.cli.common import confirmed, data_dir, data_option, examples, tell
from runner.errors import Exit, MatsideError
from runner.live.corrections import replayed
from runner.output import overlay_path, record_path
from runner.plan.faults import PlanFaults
from runner.plan.file import toml_of
from runner.plan.overlay import parse_overlay
from runner.record.handover import News, Parcel
from runner.record.record import Record
from runner.text import shown


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    examples(parser, "matside receive ada.zip --dry-run", "matside receive ada.zip --yes")
    parser.add_argument("file", metavar="FILE", type=Path, help="what `matside handover` wrote")
    parser.add_argument("--dry-run", action="store_true", help="show what is new, change nothing")
    parser.add_argument("--yes", action="store_true", help="take it without asking")
    data_option(parser)


def main(args: argparse.Namespace) -> int:
    """Run the command."""
    data = data_dir(args.data)
    path = record_path(data, trial=False)
    with Parcel(args.file) as parcel:
        _check(parcel)
        replaces = overlay_path(data, parcel.trainee).exists()
        at_once = args.yes and not args.dry_run
        with Record.open_readonly(path) as record:
            known = parcel.trainee in record.trainees()
            news = None if at_once else record.receive(parcel, replayed, data, keep=False)
        seen = _stamp(path)
        if news is None:
            news = _take(parcel, path, data)
        new = "" if known else " (new here)"
        tell(f"{parcel.trainee}{new}: {news.text}", sys.stdout)
        for line in news.conflicts:
            tell(f"  conflict: {line}", sys.stdout)
        if news.overlay:
            _show(parcel, data, replaces=replaces)
        if at_once or args.dry_run or (known and not news.changes):
            return Exit.OK
        if not confirmed(f"Take all of it for {parcel.trainee}?", yes=False):
            print("nothing was changed", file=sys.stderr)
            return Exit.OK
        overlay = not news.overlay or confirmed("Take the overlay too?", yes=False)
        if _stamp(path) != seen:  # something else was written meanwhile: look at all of it again
            parcel.new = None
        tell(f"taken: {_take(parcel, path, data, overlay=overlay).text}")
    return Exit.OK


def _stamp(path: Path) -> tuple[int, int] | None:
    """What changes with each commit of the record; None without a record."""
    try:
        state = path.stat()
    except OSError:
        return None
    return state.st_mtime_ns, state.st_size


def _take(parcel: Parcel, path: Path, data: Path, *, overlay: bool = True) -> News:
    """Merge it; where that fails, no new record stays behind."""
    fresh = not path.exists()
    try:
        with Record.open(path) as record:
            return record.receive(parcel, replayed, data, keep=True, overlay=overlay)
    except MatsideError:
        if fresh:
            path.unlink(missing_ok=True)
        raise


def _check(parcel: Parcel) -> None:
    """Check the overlay that comes. Raises MatsideError (65)."""
    if parcel.overlay is None:
        return
    text = parcel.overlay[0].decode()
    try:
        parse_overlay(text, Path("overlay.toml"), toml_of(text, "overlay.toml"))
    except PlanFaults as faults:
        raise parcel.bad(faults.lines[0]) from None


def _show(parcel: Parcel, data: Path, *, replaces: bool) -> None:
    """Show the overlay that comes, and where the one that it replaces is kept."""
    content, _ = parcel.overlay or (b"", 0)
    print(f"The overlay of {parcel.trainee}:")
    for line in content.decode().splitlines():
        print(f"  {shown(line)}")
    if replaces:
        path = overlay_path(data, parcel.trainee)
        tell(f"It replaces {path}; matside keeps the old one beside it.", sys.stdout)
