"""On which day the next work falls due by the meter, at the rate at which an aircraft has been flown lately.

A rate from a few flights says little, so a forecast is a day and how early it may be, and below :data:`FEWEST` flights
there is none.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

__all__ = ["FEWEST", "WINDOW", "DueDay", "FlyingRate", "due_day", "flying_rate"]

FEWEST: Final = 8
"""Flights below which no rate is stated: our own choice, no source."""
WINDOW: Final = timedelta(days=90)
"""How far back flights count: our own choice; a season, so that the rate follows the school's year."""
SHORTEST: Final = timedelta(days=14)
"""A rate needs flights over at least this long: our own choice. A busy week is no rate."""
_ONE_SIDED: Final = 1.645
"""Standard normal deviate passed by 1 in 20."""
_FARTHEST: Final = 730
"""Days beyond which a rate of flying says nothing: our own choice."""


@dataclass(frozen=True)
class FlyingRate:
    """How much an aircraft is flown.

    Attributes:
        hours_per_day: Mean over the days counted, idle days among them; None where it cannot be said.
        hours_sd_per_flight_h: Root of the mean square of the hours of a flight: what one flight adds to the scatter.
        flights: Flights counted.
        unknown: How many of them had no known hours; each counts as the mean of the others.
        days: Days counted.
    """

    hours_per_day: float | None
    hours_sd_per_flight_h: float
    flights: int
    unknown: int
    days: float

    @property
    def sentence(self) -> str:
        """The rate in words."""
        if self.hours_per_day is None:
            return f"Too few flights on record for a rate of flying ({self.flights} of {FEWEST})."
        return f"Flown {self.hours_per_day * 7:.1f} h a week lately ({self.flights} flights in {self.days:.0f} days)."


@dataclass(frozen=True)
class DueDay:
    """When work by the meter falls due.

    Attributes:
        on: The day at the mean rate.
        earliest: How early it may be: earlier in about 1 of 20 cases, as far as the flights on record tell.
    """

    on: date
    earliest: date


def flying_rate(flights: Sequence[tuple[datetime, float | None]], now: datetime) -> FlyingRate:
    """The rate of flying over the last :data:`WINDOW`.

    Args:
        flights: (end of the flight, hours by the meter, above 0, or None where nobody knows), any order.
        now: Now, aware.

    Raises:
        ValueError: Hours of 0 or less, or not finite.
    """
    lately = [(at, hours) for at, hours in flights if now - WINDOW <= at <= now]
    known = [hours for _, hours in lately if hours is not None]
    if any(not math.isfinite(hours) or hours <= 0 for hours in known):
        raise ValueError("hours of a flight must be above 0, or None where they are not known")
    first = min((at for at, _ in lately), default=now)
    # Where older flights exist the whole window counts; else the days since the first flight on record.
    older = any(at < now - WINDOW for at, _ in flights)
    span = WINDOW if older else now - first
    days = span.total_seconds() / 86_400
    unknown = len(lately) - len(known)
    if len(known) < FEWEST or span < SHORTEST:
        return FlyingRate(None, 0.0, len(lately), unknown, days)
    mean = math.fsum(known) / len(known)
    square = math.fsum(hours * hours for hours in known) / len(known)
    return FlyingRate(mean * len(lately) / days, math.sqrt(square), len(lately), unknown, days)


def due_day(hours_left: float, rate: FlyingRate, today: date) -> DueDay | None:
    """The day on which hours are used up.

    Flights come at random at a steady rate and their hours scatter (a compound Poisson process: the variance of the
    hours over a time is the number of flights in it times the mean square of their hours). The rate itself is known
    from the flights counted only. Both scatters are added.

    Args:
        hours_left: Hours until it is due; 0 or less is due now.
        rate: The rate of flying.
        today: Today.

    Returns:
        The day and how early it may be; None where there is no rate, or it is more than two years off. Fewer hours left
        are never due later.

    Raises:
        ValueError: ``hours_left`` is not finite.

    Source: variance of a compound Poisson process, any textbook of stochastic processes; the rest is our own reasoning.
    """
    if not math.isfinite(hours_left):
        raise ValueError("hours_left must be known")
    if rate.hours_per_day is None:
        return None
    if hours_left <= 0:
        return DueDay(today, today)
    mean = hours_left / rate.hours_per_day
    if mean > _FARTHEST:
        return None
    counted = rate.hours_per_day * rate.days
    square = rate.hours_sd_per_flight_h**2 * rate.flights / counted
    # The fewest expected hours m at which the hours flown may have reached the hours left L (1 in 20):
    # L = m + z * sqrt(m * square + m**2 * square / counted); first the time ahead scatters, then the rate.
    part = _ONE_SIDED**2 * square
    middle = 2.0 * hours_left + part
    under_root = middle**2 - 4.0 * (1.0 - part / counted) * hours_left**2
    soon = 2.0 * hours_left**2 / (middle + math.sqrt(under_root)) / rate.hours_per_day
    return DueDay(today + timedelta(days=math.floor(mean)), today + timedelta(days=math.floor(soon)))
