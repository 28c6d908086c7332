"""Types of a plan's single values: each says what is wrong with it, and what to write instead."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from typing import Annotated, Any, Literal, TypeVar, get_args

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema
from pydantic_core import PydanticCustomError

from runner.core.muscles import MUSCLES, Muscle as MuscleId
from runner.core.workout import Advance as AdvanceName
from runner.plan.durations import PATTERN, duration_text, parse_duration
from runner.plan.ranges import number_text, parse_measure
from runner.plan.words import LONGEST_TEXT, BadValueError, clean, did_you_mean, quoted

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
ADVANCES: tuple[AdvanceName, ...] = get_args(AdvanceName)
PLACES = ("hands", "back", "chest", "overhead")

LONGEST_SHORT = 7  # letters, for the large glyphs
LONGEST_ID = 40  # characters; our choice
SHORTEST_REP = 0.5  # seconds; Schoenfeld et al. 2015, Sports Med 45:577-585
LONGEST_REP = 60.0  # seconds; our choice: beyond it a digit has slipped

FAULT = "plan_fault"  # the type of our own errors among pydantic's

_T = TypeVar("_T")
_U = TypeVar("_U")


def told(check: Callable[[_T], _U]) -> Callable[[_T], _U]:
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

    return BeforeValidator(told(check))


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

    return told(check)


def _pair(value: object) -> object:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise BadValueError(f"{quoted(value)} where two values belong", "write [least, most]")
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
        raise BadValueError("a hold of no length", 'write more than 0, like ["10s", "1:00"]')
    return pair


def _short(value: object) -> str:
    text = clean(value).upper()
    if len(text) > LONGEST_SHORT:
        wrong = f"{quoted(text)} has {len(text)} letters"
        raise BadValueError(wrong, f'write at most {LONGEST_SHORT}, like "{text[:LONGEST_SHORT]}"')
    return text


def _measured(value: object) -> str:
    """One measured thing of a set-up; `;` and `=` part such things in the exported record."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return number_text(parse_measure(value).number)
    text = " ".join(clean(value).split())
    if ";" in text:
        raise BadValueError(f'{quoted(text)} holds a ";"', "write a number and a unit, or a word")
    return text


def _measured_name(value: object) -> str:
    text = clean(value)
    if "=" in text or ";" in text:
        wrong = f"{quoted(text)} cannot name a part of the set-up"
        raise BadValueError(wrong, 'write a word without "=" and ";", like "height"')
    return text


def tempo_seconds(tempo: str) -> float:
    """Seconds of one repetition at a tempo "down-held-up"; BadValueError for another form."""
    parts = re.fullmatch(_TEMPO, tempo)
    if not parts:
        wrong = f"{quoted(tempo)} is no tempo"
        raise BadValueError(wrong, 'write seconds down, held and up: "2-0-1"')
    seconds = sum(float(part) for part in tempo.split("-"))
    if not SHORTEST_REP <= seconds <= LONGEST_REP:
        wrong = f"{quoted(tempo)} makes a repetition of {seconds:g} seconds"
        raise BadValueError(wrong, "write 0.5 to 8 seconds in all")
    return seconds


def _tempo(value: object) -> str:
    text = clean(value)
    tempo_seconds(text)
    return text


_NUMBER = r"[0-9]{1,2}(?:\.[0-9]{1,2})?"
_TEMPO = rf"{_NUMBER}-{_NUMBER}-{_NUMBER}"
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


Text = Annotated[str, BeforeValidator(told(clean)), WithJsonSchema(_TEXT_SCHEMA)]
Short = Annotated[
    str,
    BeforeValidator(told(_short)),
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
Measure = Annotated[Literal["reps", "hold"], _choice(MEASURES), _choice_schema(MEASURES)]
Starts = Annotated[Literal["clock", "key"], _choice(STARTS), _choice_schema(STARTS)]
Advance = Annotated[AdvanceName, _choice(ADVANCES), _choice_schema(ADVANCES)]
LoadOn = Annotated[
    Literal["hands", "back", "chest", "overhead"], _choice(PLACES), _choice_schema(PLACES)
]
Duration = Annotated[float, BeforeValidator(told(parse_duration)), WithJsonSchema(_DURATION_SCHEMA)]
DurationPair = Annotated[
    tuple[Duration, Duration],
    Field(strict=False),
    BeforeValidator(told(_pair)),
    AfterValidator(told(_ascending_durations)),
]
HoldPair = Annotated[DurationPair, AfterValidator(told(_lasting))]
Count = Annotated[int, Field(ge=0, le=1000)]
CountPair = Annotated[
    tuple[Count, Count],
    Field(strict=False),
    BeforeValidator(told(_pair)),
    AfterValidator(told(_ascending)),
]
Reps = Annotated[int, Field(ge=1, le=1000)]
RepsPair = Annotated[
    tuple[Reps, Reps],
    Field(strict=False),
    BeforeValidator(told(_pair)),
    AfterValidator(told(_ascending)),
]
Kilograms = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
SecondsARep = Annotated[float, Field(ge=SHORTEST_REP, le=LONGEST_REP, allow_inf_nan=False)]
Tempo = Annotated[
    str,
    BeforeValidator(told(_tempo)),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": f"^{_TEMPO}$",
            "description": 'Seconds down, held, up: "2-0-1".',
        }
    ),
]
SetupName = Annotated[str, BeforeValidator(told(_measured_name)), WithJsonSchema(_TEXT_SCHEMA)]
Measured = Annotated[
    str,
    BeforeValidator(told(_measured)),
    WithJsonSchema({"anyOf": [_TEXT_SCHEMA, {"type": "number"}]}),
]
