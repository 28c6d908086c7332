"""Answers to advice, line by line: `accept 1`, `refuse 1`, `set press=mark-2`, in any order."""

from __future__ import annotations

import re

from runner.core.session.turn import Refused
from runner.core.words import shown
from runner.live.standing import Standing, position
from runner.plain.paper import Ended, Talk

HOW = (
    "accept 1, refuse 1, accept 1 2 for the second choice, set EXERCISE=VERSION, "
    "planned EXERCISE; an empty line ends it"
)
WORDS = ("accept", "refuse", "set", "planned")


def answering(standing: Standing, talk: Talk) -> None:
    """Take answers until an empty line or the end of input."""
    talk.say(HOW)
    try:
        while line := talk.ask("next"):
            try:
                talk.say(answer(standing, line))
            except Refused as refused:
                talk.say(f"not used: {refused}")
    except Ended:
        return


def answer(standing: Standing, line: str) -> str:
    """Do what a line says; what became of it. Raises Refused."""
    word, _, rest = line.strip().partition(" ")
    rest = rest.strip()
    if word == "set":
        name, sign, wanted = rest.partition("=")
        if not sign:
            raise Refused("name exercise and version, such as press=mark-2:120cm")
        stand = standing.find(name.strip())
        standing.set_by_hand(stand, position(stand.exercise, wanted))
        return f"{stand.name}: held from now on: {wanted.strip()}"
    if word == "planned":
        stand = standing.find(rest)
        standing.as_planned(stand)
        return f"{stand.name}: as planned again"
    if word not in ("accept", "refuse"):
        raise Refused(f"{shown(line)} is no answer; write {HOW}")
    if rest == "week":
        return _week(standing, accepted=word == "accept")
    return _numbered(standing, word, rest)


def _numbered(standing: Standing, word: str, rest: str) -> str:
    found = re.fullmatch(r"([0-9]{1,3})(?: +([0-9]{1,2}))?", rest)
    if found is None or not 1 <= int(found[1]) <= len(standing.stands):
        raise Refused(f"say which: {word} 1 to {len(standing.stands)}")
    stand = standing.stands[int(found[1]) - 1]
    if word == "refuse":
        standing.refuse(stand)
        return f"{stand.name}: refused; it rests until something new is done"
    change = standing.accept(stand, int(found[2] or 1))
    return f"{stand.name}: accepted, {change.text}"


def _week(standing: Standing, *, accepted: bool) -> str:
    advice = standing.lighter
    if advice is None:
        raise Refused("no lighter week is offered")
    standing.answer_lighter(advice, accepted=accepted)
    return "A lighter week, from today." if accepted else "No lighter week."
