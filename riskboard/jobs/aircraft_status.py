"""Every aircraft at one glance: what stands open, what falls due and when, how it was left, what nobody knows."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from riskboard.aircraft_types import AircraftType
from riskboard.jobs.aircraft_log import Past, RunUpRead, moment_of
from riskboard.jobs.flight_log import Flight, Picture
from riskboard.jobs.flights import NotShownError
from riskboard.jobs.maintenance import may_clear
from riskboard.jobs.office import Office, documents, school_zone
from riskboard.jobs.own_burn import Burn, burn_of
from riskboard.jobs.roles import roles_of
from riskboard.jobs.run_up_sheet import drifts_of
from riskboard.jobs.types import types_in_force
from riskboard.ledger import Status
from riskboard.people.authority import Ruling, may_report_defect, may_see_board
from riskboard.upkeep.drifts import ItemDrift
from riskboard.upkeep.forecast import FlyingRate, flying_rate
from riskboard.upkeep.state import OpenDefect, Stand, WorkDue, open_defects_of, stand_of, work_due
from riskboard.upkeep.work import work_items
from riskboard.words import ItemLeft
from riskboard.worksheet.debrief import Condition

__all__ = ["AircraftStatus", "Left", "aircraft_status", "one_aircraft"]

_OUT = frozenset({Status.RELEASED, Status.AIRBORNE})
RAISED_WATCH_H = 10.0
"""Hours after major maintenance with a raised watch on the board: common practice, no source; policy has the points."""


@dataclass(frozen=True)
class Left:
    """How the last user left an aircraft.

    Attributes:
        by: Who, by name; "" unknown.
        at: When; None unknown.
        wrong: What was left out of place, in words.
        untold: What nobody told about.
        fuel_left_gal: Fuel left; None unknown.
    """

    by: str
    at: datetime | None
    wrong: tuple[str, ...]
    untold: tuple[str, ...]
    fuel_left_gal: float | None


@dataclass(frozen=True)
class AircraftStatus:
    """One aircraft, as whoever flies it next has to know it.

    Attributes:
        aircraft_id: Its id.
        registration: As people call it.
        type_title: Type as stored, "" unknown.
        type_on_file: Whether the school has that type on file.
        invented: Whether its type comes from no flight manual.
        stand: The gravest thing there is.
        meter_h: Meter; None unknown.
        meter_read_at: When it was read.
        defects: Open defects, the gravest first; None where nobody has said whether there are any.
        work: What falls due, the gravest and soonest first.
        rate: How much it is flown.
        since_major_h: Hours since major maintenance; None unknown.
        raised_watch: Whether major maintenance was so lately that it deserves extra watch; unknown counts as not known.
        left: How it was left; None where nobody ever told.
        out: The flight on which it is out; None while it stands here.
        last_run_up: The newest run-up on record; None for none.
        drifts: How its run-up readings move; none without a type on file.
        burn: What it burns; None without a type on file.
        unknown: What nobody knows, in words.
        may_report: Whether this person may open a defect.
        may_sign: Whether this person may sign work on it now.
    """

    aircraft_id: str
    registration: str
    type_title: str
    type_on_file: bool
    invented: bool
    stand: Stand
    meter_h: float | None
    meter_read_at: datetime | None
    defects: tuple[OpenDefect, ...] | None
    work: tuple[WorkDue, ...]
    rate: FlyingRate
    since_major_h: float | None
    raised_watch: bool
    left: Left | None
    out: Flight | None
    last_run_up: RunUpRead | None
    drifts: tuple[ItemDrift, ...]
    burn: Burn | None
    unknown: tuple[str, ...]
    may_report: Ruling
    may_sign: Ruling


def aircraft_status(office: Office, person_id: str, *, at: datetime) -> tuple[AircraftStatus, ...]:
    """Every aircraft of the school, by registration.

    Args:
        office: The school.
        person_id: Who looks: anybody with a role at the school.
        at: Now.

    Raises:
        NotShownError: They hold no role at the school.
    """
    _check(office, person_id, at)
    picture, types, names = office.log.look(), types_in_force(office), _names(office)
    found = [_status(office, picture, types, names, each, person_id, at) for each in documents(office, "aircraft")]
    return tuple(sorted(found, key=lambda each: each.registration))


def one_aircraft(office: Office, person_id: str, aircraft_id: str, *, at: datetime) -> AircraftStatus:
    """One aircraft; arguments and errors as in :func:`aircraft_status`.

    Raises:
        KeyError: The school has no such aircraft.
    """
    for status in aircraft_status(office, person_id, at=at):
        if status.aircraft_id == aircraft_id:
            return status
    raise KeyError(f"the school has no aircraft called {aircraft_id!r}")


def _check(office: Office, person_id: str, at: datetime) -> None:
    ruling = may_see_board(roles_of(office, person_id, at))
    if not ruling.allowed:
        raise NotShownError(" ".join(ruling.clauses))


def _names(office: Office) -> Mapping[str, str]:
    return {found["id"]: str(found.get("name", found["id"])) for found in documents(office, "person")}


def _status(
    office: Office,
    picture: Picture,
    types: Mapping[str, AircraftType],
    names: Mapping[str, str],
    document: Mapping[str, Any],
    person_id: str,
    at: datetime,
) -> AircraftStatus:
    identity, facts = str(document["id"]), document.get("aircraft") or {}
    today = at.astimezone(ZoneInfo(school_zone(office))).date()
    past = picture.past.get(identity, Past())
    title = str(facts.get("type_name") or "")
    kind = types.get(title)
    meter = _number(facts.get("meter_h"))
    rate = flying_rate([(flight.at, flight.flown_h) for flight in past.flown], at)
    defects = open_defects_of(facts, today)
    work = work_due(work_items(facts, kind), meter, rate, today)
    since_major = _number(facts.get("hours_since_major_maintenance_h"))
    left = _left(document, names)
    drifts = () if kind is None else drifts_of(kind, past)
    raised = since_major is not None and since_major < RAISED_WATCH_H
    unknown = tuple(_unknown(title, kind, meter, defects, since_major, left))
    look = raised or any(each.warns for each in drifts) or (left is not None and bool(left.wrong))
    return AircraftStatus(
        aircraft_id=identity,
        registration=str(facts.get("registration") or identity),
        type_title=title,
        type_on_file=kind is not None,
        invented=kind is not None and kind.invented,
        stand=stand_of(defects, work, all_known=not unknown, look=look),
        meter_h=meter,
        meter_read_at=moment_of(facts.get("meter_read_at")),
        defects=defects,
        work=work,
        rate=rate,
        since_major_h=since_major,
        raised_watch=raised,
        left=left,
        out=_out(picture, identity),
        last_run_up=past.run_ups[-1] if past.run_ups else None,
        drifts=drifts,
        burn=None if kind is None else burn_of(kind, past, _number(facts.get("fuel_burn_gal_h"))),
        unknown=unknown,
        may_report=may_report_defect(roles_of(office, person_id, at)),
        may_sign=may_clear(office, picture, person_id, identity, at),
    )


def _out(picture: Picture, aircraft_id: str) -> Flight | None:
    out = [picture.flights[flight_id] for flight_id in picture.open]
    return next((each for each in out if each.aircraft_id == aircraft_id and each.state.status in _OUT), None)


def _left(document: Mapping[str, Any], names: Mapping[str, str]) -> Left | None:
    told = document.get("condition_left")
    if not isinstance(told, Mapping):
        return None
    items = told.get("items")
    items = items if isinstance(items, Mapping) else {}
    labels = {name: info.label for name, info in Condition.facts().items()}
    by = str(told.get("by") or "")
    return Left(
        by=names.get(by, by),
        at=moment_of(told.get("at")),
        wrong=tuple(label for name, label in labels.items() if items.get(name) == ItemLeft.out_of_place.value),
        untold=tuple(label for name, label in labels.items() if items.get(name) is None),
        fuel_left_gal=_number(told.get("fuel_left_gal")),
    )


def _unknown(
    title: str,
    kind: AircraftType | None,
    meter: float | None,
    defects: tuple[OpenDefect, ...] | None,
    since_major: float | None,
    left: Left | None,
) -> list[str]:
    said = []
    if kind is None:
        said.append(f"the type {title!r} is not on file" if title else "which type it is")
    if meter is None:
        said.append("what the meter reads")
    if defects is None:
        said.append("whether a defect stands open")
    if since_major is None:
        said.append("hours since major maintenance")
    if left is None:
        said.append("how it was left")
    elif left.untold:
        said.append(f"how it was left: {', '.join(label.lower() for label in left.untold)}")
    return said


def _number(found: object) -> float | None:
    return float(found) if isinstance(found, int | float) and not isinstance(found, bool) else None
