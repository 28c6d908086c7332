"""The usual cautions, in our words: general information, no medical advice.

Grounds: ACSM's screening (Riebe et al. 2015, Med Sci Sports Exerc 47:2473-2479), CDC/NIOSH on
rhabdomyolysis; the advice on anchors and furniture is common sense, without a source.
"""

from __future__ import annotations

from runner.core.workout import Workout

GENERAL: tuple[str, ...] = (
    "Stop at once for pain in chest, neck, jaw or arm, severe breathlessness, dizziness, "
    "fainting or a racing, stumbling heart, and get medical help.",
    "Stop the exercise for joint pain or sharp muscle pain. Mild soreness the next day is normal.",
    "Breathe on; do not hold your breath.",
    "Muscle pain much worse than expected, dark urine or unusual weakness in the days after: "
    "get medical care at once. Keep the first sessions of a new plan well short of your limit.",
    "With a heart, metabolic or kidney disease, symptoms, a pregnancy, a recent injury or "
    "operation, ask a doctor or physiotherapist first. Their word and local rules come first.",
    "Test anchors, doors, bars and furniture with the full load before the first set. Doors shut "
    "towards the pull, chairs against a wall, the floor clear.",
)

PAIN_ADVICE: tuple[str, ...] = (
    "Chest, neck, jaw or arm pain, breathlessness, dizziness: stop everything, get medical help "
    "now.",
    "Joint or sharp pain: leave out what brings it on. If it stays or comes back, see a doctor or "
    "physiotherapist before you train it again.",
)


def cautions_of(workout: Workout) -> tuple[str, ...]:
    """Everything to be known before this session: general, the plan's, the exercises' own."""
    own = (
        f"{exercise.name}: {exercise.caution}"
        for exercise in (workout.exercises[i.exercise] for b in workout.blocks for i in b.items)
        if exercise.caution
    )
    return tuple(dict.fromkeys((*GENERAL, *workout.cautions, *own)))
