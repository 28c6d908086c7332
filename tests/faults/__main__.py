"""`python -m tests.faults [NAME ...]`: every fault at full size, a line each; 1 if any lost."""

from __future__ import annotations

import argparse
import sys

from tests.faults.every import FAULTS
from tests.faults.frame import find
from tests.lines.process import heed_signals


def main() -> int:
    """Make the faults, say what was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("names", metavar="NAME", nargs="*", help="only those whose name has this")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--share", type=float, default=1.0, help="of the runs of each, 0 to 1")
    parser.add_argument("--at-once", type=int, default=2, help="so many runs at the same time")
    args = parser.parse_args()
    heed_signals()
    lost = 0
    for fault in FAULTS:
        if args.names and not any(name in fault.name for name in args.names):
            continue
        runs = max(round(fault.full * args.share), 1)
        found = find(fault, runs, seed=args.seed, at_once=args.at_once)
        print(found.line(), flush=True)
        for text in found.lost:
            print(f"  {text[:1000]}", flush=True)
        lost += len(found.lost)
    return 1 if lost else 0


if __name__ == "__main__":
    sys.exit(main())
