"""`python -m tests.benchmarks [NAME ...]`: the figures of all benchmarks, or of those named.

A benchmark is a module of this package with a function `rows()` that gives `frame.Row`s.
"""

from __future__ import annotations

import argparse
import importlib
import pkgutil
import sys

import tests.benchmarks
from tests.benchmarks import frame


def names() -> list[str]:
    """Every benchmark."""
    found = (module.name for module in pkgutil.iter_modules(tests.benchmarks.__path__))
    return sorted(name for name in found if name not in ("__main__", "frame"))


def main() -> int:
    """Measure and print; 0 whatever the figures are."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument(
        "names", metavar="NAME", nargs="*", help="only these: " + ", ".join(names())
    )
    wanted = parser.parse_args().names or names()
    unknown = [name for name in wanted if name not in names()]
    if unknown:
        parser.error(f"no benchmark {unknown[0]}; there are {', '.join(names())}")
    print("\n".join(frame.machine()), flush=True)
    rows = []
    for name in wanted:
        print(f"measuring {name} ...", file=sys.stderr, flush=True)
        module = importlib.import_module(f"tests.benchmarks.{name}")
        rows += [(name, row) for row in module.rows()]
    print("\n".join(frame.table(rows)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
