"""Law, rules, session and planning are pure: no clock, no file, and nothing that has them."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
import sysconfig
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ROOMS = ("law", "progress", "session", "planning")
SOURCES = sorted(path for room in ROOMS for path in (ROOT / "runner" / room).glob("*.py"))
MODULES = [
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    for path in SOURCES
]
# Heavy or impure: none of these is there once they are imported.
UNWANTED = {
    "textual", "rich", "pydantic", "sqlite3", "subprocess", "asyncio", "socket", "threading",
    "tomllib", "csv", "argparse", "logging", "platformdirs", "wakepy",
}  # fmt: skip
# What the sources may not name at all.
FORBIDDEN_IMPORTS = {"time", "os", "sys", "io", "pathlib", "random", "builtins"}
FORBIDDEN_CALLS = {"open", "print", "input", "exec", "eval", "__import__"}
CLOCKS = {"now", "utcnow", "today", "fromtimestamp"}  # of dates: these ask the system


def test_importing_them_brings_in_nothing_heavy() -> None:
    code = f"import json, sys, {', '.join(MODULES)}\nprint(json.dumps(sorted(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-S", "-c", code],
        env=os.environ | {"PYTHONPATH": sysconfig.get_path("purelib")},
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        timeout=60,
    )
    loaded = set(json.loads(done.stdout))
    assert set(MODULES) <= loaded
    assert not loaded & UNWANTED
    ours = {name for name in loaded if name.startswith("runner.")}
    # Texts and how they wrap are pure, and everybody has them.
    assert ours == {*MODULES, "runner.text"}


@pytest.mark.parametrize("path", SOURCES, ids=MODULES)
def test_the_source_asks_for_no_clock_and_no_file(path: Path) -> None:
    assert impurities(ast.parse(path.read_text(encoding="utf-8"))) == []


def impurities(tree: ast.AST) -> list[str]:
    """What a module names that reads or writes the world."""
    found = []
    for node in ast.walk(tree):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
        found += [name for name in names if name.split(".")[0] in FORBIDDEN_IMPORTS]
        called = node.func if isinstance(node, ast.Call) else None
        if isinstance(called, ast.Name) and called.id in FORBIDDEN_CALLS:
            found.append(called.id)
        if isinstance(called, ast.Attribute) and called.attr in CLOCKS:
            of = ast.unparse(called.value).rpartition(".")[2]
            found += [f"{of}.{called.attr}"] if of in ("date", "datetime") else []
    return found


def test_the_check_can_fail() -> None:
    code = "import os.path\nfrom time import monotonic\nprint(open('x'))\nimport math"
    assert sorted(impurities(ast.parse(code))) == ["open", "os.path", "print", "time"]
    assert impurities(ast.parse("from datetime import date\nday = date.today()")) == ["date.today"]
    assert impurities(ast.parse("from datetime import date\nday = date(2026, 1, 1)")) == []
