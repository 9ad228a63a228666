"""What the log says of each aircraft over its flights: run-ups, what was flown and burned, and what maintenance signed.

Folded record by record with the flights; a cache of the log, never a second truth.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from riskboard.ledger import Entry
from riskboard.ledger.canonical import NotCanonicalError, parse_utc

__all__ = ["ABOUT_AIRCRAFT", "Flown", "Past", "RunUpRead", "Worked", "fuel_at_start_of", "moment_of", "take_past"]

_OF_FLIGHT = frozenset({"run_up", "took_off", "debriefed", "cancelled"})
_OF_AIRCRAFT = frozenset({"fact_changed", "defect_reported", "maintenance_signed"})
_SUBJECT = "aircraft "
ABOUT_AIRCRAFT = _OF_FLIGHT | _OF_AIRCRAFT
"""Kinds of record that tell something about an aircraft."""


@dataclass(frozen=True, slots=True)
class RunUpRead:
    """One run-up.

    Attributes:
        seq: Number of the record.
        at: When.
        flight_id: For which flight.
        by: Who entered it.
        good: Whether nothing stood against taking off.
        seen: What was seen, by entry.
    """

    seq: int
    at: datetime
    flight_id: str
    by: str
    good: bool
    seen: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Flown:
    """One flight that was closed.

    Attributes:
        seq: Number of the record.
        at: When it landed, or was closed where no landing time was told.
        flight_id: Which.
        flown_h: Hours by the meter; None unknown.
        used_gal: Fuel used from start to shut-down; None where start or rest is unknown, or fuel was taken on the way,
            or nobody said that none was.
    """

    seq: int
    at: datetime
    flight_id: str
    flown_h: float | None
    used_gal: float | None


@dataclass(frozen=True, slots=True)
class Worked:
    """Maintenance signed something.

    Attributes:
        seq: Number of the record.
        at: When.
        by: Who.
        starts_over: Entries of the run-up whose readings begin anew, because the part was changed or adjusted.
    """

    seq: int
    at: datetime
    by: str
    starts_over: frozenset[str]


@dataclass
class Past:
    """What the log says of one aircraft.

    Attributes:
        flights: Flights that ran up or left, in that order, with the number of the record that says so.
        run_ups: Every run-up, oldest first.
        flown: Every flight that was closed, oldest first.
        worked: Everything that maintenance signed, oldest first.
        records: Number and subject of every record about it, oldest first.
    """

    flights: dict[str, int] = field(default_factory=dict)
    run_ups: list[RunUpRead] = field(default_factory=list)
    flown: list[Flown] = field(default_factory=list)
    worked: list[Worked] = field(default_factory=list)
    records: list[tuple[int, str]] = field(default_factory=list)


def take_past(
    pasts: dict[str, Past], entry: Entry, body: Mapping[str, Any], aircraft_id: str, fuel_gal: float | None
) -> None:
    """Take in the next record.

    Args:
        pasts: What is known so far, by aircraft; changed in place.
        entry: The record.
        body: Its body, {} if it is gone.
        aircraft_id: Aircraft of the flight it is about, "" for none.
        fuel_gal: Usable fuel at the start of that flight.
    """
    header = entry.header
    if header.kind in _OF_AIRCRAFT and header.subject.startswith(_SUBJECT):
        past = pasts.setdefault(header.subject.removeprefix(_SUBJECT), Past())
        past.records.append((entry.seq, header.subject))
        if header.kind == "maintenance_signed":
            names = body.get("starts_over")
            again = frozenset(map(str, names)) if isinstance(names, list) else frozenset()
            past.worked.append(Worked(entry.seq, header.at, header.actor, again))
        return
    if header.kind == "run_up" and not aircraft_id:
        aircraft_id = str(body.get("aircraft") or "")  # found by its registration
    if header.kind not in _OF_FLIGHT or not aircraft_id:
        return
    past = pasts.setdefault(aircraft_id, Past())
    past.records.append((entry.seq, header.subject))
    if header.kind in {"run_up", "took_off", "debriefed"}:
        past.flights.setdefault(header.subject, entry.seq)
    if header.kind == "run_up":
        seen = body.get("seen")
        known = seen if isinstance(seen, Mapping) else {}
        good = body.get("good") is True
        past.run_ups.append(RunUpRead(entry.seq, header.at, header.subject, header.actor, good, known))
    elif header.kind == "debriefed":
        past.flown.append(_flown(entry, body, fuel_gal))


def fuel_at_start_of(aircraft: Mapping[str, Any]) -> float | None:
    """Usable fuel of a worksheet's aircraft part."""
    return _number(aircraft.get("fuel_usable_gal"))


def _flown(entry: Entry, body: Mapping[str, Any], fuel_gal: float | None) -> Flown:
    told = body.get("debrief")
    told = told if isinstance(told, Mapping) else {}
    left = _number(told.get("fuel_left_gal"))
    used = None
    if fuel_gal is not None and left is not None and told.get("refuelled") is False and left <= fuel_gal:
        used = fuel_gal - left
    hours = _number(body.get("flown_h"))
    at = moment_of(told.get("landed_at")) or entry.header.at
    return Flown(entry.seq, at, entry.header.subject, hours or None, used)


def _number(found: object) -> float | None:
    return float(found) if isinstance(found, int | float) and not isinstance(found, bool) else None


def moment_of(found: object) -> datetime | None:
    """A moment as a record states it; None for what is none."""
    if not isinstance(found, str):
        return None
    try:
        return parse_utc(found)
    except NotCanonicalError:
        try:
            moment = datetime.fromisoformat(found)
        except ValueError:
            return None
        return moment if moment.tzinfo is not None else None
