"""Somebody of the winter crew with a few weeks on file, and what their sheet says, read back."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path

from runner.cli.main import main
from runner.output import record_path
from runner.plan.file import read_whole
from runner.plan.library import find_plan
from runner.record.record import Record
from tests.reports.year import Person

PLAN = "kestrel-hut"


LATELY = (17, 12, 10, 8, 5, 3)


def weeks_on_file(data: Path, name: str = "Ada", *, days_ago: tuple[int, ...] = LATELY) -> None:
    """Sessions A, B, C in turn, so many days ago at seven in the morning."""
    _, text = read_whole(find_plan(PLAN, data), data)
    now = datetime.now().astimezone().replace(hour=7, minute=0, second=0, microsecond=0)
    with Record.open(record_path(data, trial=False)) as record:
        person = Person(record, name, seed=4, hardest=0.4)
        for number, ago in enumerate(days_ago):
            person.train(text, "ABC"[number % 3], now - timedelta(days=ago))


def sheet(
    data: Path, *more: str, plan: str = PLAN, name: str = "Ada", to: Path | None = None
) -> Path:
    """The file that `matside sheet` writes."""
    file = to or data / "sheet.html"
    words = ["sheet", plan, "--for", name, "-o", str(file), "--force", "--data", str(data), *more]
    assert main(words) == 0
    return file


@dataclass
class Element:
    """An element of a page: what it is, its text, and what stands in it."""

    tag: str
    attributes: dict[str, str]
    parts: list[Element | str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """Its whole text, single spaces."""
        found = (part if isinstance(part, str) else part.text for part in self.parts)
        return " ".join("".join(found).split())

    def all(self, wanted: str) -> list[Element]:
        """Every element inside it of a tag, or of a `.class`, in order."""
        found = []
        for part in self.parts:
            if isinstance(part, Element):
                classes = part.attributes.get("class", "").split()
                if part.tag == wanted or (wanted[:1] == "." and wanted[1:] in classes):
                    found.append(part)
                found += part.all(wanted)
        return found

    def one(self, wanted: str) -> Element:
        """The only one."""
        (found,) = self.all(wanted)
        return found


class _Reader(HTMLParser):
    _VOID = frozenset({"meta", "input", "br"})

    def __init__(self) -> None:
        super().__init__()
        self.root = Element("", {})
        self._open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        made = Element(tag, {name: value or "" for name, value in attrs})
        self._open[-1].parts.append(made)
        if tag not in self._VOID:
            self._open.append(made)

    def handle_endtag(self, tag: str) -> None:
        if tag not in self._VOID:
            assert self._open.pop().tag == tag, f"</{tag}> closes something else"

    def handle_data(self, data: str) -> None:
        self._open[-1].parts.append(data)


def read(file: Path) -> Element:
    """The page as elements; every element has to be closed as HTML asks for."""
    reader = _Reader()
    reader.feed(file.read_text(encoding="utf-8"))
    reader.close()
    assert reader._open == [reader.root]
    return reader.root
