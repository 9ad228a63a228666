"""How the readings of an aircraft's run-ups move from flight to flight, before one of them passes its tolerance."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from riskboard.aircraft_types.model import AircraftType, RunUp
from riskboard.measures.drift import FEWEST, MOST, Drift, Outlook, drift

__all__ = ["DRIFTING", "FlightReading", "ItemDrift", "Watched", "item_drifts"]

_SHOWN = 12
_FAR = 50
"""Flights beyond which an unsure movement is not counted down: our own choice."""


@dataclass(frozen=True)
class Watched:
    """One reading that is watched.

    Attributes:
        label: What it is called.
        unit: Its unit.
        resolution: Step in which people read it.
        limit_of: Its limit in the type; None where the type has none.
        falls: Whether it gets worse by falling.
    """

    label: str
    unit: str
    resolution: float
    limit_of: Callable[[RunUp], float | None]
    falls: bool = False


DRIFTING: Mapping[str, Watched] = {
    "oil_pressure_after_s": Watched("Time to oil pressure", "s", 1, lambda run_up: run_up.oil_pressure_within_s),
    "rotor_turning_after_s": Watched("Time to rotor turning", "s", 1, lambda run_up: run_up.rotor_turning_within_s),
    "clutch_light_out_after_s": Watched(
        "Time to clutch light out", "s", 1, lambda run_up: run_up.clutch_light_out_within_s
    ),
    "magneto_left_drop_pct": Watched("Drop on the left magneto", "%", 0.5, lambda run_up: run_up.magneto_drop_max_pct),
    "magneto_right_drop_pct": Watched(
        "Drop on the right magneto", "%", 0.5, lambda run_up: run_up.magneto_drop_max_pct
    ),
    "carburettor_heat_rise_c": Watched(
        "Rise with carburettor heat", "°C", 1, lambda run_up: run_up.carburettor_heat_rise_min_c, falls=True
    ),
}
"""Entries of the run-up that wear moves slowly. How finely people read such gauges is common practice, no source."""


@dataclass(frozen=True)
class FlightReading:
    """The last run-up of one flight; ``seen`` is None for a flight that left without one.

    Attributes:
        seq: Number of its record, or of the one that says that the flight left.
        at: When; None for a flight without a run-up.
        seen: What was seen, by entry.
    """

    seq: int
    at: datetime | None
    seen: Mapping[str, Any] | None


@dataclass(frozen=True)
class ItemDrift:
    """One watched reading of one aircraft.

    Attributes:
        item: Entry of the run-up.
        label: What it is called.
        unit: Its unit.
        limit: The type's tolerance.
        falls: Whether it gets worse by falling; ``limit`` is then the lowest value allowed.
        readings: The newest readings since the part was last changed, oldest first, at most a dozen.
        drift: The trend. Where the reading falls, of its negative: higher is always worse.
        sentence: The trend in words.
    """

    item: str
    label: str
    unit: str
    limit: float
    falls: bool
    readings: tuple[tuple[datetime, float], ...]
    drift: Drift
    sentence: str

    @property
    def warns(self) -> bool:
        """Whether maintenance should look: the trend moves toward the limit, or has passed it."""
        return self.drift.outlook in {Outlook.rising, Outlook.over_the_limit}


def item_drifts(
    kind: AircraftType, flights: Sequence[FlightReading], starts_over: Mapping[str, int]
) -> tuple[ItemDrift, ...]:
    """The drift of each watched reading that the type has.

    Args:
        kind: The type, with its tolerances.
        flights: The aircraft's flights, oldest first.
        starts_over: Entry -> number of the record by which maintenance changed or adjusted its part; readings before
            it do not count.
    """
    found = []
    for item, watched in DRIFTING.items():
        limit = watched.limit_of(kind.run_up)
        if limit is not None:
            found.append(_one(item, watched, limit, [each for each in flights if each.seq > starts_over.get(item, 0)]))
    return tuple(found)


def _one(item: str, watched: Watched, limit: float, flights: Sequence[FlightReading]) -> ItemDrift:
    values = [None if each.seen is None else _number(each.seen.get(item)) for each in flights]
    sign = -1.0 if watched.falls else 1.0
    trend = drift(
        [None if value is None else sign * value for value in values], sign * limit, resolution=watched.resolution
    )
    read = [(each.at, value) for each, value in zip(flights, values, strict=True) if value is not None]
    known = tuple((at, value) for at, value in read if at is not None)[-_SHOWN:]
    sentence = _sentence(trend, watched)
    return ItemDrift(item, watched.label, watched.unit, limit, watched.falls, known, trend, sentence)


def _sentence(trend: Drift, watched: Watched) -> str:
    if trend.outlook is Outlook.too_few_flights:
        return f"Too few readings for a trend: {trend.readings} of {FEWEST}."
    if trend.level is None or trend.slope_per_flight is None:
        return ""
    level, slope = (-trend.level, -trend.slope_per_flight) if watched.falls else (trend.level, trend.slope_per_flight)
    now = f"Now about {level:.1f} {watched.unit}"
    if trend.outlook is Outlook.over_the_limit:
        return f"{now}: the trend has passed the limit."
    if trend.outlook is Outlook.not_rising:
        return f"{now}, steady."
    soon = f"a reading may pass the limit within {_flights(trend.soonest)}"
    if trend.outlook is Outlook.may_rise:
        far = trend.soonest is None or trend.soonest > _FAR
        no_trend = f", no clear movement in {trend.readings} readings."
        return now + (no_trend if far else f"; whether it moves is not sure. At worst {soon}.")
    verb = "falls" if watched.falls else "rises"
    return (
        f"{now}, {verb} by about {abs(slope):.2g} {watched.unit} a flight: {soon}; more likely within "
        f"{_flights(trend.flights_left)}."
    )


def _flights(count: int | None) -> str:
    if count is None:
        return f"more than {MOST} flights"
    return "the next flight" if count == 0 else f"{count + 1} flights"


def _number(found: object) -> float | None:
    return float(found) if isinstance(found, int | float) and not isinstance(found, bool) else None
