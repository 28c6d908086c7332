"""A plan for one person: their overlay laid over the plan's content.

This happens before the content is compiled. So a person's plan is like one edited by hand: it is
stored whole with the session that was run from it, and no later part knows of overlays.

An avoided exercise gives way to its `[swap]`, or is left out. It comes in neither as a substitute
nor by advice, for the person's plan does not have it. The same holds for versions that state an
avoided stress. An avoided word matches a stated stress that equals or contains it: "shoulder"
matches "shoulder overhead", so a short word avoids more (our choice). While a stress is avoided, an
exercise that states none is no substitute.

`reserve` belongs to the person, so it wins over the plan's. Where an exercise or a phase asks for
more in reserve, that holds: nobody comes nearer to failure than their overlay allows, and a lighter
phase stays lighter (our choice).

The order: avoid and swap, sets, limit, reserve, days, start, and last minutes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Final

from msgspec import Struct, field
from msgspec.structs import replace

from runner.errors import MatsideError
from runner.plan.checks import Data, table, tables, text, texts
from runner.plan.compile import compile_session
from runner.plan.faults import KeyFault, Loc, PlanFaults, did_you_mean, near, quoted
from runner.plan.file import parse_content, plan_of_content, read_content
from runner.plan.library import find_plan, plan_titled
from runner.plan.models import Plan
from runner.plan.overlay import MOST_SETS, Overlay, plan_meant, read_overlay
from runner.plan.shelf import Content, as_text, only_used
from runner.plan.values import DAYS, LONGEST_ID
from runner.planning.shorten import fit_session
from runner.progress.adjust import begin_course
from runner.text import clock, how_many

_MISSPELT: Final = 0.8  # least likeness of a stress to one that is stated; our choice


# Laying the overlay over a plan.


class Difference(Struct):
    """One difference from the shared plan."""

    text: str  # one line with the overlay's key
    where: list[tuple[str, str]] = field(default_factory=list)  # session and `4 sets`
    sets: list[tuple[str, int]] = field(
        default_factory=list
    )  # exercise and the sets it gains or loses

    @property
    def line(self) -> str:
        """The difference, with the sessions that it changes."""
        by_session: dict[str, list[str]] = {}
        for session, said in self.where:
            by_session.setdefault(session, []).append(said)
        where = "; ".join(f"{name} {', '.join(said)}" for name, said in by_session.items())
        return f"{self.text} ({where})" if where else self.text


class OverlaidContent(Struct):
    """A plan's content with an overlay laid over it."""

    data: Data
    differences: list[Difference]
    unstated: tuple[str, ...]  # exercises that state no stress, where one is avoided
    nowhere: tuple[str, ...]  # avoided stresses that no exercise states
    minutes: float | None = None  # seconds to which sessions were shortened

    def of_session(self, session: str) -> list[str]:
        """The lines about a session: how it was shortened, and what else differs."""
        here = [one for one in self.differences if any(name == session for name, _ in one.where)]
        found = []
        for one in here:
            said = ", ".join(text for name, text in one.where if name == session)
            found.append(f"{one.text} ({said})")
        return found


def apply_overlay(data: Data, overlay: Overlay, *, whole: bool) -> OverlaidContent:
    """The content of a valid plan for one person; `whole` where the overlay is of this plan.

    `data` includes what the plan takes from shelves, and is not changed. Raises PlanFaults with
    rows of the overlay.
    """
    edit = _OverlayEdit(_copied(data), overlay, whole=whole)
    if whole and (key_faults := list(edit.references())):
        raise overlay.faults(key_faults)
    edit.do()
    return OverlaidContent(edit.data, edit.differences, edit.unstated, edit.nowhere)


def _copied(value: Any) -> Any:
    """Tables and lists anew: as `copy.deepcopy`, in a fifth of its time."""
    if isinstance(value, dict):
        return {key: _copied(one) for key, one in value.items()}
    return [_copied(one) for one in value] if isinstance(value, list) else value


class _OverlayEdit:
    def __init__(self, data: Data, overlay: Overlay, *, whole: bool) -> None:
        self.data, self.overlay, self._whole = data, overlay, whole
        self.exercises: Data = table(data.get("exercise"))
        self.differences: list[Difference] = []
        self._by_key: dict[str, Difference] = {}
        stated = {word for one in self.exercises.values() for word in _all_stresses(one)}
        self._stated = sorted(stated)
        self.nowhere = tuple(
            one for one in overlay.avoid_stress if not any(_in(one, word) for word in stated)
        )
        self.unstated: tuple[str, ...] = ()
        self._avoided: dict[str, str] = {}  # exercise: reason
        self._gone: dict[str, dict[str, str]] = {}  # exercise: version: reason
        self._look()

    def _look(self) -> None:
        """Find what is avoided among the exercises."""
        avoid = self.overlay.avoid_stress
        for name, one in self.exercises.items():
            if name in self.overlay.avoid_exercise:
                self._avoided[name] = f"avoid.exercise {name}"
                continue
            versions = [version for _, version in tables(one.get("version"))]
            hit = {
                text(version.get("id")): f"avoid.stress {found}"
                for version in versions
                if (found := _hit(version.get("stress", one.get("stress")), avoid))
            }
            for harder in self._over_the_limit(name):
                hit.setdefault(harder, f"limit.{name}")
            if len(hit) == len(versions):
                self._avoided[name] = next(iter(hit.values()))
            elif hit:
                self._gone[name] = hit

    def _over_the_limit(self, name: str) -> list[str]:
        """The versions that are harder than the overlay's limit."""
        ids, limit = self._ids(name), self.overlay.limit.get(name)
        return ids[ids.index(limit) + 1 :] if self._whole and limit in ids else []

    # Unknown ids and words.

    def references(self) -> Iterator[KeyFault]:
        overlay = self.overlay
        for number, name in enumerate(overlay.avoid_exercise):
            yield from self._known(("avoid", "exercise", number), name)
        for number, word in enumerate(overlay.avoid_stress):
            meant = near(word, self._stated, _MISSPELT) if word in self.nowhere else None
            if meant is not None:
                wrong = f"no exercise states {quoted(word)}"
                yield KeyFault(("avoid", "stress", number), wrong, f"did you mean {quoted(meant)}?")
        for name, other in overlay.swap.items():
            yield from self._known(("swap", name), name)
            yield from self._known(("swap", name), other)
            if other in self._avoided:
                wrong = f"{quoted(other)} is avoided ({self._avoided[other]})"
                yield KeyFault(("swap", name), wrong, "write another exercise")
            elif other == name:
                wrong = "an exercise cannot replace itself"
                yield KeyFault(("swap", name), wrong, "write another exercise")
        for name in overlay.sets:
            yield from self._known(("sets", name), name)
        for key, of in (("limit", overlay.limit), ("start", overlay.start)):
            for name, wanted in of.items():
                yield from self._known((key, name), name)
                yield from self._version((key, name), name, wanted.partition(":")[0].strip())

    def _known(self, loc: Loc, name: str) -> Iterator[KeyFault]:
        if name not in self.exercises:
            wrong = f"unknown exercise {quoted(name, LONGEST_ID)}"
            yield KeyFault(loc, wrong, did_you_mean(name, list(self.exercises)))

    def _version(self, loc: Loc, name: str, wanted: str) -> Iterator[KeyFault]:
        ids = self._ids(name)
        if ids and wanted not in ids:
            wrong = f"{name} has no version {quoted(wanted, LONGEST_ID)}"
            yield KeyFault(loc, wrong, did_you_mean(wanted, ids))
        if loc[0] == "start" and wanted in self._over_the_limit(name):
            wrong = f"{quoted(wanted)} is harder than the limit {self.overlay.limit[name]}"
            yield KeyFault(loc, wrong, "write an easier version, or another limit")

    def _ids(self, name: str) -> list[str]:
        versions = tables(table(self.exercises.get(name)).get("version"))
        return [text(version.get("id")) for _, version in versions]

    # The differences.

    def do(self) -> None:
        self._say_avoided()
        self._swapped()
        if self._whole:
            self._more_or_fewer()
            self._limited()
        self._without_versions()
        self._remove_unused()
        if self._whole:
            self._settings()

    def _note(self, key: str, said: str) -> Difference:
        found = self._by_key.get(key)
        if found is None:
            found = self._by_key[key] = Difference(said)
            self.differences.append(found)
        return found

    def _items(self) -> Iterator[tuple[str, list[Data]]]:
        """The items of each block with their session's id."""
        for _, session in tables(self.data.get("session")):
            for _, block in tables(session.get("block")):
                yield text(session.get("id")), block["do"]

    def _say_avoided(self) -> None:
        done = {text(item.get("exercise")) for _, items in self._items() for item in items}
        named = (texts(table(self.exercises.get(name)).get("instead")) for name in done)
        offered = {other for of in named for _, other in of} - done
        for name, why in self._avoided.items():
            if name in done and name not in self.overlay.swap:
                self._note(f"avoid {name}", f"{why}: {name} is left out")
            elif name in offered:
                self._note(f"avoid {name}", f"{why}: {name} is no substitute")

    def _swapped(self) -> None:
        for session, items in self._items():
            here = {text(item.get("exercise")) for item in items}
            kept = []
            for item in items:
                name, sets = item["exercise"], item["sets"]
                other = self._other(name)
                if other is not None and other not in here:
                    here.add(other)
                    note = self._note(f"swap {name}", f"swap.{name}: {other} in its place")
                    note.sets += [(name, -sets), (other, sets)]
                    own = {key: value for key, value in item.items() if key != "versions"}
                    kept.append(own | {"exercise": other})
                elif other is not None or name in self._avoided:
                    why = self._avoided.get(name, f"swap.{name}")
                    already = "" if other is None else f", for its block has {other} already"
                    note = self._note(
                        f"avoid {name}{already}", f"{why}: {name} is left out{already}"
                    )
                    note.sets.append((name, -sets))
                else:
                    kept.append(item)
                    continue
                note.where.append((session, _sets_text(sets)))
            items[:] = kept

    def _other(self, name: str) -> str | None:
        """The substitute of an exercise that is left out."""
        other = self.overlay.swap.get(name)
        usable = other in self.exercises and other not in self._avoided
        return other if usable and (self._whole or name in self._avoided) else None

    def _more_or_fewer(self) -> None:
        for session, items in self._items():
            for item in items:
                name, was = item["exercise"], item["sets"]
                wanted = self.overlay.sets.get(name)
                if wanted is None:
                    continue
                step = wanted[0] in "+-"
                now = min(max(was + int(wanted) if step else int(wanted), 1), MOST_SETS)
                _resize(item, now)
                note = self._note(f"sets {name}", f"sets.{name} {wanted}")
                note.where.append((session, f"{_sets_text(now)}, not {was}"))
                note.sets.append((name, now - was))

    def _limited(self) -> None:
        for name, version in self.overlay.limit.items():
            harder = self._over_the_limit(name)
            said = f"without {', '.join(harder)}" if harder else "it has no harder version"
            self._note(f"limit {name}", f"limit.{name} {version}: {said}")

    def _without_versions(self) -> None:
        for name, gone in self._gone.items():
            one = self.exercises[name]
            one["version"] = [v for v in one["version"] if v["id"] not in gone]
            for why in dict.fromkeys(gone.values()):
                if why.startswith("avoid"):
                    ids = ", ".join(v for v, because in gone.items() if because == why)
                    self._note(f"{why} {name}", f"{why}: {name} without {ids}")
        for session, items in self._items():
            for item in list(items):
                self._named(session, items, item)

    def _named(self, session: str, items: list[Data], item: Data) -> None:
        """Replace or leave out the versions that a plan's sets name and the overlay forbids."""
        name = item["exercise"]
        gone, named = self._gone.get(name, {}), item.get("versions")
        if not gone or not named:
            return
        limit, present = self.overlay.limit.get(name), set(self._ids(name))
        kept = []
        for version in named:
            if version in present:
                kept.append(version)
            elif gone.get(version) == f"limit.{name}" and limit in present:
                kept.append(str(limit))
        lost = len(named) - len(kept)
        if kept:
            item["versions"], item["sets"] = kept, len(kept)
        else:
            items.remove(item)
        if lost:
            note = self._note(f"versions {name}", f"{name}: sets of versions that are avoided")
            note.where.append((session, f"{_sets_text(lost)} left out"))
            note.sets.append((name, -lost))

    def _remove_unused(self) -> None:
        """Remove what no set uses any more, and blocks and sessions that became empty."""
        for name in self._avoided:
            del self.exercises[name]
        if self.overlay.avoid_stress:
            self.unstated = tuple(
                name for name, one in self.exercises.items() if not _all_stresses(one)
            )
        out = {*self._avoided, *self.unstated}
        for one in self.exercises.values():
            if "instead" in one:
                one["instead"] = [other for _, other in texts(one["instead"]) if other not in out]
        sessions = []
        for _, session in tables(self.data.get("session")):
            session["block"] = [block for _, block in tables(session["block"]) if block["do"]]
            if session["block"]:
                sessions.append(session)
            else:
                self._note(f"session {session['id']}", f"session {session['id']} has no exercise")
        self.data["session"] = sessions
        if not sessions:
            wrong = "no exercise of the plan remains"
            raise self.overlay.faults(
                [KeyFault(("avoid",), wrong, "write a [swap], or avoid less")]
            )

    def _settings(self) -> None:
        overlay = self.overlay
        if overlay.reserve is not None:
            was = table(self.data.get("effort")).get("reserve", 2)
            self.data["effort"] = {**table(self.data.get("effort")), "reserve": overlay.reserve}
            for one in self.exercises.values():  # also raises a lower reserve of single exercises
                if "reserve" in one:
                    one["reserve"] = max(one["reserve"], overlay.reserve)
            for _, phase in tables(self.data.get("phase")):
                if "reserve" in phase:
                    phase["reserve"] = max(phase["reserve"], overlay.reserve)
            self._note("reserve", f"reserve {overlay.reserve}, not {was}")
        if overlay.days:
            days = [day for day in DAYS if day in overlay.days]
            week = table(self.data.get("week"))
            self.data["week"] = {**week, "days": days, "sessions": [len(days)] * 2}
            self._note("days", f"days {', '.join(days)}: {how_many(len(days), 'session')} a week")
        for name, level in overlay.start.items():
            if name in self.exercises:
                self.exercises[name]["first_level"] = level
                self._note(f"start {name}", f"start.{name} {level}, where there is no level yet")


def shorten(data: Data, plan: Plan, seconds: float) -> list[Difference]:
    """Shorten a plan's sessions to the person's minutes; changes its `data`.

    By the timing law at the plan's own levels, and by priority: see `runner.planning.shorten`.
    """
    found = []
    for session in data["session"]:
        workout = compile_session(plan, session["id"])
        fit = fit_session(begin_course(workout), seconds)
        session["minutes"] = seconds
        note = Difference(f"minutes {clock(seconds)}: ")
        for one in fit.left_out:
            block = session["block"][one.block - 1]
            item = next(item for item in block["do"] if item["exercise"] == one.exercise)
            if one.sets == one.of:
                block["do"].remove(item)
            else:
                _resize(item, one.of - one.sets)
            said = f"{one.exercise} {one.sets} of {_sets_text(one.of)}"
            note.where.append((session["id"], said))
            note.sets.append((one.exercise, -one.sets))
        session["block"] = [block for block in session["block"] if block["do"]]
        note.text += f"session {session['id']} takes {clock(fit.before)}"
        note.text += f", {clock(fit.end)} when shortened" if fit.left_out else ""
        note.text += "" if fit.fits else " (it gets no shorter)"
        found.append(note)
    return found


def _resize(item: Data, sets: int) -> None:
    """Set another number of work sets; added sets get the last version named."""
    item["sets"] = sets
    if named := item.get("versions"):
        item["versions"] = [*named, *named[-1:] * (sets - len(named))][:sets]


def _all_stresses(exercise: Data) -> list[str]:
    """What an exercise states, in any version."""
    versions = [version for _, version in tables(exercise.get("version"))]
    return [word for one in (exercise, *versions) for _, word in texts(one.get("stress"))]


def _hit(stated: object, avoided: Iterable[str]) -> str:
    """The first avoided word that matches a stated stress; empty where none does."""
    words = [word for _, word in texts(stated)]
    return next((one for one in avoided if any(_in(one, word) for word in words)), "")


def _in(avoided: str, stated: str) -> bool:
    return set(avoided.casefold().split()) <= set(stated.casefold().split())


def _sets_text(sets: int) -> str:
    return how_many(sets, "set")


# Reading a plan for a person.


class PersonalPlan(Struct, frozen=True):
    """A plan for one person."""

    plan: Plan
    kept: str | Data  # its text or content: with the overlay, and with what it takes from shelves
    shared: Plan  # without the overlay
    overlay: Overlay | None = None
    overlaid: OverlaidContent | None = None  # what the overlay changes; None without one

    @property
    def text(self) -> str:
        """The plan as a session stores it."""
        return self.kept if isinstance(self.kept, str) else as_text(self.kept)

    @property
    def minutes(self) -> float | None:
        """Seconds that the person has for a session of this plan."""
        return None if self.overlaid is None or self.overlay is None else self.overlaid.minutes


def read_for(path: Path, data_dir: Path, trainee: str) -> PersonalPlan:
    """The plan in a file for one person, by their overlay; raises like `read_plan`, for both files.

    Without an overlay it is the shared plan.
    """
    overlay = read_overlay(data_dir, trainee)
    return _for_one(path, data_dir, overlay, read_content(path, data_dir))


def _for_one(
    path: Path, data_dir: Path, overlay: Overlay | None, read: tuple[Plan, str, Content]
) -> PersonalPlan:
    """A plan as read, for the person of the overlay."""
    shared, text, content = read
    if overlay is None:
        return PersonalPlan(shared, text, shared)
    whole = overlay.is_of(path)
    if not whole:
        plan_meant(overlay, data_dir)
    overlaid = apply_overlay(content.data, overlay, whole=whole)
    plan = shared
    kept: str | Data = text
    if overlaid.data != content.data:
        plan, kept = _plan_with(overlaid, content, overlay)
    if whole and overlay.minutes is not None:
        overlaid.differences += shorten(overlaid.data, plan, overlay.minutes)
        overlaid.minutes = overlay.minutes
        plan, kept = _plan_with(overlaid, content, overlay)
    return PersonalPlan(plan, kept, shared, overlay, overlaid)


def to_choose_from(
    text: str, path: Path, data_dir: Path, trainee: str
) -> tuple[Plan, Overlay | None]:
    """What of a plan's text a person may do: without what they avoid, and within their limits.

    The overlay's other keys belong to its own plan. While a stress is avoided, exercises that state
    none are left out too.
    """
    plan, content = parse_content(text, path, data_dir)
    overlay = read_overlay(data_dir, trainee)
    if overlay is None:
        return plan, None
    there = plan.exercise
    limits = {
        name: limit
        for name, limit in overlay.limit.items()
        if name in there and limit in {version.id for version in there[name].version}
    }
    avoids = replace(
        overlay,
        reserve=None,
        days=(),
        avoid_exercise=tuple(name for name in overlay.avoid_exercise if name in there),
        swap={},
        sets={},
        limit=limits,
        start={},
    )
    overlaid = apply_overlay(content.data, avoids, whole=True)
    for _, session in tables(overlaid.data["session"]):
        for _, block in tables(session["block"]):
            block["do"] = [one for one in block["do"] if one["exercise"] not in overlaid.unstated]
        session["block"] = [block for block in session["block"] if block["do"]]
    return _plan_with(overlaid, content, overlay)[0], overlay


class ManyPeople:
    """The plans of a data directory for several people in turn, each file read once.

    People whose overlays say the same of a plan share one.
    """

    def __init__(self, data_dir: Path) -> None:
        self._data_dir = data_dir
        self._paths: dict[str, Path | None] = {}  # by title
        self._read: dict[Path, tuple[Plan, str, Content]] = {}
        self._plans: dict[tuple[Path, str], Plan | None] = {}  # by file and overlay

    def plan_of(self, trainee: str, title: str) -> Plan | None:
        """The plan of a title for a person; None where no overlay of theirs applies to it.

        None too where one of the files has a fault: that is no reason to stop a list of people, and
        `run` says what is wrong.
        """
        try:
            overlay = read_overlay(self._data_dir, trainee)
            path = None if overlay is None else self._path_of(title)
            if overlay is None or path is None:
                return None
            key = (path, repr(replace(overlay, path=Path(), text="")))
            if key not in self._plans:
                self._plans[key] = None  # None where the file has a fault
                if path not in self._read:
                    self._read[path] = read_content(path, self._data_dir)
                found = _for_one(path, self._data_dir, overlay, self._read[path])
                self._plans[key] = found.plan
            return self._plans[key]
        except MatsideError:
            return None

    def _path_of(self, title: str) -> Path | None:
        if title not in self._paths:
            typed = plan_titled(title, self._data_dir)
            self._paths[title] = find_plan(typed, self._data_dir) if typed else None
        return self._paths[title]


def _plan_with(overlaid: OverlaidContent, content: Content, overlay: Overlay) -> tuple[Plan, Data]:
    """The plan with an overlay, and its content."""
    data = only_used(replace(content, data=overlaid.data))
    try:
        return plan_of_content(data, str(overlay.path)), data
    except PlanFaults as faults:  # a fault that no single key of the overlay causes
        found = [
            KeyFault(
                ("start", one.place.split(".")[1]) if one.place.endswith(".first_level") else (),
                one.wrong,
                one.remedy,
            )
            for one in faults.faults
        ]
        raise overlay.faults(found) from None
