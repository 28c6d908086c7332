"""What is really moved: a share of the body's mass, and the load added."""

from __future__ import annotations

from runner.core.workout import Rung


def load_moved(share: float | None, mass: float | None, added: float | None) -> float | None:
    """Share x body mass + added load, in kg; None where it is unknown.

    Unknown are: a share that nobody has measured, and a body mass that is not on file or not
    above 0, unless the share is 0: then the load is the added one alone.
    """
    if share is None:
        return None
    if share == 0:
        return added or 0.0
    if mass is None or not mass > 0:
        return None
    return share * mass + (added or 0.0)


def rung_moved(rung: Rung, mass: float | None) -> float | None:
    """The load moved at one level, by all limbs together, in kg; None where it is unknown."""
    return load_moved(rung.body_share, mass, rung.load)


def limb_moved(rung: Rung, mass: float | None) -> float | None:
    """The load moved by one limb, in kg: two-sided work shares it between two."""
    moved = rung_moved(rung, mass)
    return None if moved is None else moved / _limbs(rung)


def ratio(old: Rung, new: Rung, mass: float | None) -> float | None:
    """How many times the load of `old` the load of `new` is, for one limb; None if unknown.

    Without any added load the body's mass cancels out and need not be on file.
    """
    if not (old.load or new.load) and old.body_share and new.body_share:
        return new.body_share / _limbs(new) / (old.body_share / _limbs(old))
    before, after = limb_moved(old, mass), limb_moved(new, mass)
    return after / before if before and after else None


def _limbs(rung: Rung) -> int:
    return 2 if rung.sides == "together" else 1
