"""The whole look back as lines of text, for pipes, screen readers and paper."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from runner.core.wrapping import Line
from runner.review import pages
from runner.review.past import Past, Trend

WIDTH = 78  # fits 80 columns
MOST = 8  # sessions of each exercise, where all exercises are told; our choice


def lines(past: Past, trends: tuple[Trend, ...], now: datetime, *, whole: bool) -> Iterator[str]:
    """Everything of a past; of one exercise alone where `whole` is False."""
    for line in _lines(past, trends, now, whole=whole):
        yield "".join(text for text, _ in line).rstrip()


def _lines(past: Past, trends: tuple[Trend, ...], now: datetime, *, whole: bool) -> Iterator[Line]:
    yield pages.head(past)
    if not past.asked:
        yield pages.quiet("The last weeks with a session; --since and --until choose others.")
    yield pages.NOTHING
    if not past.trends:
        yield pages.quiet(pages.NO_SET)
    for trend in trends:
        yield from pages.exercise(past, trend, WIDTH, most=MOST if whole else None)
        yield pages.NOTHING
    if not whole:
        return
    if past.weeks:
        yield from pages.muscles(past, past.weeks[-1], WIDTH, now)
        yield pages.NOTHING
        for name in pages.every_muscle(past):
            yield from pages.muscle(past, name, WIDTH)
        yield pages.NOTHING
        yield pages.mark("Weeks, the newest first")
        yield from pages.weeks(past, WIDTH, now)
        yield pages.NOTHING
    yield pages.mark("The last sessions in full")
    yield from pages.sessions(past, WIDTH)
    yield from pages.bests(past)
