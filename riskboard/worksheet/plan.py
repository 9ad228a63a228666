"""Plan part: who is aboard, what is flown, where, when, and what was prepared."""

from typing import Annotated, ClassVar

from pydantic import AfterValidator, Field

from riskboard.words import AirspaceClass, Exercise, GroundLights, Group, Purpose, SiteSurface, Terrain
from riskboard.worksheet.entries import MitigationTaken, StationLoad
from riskboard.worksheet.fact import Part, fact
from riskboard.worksheet.kinds import Flag, Instant, NoneAnswer, Note, Text, shown, within

__all__ = ["Plan", "Zone"]


def _known_zone(name: str) -> str:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError  # noqa: PLC0415  - the zone data are read only when a zone is given

    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:  # a folder of zones is an OSError
        raise ValueError(f"{shown(name)} is no time zone; write one such as America/Denver or UTC") from error
    return name


Zone = Annotated[str, Field(strict=True, min_length=1, max_length=64), AfterValidator(_known_zone)]
"""An IANA time zone."""


class Plan(Part):
    """What is going to be done."""

    group: ClassVar[Group] = Group.environment

    purpose: Purpose | None = fact("Purpose", why="Picks privileges and rules.")
    exercise: Exercise | None = fact("Most demanding exercise", why="The exercise carries its own hazard.")
    instructor_aboard: Flag | None = fact("Instructor aboard", why="Dual or not.")
    passengers: Annotated[int, within(0, 12)] | None = fact("Passengers", why="Others carry your risk.", step=1)
    take_off_at: Instant | None = fact("Planned take-off", why="Light, fatigue and weather depend on it.")
    landing_at: Instant | None = fact("Planned landing", why="The worst moment is often the last.")
    time_zone: Zone | None = fact("Time zone of departure", why="Dates and the body clock are local.")
    departure_name: Text | None = fact("Departure", why="Where from.")
    departure_latitude_deg: Annotated[float, within(-90, 90)] | None = fact(
        "Latitude", "°", why="Sun and moon.", step=0.01
    )
    departure_longitude_deg: Annotated[float, within(-180, 180)] | None = fact(
        "Longitude", "°", why="Sun and moon.", step=0.01
    )
    departure_elevation_ft: Annotated[float, within(-1500, 16_000)] | None = fact(
        "Elevation", "ft", why="Density altitude.", step=10
    )
    highest_site_elevation_ft: Annotated[float, within(-1500, 20_000)] | None = fact(
        "Highest landing site", "ft", why="Where power runs out first.", step=10
    )
    approach_heading_deg: Annotated[float, within(0, 360)] | None = fact(
        "Take-off and approach heading (true)", "°", why="Wind components.", step=10
    )
    destination_name: Text | None = fact("Destination or area", why="Where people look first.")
    distance_from_base_nm: Annotated[float, within(0, 1000)] | None = fact(
        "Farthest point from base", "NM", why="Help and retreat get farther.", step=1, resolution=0.1
    )
    cruise_ft_agl: Annotated[float, within(0, 15_000)] | None = fact(
        "Planned cruise height", "ft AGL", why="Between obstacles and cloud.", step=100, resolution=50
    )
    highest_obstacle_ft_agl: Annotated[float, within(0, 5000)] | NoneAnswer | None = fact(
        "Highest obstacle on the route", "ft AGL", why="Found before flight, not in flight.", step=10
    )
    airspace: AirspaceClass | None = fact("Lowest-margin airspace class", why="Visual minima differ.")
    surface_area: Flag | None = fact(
        "Take-off or landing inside a controlled surface area", why="Ceiling 1,000 ft and 3 SM unless special VFR."
    )
    special_vfr: Flag | None = fact("Special VFR clearance planned", why="Lower minima, with a clearance.")
    transponder_used: Flag | None = fact("Transponder used", why="Then its check must be in date.")
    terrain: Terrain | None = fact("Terrain", why="Where an engine failure ends.")
    over_water: Flag | None = fact("Beyond gliding distance of shore", why="Flotation and survival gear.")
    off_airport_landing: Flag | None = fact("Landing away from an airfield", why="Wires, slope, surface.")
    site_surface: SiteSurface | None = fact("Worst landing surface", why="Loose surface blinds in the hover.")
    ground_lights: GroundLights | None = fact("Lights on the ground", why="Surface reference at night.")
    route_flown_before: Flag | None = fact("Area flown within 12 months", why="A new area costs attention.")
    wires_studied: Flag | None = fact("Wires and obstacles studied", why="Wires are seen too late in the air.")
    notices_checked: Flag | None = fact(
        "Notices and flight restrictions checked", why="All available information, before flight."
    )
    flight_following: Flag | None = fact(
        "Somebody follows the flight and knows what to do when it is overdue", why="Minutes count after an accident."
    )
    station_loads: tuple[StationLoad, ...] | None = fact(
        "Loads on seats and baggage places", why="Weight and balance; 0 is an empty seat, a place left out is unknown."
    )
    reserve_min: Annotated[float, within(20, 120)] | None = fact(
        "Final reserve", "min", why="At least 20 min for a helicopter by day or night VFR.", step=5
    )
    alternative: Note | NoneAnswer | None = fact(
        "If it does not work: where to, when, how decided", why="A vague plan B encourages going on."
    )
    turn_back_triggers: Note | NoneAnswer | None = fact("Turn back or land when", why="Decided on the ground, in calm.")
    mitigations: tuple[MitigationTaken, ...] | None = fact(
        "Mitigations in place", why="What is done, by whom, about which hazard."
    )
