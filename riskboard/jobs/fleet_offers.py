"""What the school can offer instead: another aircraft that is free then, an instructor who is.

Stored facts of another aircraft stand in for those of the one that was chosen. What must be done at any aircraft before
a flight (preflight, fuel) stays as planned, and the offer says that it has to be done there, too.
"""

from collections.abc import Collection, Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any

from riskboard.assessment.ways_out import MAY_CHANGE, Kind, Offer
from riskboard.jobs.briefing import FROM_INSTRUCTOR, Briefing, Start, stored_facts
from riskboard.jobs.flight_log import Flight, Picture
from riskboard.jobs.office import Office, documents
from riskboard.jobs.roles import roles_of
from riskboard.jobs.seating import other_front_seat
from riskboard.jobs.type_texts import types_of
from riskboard.words import Role
from riskboard.worksheet.entries import StationLoad
from riskboard.worksheet.kept import TODAY_ONLY
from riskboard.worksheet.model import PARTS, Worksheet
from riskboard.worksheet.read import partial_worksheet

__all__ = ["aircraft_offers", "instructor_offers"]

_MOST = 8
"""Offers of a sort that are tried; a larger fleet is looked through at the board."""
_TURNAROUND = timedelta(minutes=30)
"""Between two flights of one aircraft or person: common practice, no source."""
_TEACHES = frozenset({Role.instructor, Role.chief_instructor})


def aircraft_offers(office: Office, briefing: Briefing, cost: float, *, at: datetime) -> Iterator[Offer]:
    """Each other aircraft of the school that nobody has then.

    Args:
        office: The school.
        briefing: The draft.
        cost: What taking another aircraft costs.
        at: Now.

    Yields:
        The offers, in the order of the fleet.
    """
    sheet = briefing.sheet
    taken = _taken(office.log.look(), sheet, briefing.draft_id, at)
    if taken is None or not briefing.start.aircraft_id:
        return
    busy = {flight.aircraft_id for flight in taken}
    others = [each["id"] for each in documents(office, "aircraft") if each["id"] != briefing.start.aircraft_id]
    for identity in [each for each in others if each not in busy][:_MOST]:
        changes = _aircraft_facts(office, sheet, identity)
        if changes is not None:
            named = changes.get("registration") or identity
            said = f"Take {named}, free then, with the same fuel and a preflight inspection of its own"
            yield Offer(Kind.other_aircraft, said, cost, changes)


def _aircraft_facts(office: Office, sheet: Worksheet, identity: str) -> dict[str, object] | None:
    """The facts of another aircraft in place of these; None where what is stored cannot be read."""
    (found,) = stored_facts(office, Start(aircraft_id=identity))
    there, problems = partial_worksheet({"aircraft": dict(found[1])})
    if problems:
        return None
    names = [name for name in PARTS["aircraft"].model_fields if name not in TODAY_ONLY | {"fuel_usable_gal"}]
    changes = {name: there.value(name) for name in names if there.value(name) != sheet.value(name)}
    if there.aircraft.type_name != sheet.aircraft.type_name:
        changes["station_loads"] = None  # the places of one type are not those of another
    return changes or None


def instructor_offers(office: Office, briefing: Briefing, cost: float, *, at: datetime) -> Iterator[Offer]:
    """Each instructor who is free then, on the other front seat; none where one is chosen or that seat is taken.

    Args:
        office: The school.
        briefing: The draft.
        cost: What asking an instructor along costs.
        at: Now.

    Yields:
        The offers.
    """
    sheet = briefing.sheet
    taken = _taken(office.log.look(), sheet, briefing.draft_id, at)
    if taken is None or briefing.start.instructor_id or sheet.plan.instructor_aboard is not False:
        return
    busy = {member for flight in taken for member in (*flight.crew, flight.pilot_id, flight.instructor_id)}
    found = 0
    for teacher in documents(office, "person"):
        if teacher["id"] in busy | {briefing.pilot_id} or not roles_of(office, teacher["id"], at) & _TEACHES:
            continue
        changes = _with_instructor(office, sheet, teacher)
        if changes is not None and found < _MOST:
            found += 1
            yield Offer(Kind.instructor, f"Take {teacher['name']}, free then, along as instructor", cost, changes)


def _with_instructor(office: Office, sheet: Worksheet, teacher: Mapping[str, Any]) -> dict[str, object] | None:
    own = {**teacher.get("pilot", {}), "instructor_name": teacher["name"]}
    kept = {name: own[name] for name in FROM_INSTRUCTOR if name in own and name not in TODAY_ONLY}
    there, problems = partial_worksheet({"pilot": kept})
    if problems:
        return None
    names = [name for name in FROM_INSTRUCTOR if name in MAY_CHANGE[Kind.instructor] and name not in TODAY_ONLY]
    changes: dict[str, object] = {name: there.value(name) for name in names} | {"instructor_aboard": True}
    loads = sheet.plan.station_loads
    kind = types_of(office.store).by_title.get(sheet.aircraft.type_name or "")
    if not loads or kind is None:
        return changes
    seat, weight = other_front_seat(kind), own.get("flying_weight_lb")
    loaded = {each.station: each.load_lb for each in loads}
    if seat is None or loaded.get(seat.name) or not isinstance(weight, int | float):
        return None
    changes["station_loads"] = (
        *(each for each in loads if each.station != seat.name),
        StationLoad(station=seat.name, load_lb=float(weight)),
    )
    return changes


def _taken(picture: Picture, sheet: Worksheet, draft_id: str, at: datetime) -> Collection[Flight] | None:
    """Flights on record that are out or planned while this one would be; None while nobody knows when that is."""
    start, end = sheet.plan.take_off_at, sheet.plan.landing_at
    if start is None or end is None:
        return None
    found = []
    for flight_id in picture.open:
        flight = picture.flights[flight_id]
        if flight.state.status.closed or flight_id == draft_id:
            continue
        leaves, lands = flight.take_off_at or at, flight.landing_at
        # Without a planned landing, or past it without word, nobody knows when it is back.
        if lands is None or lands < at or (leaves < end + _TURNAROUND and start < lands + _TURNAROUND):
            found.append(flight)
    return found
