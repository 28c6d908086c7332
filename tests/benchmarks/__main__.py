"""`python -m tests.benchmarks [NAME ...]`: the figures of all benchmarks, or of those named.

A benchmark is a module of this package with a function `rows(*, quick=False)` that gives
`frame.Row`s; `quick` shows in little time that it works, and its figures say nothing. One may
have `long_rows()` as well, for what takes many minutes.
"""

from __future__ import annotations

import argparse
import compileall
import importlib
import pkgutil
import sys
import traceback
from pathlib import Path

import tests.benchmarks
from tests.benchmarks import frame
from tests.benchmarks.aids.terminal import ROOT

NO_BENCHMARKS = ("__main__", "frame")


def names() -> list[str]:
    """Every benchmark."""
    found = pkgutil.iter_modules(tests.benchmarks.__path__)
    return sorted(m.name for m in found if not m.ispkg and m.name not in NO_BENCHMARKS)


def compile_all(folder: Path) -> None:
    """Write the bytecode of a package, as an installer does.

    Other packages have theirs; ours, run from the checkout, may have none: where Python is told
    not to write any (PYTHONDONTWRITEBYTECODE), every start would compile it anew.
    """
    compileall.compile_dir(folder, quiet=1)


def main() -> int:
    """Measure and print; 0 whatever the figures are, 1 where something could not be measured."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks",
        description="Measures and prints a table. Nothing hangs on the figures.",
    )
    parser.add_argument(
        "names",
        metavar="NAME",
        nargs="*",
        help="only these: " + ", ".join(names()),
    )
    parser.add_argument("--long", action="store_true", help="also what takes many minutes")
    parser.add_argument("--quick", action="store_true", help="only see that everything works")
    parser.add_argument(
        "--markdown", action="store_true", help="a table of Markdown, of the figures with an aim"
    )
    args = parser.parse_args()
    wanted = args.names or names()
    unknown = [name for name in wanted if name not in names()]
    if unknown:
        parser.error(f"no benchmark {unknown[0]}; there are {', '.join(names())}")
    compile_all(ROOT / "runner")
    mark = "\n\n" if args.markdown else "\n"
    print(mark.join(frame.machine()), end=mark, flush=True)
    rows: list[tuple[str, frame.Row]] = []
    failed = 0
    for name in wanted:
        print(f"measuring {name} ...", file=sys.stderr, flush=True)
        module = importlib.import_module(f"tests.benchmarks.{name}")
        try:
            found = module.rows(quick=args.quick)
            if args.long and hasattr(module, "long_rows"):
                found += module.long_rows()
        except Exception:  # noqa: BLE001 - said in full, and the others are measured all the same
            traceback.print_exc()
            failed = 1
        else:
            new = [(name, row) for row in found]
            print("\n".join(frame.table(new)[1:]), file=sys.stderr, flush=True)
            rows += new
    if args.markdown:
        print("\n".join(frame.markdown([(name, row) for name, row in rows if row.aim])))
    else:
        print("\n".join(frame.table(rows)))
    return failed


if __name__ == "__main__":
    sys.exit(main())
