"""What is known of a session before its first event, and when its rows happened.

An event's instant is the session's start plus its seconds. The date, ISO week and file order
go by the local date on which the session was opened, so a set after midnight still belongs to it.
"""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from functools import lru_cache
from zoneinfo import ZoneInfo

from runner import __version__
from runner.core.workout import Workout
from runner.record.text import clean, trainee_name

# Of a session's id: no letters that are read as digits.
_ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"
_TOKEN = 4  # 20 bits within a second; our choice


@dataclass(frozen=True, slots=True)
class SessionInfo:
    """A session as the record knows it from its opening on."""

    id: str  # sorts by time: 20261125-063000-4f2k
    plan: str  # the plan's title
    plan_text: str  # the plan's content as it was
    plan_hash: str  # SHA-256 of its UTF-8, in hexadecimal
    session: str  # its id within the plan
    trainee: str
    started: datetime  # aware, UTC, whole milliseconds
    offset_s: int  # local time less UTC at the start, in seconds
    zone: str  # the zone's name as the system gave it, "" where it gave none
    local_date: date
    version: str  # of this program
    trial: bool = False

    @classmethod
    def opened(
        cls,
        now: datetime,
        workout: Workout,
        plan_text: str,
        trainee: str,
        *,
        zone: str | None = None,
        version: str = __version__,
        token: str | None = None,
    ) -> SessionInfo:
        """A new session, opened at the local time `now`.

        `now` must be aware: ValueError if not. `zone` is the zone's name; by default the key of
        `now`'s zone, or the abbreviation that it gives. `token` makes the id unique; by default
        it is drawn.
        """
        offset = now.utcoffset()
        if offset is None:
            raise ValueError("the start of a session needs a time with its offset")
        started = _whole_ms(now.astimezone(UTC))
        if zone is None:
            zone = str(getattr(now.tzinfo, "key", None) or now.tzname() or "")
        if token is None:
            token = "".join(secrets.choice(_ALPHABET) for _ in range(_TOKEN))
        return cls(
            id=f"{started:%Y%m%d-%H%M%S}-{token}",
            plan=workout.plan,
            plan_text=plan_text,
            plan_hash=hashlib.sha256(plan_text.encode()).hexdigest(),
            session=workout.session,
            trainee=trainee_name(trainee),
            started=started,
            offset_s=round(offset.total_seconds()),
            zone=clean(zone),
            local_date=now.date(),
            version=version,
            trial=workout.trial,
        )

    @property
    def iso_week(self) -> str:
        """The ISO 8601 week of the local date: 2026-W48."""
        return iso_week(self.local_date)

    @property
    def local_zone(self) -> tzinfo:
        """The zone that local times are given in.

        The zone named, so that a clock change in mid-session shows; the stored offset where
        the name is unknown here, or does not mean that offset (an abbreviation of elsewhere).
        """
        stored = timezone(timedelta(seconds=self.offset_s))
        named = _zone(self.zone)
        if named is None:
            return stored
        same = self.started.astimezone(named).utcoffset() == stored.utcoffset(None)
        return named if same else stored

    def utc(self, at: float) -> datetime:
        """The instant of `at` session seconds, UTC, to the nearest millisecond."""
        return self.started + timedelta(milliseconds=round(at * 1000))

    def local(self, at: float) -> datetime:
        """The same in local time, with the offset in force then."""
        return self.utc(at).astimezone(self.local_zone)

    def utc_text(self, at: float) -> str:
        """The same as text: 2026-11-25T06:30:00.000Z."""
        return utc_text(self.utc(at))


def utc_text(instant: datetime) -> str:
    """An aware instant in UTC as text with milliseconds: 2026-11-25T06:30:00.000Z."""
    stamp = instant.astimezone(UTC).isoformat(timespec="milliseconds")
    return stamp.removesuffix("+00:00") + "Z"


def iso_week(day: date) -> str:
    """The ISO 8601 week of a date: 2026-W48."""
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02}"


def _whole_ms(instant: datetime) -> datetime:
    return instant.replace(microsecond=instant.microsecond // 1000 * 1000)


@lru_cache(maxsize=64)
def _zone(name: str) -> ZoneInfo | None:
    """The IANA zone of that name, if this system knows it."""
    try:
        return ZoneInfo(name) if name else None
    except (LookupError, ValueError, OSError):  # unknown; no key at all; a folder of zones
        return None
