"""Plans found by path, in the person's own folder, among the shipped ones."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import runner
from runner import resources
from runner.errors import Exit, MatsideError
from runner.plan import file, library
from runner.plan.library import find_plan, known_plans
from tests.plan.plans import SMALL

SHIPPED = Path(runner.__file__).parent.parent / "plans"


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data directory with two plans, and an empty working directory beside it."""
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    own = tmp_path / "data" / "plans"
    own.mkdir(parents=True)
    for name in ("winter.toml", "summer.toml", ".hidden.toml", "notes.txt"):
        (own / name).write_text(SMALL)
    return tmp_path / "data"


def unknown(name: str, data: Path) -> str:
    with pytest.raises(MatsideError) as refused:
        find_plan(name, data)
    assert refused.value.code is Exit.NO_INPUT
    (line,) = refused.value.lines
    return line


def test_a_path_comes_first(data: Path) -> None:
    Path("winter").write_text(SMALL)
    assert find_plan("winter", data) == Path("winter")
    assert find_plan("../data/plans/summer.toml", data) == Path("../data/plans/summer.toml")


def test_a_stem_of_the_persons_own_folder(data: Path) -> None:
    assert find_plan("winter", data) == data / "plans" / "winter.toml"


def test_a_stem_of_a_shipped_plan(data: Path) -> None:
    assert find_plan("demo", data).samefile(SHIPPED / "demo.toml")


def test_ones_own_plan_comes_before_a_shipped_one(data: Path) -> None:
    (data / "plans" / "demo.toml").write_text(SMALL)
    assert find_plan("demo", data) == data / "plans" / "demo.toml"


def test_a_data_directory_without_plans(tmp_path: Path) -> None:
    assert set(known_plans(tmp_path)) == {path.stem for path in SHIPPED.glob("*.toml")}
    (tmp_path / "plans").write_text("no directory")
    assert "demo" in known_plans(tmp_path)


def test_a_directory_of_that_name_does_not_stand_before_a_plan(data: Path) -> None:
    Path("winter").mkdir()
    Path("autumn").mkdir()
    assert find_plan("winter", data) == data / "plans" / "winter.toml"
    assert find_plan("autumn", data) == Path("autumn")


def test_near_names_of_an_unknown_plan(data: Path) -> None:
    assert unknown("wintr", data) == 'unknown plan "wintr"; did you mean "winter"?'
    assert unknown("Demo_", data) == 'unknown plan "Demo_"; did you mean "demo"?'
    assert unknown("winter.tml", data) == 'unknown plan "winter.tml"; did you mean "winter"?'


def test_near_names_of_an_unknown_path(data: Path) -> None:
    name = str(data / "plans" / "sumer.toml")
    found = str(data / "plans" / "summer.toml")
    assert unknown(name, data) == f'unknown plan "{name}"; did you mean "{found}"?'
    assert unknown("dmo.toml", data) == 'unknown plan "dmo.toml"; did you mean "demo"?'


def test_all_names_where_none_is_near(data: Path) -> None:
    line = unknown("zzzzz", data)
    assert line == (
        'unknown plan "zzzzz"; write a path, or one of demo, kestrel-hut, shelf, summer, winter'
    )


def test_no_plan_anywhere(data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(library, "plans_dir", lambda: tmp_path / "gone")
    assert unknown("x", tmp_path) == 'unknown plan "x"; write the path of a plan file'


@pytest.mark.parametrize("name", ["", "\0", "x" * 5000, "a\x1b[2Jb", "no/such/plan", "no\0/such"])
def test_names_that_cannot_be_anything(name: str, data: Path) -> None:
    line = unknown(name, data)
    assert "\x1b" not in line
    assert "\0" not in line
    assert len(line) < 300


def test_a_folder_that_may_not_be_looked_into(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Root may look everywhere, so the system's refusal is played.
    def iterdir(self: Path) -> None:
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "iterdir", iterdir)
    with pytest.raises(MatsideError) as refused:
        find_plan("winter", data)
    assert refused.value.code is Exit.NO_PERMISSION
    assert "not permitted to look here" in refused.value.lines[0]


def test_resources_lie_beside_the_package_in_a_checkout() -> None:
    assert resources.plans_dir().samefile(SHIPPED)
    assert resources.sounds_dir().samefile(SHIPPED.parent / "sounds")


def test_resources_lie_in_the_package_once_installed(tmp_path: Path) -> None:
    package = tmp_path / "runner"
    (package / "_data" / "plans").mkdir(parents=True)
    (tmp_path / "plans").mkdir()  # somebody else's, beside the installed package
    assert resources._folder("plans", package) == package / "_data" / "plans"
    assert resources._folder("sounds", package) == tmp_path / "sounds"


@pytest.mark.parametrize("module", ["library", "faults"])
def test_looking_for_a_plan_does_not_import_pydantic(module: str) -> None:
    """Neither it nor, in turn, the modules of this room that it imports."""
    folder = Path(file.__file__).parent
    waiting, seen = [module], set[str]()
    while waiting:
        name = waiting.pop()
        if name in seen:
            continue
        seen.add(name)
        tree = ast.parse((folder / f"{name}.py").read_text(encoding="utf-8"))
        imported = [n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)]
        imported += [a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names]
        assert not [found for found in imported if found.startswith("pydantic")]
        waiting += [i.rpartition(".")[2] for i in imported if i.startswith("runner.plan.")]
