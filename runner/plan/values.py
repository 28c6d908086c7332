"""Types of a plan's single values: each says what is wrong with it, and what to write instead."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Collection
from decimal import Decimal
from typing import Annotated, Any, Literal, NamedTuple, TypeVar, get_args

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema
from pydantic_core import PydanticCustomError

from runner.law.muscles import MUSCLES, Muscle as MuscleId
from runner.law.workout import Advance as AdvanceName
from runner.plan.faults import LONGEST_TEXT, BadValueError, did_you_mean, one_line, quoted

# Durations as a person writes them ("2:00", "45s", "1m30s", 90), to seconds and back.

LONGEST = 24 * 3600.0  # seconds; our choice

_CLOCK = r"(?:[0-9]{1,2}:[0-5][0-9]:[0-5][0-9]|[0-9]{1,4}:[0-5][0-9])"
_S = r"[0-9]{1,6}(?:\.[0-9]{1,17})? ?s"
_M = rf"[0-9]{{1,5}} ?m(?: ?{_S})?"
_H = rf"[0-9]{{1,5}} ?h(?: ?{_M}| ?{_S})?"
_BARE = r"[0-9]{1,6}(?:\.[0-9]{1,17})?"
PATTERN = rf"^(?:{_CLOCK}|{_H}|{_M}|{_S}|{_BARE})$"
"""What a text must match; also in the JSON Schema, so that an editor checks the same."""

_WHOLE = re.compile(PATTERN)
_PART = re.compile(r"([0-9.]+) ?([hms])")
_SECONDS = {"h": 3600, "m": 60, "s": 1}
_FORMS = 'write it like "2:00", "45s", "1m30s" or 90'


def parse_duration(value: object) -> float:
    """Seconds of a duration as written in a plan: a text, or a number of seconds.

    Raises BadValueError for anything else, for a negative one, and for more than a day.
    """
    if isinstance(value, str):
        seconds = _parse_text(value)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        seconds = _finite(value)
    else:
        raise BadValueError(f"{quoted(value)} is not a duration", _FORMS)
    if seconds < 0:
        raise BadValueError(f"{quoted(value)} is negative", _FORMS)
    if seconds > LONGEST:
        raise BadValueError(f"{quoted(value)} is longer than a day", 'write at most "24h"')
    return seconds


def _finite(value: float) -> float:
    # A whole number may have any size here; a float may not.
    if isinstance(value, int):
        return float(max(min(value, int(LONGEST) + 1), -1))
    if not math.isfinite(value):
        raise BadValueError(f"{quoted(value)} is not a duration", _FORMS)
    return float(value)


def _parse_text(text: str) -> float:
    text = text.strip()
    if not _WHOLE.match(text):
        raise BadValueError(f"{quoted(text)} is not a duration", _remedy(text))
    if ":" in text:
        seconds = Decimal(0)
        for part in text.split(":"):
            seconds = seconds * 60 + int(part)
        return float(seconds)
    parts = _PART.findall(text)
    if not parts:
        return float(Decimal(text))
    return float(sum(Decimal(number) * _SECONDS[unit] for number, unit in parts))


def _remedy(text: str) -> str:
    """The nearest right form of a duration that is almost right."""
    clock = re.fullmatch(r"([0-9]{1,3}):([0-9]{1,2})", text)
    if clock:
        minutes, seconds = int(clock[1]), int(clock[2])
        return f'did you mean "{duration_text(minutes * 60 + seconds)}"?'
    words = text.lower().replace(",", ".")
    for pattern, unit in ((r"\s*(?:seconds?|secs?)\b", "s"), (r"\s*(?:minutes?|mins?)\b", "m")):
        words = re.sub(pattern, unit, words)
    if words != text and _WHOLE.match(words):
        return f'did you mean "{words}"?'
    return _FORMS


def duration_text(seconds: float) -> str:
    """A duration as a person writes it: 120 is "2:00", 45 "45s", 90.5 "1m30.5s".

    Reading the text gives the same number again.
    """
    exact = Decimal(repr(float(seconds)))
    if exact < 60:
        return f"{number_text(exact)}s"
    if exact != exact.to_integral_value():
        return f"{int(exact // 60)}m{number_text(exact % 60)}s"
    minutes, rest = divmod(int(exact), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


# Ranges of a progression: from, to and by, to their positions, in exact decimals.

MOST_POSITIONS = 200  # values of one range; our choice
_LARGEST = Decimal(1_000_000)  # our choice; keeps the arithmetic exact
_SMALLEST = Decimal("0.000001")  # our choice, for the same reason
_MEASURE = re.compile(r"(-?[0-9]{1,7}(?:\.[0-9]{1,6})?)(\s*)(.*)")


class Measure(NamedTuple):
    """A number and its unit as written, with the space between them."""

    number: Decimal
    unit: str


def parse_measure(value: object) -> Measure:
    """A measured value, "120 cm" or 3; BadValueError for a text without a number at its start."""
    found = None
    if isinstance(value, str):
        found = _MEASURE.fullmatch(value.strip())
    # Bounds first: Python refuses to print thousands of digits.
    elif isinstance(value, int | float) and not isinstance(value, bool) and -1e6 <= value <= 1e6:
        found = _MEASURE.fullmatch(repr(value))
    if found is None:
        raise BadValueError(
            f"{quoted(value)} is not a measure", 'write a number and a unit: "60 cm"'
        )
    if re.match(r",[0-9]", found[3]):
        meant = str(value).replace(",", ".", 1)
        raise BadValueError(f"{quoted(value)} has a decimal comma", f'did you mean "{meant}"?')
    return Measure(Decimal(found[1]), f"{found[2]}{found[3]}" if found[3] else "")


def number_text(number: Decimal) -> str:
    """A number without an exponent and without zeros at its end."""
    text = format(number, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def positions(start: Decimal, stop: Decimal, step: Decimal) -> tuple[Decimal, ...]:
    """Every position from `start` to `stop`, both included, up or down.

    The step is a size; a minus before it is allowed where the range goes down. Raises BadValueError
    where the step is 0, leads away from the end, or misses it.
    """
    if max(abs(start), abs(stop), abs(step)) > _LARGEST:
        raise BadValueError("a number over a million", "write smaller numbers")
    if abs(step) < _SMALLEST:
        raise BadValueError(
            "by is 0", f"write {number_text(abs(stop - start) or Decimal(1))} for by"
        )
    size, way = abs(step), stop - start
    if step < 0 and stop > start:
        fits = size if not way % size else way
        raise BadValueError("by leads away from to", f"write {number_text(fits)} for by")
    count, rest = divmod(abs(way), size)
    if rest:
        reached = start + (size * count).copy_sign(way)
        beyond = reached + size.copy_sign(way)
        raise BadValueError(
            f"by {number_text(size)} from {number_text(start)} does not reach {number_text(stop)}",
            f"write {number_text(reached)} or {number_text(beyond)} for to, or another step",
        )
    if count >= MOST_POSITIONS:
        raise BadValueError(
            f"the range has {int(count) + 1} values",
            f"write {number_text(abs(way) / 100)} for by; at most {MOST_POSITIONS} values",
        )
    return tuple(start + (size * index).copy_sign(way) for index in range(int(count) + 1))


def measures(start: object, stop: object, step: object) -> tuple[str, ...]:
    """The positions of a measured range as texts with their unit; the units must agree."""
    first, last, by = parse_measure(start), parse_measure(stop), parse_measure(step)
    units = {measure.unit.strip() for measure in (first, last, by)}
    if len(units) > 1:
        named = ", ".join(quoted(unit) for unit in sorted(units))
        remedy = "write one unit in all three"
        if "" in units and len(units) == 2:  # with one unit, the numbers can be checked too
            try:
                positions(first.number, last.number, by.number)
            except BadValueError as bad:
                remedy = f"{remedy}; {bad.remedy}"
        raise BadValueError(f"different units in one range: {named}", remedy)
    found = positions(first.number, last.number, by.number)
    return tuple(f"{number_text(number)}{first.unit}" for number in found)


def decimal(number: float) -> Decimal:
    """A number of a plan as it was written: 0.1 is exactly one tenth."""
    return Decimal(repr(number))


PatternName = Literal[
    "horizontal push",
    "vertical push",
    "horizontal pull",
    "vertical pull",
    "squat",
    "hinge",
    "lunge",
    "trunk",
    "elbow",
    "shoulder",
    "calf",
    "carry",
    "other",
]
PATTERNS: tuple[PatternName, ...] = get_args(PatternName)
SIDES = ("together", "left first", "right first")
MEASURES = ("reps", "hold")
STARTS = ("clock", "key")
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
ADVANCES: tuple[AdvanceName, ...] = get_args(AdvanceName)
PLACES = ("hands", "back", "chest", "overhead")

LONGEST_SHORT = 7  # letters, for the large letters on the screen
LONGEST_ID = 40  # characters; our choice
SHORTEST_REP = 0.5  # seconds; Schoenfeld et al. 2015, Sports Med 45:577-585
LONGEST_REP = 60.0  # seconds; our choice: a longer time has a digit too many

FAULT = "plan_fault"  # marks our own errors among pydantic's

_T = TypeVar("_T")
_U = TypeVar("_U")


def checking(check: Callable[[_T], _U]) -> Callable[[_T], _U]:
    """A check whose BadValueError reaches pydantic's errors with both of its texts."""

    def checked(value: _T) -> _U:
        try:
            return check(value)
        except BadValueError as bad:
            context = {"wrong": bad.wrong, "remedy": bad.remedy}
            raise PydanticCustomError(FAULT, "{wrong}", context) from None

    return checked


def _choice(options: Collection[str]) -> BeforeValidator:
    def check(value: object) -> object:
        if value not in options:
            raise BadValueError(f"{quoted(value)} is not known here", did_you_mean(value, options))
        return value

    return BeforeValidator(checking(check))


def _identifier(pattern: str, letters: str) -> Callable[[object], str]:
    form = re.compile(pattern)

    def check(value: object) -> str:
        if isinstance(value, str) and form.fullmatch(value) and len(value) <= LONGEST_ID:
            return value
        meant = re.sub(r"[^A-Za-z0-9]+", "-", value).strip("-") if isinstance(value, str) else ""
        meant = meant if form.fullmatch(meant) else meant.lower()
        remedy = f"write {letters}, digits and dashes, at most {LONGEST_ID}"
        if form.fullmatch(meant) and len(meant) <= LONGEST_ID:
            remedy = f'did you mean "{meant}"?'
        raise BadValueError(f"{quoted(value)} cannot be an id", remedy)

    return checking(check)


def _pair(value: object) -> object:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise BadValueError(f"{quoted(value)} is not a pair", "write [least, most]")
    return tuple(value)


def _ascending(pair: tuple[int, int]) -> tuple[int, int]:
    if pair[0] > pair[1]:
        wrong = f"{pair[0]} to {pair[1]} goes backwards"
        raise BadValueError(wrong, f"write [{pair[1]}, {pair[0]}]")
    return pair


def _ascending_durations(pair: tuple[float, float]) -> tuple[float, float]:
    if pair[0] > pair[1]:
        first, second = duration_text(pair[0]), duration_text(pair[1])
        wrong = f'"{first}" to "{second}" goes backwards'
        raise BadValueError(wrong, f'write ["{second}", "{first}"]')
    return pair


def _lasting(pair: tuple[float, float]) -> tuple[float, float]:
    if pair[1] <= 0:
        raise BadValueError("a hold of 0 seconds", 'write more than 0, like ["10s", "1:00"]')
    return pair


def _short(value: object) -> str:
    text = one_line(value).upper()
    if len(text) > LONGEST_SHORT:
        wrong = f"{quoted(text)} has {len(text)} letters"
        raise BadValueError(wrong, f'write at most {LONGEST_SHORT}, like "{text[:LONGEST_SHORT]}"')
    return text


def _measured(value: object) -> str:
    """One value of a set-up; `;` and `=` separate such values in the exported record."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return number_text(parse_measure(value).number)
    text = " ".join(one_line(value).split())
    if ";" in text:
        raise BadValueError(f'{quoted(text)} holds a ";"', "write a number and a unit, or a word")
    return text


def _measured_name(value: object) -> str:
    text = one_line(value)
    if "=" in text or ";" in text:
        wrong = f"{quoted(text)} cannot be the name of a set-up value"
        raise BadValueError(wrong, 'write a word without "=" and ";", like "height"')
    return text


def tempo_seconds(tempo: str) -> float:
    """Seconds of one repetition at a tempo "down-pause-up"; BadValueError for another form."""
    parts = re.fullmatch(_TEMPO, tempo)
    if not parts:
        wrong = f"{quoted(tempo)} is not a tempo"
        raise BadValueError(wrong, 'write seconds down, pause and up: "2-0-1"')
    seconds = sum(float(part) for part in tempo.split("-"))
    if not SHORTEST_REP <= seconds <= LONGEST_REP:
        wrong = f"{quoted(tempo)} gives a repetition of {seconds:g} seconds"
        raise BadValueError(wrong, "write 0.5 to 8 seconds in all")
    return seconds


def _tempo(value: object) -> str:
    text = one_line(value)
    tempo_seconds(text)
    return text


_NUMBER = r"[0-9]{1,2}(?:\.[0-9]{1,2})?"
_TEMPO = rf"{_NUMBER}-{_NUMBER}-{_NUMBER}"


def _sets_step(value: object) -> int:
    """More or fewer sets, as a text with a sign: "+1", "-1"."""
    if isinstance(value, int) and not isinstance(value, bool) and -100 < value < 100:
        remedy = f'write it with its sign in quotes: "{value:+}"'
        raise BadValueError(f"{value} is not a step", remedy)
    if not isinstance(value, str) or not re.fullmatch(r"[+-][0-9]{1,2}", value):
        raise BadValueError(f"{quoted(value)} is not a step", 'write "-1" or "+1"')
    return int(value)


_DURATION_SCHEMA: dict[str, Any] = {
    "description": 'A duration: "2:00", "45s", "1m30s", or a number of seconds.',
    "anyOf": [
        {"type": "string", "pattern": PATTERN},
        {"type": "number", "minimum": 0, "maximum": 86400},
    ],
}
_TEXT_SCHEMA: dict[str, Any] = {"type": "string", "minLength": 1, "maxLength": LONGEST_TEXT}
_ID_FORM = r"[a-z0-9]+(?:-[a-z0-9]+)*"
_SESSION_FORM = r"[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*"


def _id_schema(form: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "pattern": f"^{form}$", "maxLength": LONGEST_ID})


def _choice_schema(options: Collection[str]) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "enum": list(options)})


Text = Annotated[str, BeforeValidator(checking(one_line)), WithJsonSchema(_TEXT_SCHEMA)]
Short = Annotated[
    str,
    BeforeValidator(checking(_short)),
    WithJsonSchema({"type": "string", "minLength": 1, "maxLength": LONGEST_SHORT}),
]
Id = Annotated[
    str, BeforeValidator(_identifier(_ID_FORM, "lower-case letters")), _id_schema(_ID_FORM)
]
SessionId = Annotated[
    str, BeforeValidator(_identifier(_SESSION_FORM, "letters")), _id_schema(_SESSION_FORM)
]
Muscle = Annotated[MuscleId, _choice(MUSCLES), _choice_schema(MUSCLES)]
Pattern = Annotated[PatternName, _choice(PATTERNS), _choice_schema(PATTERNS)]
Sides = Annotated[
    Literal["together", "left first", "right first"], _choice(SIDES), _choice_schema(SIDES)
]
MeasureWord = Annotated[Literal["reps", "hold"], _choice(MEASURES), _choice_schema(MEASURES)]
Day = Annotated[
    Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"], _choice(DAYS), _choice_schema(DAYS)
]
Starts = Annotated[Literal["clock", "key"], _choice(STARTS), _choice_schema(STARTS)]
Advance = Annotated[AdvanceName, _choice(ADVANCES), _choice_schema(ADVANCES)]
LoadOn = Annotated[
    Literal["hands", "back", "chest", "overhead"], _choice(PLACES), _choice_schema(PLACES)
]
SetsStep = Annotated[
    int,
    BeforeValidator(checking(_sets_step)),
    WithJsonSchema({"type": "string", "pattern": "^[+-][0-9]{1,2}$"}),
]
Duration = Annotated[
    float, BeforeValidator(checking(parse_duration)), WithJsonSchema(_DURATION_SCHEMA)
]
DurationPair = Annotated[
    tuple[Duration, Duration],
    Field(strict=False),
    BeforeValidator(checking(_pair)),
    AfterValidator(checking(_ascending_durations)),
]
HoldPair = Annotated[DurationPair, AfterValidator(checking(_lasting))]
Count = Annotated[int, Field(ge=0, le=1000)]
CountPair = Annotated[
    tuple[Count, Count],
    Field(strict=False),
    BeforeValidator(checking(_pair)),
    AfterValidator(checking(_ascending)),
]
Reps = Annotated[int, Field(ge=1, le=1000)]
RepsPair = Annotated[
    tuple[Reps, Reps],
    Field(strict=False),
    BeforeValidator(checking(_pair)),
    AfterValidator(checking(_ascending)),
]
Kilograms = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
SecondsARep = Annotated[float, Field(ge=SHORTEST_REP, le=LONGEST_REP, allow_inf_nan=False)]
Tempo = Annotated[
    str,
    BeforeValidator(checking(_tempo)),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": f"^{_TEMPO}$",
            "description": 'Seconds down, pause, up: "2-0-1".',
        }
    ),
]
SetupName = Annotated[str, BeforeValidator(checking(_measured_name)), WithJsonSchema(_TEXT_SCHEMA)]
Measured = Annotated[
    str,
    BeforeValidator(checking(_measured)),
    WithJsonSchema({"anyOf": [_TEXT_SCHEMA, {"type": "number"}]}),
]
