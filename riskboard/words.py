"""The closed vocabulary that every part of riskboard shares.

Words are plain English, trade vocabulary, or from a public standard: PAVE groups from the FAA handbooks, tolerability
regions from ICAO Doc 9859. A word that a policy may use in ``when:`` lives in :class:`Guard`; adding one here without
giving it a truth function in ``measures/guards.py`` fails a test.
"""

from enum import Enum, IntEnum, StrEnum

__all__ = [
    "NONE",
    "AirspaceClass",
    "Certificate",
    "Decision",
    "DefectEffect",
    "Difference",
    "Direction",
    "Exercise",
    "GroundLights",
    "Group",
    "Guard",
    "Induction",
    "ItemLeft",
    "ItemState",
    "LandingPeriod",
    "LineKind",
    "MedicalKind",
    "Medicines",
    "Precipitation",
    "Purpose",
    "RefusedFor",
    "Role",
    "RotorDirection",
    "Severity",
    "SiteSurface",
    "Terrain",
    "Turbulence",
    "Units",
]

NONE = "none"
"""The answer "there is none". Never the same as a blank, which is unknown."""


class Decision(IntEnum):
    """The three outcomes, best first, so that ``max`` of two decisions is the worse one."""

    go = 0
    go_with_sign_off = 1
    no_go = 2

    @property
    def phrase(self) -> str:
        """What a screen or a sheet says."""
        return _DECISION_PHRASES[self]


_DECISION_PHRASES = {
    Decision.go: "Go",
    Decision.go_with_sign_off: "Go with sign-off",
    Decision.no_go: "No-go",
}


class Group(StrEnum):
    """PAVE, the grouping of the FAA handbooks."""

    pilot = "pilot"
    aircraft = "aircraft"
    environment = "environment"
    external = "external"


class Role(StrEnum):
    """In what capacity a person acts."""

    pilot = "pilot"
    student = "student"
    renter = "renter"
    instructor = "instructor"
    dispatcher = "dispatcher"
    chief_instructor = "chief_instructor"
    safety_officer = "safety_officer"
    maintenance = "maintenance"
    administrator = "administrator"


class RefusedFor(StrEnum):
    """What a no is about, so that it is held against nothing else."""

    pilot = "pilot"
    aircraft = "aircraft"
    route = "route"
    """The usual flight: its weather, its landing sites, its light."""


class Direction(Enum):
    """Which way a measure gets worse. ``neither`` has no single worse end and may only feed a non-monotone factor."""

    higher = "higher"
    lower = "lower"
    neither = "neither"


class Guard(StrEnum):
    """Words a policy clause may use under ``when:``. Each is true, false or unknown for one flight.

    The meaning is the docstring of the function of the same name in ``measures/guards.py``.
    """

    civil_night = "civil_night"
    currency_night = "currency_night"
    after_sunset = "after_sunset"
    solo = "solo"
    student_solo = "student_solo"
    passengers = "passengers"
    instructor_aboard = "instructor_aboard"
    instruction = "instruction"
    rental = "rental"
    for_hire = "for_hire"
    carburetted = "carburetted"
    cross_country = "cross_country"
    over_water = "over_water"
    mountainous = "mountainous"
    special_vfr = "special_vfr"
    off_airport_landing = "off_airport_landing"
    autorotation_practice = "autorotation_practice"
    touchdown_autorotation = "touchdown_autorotation"
    emergency_practice = "emergency_practice"
    confined_area = "confined_area"
    slope_or_pinnacle = "slope_or_pinnacle"
    first_solo = "first_solo"
    type_training_needed = "type_training_needed"
    transponder_needed = "transponder_needed"


class Certificate(StrEnum):
    """Pilot certificate held, lowest first."""

    student = "student"
    private = "private"
    commercial = "commercial"
    airline_transport = "airline_transport"


class MedicalKind(StrEnum):
    """What stands behind the pilot's medical fitness on paper (14 CFR 61.23)."""

    first = "first"
    second = "second"
    third = "third"
    basic_med = "basic_med"


class Purpose(StrEnum):
    """Why the flight is made; it picks the privileges used and the rules that bind."""

    instruction = "instruction"
    student_solo = "student_solo"
    rental = "rental"
    check_flight = "check_flight"
    sightseeing_for_hire = "sightseeing_for_hire"
    ferry = "ferry"
    maintenance_check = "maintenance_check"


class Exercise(StrEnum):
    """The most demanding thing planned on this flight."""

    circuits = "circuits"
    local_general = "local_general"
    hover_work = "hover_work"
    autorotation_power_recovery = "autorotation_power_recovery"
    autorotation_touchdown = "autorotation_touchdown"
    hydraulics_or_governor_off = "hydraulics_or_governor_off"
    confined_area = "confined_area"
    slope_landing = "slope_landing"
    pinnacle = "pinnacle"
    first_solo = "first_solo"
    night_flight = "night_flight"
    cross_country = "cross_country"
    mountain_flight = "mountain_flight"


class LandingPeriod(StrEnum):
    """When a logged landing was made: three lights that must not be mixed (14 CFR 61.57(a) and (b))."""

    day = "day"
    twilight = "twilight"
    night = "night"


class Medicines(StrEnum):
    """Medicine taken that may still act."""

    none = "none"
    approved = "approved"
    not_sure = "not_sure"
    not_approved = "not_approved"


class Induction(StrEnum):
    """How the engine breathes; only a carburettor can ice the way the charts describe."""

    carburetted = "carburetted"
    injected = "injected"
    turbine = "turbine"


class RotorDirection(StrEnum):
    """Turn of the main rotor seen from above."""

    counterclockwise = "counterclockwise"
    clockwise = "clockwise"


class DefectEffect(StrEnum):
    """What an open defect forbids, as maintenance or the deferral says."""

    grounding = "grounding"
    no_night = "no_night"
    no_passengers = "no_passengers"
    no_solo = "no_solo"
    watch = "watch"


class ItemState(StrEnum):
    """State of a piece of loose equipment or a hand-back item."""

    in_place = "in_place"
    not_in_place = "not_in_place"


class Precipitation(StrEnum):
    """Falling water or ice, by intensity."""

    none = "none"
    light = "light"
    moderate = "moderate"
    heavy = "heavy"


class Turbulence(StrEnum):
    """Turbulence reported or forecast for the route."""

    none = "none"
    light = "light"
    moderate = "moderate"
    severe = "severe"


class AirspaceClass(StrEnum):
    """Airspace class that sets the visual minima (14 CFR 91.155)."""

    B = "B"
    C = "C"
    D = "D"
    E = "E"
    G = "G"


class Terrain(StrEnum):
    """Terrain under the route."""

    flat = "flat"
    hilly = "hilly"
    mountainous = "mountainous"


class SiteSurface(StrEnum):
    """Surface of the worst landing site planned."""

    paved = "paved"
    grass = "grass"
    rough = "rough"
    loose_dust_or_sand = "loose_dust_or_sand"
    loose_snow = "loose_snow"


class GroundLights(StrEnum):
    """Lights on the ground that give a surface reference at night (14 CFR 135.207)."""

    good = "good"
    some = "some"
    few_or_none = "few_or_none"


class LineKind(StrEnum):
    """What a forecast line says about the time between its ends."""

    prevailing = "prevailing"
    temporary = "temporary"


class Difference(StrEnum):
    """What may differ from the plan, told after a flight; how much each weighs stands in ``worksheet/debrief.py``."""

    later_back = "later_back"
    cut_short = "cut_short"
    other_route = "other_route"
    weather_worse = "weather_worse"
    weather_below_minima = "weather_below_minima"
    fuel_lower = "fuel_lower"
    fuel_into_reserve = "fuel_into_reserve"
    warning_light = "warning_light"
    technical_trouble = "technical_trouble"
    limit_exceeded = "limit_exceeded"
    close_encounter = "close_encounter"
    precautionary_landing = "precautionary_landing"
    incident = "incident"
    injury_or_damage = "injury_or_damage"


class Severity(IntEnum):
    """How a flight came out, best first, so that ``max`` of two is the worse one."""

    none = 0
    minor = 1
    serious = 2


class ItemLeft(StrEnum):
    """How one thing about an aircraft was left after a flight."""

    in_place = "in_place"
    out_of_place = "out_of_place"
    not_fitted = "not_fitted"


class Units(StrEnum):
    """In which units a school enters fuel after a flight."""

    us = "us"
    metric = "metric"
