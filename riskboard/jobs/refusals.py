"""Who already said no today: asked of the log, so that nobody has to remember or admit it."""

from datetime import datetime
from zoneinfo import ZoneInfo

from riskboard.jobs.office import Office, school_zone
from riskboard.words import RefusedFor

__all__ = ["refused_today"]


def refused_today(
    office: Office, flight_id: str, *, pilot_id: str, aircraft_id: str, route_id: str, at: datetime
) -> datetime | None:
    """When somebody last said no today to this pilot, this aircraft or this usual flight; None if nobody did.

    A no counts where it is about the same thing: who says it says what it is about, and without that it is about all.
    A pilot's own decline counts for others who want the same aircraft or route, never against the pilot who declined:
    a no must cost nothing.

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
        same = {
            RefusedFor.pilot: same_pilot,
            RefusedFor.aircraft: bool(aircraft_id) and other.aircraft_id == aircraft_id,
            RefusedFor.route: bool(route_id) and other.route_id == route_id,
        }
        met = no.flight_id == flight_id or any(same[word] for word in no.about)
        if met and (no.kind == "refused" or not same_pilot):
            return no.at
    return None
