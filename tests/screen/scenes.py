"""Scenes of a morning at Kestrel Hut, as views of the screen."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec.structs import replace

from runner.screen.view import Bout, Recovery, View
from runner.session.count_field import Asked, EntryLine
from runner.text import Line

PRESS = Bout(
    name="Standing band press",
    short="PRESS",
    side="both",
    number=3,
    sets=4,
    gear="stepping out · anchor 140 cm · 2-0-1",
    aim="8 to 30, stop with 2 in reserve",
    to_beat="12",
    bottom="8",
    cues=("Ribs down", "Elbows at forty-five degrees"),
    caution="Look the band over for cracks before every session.",
)
ROW = Bout(
    name="Rucksack row",
    short="ROW",
    side="left",
    number=2,
    sets=4,
    gear="slow · 12 kg",
    change="load 10 kg to 12 kg",
    aim="8 to 30, stop with 2 in reserve",
    to_beat="11",
    bottom="8",
    cues=("Elbow along the ribs",),
    caution="Set the rucksack down between your feet.",
)
PLANK = Bout(
    name="Plank on the bench",
    short="PLANK",
    side="both",
    number=1,
    sets=3,
    gear="hands on the bench · height 60 cm",
    aim="10 to 60 s",
    to_beat="45",
    bottom="10",
    hold=True,
    block=2,
    new_block=True,
    cues=("Squeeze the glutes",),
)
FIRST = replace(PRESS, number=1, to_beat="", cues=("Ribs down",))
ASKED = Asked("PRESS 2", "reps", suggestion=12, top=30, best=12)
OPEN = EntryLine(ASKED)
BASE = View(
    "rest",
    plan="Kestrel Hut, morning",
    session="Morning",
    trainee="Ilka",
    block=1,
    blocks=3,
    sets_done=3,
    sets_all=18,
    left_s=1450,
    done=(("PRESS", "14, 13"), ("ROW", "12/11")),
)
REST = replace(
    BASE,
    seconds=35,
    span_s=45,
    bout=ROW,
    recoveries=(Recovery("upper back", "left", 85, 120),),
    entry=OPEN,
)


def _text(*lines: str) -> tuple[Line, ...]:
    return tuple(((line, "ink"),) if line else () for line in lines)


READY_SHEET = _text(
    "Session A, the one after C. About 31 minutes, 18 sets.",
    "",
    "Set up: low bar at the third notch. Hang from it with your full weight before the first set.",
    "Set up: bench, 60 cm.",
    "",
    "Last time, 22 November: PRESS 12, 12, 11 · ROW 11/11, 10/10",
    "",
    "Can you read this from the mat, did you hear this? Press t and try.",
    "",
    "Clear the floor two steps around the post.",
    "Stop at once for pain in the chest, neck, jaw or arm, and seek help.",
    "",
    "Body mass today: not given: m b.",
    "",
    "Space begins.",
)
SCENES: Mapping[str, View] = {
    "ready": replace(BASE, phase="ready", sheet=READY_SHEET),
    "tryout": replace(
        BASE,
        phase="ready",
        tryout=True,
        seconds=3,
        bout=FIRST,
        message="Can you read this from the mat, did you hear this? Keys seen: 1.",
    ),
    "warm-up": replace(
        BASE,
        phase="warm-up",
        seconds=160,
        span_s=180,
        bout=FIRST,
        sets_done=0,
        done=(),
        moves=("Arm circles", "Easy rows without the rucksack"),
    ),
    "rest": REST,
    "rest-typed": replace(REST, entry=OPEN.type("14/2")),
    "rest-remote": replace(REST, entry=OPEN.open().step(1)),
    "rest-refused": replace(REST, entry=OPEN.type("1e9").save()[0]),
    "rest-doubted": replace(REST, entry=OPEN.type("27").save()[0]),
    "rest-last-seconds": replace(
        REST, seconds=3, entry=None, message="PRESS, set 2: 14 saved, 12 to beat: beaten."
    ),
    "rest-waits": replace(REST, seconds=0, waits=True, entry=None),
    "set": replace(BASE, phase="set", seconds=23, bout=PRESS),
    "set-first": replace(BASE, phase="set", seconds=5, bout=FIRST, done=()),
    "hold": replace(BASE, phase="set", seconds=30, span_s=45, bout=PLANK, block=2),
    "hold-past-mark": replace(
        BASE, phase="set", seconds=52, span_s=45, over_s=7, bout=PLANK, block=2
    ),
    "paused": replace(REST, phase="paused", seconds=75, entry=None),
    "not-kept": replace(
        BASE, phase="set", seconds=23, bout=PRESS, notice="Not kept: the record cannot be written."
    ),
    "wrap-up": replace(
        BASE,
        phase="wrap-up",
        seconds=100,
        span_s=120,
        sets_done=18,
        left_s=None,
        moves=("Walk a round of the hut",),
        sheet=_text(
            "PRESS 14, 13, 13, 12 · ROW 12/11, 12/11, 11/11, 10/10 · PLANK 52, 50, 48 s",
            "",
            "How hard was it, 0 to 10? Press r. A note: n.",
        ),
    ),
    "closed": replace(
        BASE, phase="closed", sheet=_text("Kept. 18 of 18 sets, 31 minutes.", "", "Space leaves.")
    ),
}
