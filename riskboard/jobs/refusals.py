"""Who already said no today: asked of the log, so that nobody has to remember or admit it."""

from datetime import datetime
from zoneinfo import ZoneInfo

from riskboard.jobs.office import Office, school_zone

__all__ = ["refused_today"]


def refused_today(
    office: Office, flight_id: str, *, pilot_id: str, aircraft_id: str, route_id: str, at: datetime
) -> datetime | None:
    """When somebody last said no today to this pilot, this aircraft or this usual flight; None if nobody did.

    A second person's refusal counts in all three. A pilot's own decline counts for others who want the same aircraft
    or route, never against the pilot who declined: a no must cost nothing.

    Args:
        office: The school.
        flight_id: The flight that is briefed; refusals of itself count too.
        pilot_id: Its pilot, "" if not chosen.
        aircraft_id: Its aircraft, "" if not chosen.
        route_id: Its usual flight, "" if not chosen.
        at: Now; "today" is the school's calendar day.
    """
    picture = office.log.look()
    zone = ZoneInfo(school_zone(office))
    today = at.astimezone(zone).date()
    for no in reversed(picture.noes):
        day = no.at.astimezone(zone).date()
        if day < today:
            break
        if day > today:
            continue
        other = picture.flights[no.flight_id]
        same_pilot = bool(pilot_id) and other.pilot_id == pilot_id
        same_thing = bool(aircraft_id) and other.aircraft_id == aircraft_id
        same_thing |= bool(route_id) and other.route_id == route_id
        if no.kind == "refused" and (same_pilot or same_thing or no.flight_id == flight_id):
            return no.at
        if no.kind == "declined" and not same_pilot and same_thing:
            return no.at
    return None
