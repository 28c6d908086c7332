"""Imports point one way; the check that says so can fail."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import networkx as nx
import pytest

ROOT = Path(__file__).parents[1]


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    program = Path(sys.executable).with_name("lint-imports")
    return subprocess.run(
        [str(program), "--no-cache"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(folder), "NO_COLOR": "1"},
        capture_output=True,
        text=True,
        check=False,
    )


def test_imports_point_one_way() -> None:
    done = lint(ROOT)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("law/timing.py", "import runner.record.record"),
        ("law/timing.py", "import runner.progress.history"),
        ("progress/history.py", "import runner.session.state"),
        ("live/driver.py", "import runner.lines.event_lines"),
    ],
)
def test_a_wrong_import_is_found(tmp_path: Path, module: str, line: str) -> None:
    shutil.copytree(
        ROOT / "runner", tmp_path / "runner", ignore=shutil.ignore_patterns("__pycache__")
    )
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    file = tmp_path / "runner" / module
    file.write_text(file.read_text(encoding="utf-8") + f"\n{line}\n", encoding="utf-8")
    done = lint(tmp_path)
    assert done.returncode == 1, done.stdout + done.stderr
    assert "rooms are floors: imports go down BROKEN" in done.stdout


def imports(runner: Path) -> nx.DiGraph:
    """Which module imports which, wherever it does: for types alone, or where it is needed."""
    files = {
        ".".join((runner.name, *file.relative_to(runner).with_suffix("").parts)): file
        for file in runner.rglob("*.py")
    }
    graph = nx.DiGraph()
    for module, file in files.items():
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                named = [f"{node.module}.{one.name}" for one in node.names]
                graph.add_edges_from(
                    (module, name if name in files else node.module) for name in named
                )
            elif isinstance(node, ast.Import):
                graph.add_edges_from((module, one.name) for one in node.names)
    return graph


def test_no_modules_import_each_other(tmp_path: Path) -> None:
    assert list(nx.simple_cycles(imports(ROOT / "runner"))) == []
    room = tmp_path / "runner"
    room.mkdir()
    (room / "one.py").write_text("def f():\n    import runner.two\n", encoding="utf-8")
    (room / "two.py").write_text("if False:\n    from runner import one\n", encoding="utf-8")
    assert list(nx.simple_cycles(imports(room))) != []
