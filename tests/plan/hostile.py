"""Plans made to be slow: as much of everything as a file may hold, or just under the bounds."""

from __future__ import annotations

from collections.abc import Callable

from runner.plan.file import LARGEST, MOST_ENTRIES, MOST_SETS, MOST_SETS_OF_ALL, MOST_TIMINGS

TOP = 'title = "x"\n'
ROW = (
    '[exercise.row]\nname="R"\npattern="squat"\nprime=["quadriceps"]\nversion=[{id="a",name="b"}]\n'
)
SESSION = '[[session]]\nid="A"\n'
BLOCK = SESSION + "[[session.block]]\n"
DO = BLOCK + 'do=[{exercise="row",sets=1}]\n'


def _filled(one: Callable[[int], str], head: str = TOP, tail: str = "", size: int = LARGEST) -> str:
    """As many of them, numbered, as the file can hold."""
    parts, length, number = [head], len(head) + len(tail), 0
    while length + len(text := one(number)) <= size:
        parts.append(text)
        length, number = length + len(text), number + 1
    return "".join([*parts, tail])


def _exercise(number: int, more: str = "") -> str:
    return ROW.replace("row", f"e{number}") + more


def _exercises(count: int, more: Callable[[int], str] = lambda _: "") -> str:
    return TOP + "".join(_exercise(number, more(number)) for number in range(count))


def _sessions(sessions: int, blocks: int, items: int, sets: int) -> str:
    do = ",".join(f'{{exercise="e{i}",sets={sets}}}' for i in range(items))
    return "".join(
        f'[[session]]\nid="S{s}"\n' + f"[[session.block]]\ndo=[{do}]\n" * blocks
        for s in range(sessions)
    )


def _substitutes(count: int) -> str:
    """Every exercise as a substitute for every other, and every block's timing wrong."""
    everyone = [f'"e{i}"' for i in range(count)]
    text = _exercises(count, lambda i: f"instead=[{','.join(everyone[:i] + everyone[i + 1 :])}]\n")
    timing = '[[session.block]]\nrecovery="1:00"\nrecovery_least="2:00"\n'
    do = "".join(f'{timing}do=[{{exercise="e{i}",sets=1}}]\n' for i in range(99))
    return text + SESSION + do


def _progression(versions: int, positions: int) -> str:
    load = f"load={{from=0,to={positions - 1},by=1}}"
    found = ",".join(f'{{id="v{i}",name="b",{load}}}' for i in range(versions))
    return TOP + ROW.replace('{id="a",name="b"}', found) + DO


_NEAR = "row-on-the-bench-with-rucksack-"
_NAMED = _exercises(400).replace("[exercise.e", f"[exercise.{_NEAR}")

REFUSED: dict[str, tuple[str, str]] = {  # the text, and what a row says
    "keys": (_filled(lambda i: f"k{i}=1\n", ""), "this file holds too many keys"),
    "keys of an exercise": (_filled(lambda i: f"k{i}=1\n", "[exercise.row]\n"), "too many keys"),
    "long misspelt keys": (_filled(lambda i: f"{'titel' * 12}{i}=1\n", ""), "unknown key"),
    "exercises": (_filled(lambda i: f"[exercise.e{i}]\n", ""), "too m"),
    "many exercises": (_filled(lambda i: f"[exercise.e{i}]\n", "", size=11_000), "too many"),
    "sessions": (_filled(lambda _: SESSION, TOP + ROW), "too many keys"),
    "muscles": (_filled(lambda i: f'"q{i}",', TOP + ROW + "assist=[", "]"), "too many keys"),
    "unknown muscles": (
        _filled(lambda i: f'"q{i}",', TOP + ROW + "assist=[", "]", MOST_ENTRIES * 6),
        "is not known here",
    ),
    "unknown muscles of a week": (
        _filled(lambda i: f"q{i}=1\n", TOP + "[week.muscles]\n", "", MOST_ENTRIES * 7),
        "is not known here",
    ),
    "near names": (
        _filled(
            lambda i: f'{{exercise="{_NEAR.replace("ck", "k")}{i}",sets=1}},',
            _NAMED + BLOCK + "do=[",
            "]",
            len(_NAMED) + 20_000,
        ),
        "did you mean",
    ),
    "versions": (_filled(lambda _: "{},", TOP + "[exercise.row]\nversion=[", "]"), "too m"),
    "dotted key": ("a" + ".a" * (LARGEST // 2 - 2) + "=1\n", "a key has too many parts"),
    "dotted tables": (_filled(lambda i: "[" + "a." * 500 + f"b{i}]\n", ""), "too many parts"),
    "quoted dotted key": ('"a"' + ' . "a"' * 40_000 + "=1\n", "too many parts"),
    "nested lists": ("a=" + "[" * (LARGEST - 9), "nested too deeply"),
    "nested tables": ("a=" + "{a=" * (LARGEST // 3 - 9), "nested too deeply"),
    "digits": ("a=" + "1" * (LARGEST - 9), "too many digits"),
    "digits in the middle": ("a=" + "1" * (LARGEST - 9) + ":", "too many digits"),
    "open text": ('a="""' + "\n" * (LARGEST - 9), "a text without an end"),
    "backslashes before quotes": (_filled(lambda _: '\\"""\n', 'a = "x"\n', "\\"), "not TOML"),
    "fewer backslashes": (_filled(lambda _: '\\"""\n', 'a = "x"\n', "\\", 20_000), "not TOML"),
    "empty lines": ("\n" * (LARGEST - 9) + "a=\n", "not TOML"),
    "a long key": ('"' + "x" * (LARGEST - 9) + '"=1\n', "unknown key"),
    "controls": ('title="' + "\\u001b" * (LARGEST // 6 - 9) + '"\n', "control character"),
    "sets": (_exercises(50) + _sessions(1, 1, 50, MOST_SETS // 50 + 1), "sets"),
    "sets of all": (_exercises(50) + _sessions(10, 1, 50, 5), "the sessions have 2500 sets"),
    "timings": (_exercises(300) + _sessions(1, MOST_TIMINGS // 300 + 1, 1, 1), "too many"),
    "positions": (_progression(100, 200) + _exercise(1), "the versions have 20001 levels"),
    "substitutes": (_substitutes(70), "is longer than the recovery"),
}

ACCEPTED: dict[str, str] = {  # just under the bounds
    "one long session": _exercises(50) + _sessions(1, 1, 50, MOST_SETS // 50),
    "many sessions": _exercises(48) + _sessions(40, 1, 48, MOST_SETS_OF_ALL // 40 // 48),
    "many blocks": _exercises(100) + _sessions(2, 90, 1, 1),
    "a long ladder": _progression(100, 199),
}
