"""Scenes of a morning at Kestrel Hut, as views of the screen."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec.structs import replace

from runner.screen.view import Bout, MuscleRecovery, RoomyExtras, Section, View
from runner.session.count_field import AskedCount, EntryLine

PRESS = Bout(
    name="Standing band press",
    short="PRESS",
    side="both",
    number=3,
    sets=4,
    setup_line="stepping out · anchor 140 cm · 2-0-1",
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
    setup_line="slow · 12 kg",
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
    setup_line="hands on the bench · height 60 cm",
    aim="10 to 60 s",
    to_beat="45",
    bottom="10",
    hold=True,
    block=2,
    new_block=True,
    cues=("Squeeze the glutes",),
)
LONG = replace(ROW, name="Push-up on one arm", short="PUSH-UP", to_beat="8")
FIRST = replace(PRESS, number=1, to_beat="", cues=("Ribs down",))
ASKED = AskedCount("PRESS 2", "reps", suggestion=12, top=30, best=12)
OPEN = EntryLine(ASKED)
BASE = View(
    "rest",
    plan="Kestrel Hut, morning",
    session="Morning",
    session_id="A",
    trainee="Ilka",
    block=1,
    blocks=3,
    sets_done=3,
    sets_all=18,
    remaining_s=1450,
)
BEYOND = RoomyExtras(
    then=(
        ("0:35", "PRESS 4   stepping out"),
        ("1:00", "PLANK 1   hands on the bench"),
        ("0:40", "PLANK 2   hands on the bench"),
    ),
    lately=(("9 Nov", "10|10 9|9"), ("16 Nov", "11|10 10|9"), ("22 Nov", "11|11 10|10")),
    recovering=(
        MuscleRecovery("chest", 87, 120),
        MuscleRecovery("upper-back left", 130, 120),
        MuscleRecovery("lats", None, 120),
    ),
)
REST = replace(
    BASE,
    seconds=35,
    span_s=45,
    bout=ROW,
    roomy_extras=BEYOND,
    entry=OPEN,
)


def _page(title: str, *lines: str, label: int = 0, scrolls: bool = False) -> Section:
    return Section(title, tuple(((line, "ink"),) for line in lines), label=label, scrolls=scrolls)


READY = (
    _page("BRING", "low bar at the third notch · bench 60 cm", label=9),
    Section(
        "TODAY",
        (
            (("1", "quiet"), ("PRESS", "ink"), ("stepping out", "quiet"), ("4 sets", "ink")),
            (("", "quiet"), ("ROW", "ink"), ("12 kg", "quiet"), ("4 sets", "ink")),
            (("2", "quiet"), ("PLANK", "ink"), ("60 cm", "quiet"), ("3 sets", "ink")),
        ),
        "table",
        9,
        scrolls=True,
    ),
    _page("CARE", "c  before you start: 6 points", label=9),
)
CAUTIONS = tuple(
    f"{number}: Clear the floor two steps around the post and the bench, put the bench against "
    "the wall, and lean on it with your full weight before the first set."
    for number in range(1, 9)
)
SCENES: Mapping[str, View] = {
    "ready": replace(BASE, phase="ready", page=READY, over_by="31 min, done by 07:01"),
    "ready-cautions": replace(BASE, phase="ready", page=READY, cautions=CAUTIONS, turned=0),
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
        moves=("Arm circles", "Easy rows without the rucksack"),
    ),
    "rest": REST,
    "rest-asks-nothing": replace(REST, entry=None),
    "rest-correction": replace(REST, entry=EntryLine(replace(ASKED, was="12")).type("13")),
    "rest-ten-minutes": replace(REST, seconds=630, span_s=700),
    "rest-typed": replace(REST, entry=OPEN.type("14/2")),
    "rest-remote": replace(REST, entry=OPEN.open().step(1)),
    "rest-refused": replace(REST, entry=OPEN.type("1e9").save()[0]),
    "rest-doubted": replace(REST, entry=OPEN.type("27").save()[0]),
    "rest-last-seconds": replace(
        REST, seconds=3, entry=None, message="PRESS, set 2: 14 saved, 12 to beat: beaten."
    ),
    "rest-waits": replace(REST, seconds=0, waits=True, entry=None),
    "set": replace(BASE, phase="set", seconds=23, bout=PRESS, roomy_extras=BEYOND),
    "set-first": replace(BASE, phase="set", seconds=5, bout=FIRST),
    "set-side": replace(BASE, phase="set", seconds=12, bout=LONG),
    "set-count-open": replace(BASE, phase="set", seconds=9, bout=ROW, entry=OPEN.type("9")),
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
        remaining_s=None,
        lasted_s=1884,
        moves=("Walk a round of the hut",),
        page=(
            _page("STILL OPEN", "□ r   How hard was it, 0 to 10?"),
            _page("DONE TODAY", "PRESS 14 13 13 12", "ROW 12|11 12|11 11|11 10|10"),
        ),
    ),
    "closed": replace(
        BASE, phase="closed", page=(_page("", "The session is complete."),), lasted_s=1884
    ),
}
