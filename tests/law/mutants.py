"""The rules of the timing law as they stand in the code, each to be shifted by a second."""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import FunctionType, ModuleType
from typing import Any

from runner.law import course, timing, workout
from runner.session import apply, flow


@dataclass(frozen=True)
class Term:
    """One term of a rule: the function, its text there (once), and what else it could say.

    Without `instead` the term is made a second more, and in another mutant a second less.
    """

    rule: str
    module: ModuleType
    function: str  # "Class.method" for a method
    text: str
    instead: str | None = None


LAW = timing
_SHARES, _BEFORE, _SIDES = "shares", "rest_before", "rest_between_sides"

TERMS = (
    # 1. ledger
    Term("end of prime work", LAW, "Ledger.after", "dict.fromkeys(bout.prime, end)",
         "dict.fromkeys(bout.prime, end + 1)"),
    Term("end of assisting work", LAW, "Ledger.after", "dict.fromkeys(bout.synergist, end)",
         "dict.fromkeys(bout.synergist, end + 1)"),
    Term("one-sided work on its own side", LAW, "loads", "else (side,)", 'else ("left", "right")'),
    Term("both sides assist", LAW, "loads", 'for s in ("left", "right")', "for s in sides"),
    # 2. due
    Term("prime after prime", LAW, "Ledger.due", "prime[site] + recovery"),
    Term("prime after synergist", LAW, "Ledger.due", "synergist[site] + cross"),
    Term("synergist after prime", LAW, "Ledger.due", "prime[site] + cross"),
    Term("T in due", LAW, "due", "coming.timing.recovery,", "coming.timing.recovery + 1,"),
    Term("A in due", LAW, "due", "coming.timing.recovery_cross"),
    Term("L in least due", LAW, "least_due", "coming.timing.recovery_least"),
    Term("A·L/T in least due", LAW, "least_due", "coming.timing.cross_least"),
    Term("A·L/T", workout, "Timing.cross_least",
         "self.recovery_cross * self.recovery_least / self.recovery"),
    Term("first side's due", LAW, "_set_due", "max(first,", "max(first + 1,"),
    Term("second side's due", LAW, "_set_due", "ledger.due(coming.bouts[1], recovery, cross)"),
    Term("first side ahead", LAW, "_set_due", "coming.bouts[0].expected"),
    Term("gap ahead", LAW, "_set_due", "coming.timing.side_gap"),
    # 3. share
    Term("level", LAW, "level", "(need - above) / below"),
    Term("level where floors are enough", LAW, "level", "return 0.0", "return 1.0"),
    Term("c1 that a changeover holds", LAW, _SHARES, "max(c1, before", "max(c1 + 1, before"),
    Term("c1 under the share", LAW, _SHARES, ", floors), c1)", ", floors), c1 + 1)"),
    Term("breather that a changeover holds", LAW, _SHARES, "before.timing.breather"),
    Term("position that a changeover holds", LAW, _SHARES, "this.timing.position"),
    Term("change that a changeover holds", LAW, _SHARES, "this.change"),
    Term("breather of the round's last", LAW, _SHARES, "round_sets[-1], ", "round_sets[0], "),
    Term("W", LAW, _SHARES, "sum([s.work for s in round_sets])"),
    Term("c2 under the ceiling", LAW, _SHARES, "max(c2,", "max(c2 + 1,"),
    Term("level(L) in the ceiling", LAW, _SHARES,
         "level(_need(round_sets, work, least=True), floors)"),
    Term("level(T) in the share", LAW, _SHARES, "level(_need(round_sets, work), floors)"),
    Term("T in the need", LAW, "_need", "else s.timing.recovery)", "else s.timing.recovery + 1)"),
    Term("L in the need", LAW, "_need", "s.timing.recovery_least"),
    Term("w in the need", LAW, "_need", "bout.expected"),
    Term("w in W", LAW, "TimedSet.work", "sum([b.expected for b in self.bouts])"),
    Term("gap in W", LAW, "TimedSet.work", "self.timing.side_gap"),
    # 4. rest
    Term("breather", LAW, _BEFORE, "previous.timing.breather"),
    Term("position", LAW, _BEFORE, "timing.position"),
    Term("change of a station", LAW, _BEFORE, "coming.change"),
    Term("due from t", LAW, _BEFORE, "wanted = due(ledger, coming)",
         "wanted = 1 + due(ledger, coming)"),
    Term("block rest", LAW, _BEFORE, "max(forced, timing.block_rest,",
         "max(forced, timing.block_rest + 1,"),
    Term("due across blocks", LAW, _BEFORE, "timing.block_rest, wanted)",
         "timing.block_rest, wanted - 1)"),
    Term("c1 in a changeover", LAW, _BEFORE, "            timing.changeover_from,\n",
         "            timing.changeover_from + 1,\n"),
    Term("due in a changeover", LAW, _BEFORE, "max(wanted, spread.share)",
         "max(wanted - 1, spread.share)"),
    Term("share in a changeover", LAW, _BEFORE, "spread.share"),
    Term("ceiling in a changeover", LAW, _BEFORE, "spread.ceiling"),
    Term("least due in a changeover", LAW, _BEFORE, "least_due(ledger, coming) - now"),
    Term("c1 in straight sets", LAW, _BEFORE, "max(forced, timing.changeover_from,",
         "max(forced, timing.changeover_from + 1,"),
    Term("due in straight sets", LAW, _BEFORE, "timing.changeover_from, wanted)",
         "timing.changeover_from, wanted - 1)"),
    Term("gap", LAW, _SIDES, "timing.side_gap"),
    Term("least of the second side", LAW, _SIDES, "least - now"),
    Term("L of the second side", LAW, _SIDES, "timing.recovery_least"),
    Term("A·L/T of the second side", LAW, _SIDES, "timing.cross_least"),
    Term("lead-in", LAW, "lead_in", "Rest(seconds,", "Rest(seconds + 1,"),
    Term("alone in a round", LAW, _BEFORE, "len(round_sets) >= 2", "len(round_sets) >= 1"),
    Term("change of a station, where it differs", course, "Course._visit",
         "self.workout.stations[station].change"),
    Term("a station first named is ready", course, "Course._visit", "setup is None or dict(setup)",
         "setup is not None and dict(setup)"),
    Term("why, station", LAW, "_why", '("station", coming.change)',
         '("station", coming.change + 1)'),
    Term("why, breather", LAW, "_why", "previous.timing.breather"),
    Term("why, position", LAW, "_why", "coming.timing.position"),
    Term("why, block", LAW, "_why", '("block", block)', '("block", block + 1)'),
    Term("why, changeover", LAW, "_why", "changeover + SAME"),
    # 5. expected lengths
    Term("expected by the band", course, "Course.expected", "sum(exercise.rep_range) / 2"),
    Term("expected of a ramp set", course, "Course.expected", "exercise.rep_range[0]"),
    Term("expected by the median", course, "Course.expected", "median(recent[-RECENT:])"),
    Term("the last three", course, "Course.expected", "-RECENT:", "-RECENT + 1:"),
    Term("today's among them", course, "Course.finish", "length)[-RECENT:]",
         "length + 1)[-RECENT:]"),
    # 4, 6, 7 in the machine
    Term("recovery really had", LAW, "Ledger.recovered", "start - max(ends)"),
    Term("end of a set", course, "Course.finish", "self.ledger.after(bout, end)",
         "self.ledger.after(bout, end + 1)"),
    Term("t", course, "Course.finish", "ended=end", "ended=end + 1"),
    Term("rest from t", apply, "Turn.decide_rest", "since + rest.seconds"),
    Term("at least the lead-in left", apply, "Turn.decide_rest", "state.workout.lead_in"),
    Term("lead-in on return", flow, "_at_least_lead_in", "state.workout.lead_in"),
    Term("asked for", flow, "_ask", "command.seconds"),
)  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """A term with another text in its place."""

    term: Term
    label: str
    text: str


def mutants() -> list[Mutant]:
    """Every term, shifted both ways or as it says."""
    found = []
    for term in TERMS:
        if term.instead is not None:
            found.append(Mutant(term, term.rule, term.instead))
            continue
        found.append(Mutant(term, f"{term.rule}, a second more", f"({term.text} + 1)"))
        found.append(Mutant(term, f"{term.rule}, a second less", f"({term.text} - 1)"))
    return found


def _function(term: Term) -> FunctionType:
    """The function that the term stands in; of a property its getter."""
    found: Any = term.module
    for name in term.function.split("."):
        found = inspect.getattr_static(found, name)
    return _bare(found)


def _bare(found: Any) -> FunctionType:
    function = found.fget if isinstance(found, property) else found
    assert isinstance(function, FunctionType)
    return function


@contextmanager
def in_place(mutant: Mutant) -> Iterator[None]:
    """The core with the mutant in it, wherever the function is already known."""
    function, text = _function(mutant.term), mutant.term.text
    source = textwrap.dedent(inspect.getsource(function))
    if source.count(text) != 1:
        raise LookupError(f"{mutant.term.function} says {text!r} not just once")
    scope: dict[str, Any] = {}
    code = "from __future__ import annotations\n" + source.replace(text, mutant.text)
    tree = ast.parse(code)
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):  # one with arguments enters it in a table
            node.decorator_list = [d for d in node.decorator_list if isinstance(d, ast.Name)]
    exec(compile(tree, f"<{mutant.label}>", "exec"), vars(mutant.term.module), scope)  # noqa: S102
    new, was = _bare(scope[function.__name__]), function.__code__
    function.__code__ = new.__code__
    course._loads.cache_clear()
    try:
        yield
    finally:
        function.__code__ = was
        course._loads.cache_clear()
