"""The pages of a review, as lines of text with roles; pure, so that screen and text share them.

Texts of plans and people are made printable here; nothing in them is markup.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from statistics import fmean

from runner.law.weekly_sets import AIM, judged
from runner.law.workout import load_text
from runner.progress.history import PastSession, PastSet, Use
from runner.progress.session_stats import retention_of, session_load
from runner.progress.week_aims import MuscleWeek, often
from runner.progress.weeks import HOURS_BETWEEN
from runner.reports import charts
from runner.reports.past import Best, Past, Point, SessionReview, Trend, WeekReview, WeekSpan
from runner.reports.roster import Person
from runner.reports.timeline import columns
from runner.text import Line, clock, counted_sets, how_many, long_day, short_day, shown, wrapped

JUDGED = {"little": "too little", "under": "under", "in": "within", "over": "over"}
OFTEN = {"fewer": "fewer than", "in": "as", "more": "more than"}
NOTHING: Line = ()
NO_SET = "No work set with a count in this period."


def ink(text: str) -> Line:
    """A line to read first."""
    return ((shown(text), "ink"),)


def quiet(text: str) -> Line:
    """Any other line."""
    return ((shown(text), "quiet"),)


def mark(text: str) -> Line:
    """A heading."""
    return ((shown(text), "mark"),)


def head(past: Past) -> Line:
    """Who and when, in one line."""
    sets = sum(review.week.sets for review in past.weeks)
    trained = sum(review.week.sessions for review in past.weeks)
    period = f"{past.since} to {past.until}, {how_many(trained, 'session')}"
    return (
        (shown(past.trainee), "ink"),
        (f"   {period}, {counted_sets(sets)}", "quiet"),
    )


# What needs a look, and every exercise in a line.

NAMED = 8  # muscles that had too little, before it says how many more; our choice
LAST_WEEKS = timedelta(weeks=12)  # that the newest session is held against; our choice


def look(past: Past, person: Person | None, width: int, now: datetime) -> Iterator[Line]:
    """What is due, stalled, hurting or too little; `person` is None where no plan can be read."""
    found = list(_look(past, person, now.date()))
    if not found:
        yield quiet("Nothing needs a look.")
    for label, text in found:
        first, *rest = wrapped(shown(text), width - 12, "")
        yield ((f"{label:<12}", "mark"), (first, "ink"))
        for line in rest:
            yield quiet(f"{'':12}{line}")


def _look(past: Past, person: Person | None, today: date) -> Iterator[tuple[str, str]]:
    if person is not None and person.due is not None:
        yield "due", f"session {person.session}, {_on(person.due, today)}"
    if person is not None and person.stalled:
        names = (
            f"{past.names.get(one.partition('/')[0], one)} ({how_many(weeks, 'week')})"
            for one, weeks in person.stalled
        )
        yield "stalled", ", ".join(names)
    if person is not None and person.pain:
        yield "hurting", "; ".join(_hurt(past, where, on) for where, on in person.pain)
    whole = [review for review in past.weeks if not review.runs(today)]
    short = [m for m in (whole[-1].muscles if whole else ()) if m.judged in ("little", "under")]
    if short:
        low = [f"{m.muscle} {m.sets:g} of {(m.target or AIM)[0]:g}" for m in short]
        more = f" and {len(low) - NAMED} more" if len(low) > NAMED else ""
        text = f"{', '.join(low[:NAMED])}{more} (sets, {whole[-1].week.iso_week})"
        yield "too little", text
    if person is not None and person.advice:
        yield "waiting", f"{person.advice} advice: matside next"


def _hurt(past: Past, where: str, on: date) -> str:
    """Where it hurt, in which exercises, and when: `left shoulder, Push-up, 20 Nov`."""
    names = [pain.name for pain in past.pains if (pain.where, pain.on) == (where, on)]
    return ", ".join((where or "no place given", *names, short_day(on)))


def _on(due: date, today: date) -> str:
    if due == today:
        return "today"
    return f"{'since ' if due < today else ''}{due:%A} {long_day(due)}"


def exercises(past: Past, person: Person | None, width: int, most: int | None) -> Iterator[Line]:
    """Every exercise in a line, at most `most`: those that stall or hurt first, then the newest.

    The newest session's counts stand beside the person's own last twelve weeks at that level.
    """
    stalled = set() if person is None else {one.partition("/")[0] for one, _ in person.stalled}

    def order(trend: Trend) -> tuple[bool, bool, int]:
        newest = trend.points[-1].past
        return trend.exercise not in stalled, not newest.pain, -newest.on.toordinal()

    chosen = sorted((t for t in past.trends if t.points), key=order)
    rows: list[tuple[str, ...]] = [("exercise", "level", "on", "last", "a set", "12 weeks", "")]
    rows += [_in_a_line(trend) for trend in chosen[:most]]
    table = columns(rows, {4, 5}, width, {0: 26, 1: 24, 3: 22})
    yield mark(table[0])
    for row in table[1:]:
        yield quiet(row)
    if len(rows) - 1 < len(chosen):
        yield quiet(f"and {how_many(len(chosen) - len(rows) + 1, 'exercise')} more")


def _in_a_line(trend: Trend) -> tuple[str, ...]:
    newest = trend.points[-1]
    same = [
        point.mean
        for point in trend.points[:-1]
        if point.values
        and point.past.use == newest.past.use
        and point.past.on > newest.past.on - LAST_WEEKS
    ]
    usual = fmean(same) if same else None
    more = "" if usual is None or not newest.values else f"{newest.mean - usual:+.1f}"
    unit = " s" if trend.hold else ""
    return (
        *(trend.name, _use(newest.past.use), short_day(newest.past.on)),
        counts(newest.past) + unit,
        f"{newest.mean:.1f}" if newest.values else "",
        "new" if usual is None else f"{usual:.1f}",
        more,
    )


# One exercise


def exercise(past: Past, trend: Trend, width: int, *, most: int | None = None) -> Iterator[Line]:
    """One exercise: chart, bests, remarks, and its sessions from the newest on.

    `most`: at most that many sessions, None for all.
    """
    yield from _exercise_head(past, trend)
    counted = [p for p in trend.points if p.values]
    if counted and width >= charts.LEAST:
        dots = [charts.Dot(p.past.on, p.values, p.new, _use(p.past.use)) for p in counted]
        unit = "seconds held" if trend.hold else "repetitions"
        yield quiet(f"  {unit}; a dot is a set, a column two days, {charts.CHANGED} another level")
        for row in charts.trend(dots, width):
            yield quiet(row)
    newest = tuple(reversed(trend.points))[:most]
    yield from _table(
        ("on", "each set" if not trend.hold else "each set, s", "a set", "kept"),
        [_point(point) for point in newest],
        [_changed(point) for point in newest],
    )
    if len(newest) < len(trend.points):
        yield quiet(f"  and {how_many(len(trend.points) - len(newest), 'session')} before")


def _exercise_head(past: Past, trend: Trend) -> Iterator[Line]:
    last = trend.points[-1].past.use
    details = ", ".join(t for t in (trend.pattern, "" if last is None else last.text) if t)
    yield ((shown(trend.name), "ink"), (f"   {shown(details)}", "quiet"))
    if trend.earlier:
        yield quiet(f"  earlier called {', '.join(trend.earlier)}")
    if trend.gone:
        yield quiet("  no longer in the plan of the last session")
    for best in past.bests:
        if best.exercise == trend.exercise and best.use == last:
            yield quiet(f"  {_best(best, hold=trend.hold)}")
    for apart in past.apart:
        if apart.exercise == trend.exercise:
            by = ", ".join(f"{gap:.1f}" for gap in apart.by)
            details = f"the {apart.stronger} side did {by} more a set, two sessions running"
            yield ((f"  {details} (our choice)", "caution"),)
    for way in past.paired:
        if way.exercise == trend.exercise:
            paired, alone = (how_many(number, "session") for number in way.sessions)
            yield quiet(
                f"  kept in turn with others {_percent(way.paired)} ({paired}), "
                f"alone {_percent(way.straight)} ({alone})"
            )


def _point(point: Point) -> tuple[str, ...]:
    kept = retention_of(point.past)
    return (
        str(point.past.on),
        counts(point.past),
        f"{point.mean:.1f}",
        "" if kept is None else _percent(kept.total),
    )


def _changed(point: Point) -> str:
    """What changed before this session, and other remarks on it."""
    use = point.past.use
    notes = [f"now {use.text}"] if point.new and use is not None else []
    notes += ["pain"] if point.past.pain else []
    notes += ["corrected"] if any(s.corrected for s in point.past.counted) else []
    return "; ".join(notes)


def counts(past: PastSession) -> str:
    """The counts of a session's sets: 12 11 10; left and right 12|11; - for not counted."""
    sets: dict[int, list[PastSet]] = {}
    for done in past.sets:
        if done.kind == "work":
            sets.setdefault(done.number, []).append(done)
    return " ".join("|".join(_value(s) for s in _in_order(sides)) for sides in sets.values())


def _in_order(sides: Sequence[PastSet]) -> list[PastSet]:
    return sorted(sides, key=lambda s: s.side)  # both; left, right


def _value(done: PastSet) -> str:
    if done.status == "skipped":
        return "x"
    value = "-" if done.value is None else f"{done.value:g}"
    return value if done.status == "done" else f"({value})"


def bests(past: Past) -> Iterator[Line]:
    """The best of every exercise at every version, set-up, load and tempo."""
    yield mark("Bests, of the whole record: by version, set-up, load and tempo")
    holds = {trend.exercise for trend in past.trends if trend.hold}
    last = ""
    for best in sorted(past.bests, key=lambda b: past.names.get(b.exercise, b.exercise).casefold()):
        name = past.names.get(best.exercise, best.exercise)
        if name != last:
            yield ink(name)
            last = name
        yield quiet(f"  {best.use.text}")
        yield quiet(f"    {_best(best, hold=best.exercise in holds)}")


def _best(best: Best, *, hold: bool) -> str:
    unit = " s" if hold else ""
    return (
        f"best set {best.value:g}{unit} on {best.on}, "
        f"best session {best.total:g}{unit} in total on {best.total_on}"
    )


# Weeks and muscles


def muscles(past: Past, review: WeekReview, width: int, now: datetime) -> Iterator[Line]:
    """One week: every muscle's sets against its band, when it was trained and is due."""
    yield ((f"Sets in {review.week.iso_week}", "ink"), (_week_dates(review, now), "quiet"))
    if not review.muscles:
        yield quiet("Nothing was done.")
        return
    given = [charts.Bar(_bar_label(m), m.sets, m.target or AIM) for m in review.muscles]
    rows = charts.bars(given, width) if width >= charts.LEAST else [bar.label for bar in given]
    for row in rows:
        yield quiet(row)
    yield quiet("  [ ] is the weekly aim: the plan's, else 10 to 20 sets (published).")
    yield NOTHING
    yield from due(past, now)


def _bar_label(muscle: MuscleWeek) -> str:
    return f"{shown(muscle.muscle):<14} {muscle.sets:4.1f} {JUDGED[muscle.judged]}"


def due(past: Past, now: datetime) -> Iterator[Line]:
    """Hours since each muscle was last trained as a prime mover, and when it is due."""
    yield mark(f"Last trained, and due {HOURS_BETWEEN:g} h later (published)")
    rows = []
    for trained in past.trained.values():
        hours = trained.hours_since(now)
        since = f"{hours:.0f} h ago" if hours < 100 else f"{hours / 24:.0f} days ago"
        local = trained.due.astimezone(now.tzinfo)
        when = "now" if local <= now else f"{local:%a %Y-%m-%d %H:%M}"
        rows.append((shown(trained.muscle), since, when))
    yield from _table(("muscle", "trained", "due"), rows)


def muscle(past: Past, name: str, width: int) -> Iterator[Line]:
    """One muscle over the weeks, a bar each."""
    yield ((shown(name), "ink"), ("   sets in each week; [ ] is the weekly aim", "quiet"))
    runs = past.week_runs
    width_of_names = max((len(run.name) for run in runs), default=0)
    given = [_week_bar(run, name, width_of_names) for run in runs]
    for row in charts.bars(given, width) if width >= charts.LEAST else ():
        yield quiet(row)


def _week_bar(run: WeekSpan, name: str, width: int) -> charts.Bar:
    sets = run.sets(name)
    text = JUDGED[judged(sets, run.band(name))] if run.review.week.sets else "nothing done"
    label = f"{run.name:{width}} {sets:4.1f} {text}{' (part)' if run.review.partly else ''}"
    return charts.Bar(label, sets, run.band(name))


def every_muscle(past: Past) -> list[str]:
    """The muscles that any of the weeks names."""
    return list(dict.fromkeys(m.muscle for review in past.weeks for m in review.muscles))


def weeks(past: Past, width: int, now: datetime) -> Iterator[Line]:
    """Every week, the newest first: sessions against what is aimed at, sets, what was done."""
    for run in reversed(past.week_runs):
        review = run.review
        week, aim = review.week, review.planned.sessions
        if run.first != run.last:
            yield ((run.name, "ink"), (f"   from {run.first}", "quiet"))
            yield quiet("  nothing was done")
            continue
        how = often(week.sessions, aim)
        asked = "" if aim is None or how is None else f" ({OFTEN[how]} the plan's {_band(aim)})"
        yield (
            (run.name, "ink"),
            (_week_dates(review, now), "quiet"),
            (f"   {how_many(week.sessions, 'session')}{asked}", "quiet"),
        )
        if not week.sets:
            yield quiet("  nothing was done")
            continue
        yield from _list(counted_sets(week.sets), _numbers(review.done), width)
        if week.by_pattern:
            yield from _list("by pattern", _numbers(week.by_pattern), width)
        for word in ("little", "under", "over"):
            named = [m.muscle for m in review.muscles if m.judged == word]
            if named:
                yield from _list(JUDGED[word], named, width)


def _numbers(counted: Mapping[str, int]) -> list[str]:
    return [f"{name} {number}" for name, number in counted.items()]


def _list(title: str, items: Sequence[str], width: int) -> Iterator[Line]:
    """A title and its items, as many lines as they need."""
    text = f"{title}: {', '.join(shown(item) for item in items)}"
    for row in wrapped(f"  {text}", width, "    "):
        yield quiet(row)


def _week_dates(review: WeekReview, now: datetime) -> str:
    what = ", so far" if review.runs(now.date()) else ", a part of it" if review.partly else ""
    return f"   from {review.week.monday}{what}"


def _band(pair: tuple[float, float]) -> str:
    low, high = pair
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


# Sessions


def sessions(past: Past, width: int) -> Iterator[Line]:
    """The last sessions in full, the newest first."""
    for review in past.last:
        yield from session(review, width)
        yield NOTHING


def session(review: SessionReview, width: int) -> Iterator[Line]:
    """One session: its measures, then every exercise with its counts."""
    row = review.row
    state = {"yes": "complete", "no": "closed before its end"}.get(row.complete or "", "cut off")
    start = row.session_start[:16].replace("T", " ")
    yield ((f"{start}  {shown(row.session)}", "ink"), (f"   {shown(row.plan)}, {state}", "quiet"))
    for text in _measures(review):
        yield quiet(f"  {text}")
    rows = []
    for name, past in review.exercises:
        kept = retention_of(past)
        text = "" if kept is None else f"{100 * kept.last:3.0f} {100 * kept.total:3.0f} %"
        unit = " s" if past.measure == "hold" else ""
        rows.append((shown(name), counts(past) + unit, text, shown(_use(past.use))))
    yield from _table(("exercise", "sets", "kept", "as"), rows, width=width)
    yield quiet("  kept: the last set, and all sets, as a share of the first set's count")
    if row.note:
        yield quiet(f"  note: {row.note}")


def _measures(review: SessionReview) -> Iterator[str]:
    row = review.row
    if review.length is not None:
        yield f"length {clock(review.length.actual)}, forecast {clock(review.length.forecast)}"
    elif row.length_s is not None:
        yield f"length {clock(row.length_s)}"
    ended = "" if row.session_end is None else _ended(row.session_start, row.session_end)
    if ended:
        yield ended
    if review.recovery is not None:
        had, aimed, short = review.recovery.had, review.recovery.aimed, review.recovery.under_least
        under = f", {short} of them under the least" if short else ""
        yield f"recovery {clock(had)} on average, aimed at {clock(aimed)}{under}"
    load = session_load(row.rpe, None if row.length_s is None else row.length_s / 60)
    if load is not None:
        yield f"session RPE {row.rpe:g}, session load {load:.0f} (RPE times minutes, published)"
    if row.mass_kg is not None:
        yield f"body mass {load_text(row.mass_kg)} kg"


def _ended(start: str, end: str) -> str:
    """A remark on its end: another day, other clocks. It counts for its first day."""
    parts = []
    if start[:10] != end[:10]:
        parts.append(f"ended {end[:16].replace('T', ' ')}, counted for {start[:10]}")
    if start[19:] != end[19:]:
        parts.append("the clocks were changed meanwhile")
    return "; ".join(parts)


def _use(use: Use | None) -> str:
    return "" if use is None else use.text


# Tables


def _table(
    titles: tuple[str, ...],
    rows: Sequence[tuple[str, ...]],
    notes: Sequence[str] = (),
    *,
    width: int | None = None,
) -> Iterator[Line]:
    """Columns under their titles; a note stands behind its row.

    Where a row is wider than `width`, the last column stands on lines of its own.
    """
    widths = [max(len(r[i]) for r in [titles, *rows]) for i in range(len(titles))]
    whole = 2 + sum(widths) + 2 * (len(widths) - 1)
    below = width is not None and whole > width
    if below:
        widths = widths[:-1]
    yield (("  " + _aligned(titles[: len(widths)], widths), "mark"),)
    for number, row in enumerate(rows):
        note = notes[number] if number < len(notes) else ""
        text = _aligned(row[: len(widths)], widths)
        yield ((f"  {text}", "quiet"), *(((f"  {shown(note)}", "ink"),) if note else ()))
        if below and row[-1]:
            yield ((f"      {row[-1]}", "quiet"),)


def _aligned(row: tuple[str, ...], widths: Sequence[int]) -> str:
    return "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


# The look back as lines of text, for pipes, screen readers and paper.

WIDTH = 78  # fits 80 columns
MOST = 8  # sessions of each exercise, where all exercises are told; our choice
SCREEN = 22  # lines of the short form: a screen of 24 with the command and the prompt


def lines(
    past: Past,
    trends: tuple[Trend, ...],
    now: datetime,
    *,
    whole: bool,
    person: Person | None = None,
    short: bool = False,
    drawn: bool = True,
) -> Iterator[str]:
    """A whole past, what needs a look first; or only that, on one screen, where it is `short`.

    With `whole` False, one exercise in full. `drawn`: whether the output's encoding has the signs
    of charts; else only the tables are shown.
    """
    charted = WIDTH if drawn else 0
    for line in _lines(past, trends, now, charted, whole=whole, person=person, short=short):
        yield "".join(text for text, _ in line).rstrip()


def _lines(
    past: Past,
    trends: tuple[Trend, ...],
    now: datetime,
    charted: int,
    *,
    whole: bool,
    person: Person | None,
    short: bool,
) -> Iterator[Line]:
    first = _first(past, person, now, whole=whole)
    yield from first
    if not past.trends:
        yield quiet(NO_SET)
    if whole and past.trends:
        room = max(SCREEN - len(first) - 3, 3) if short else None
        yield from exercises(past, person, WIDTH, room)
    if whole and short:
        yield quiet("matside review --all: charts, weeks, sessions and bests")
        return
    for number, trend in enumerate(trends):
        if whole or number:
            yield NOTHING
        yield from exercise(past, trend, charted, most=MOST if whole else None)
    if whole:
        yield NOTHING
        yield from _rest(past, now, charted)


def _first(past: Past, person: Person | None, now: datetime, *, whole: bool) -> list[Line]:
    """Who and when, and what needs a look."""
    found = [head(past)]
    if not past.asked:
        found.append(quiet("The last weeks with a session; --since and --until choose others."))
    found.append(NOTHING)
    return [*found, *look(past, person, WIDTH, now), NOTHING] if whole else found


def _rest(past: Past, now: datetime, charted: int) -> Iterator[Line]:
    """Muscles, weeks, sessions and bests."""
    if past.weeks:
        yield from muscles(past, past.weeks[-1], charted, now)
        yield NOTHING
        for name in every_muscle(past) if charted else ():
            yield from muscle(past, name, charted)
        yield NOTHING
        yield mark("Weeks, the newest first")
        yield from weeks(past, WIDTH, now)
        yield NOTHING
    yield mark("The last sessions in full")
    yield from sessions(past, WIDTH)
    yield from bests(past)
