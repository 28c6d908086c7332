"""Six weeks of a coach with three trainees on four data directories, as one story.

Ada trains with a laptop of her own, Ben with a phone and paper, Cem at the hut's laptop, which
others use too. The coach has the fourth. Every command that somebody types is counted; sessions at
a laptop are `run` by a stand-in that is as fast as the machine.
"""

from __future__ import annotations

import io
import json
import shlex
from collections import Counter
from datetime import datetime, timedelta
from pathlib import Path
from unittest.mock import patch

from runner.cli.main import main
from runner.output import record_path
from runner.record.record import Record
from tests.reports.winter import PLAN
from tests.reports.year import Person
from tests.sheet.crew import read

TODAY = datetime.now().astimezone().replace(hour=6, minute=30, second=0, microsecond=0)
TYPED: Counter[str] = Counter()


def day(week: int, weekday: int) -> datetime:
    """A morning of the six weeks that end yesterday."""
    return TODAY - timedelta(days=42 - 7 * (week - 1) - weekday)


class Place:
    """A data directory, and who sits at it."""

    def __init__(self, data: Path, who: str) -> None:
        self.data, self.who = data, who
        data.mkdir(mode=0o700)

    def type(self, line: str, *, lines: str = "", code: int = 0) -> str:
        """A command, as somebody types it here; what it says."""
        TYPED[self.who] += 1
        typed = io.TextIOWrapper(io.BytesIO(lines.encode()), encoding="utf-8")
        said = io.BytesIO()
        out = io.TextIOWrapper(said, encoding="utf-8", newline="", write_through=True)
        with patch("sys.stdin", typed), patch("sys.stdout", out), patch("sys.stderr", out):
            found = main([*shlex.split(line), "--data", str(self.data)])
        assert found == code, said.getvalue().decode()
        return said.getvalue().decode()

    def run(self, name: str, session: str, at: datetime) -> None:
        """`matside run dark --for NAME`: a whole session."""
        TYPED[f"{name} run"] += 1
        with Record.open(record_path(self.data, trial=False)) as record:
            Person(record, name, seed=at.toordinal()).train(PLAN, session, at)

    def says(self, name: str) -> list[str]:
        """All that either side would look at."""
        before = TYPED.copy()
        commands = (f"next dark --for {name}", f"review --plain --for {name}",
                    f"export --for {name}", f"export --for {name} --what held")  # fmt: skip
        found = [self.type(line) for line in commands]
        TYPED.clear()
        TYPED.update(before)
        return found


def message(sheet: Path, lines: dict[str, list[tuple[datetime, dict[str, str]]]]) -> str:
    """What Ben's phone copies: by session, for each date, a line an exercise."""
    found = []
    for page in read(sheet).all(".page"):
        levels = {one.attributes["data-key"]: one.attributes["data-level"]
                  for one in page.all(".exercise")}  # fmt: skip
        for at, typed in lines.get(page.attributes["data-session"], ()):
            found += [f"sheet {page.attributes['data-sheet']}", f"on {at:%Y-%m-%d}"]
            found += [f"{key}={levels[key]} {text}" for key, text in typed.items()]
    return "\n".join([*found, ""])


class Story:
    """The four of them, and what goes to and fro."""

    def __init__(self, folder: Path) -> None:
        TYPED.clear()
        names = {"coach": "coach", "ada": "Ada", "hut": "Cem", "ben": "Ben"}
        places = [Place(folder / name, who) for name, who in names.items()]
        self.coach, self.ada, self.hut, self.ben = places
        self.post, self.phone = folder / "post.zip", folder / "ben.html"
        self.folder = folder

    def bring(self, name: str, place: Place) -> str:
        """A trainee's record comes to the coach; what the coach is told."""
        place.type(f"handover --for {name} -o {self.post} --force")
        return self.coach.type(f"receive {self.post} --yes")

    def send(self, name: str, place: Place) -> str:
        """What the coach has goes to a trainee; what they are told."""
        self.coach.type(f"handover --for {name} -o {self.post} --force")
        return place.type(f"receive {self.post} --yes")

    def from_ben(self, lines: dict[str, list[tuple[datetime, dict[str, str]]]]) -> None:
        """A message of Ben's comes to the coach."""
        self.coach.type("log --from - --yes", lines=message(self.phone, lines))

    def the_plan_goes_out(self) -> None:
        """To two laptops as a file, to Ben as a page."""
        (self.coach.data / "plans").mkdir()
        (self.coach.data / "plans" / "dark.toml").write_text(PLAN, encoding="utf-8")
        for name, place in (("Ada", self.ada), ("Cem", self.hut)):
            self.coach.type(f"handover dark --for {name} --plan-only -o {self.post} --force")
            said = place.type(f"receive {self.post} --yes")
            assert f"{name} (new here): 1 new plan" in said
        self.coach.type(f"sheet dark --for Ben -o {self.phone}")

    def two_weeks(self) -> None:
        """Sessions come back. Somebody else trains at the hut's laptop, who is no trainee."""
        for week in (1, 2):
            for turn, session in enumerate("AB"):
                self.ada.run("Ada", session, day(week, 3 * turn))
                self.hut.run("Cem", session, day(week, 3 * turn + 1))
                self.hut.run("Dag", session, day(week, 3 * turn + 2))
        both = {"A": [(day(1, 1), A), (day(2, 1), A)], "B": [(day(1, 4), B), (day(2, 4), B)]}
        self.from_ben(both)
        assert "Ada (new here): 4 sessions" in self.bring("Ada", self.ada)
        assert "Cem (new here): 4 sessions" in self.bring("Cem", self.hut)
        assert "Dag" not in self.coach.type("roster")

    def a_level_of_the_coach(self) -> None:
        """The coach sets a level, and Ada's next session begins with it."""
        on = f"{day(2, 6):%Y-%m-%d}"
        self.coach.type(f"next dark --for Ada --set sack-row=handle:8kg --on {on}")
        assert "1 decision" in self.send("Ada", self.ada)
        self.ada.run("Ada", "A", day(3, 0))
        with Record.open_readonly(record_path(self.ada.data, trial=False)) as record:
            last = record.session_rows(record.sessions(trainee="Ada")[-1].session_id)
        assert {row.load_kg for row in last if row.exercise == "sack-row"} == {8.0}

    def a_correction(self) -> None:
        """Ada puts a count right, and the coach is told which."""
        assert "1 session" in self.bring("Ada", self.ada)
        on = f"{day(3, 0):%Y-%m-%d}"
        self.ada.type(f"log --fix --on {on} --for Ada --yes", lines="3 20\n")
        said = self.bring("Ada", self.ada)
        assert f"1 corrected ({day(3, 0).day} {day(3, 0):%b}, " in said
        assert "→ 20)" in said

    def a_conflict(self) -> None:
        """The coach and Cem decide on a level without knowing of each other; one is answered."""
        self.hut.run("Cem", "A", day(3, 1))
        self.hut.type("next dark --for Cem --set sack-row=handle:6kg")
        self.coach.type("next dark --for Cem --set sack-row=handle:10kg")
        assert "1 conflict" in self.bring("Cem", self.hut)
        self.send("Cem", self.hut)
        assert "conflict: sack-row: handle 10 kg" in " ".join(self.hut.says("Cem")[0].split())
        assert self.hut.says("Cem") == self.coach.says("Cem")
        self.coach.type("next dark --for Cem --set sack-row=handle:8kg")
        self.send("Cem", self.hut)
        assert "conflict" not in self.hut.says("Cem")[0]

    def a_pain(self, editor: str) -> None:
        """A calf of Ben's hurts: the coach leaves it out, by an overlay, and sends a new page."""
        for week in (4, 5):
            for turn, session in enumerate("BA"):
                self.ada.run("Ada", session, day(week, 3 * turn))
                self.hut.run("Cem", session, day(week, 3 * turn + 1))
        hurt = B | {"calf": "15; pain left calf"}
        self.from_ben({"A": [(day(4, 1), A)], "B": [(day(5, 1), hurt)]})
        said = " ".join(self.coach.type("next dark --for Ben").split())
        assert '--edit, and under [avoid] exercise = ["calf"]' in said
        script = self.folder / "editor.sh"
        script.write_text(f'#!/bin/sh\nsed -i {shlex.quote(editor)} "$1"\n', encoding="utf-8")
        script.chmod(0o700)
        with patch.dict("os.environ", {"VISUAL": str(script)}):
            self.coach.type("for Ben --edit")
        self.coach.type(f"sheet dark --for Ben -o {self.phone} --force")
        keys = {one.attributes["data-key"] for one in read(self.phone).all(".exercise")}
        assert keys == {"push-up", "sack-row", "plank"}

    def the_end(self) -> None:
        """The sixth week, and what everybody has at its end. Ben gets a laptop."""
        without = {name: text for name, text in B.items() if name != "calf"}
        self.from_ben({"A": [(day(6, 0), A)], "B": [(day(6, 3), without)]})
        self.ada.run("Ada", "B", day(6, 0))
        self.hut.run("Cem", "B", day(6, 1))
        self.bring("Ada", self.ada)
        self.bring("Cem", self.hut)
        self.send("Ben", self.ben)
        for name, place in (("Ada", self.ada), ("Cem", self.hut), ("Ben", self.ben)):
            mine = place.says(name)
            assert mine == self.coach.says(name)
            assert all(len(text) > 200 for text in mine[:3])
        found = {one["trainee"]: one for one in json.loads(self.coach.type("roster --json"))}
        assert list(found) == ["Ben", "Ada", "Cem"]  # who hurts comes first
        assert found["Ben"]["pain"][0]["where"] == "left calf"


A = {"push-up": "9 8 7", "sack-row": "9|9 8|8 7|7", "plank": "30 25"}
B = {"push-up": "9 8", "sack-row": "9|9 8|8", "calf": "15 14"}


def test_six_weeks(tmp_path: Path) -> None:
    story = Story(tmp_path)
    story.the_plan_goes_out()
    story.two_weeks()
    story.a_level_of_the_coach()
    story.a_correction()
    story.a_conflict()
    story.a_pain('s/^# exercise = .*/exercise = ["calf"]/')
    story.the_end()
    # Beside a `run` for each session at a laptop, so many commands in six weeks.
    sessions = {name: TYPED.pop(f"{name} run") for name in ("Ada", "Cem", "Dag")}
    assert sessions == {"Ada": 10, "Cem": 10, "Dag": 4}
    assert dict(TYPED) == {"coach": 25, "Ada": 7, "Cem": 7, "Ben": 1}
