"""What charts must show, counted from an exported CSV of sets, and what drawn charts do show.

The oracle of `test_charts`: it knows the CSV's columns, the ISO calendar and how a chart is
read, and imports nothing of the program.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from xml.etree import ElementTree as ET

Set = tuple[date, int, float]  # day, which of the work sets, count
WEEK = re.compile(
    r"(\d{4})-W(\d\d)(?: to (?:(\d{4})-)?W(\d\d))? +([\d.]+) "
    r"(?:too little|under|within|over|nothing done)(?: \(part\))? *│(.*)$"
)
SCALE = re.compile(r" *(\d{4}-\d\d-\d\d)(?: to \d{4}-\d\d-\d\d)?$")
SVG = "{http://www.w3.org/2000/svg}"


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def day_of(row: dict[str, str]) -> date:
    return date.fromisoformat(row["session_start"][:10])


def monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def weekly(rows: list[dict[str, str]]) -> dict[tuple[date, str], float]:
    """(Monday, muscle) -> sets: work sets done, both sides one, a prime mover 1, else a half."""
    found: dict[tuple[date, str], float] = {}
    seen = set()
    for row in rows:
        key = (row["session_id"], row["exercise"], row["set"])
        if (row["kind"], row["status"]) == ("work", "done") and key not in seen:
            seen.add(key)
            prime = set(filter(None, row["prime_movers"].split(";")))
            for muscle in prime | set(filter(None, row["synergists"].split(";"))):
                where = (monday(day_of(row)), muscle)
                found[where] = found.get(where, 0.0) + (1.0 if muscle in prime else 0.5)
    return found


def trends(rows: list[dict[str, str]]) -> dict[str, list[Set]]:
    """Exercise -> its work sets done with a count; of two sides the mean."""
    planned: dict[tuple[str, str], set[int]] = {}
    counts: dict[tuple[str, str, int], list[float]] = {}
    days = {row["session_id"]: day_of(row) for row in rows}
    for row in rows:
        if row["kind"] == "work":
            planned.setdefault((row["session_id"], row["exercise"]), set()).add(int(row["set"]))
            count = row["reps"] or row["hold_s"]
            if row["status"] == "done" and count:
                key = (row["session_id"], row["exercise"], int(row["set"]))
                counts.setdefault(key, []).append(float(count))
    found: dict[str, list[Set]] = {}
    for (session, exercise, number), sides in counts.items():
        place = sorted(planned[session, exercise]).index(number) + 1
        one = (days[session], place, sum(sides) / len(sides))
        found.setdefault(exercise, []).append(one)
    return found


# Charts of text


def weeks_drawn(text: str) -> dict[str, list[tuple[date, float, float]]]:
    """Muscle -> for every week its Monday, the number in the label and the length of the bar."""
    found: dict[str, list[tuple[date, float, float]]] = {}
    waiting: list[tuple[list[date], float, str]] = []
    muscle = ""
    for line in text.splitlines():
        if "   sets in each week" in line:
            muscle = line.partition("   ")[0]
        elif muscle and (bar := WEEK.match(line)):
            year, week, last_year, last, value, drawn = bar.groups()
            first = date.fromisocalendar(int(year), int(week), 1)
            end = first if not last else date.fromisocalendar(int(last_year or year), int(last), 1)
            run = [first + timedelta(weeks=n) for n in range((end - first).days // 7 + 1)]
            waiting.append((run, float(value), drawn))
        elif muscle and (block := re.match(r" +█ is ([\d.]+) sets?$", line)):
            size = float(block[1])
            found[muscle] = [
                (one, value, size * (drawn.count("█") + drawn.count("▌") / 2))
                for run, value, drawn in waiting
                for one in run
            ]
            waiting, muscle = [], ""
    return found


def trends_drawn(text: str) -> Iterator[tuple[str, set[tuple[date, float]]]]:
    """(name of the exercise, the day and the count of every dot of its panels)."""
    lines = text.splitlines()
    for at, line in enumerate(lines):
        if not line.endswith("another level"):
            continue
        name = next(
            before.partition("   ")[0]
            for before in reversed(lines[:at])
            if before and not before.startswith(" ")
        )
        found: set[tuple[date, float]] = set()
        rows: list[tuple[float, float, str]] = []
        for row in lines[at + 1 :]:
            if (drawn := re.match(r" *([\d.]+)-([\d.]+) │(.*)$", row)) is not None:
                rows.append((float(drawn[1]), float(drawn[2]), drawn[3]))
            elif (scale := SCALE.match(row)) is not None:  # the last line of a panel
                found |= set(_dots(rows, date.fromisoformat(scale[1])))
                rows = []
            elif not row or "on   " in row:
                break
        yield name, found


def _dots(rows: list[tuple[float, float, str]], first: date) -> Iterator[tuple[date, float]]:
    """The dots of braille signs: by Unicode, bits 0 to 2 and 6 of the left column from the top."""
    for low, high, signs in rows:
        for column, sign in enumerate(signs):
            bits = 0 if sign == " " else ord(sign) - 0x2800
            for right, places in enumerate(((0, 1, 2, 6), (3, 4, 5, 7))):
                for down, bit in enumerate(places):
                    if bits >> bit & 1:
                        day = first + timedelta(days=2 * column + right)
                        yield day, round(high - down * (high - low) / 3, 6)


# Pictures


def _numbers(element: ET.Element, *names: str) -> list[float]:
    return [float(element.get(name, "")) for name in names]


class Picture:
    """A picture's own axes, read from the texts beside them."""

    @classmethod
    def read(cls, path: Path) -> Picture:
        """The whole of a file."""
        return cls(ET.fromstring(path.read_text(encoding="utf-8")))  # noqa: S314 - our own file

    @classmethod
    def panels(cls, path: Path) -> dict[str, Picture]:
        """The parts of a picture of many muscles, by muscle: each has its own axis."""
        root = ET.fromstring(path.read_text(encoding="utf-8"))  # noqa: S314 - our own file
        groups = (group for group in root.iter(f"{SVG}g") if group.get("data-muscle"))
        return {group.get("data-muscle", ""): cls(group) for group in groups}

    def __init__(self, root: ET.Element) -> None:
        self.root = root
        self.title = self.root.findtext(f"{SVG}title", "")
        texts = list(self.root.iter(f"{SVG}text"))
        level = [
            (float(t.text or ""), float(t.get("y", "")) - 4)
            for t in texts
            if t.get("text-anchor") == "end"
        ]
        (v0, y0), (v1, y1) = level[0], level[-1]
        self._value = lambda y: v0 + (y - y0) * (v1 - v0) / (y1 - y0)
        self.precise = abs(0.15 * (v1 - v0) / (y1 - y0))  # of a tenth of a unit on the picture
        self._days = [
            (date.fromisoformat(t.text or ""), float(t.get("x", "")))
            for t in texts
            if t.get("text-anchor") == "middle" and re.fullmatch(r"[-\d]{10}", t.text or "")
        ]

    def bars(self) -> Iterator[tuple[str, float]]:
        """(what it is called, its height as a value), from left to right."""
        for rect in self.root.iter(f"{SVG}rect"):
            name = rect.findtext(f"{SVG}title")
            if name is not None:
                top, height = _numbers(rect, "y", "height")
                yield name, self._value(top) - self._value(top + height)

    def points(self) -> Iterator[tuple[str, date, float]]:
        """(what it is called, the day and the value of its place)."""
        for shape in (*self.root.iter(f"{SVG}circle"), *self.root.iter(f"{SVG}polygon")):
            name = shape.findtext(f"{SVG}title")
            if name is None:
                continue  # of the legend
            if shape.tag == f"{SVG}circle":
                x, y = _numbers(shape, "cx", "cy")
            else:
                corners = [tuple(map(float, c.split(","))) for c in shape.get("points", "").split()]
                x = sum(c[0] for c in corners) / len(corners)
                y = min(c[1] for c in corners) + (4 if self._square(corners) else 5)
            yield name, self._day(x), self._value(y)

    @staticmethod
    def _square(corners: list[tuple[float, ...]]) -> bool:
        return len(corners) == 4 and len({c[0] for c in corners}) == 2

    def _day(self, x: float) -> date:
        (d0, x0), (d1, x1) = self._days[0], self._days[-1]
        days = 0.0 if d0 == d1 else (x - x0) * (d1 - d0).days / (x1 - x0)
        return d0 + timedelta(days=round(days))
