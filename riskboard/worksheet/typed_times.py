"""Times as people type them at a desk: "22:30", "2230-0630, 23-7", in the zone of the place. Pure; now is passed in."""

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

__all__ = ["TypedTimeError", "iso_utc", "local_text", "moment_from_text", "quarter_hours", "sleeps_from_text"]

_HOURS, _MINUTES = 24, 60
_MOST_SLEEPS = 8
_TIME = r"(\d{1,2})(?:[:.h]?(\d{2}))?"
_CLOCK = re.compile(rf"{_TIME}", re.ASCII)
_DATED = re.compile(rf"(\d{{4}}-\d{{2}}-\d{{2}})[ T]{_TIME}", re.ASCII)
_SPAN = re.compile(rf"{_TIME}\s*(?:[-\u2013]|to|until)\s*{_TIME}", re.ASCII | re.IGNORECASE)
_QUARTER = timedelta(minutes=15)


class TypedTimeError(ValueError):
    """What was typed is no time; the message says what would be right."""


def iso_utc(moment: datetime) -> str:
    """A moment as worksheets keep it: ISO 8601 in UTC, whole seconds."""
    return moment.astimezone(UTC).replace(microsecond=0).isoformat().replace("+00:00", "Z")


def local_text(moment: datetime, zone: ZoneInfo) -> str:
    """A moment as people read it at the place: 2026-05-04 08:30."""
    return f"{moment.astimezone(zone):%Y-%m-%d %H:%M}"


def _clock(hours: str, minutes: str | None, typed: str) -> tuple[int, int]:
    hour, minute = int(hours), int(minutes or 0)
    if hour >= _HOURS or minute >= _MINUTES:
        raise TypedTimeError(f"{typed!r} is no time of day; write one such as 22:30")
    return hour, minute


def _at_clock(day: date, clock: tuple[int, int], zone: ZoneInfo) -> datetime:
    """A wall-clock time on a day, in UTC; of an hour that a clock change repeats, the first."""
    return datetime(day.year, day.month, day.day, *clock, tzinfo=zone).astimezone(UTC)


def _latest_not_after(limit: datetime, clock: tuple[int, int], zone: ZoneInfo) -> datetime:
    day = limit.astimezone(zone).date()
    found = _at_clock(day, clock, zone)
    return found if found <= limit else _at_clock(day - timedelta(days=1), clock, zone)


def _earliest_not_before(limit: datetime, clock: tuple[int, int], zone: ZoneInfo) -> datetime:
    day = limit.astimezone(zone).date()
    found = _at_clock(day, clock, zone)
    return found if found >= limit else _at_clock(day + timedelta(days=1), clock, zone)


def moment_from_text(typed: str, *, at: datetime, zone: ZoneInfo, ahead: bool) -> datetime:
    """Read a moment from "14:30", "1430" or "2026-05-04 14:30".

    Args:
        typed: As typed; a local time at the place.
        at: Now, aware.
        zone: The zone of the place.
        ahead: Of a time without a date: True takes the next such time, False the last one.

    Returns:
        The moment, UTC.

    Raises:
        TypedTimeError: It is no time.
    """
    text = typed.strip()
    dated = _DATED.fullmatch(text)
    if dated:
        try:
            day = date.fromisoformat(dated[1])
        except ValueError as error:
            raise TypedTimeError(f"{text!r} has no such day; write one such as 2026-05-04 14:30") from error
        return _at_clock(day, _clock(dated[2], dated[3], text), zone)
    plain = _CLOCK.fullmatch(text)
    if plain is None:
        raise TypedTimeError(f"{text[:40]!r} is no time; write one such as 14:30 or 2026-05-04 14:30")
    find = _earliest_not_before if ahead else _latest_not_after
    return find(at, _clock(plain[1], plain[2], text), zone)


def sleeps_from_text(typed: str, *, at: datetime, zone: ZoneInfo) -> list[dict[str, str]]:
    """Read sleeps from "22:30-06:30, 23-7": the latest first, then the one before, naps too.

    Each sleep ends at the last such time before the next one begins (the latest: before now), so no dates are typed.

    Args:
        typed: As typed; local times. "none" means no sleep at all.
        at: Now, aware.
        zone: The zone of the place.

    Returns:
        Spans as plain worksheet entries, latest first; an empty list for "none".

    Raises:
        TypedTimeError: Something in it is no span of time.
    """
    text = typed.strip()
    if text.lower() == "none":
        return []
    pieces = [piece.strip() for piece in re.split(r"[,;\n]|\band\b", text) if piece.strip()]
    if not pieces or len(pieces) > _MOST_SLEEPS:
        raise TypedTimeError("write each sleep as 22:30-06:30, the latest first, with commas between")
    spans = []
    limit = at
    for piece in pieces:
        found = _SPAN.fullmatch(piece)
        if found is None:
            raise TypedTimeError(f"{piece[:40]!r} is no span of time; write one such as 22:30-06:30")
        end = _latest_not_after(limit, _clock(found[3], found[4], piece), zone)
        start = _latest_not_after(end - timedelta(minutes=1), _clock(found[1], found[2], piece), zone)
        spans.append({"start_at": iso_utc(start), "end_at": iso_utc(end)})
        limit = start
    return spans


def quarter_hours(at: datetime, zone: ZoneInfo, count: int) -> list[datetime]:
    """The next quarter hours after now, for choosing a time with one tap."""
    local = at.astimezone(UTC).replace(second=0, microsecond=0)
    first = local + timedelta(minutes=15 - local.minute % 15)
    return [(first + step * _QUARTER).astimezone(zone) for step in range(count)]
