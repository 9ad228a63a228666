"""Registered measures: pressures, preparation and the plan's own exposure."""

import numpy as np

from riskboard.measures.registry import measure
from riskboard.words import Direction, Group
from riskboard.worksheet.columns import FloatArray

_OWN = "common practice, no source"
_PRESSURE = "FAA-H-8083-2A, external pressures (PAVE); 14 CFR 135.617(a)(2)"
_YES = {0: "no", 1: "yes"}
_NO = {0: "done", 1: "not done"}

_NO_HURRY_MIN = 24 * 60.0
"""Slack shown when nobody waits for the aircraft: the best end of the range."""


@measure("flight duration", "min", worse=Direction.higher, valid=(0, 720), group=Group.external, source=_OWN)
def flight_duration_min(flight_min: FloatArray) -> FloatArray:
    """Planned time from take-off to landing, min."""
    return flight_min


@measure(
    "slack before the aircraft or pilot must be back",
    "min",
    worse=Direction.lower,
    valid=(-1440, _NO_HURRY_MIN),
    group=Group.external,
    source=_PRESSURE,
)
def return_slack_min(must_be_back_at: FloatArray, landing_at: FloatArray) -> FloatArray:
    """Minutes between the planned landing and the time one must be back; the best end when there is no such time."""
    slack = np.minimum((must_be_back_at - landing_at) / 60, _NO_HURRY_MIN)
    return np.where(np.isnan(landing_at), np.nan, slack)


@measure("somebody waits", "", worse=Direction.higher, valid=(0, 1), group=Group.external, source=_PRESSURE, words=_YES)
def others_waiting(someone_waits: FloatArray) -> FloatArray:
    """1 when a customer, passenger or examiner waits."""
    return someone_waits


@measure(
    "a check or examination depends on it",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.external,
    source=_PRESSURE,
    words=_YES,
)
def exam_depends(check_or_exam: FloatArray) -> FloatArray:
    """1 when a booked check ride or examination depends on this flight."""
    return check_or_exam


@measure(
    "go now or the weather closes",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.external,
    source=_PRESSURE,
    words=_YES,
)
def weather_closing_in(weather_closing: FloatArray) -> FloatArray:
    """1 when the plan is to beat weather that closes in."""
    return weather_closing


@measure(
    "money depends on it", "", worse=Direction.higher, valid=(0, 1), group=Group.external, source=_PRESSURE, words=_YES
)
def money_depends(money_at_stake: FloatArray) -> FloatArray:
    """1 when somebody loses money on a cancellation."""
    return money_at_stake


@measure(
    "earlier cancellations of this flight",
    "",
    worse=Direction.higher,
    valid=(0, 20),
    group=Group.external,
    source=_PRESSURE,
)
def times_cancelled(cancelled_before: FloatArray) -> FloatArray:
    """How often this flight was put off before."""
    return cancelled_before


@measure(
    "refused by somebody today",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.external,
    source="14 CFR 135.617(a)(4), carried over from operators to a school's own people",
    words=_YES,
)
def refused_earlier_today(refused_today: FloatArray) -> FloatArray:
    """1 when another person already refused this flight, pilot or aircraft today."""
    return refused_today


@measure(
    "pressure to go as felt",
    "",
    worse=Direction.higher,
    valid=(1, 5),
    group=Group.external,
    source=_PRESSURE,
    words={1: "none", 2: "a little", 3: "some", 4: "strong", 5: "heavy"},
)
def pressure_rating(pressure_felt: FloatArray) -> FloatArray:
    """The pilot's own rating, 1 to 5."""
    return pressure_felt


@measure(
    "staying on the ground not agreed as acceptable",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.external,
    source="FAA-H-8083-2A: external pressures are handled by plans made beforehand (from memory)",
    words=_YES,
)
def no_go_not_agreed(no_go_is_fine: FloatArray) -> FloatArray:
    """1 when nobody has agreed that a no is acceptable."""
    return 1 - no_go_is_fine


@measure(
    "alternative worked out",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.external,
    source="EHEST leaflet HE 4 (second hand): ask for the details of the alternative",
    words=_NO,
)
def alternative_missing(alternative: FloatArray) -> FloatArray:
    """1 when there is no stated alternative."""
    return 1 - alternative


@measure(
    "turn-back triggers set",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.external,
    source="EHEST leaflet HE 4 (second hand): decision points set on the ground",
    words=_NO,
)
def turn_back_missing(turn_back_triggers: FloatArray) -> FloatArray:
    """1 when no turn-back trigger was written down."""
    return 1 - turn_back_triggers


@measure(
    "flight following arranged",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.external,
    source="14 CFR 135.619(a)(3), as a model",
    words=_NO,
)
def flight_following_missing(flight_following: FloatArray) -> FloatArray:
    """1 when nobody follows the flight."""
    return 1 - flight_following


@measure(
    "notices and restrictions checked",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.external,
    source="14 CFR 91.103",
    words=_NO,
)
def notices_unchecked(notices_checked: FloatArray) -> FloatArray:
    """1 when notices and flight restrictions were not checked."""
    return 1 - notices_checked


@measure(
    "wires and obstacles studied",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.environment,
    source="14 CFR 135.615(a), as a model",
    words=_NO,
)
def wires_unstudied(wires_studied: FloatArray) -> FloatArray:
    """1 when obstacles on the route were not studied."""
    return 1 - wires_studied


@measure(
    "area not flown within 12 months",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.environment,
    source="14 CFR 135.609(b)-(c), as a definition of a familiar area",
    words=_YES,
)
def area_unfamiliar(route_flown_before: FloatArray) -> FloatArray:
    """1 when the pilot has not flown the area within 12 months."""
    return 1 - route_flown_before


@measure(
    "farthest point from base",
    "NM",
    worse=Direction.higher,
    valid=(0, 1000),
    group=Group.environment,
    source=_OWN,
    decimals=1,
)
def base_distance_nm(distance_from_base_nm: FloatArray) -> FloatArray:
    """Distance of the farthest point from base, NM."""
    return distance_from_base_nm


@measure(
    "room to the student's distance limit",
    "NM",
    worse=Direction.lower,
    valid=(-1000, 1000),
    group=Group.pilot,
    source="14 CFR 61.89(a)(8): not against a limitation the instructor wrote",
    decimals=1,
)
def student_area_margin_nm(student_area_limit_nm: FloatArray, distance_from_base_nm: FloatArray) -> FloatArray:
    """Distance limit minus the farthest point; the best end when the instructor wrote none."""
    margin = student_area_limit_nm - distance_from_base_nm
    return np.where(np.isposinf(student_area_limit_nm) & ~np.isnan(distance_from_base_nm), 1000.0, margin)


@measure(
    "terrain",
    "",
    worse=Direction.higher,
    valid=(0, 2),
    group=Group.environment,
    source=_OWN,
    words={0: "flat", 1: "hilly", 2: "mountainous"},
)
def terrain_level(terrain: FloatArray) -> FloatArray:
    """0 flat, 1 hilly, 2 mountainous."""
    return terrain


@measure(
    "landing away from an airfield",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.environment,
    source=_OWN,
    words=_YES,
)
def off_airport(off_airport_landing: FloatArray) -> FloatArray:
    """1 when a landing away from an airfield is planned."""
    return off_airport_landing


@measure(
    "beyond gliding distance of shore",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.environment,
    source="14 CFR 91.205(b)(12), as a warning sign",
    words=_YES,
)
def water_crossing(over_water: FloatArray) -> FloatArray:
    """1 when the flight goes beyond power-off gliding distance of shore."""
    return over_water


@measure("passengers", "", worse=Direction.higher, valid=(0, 12), group=Group.external, source=_OWN)
def passengers_aboard(passengers: FloatArray) -> FloatArray:
    """Number of passengers."""
    return passengers


@measure(
    "something else worries the pilot",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=Group.external,
    source="common practice: no form lists every hazard",
    words=_YES,
)
def anything_else_noted(anything_else: FloatArray) -> FloatArray:
    """1 when the pilot wrote a worry that no other input covers."""
    return anything_else


@measure(
    "time between briefing and take-off",
    "min",
    worse=Direction.higher,
    valid=(0, 2880),
    group=Group.external,
    source="re-evaluate on delay: 14 CFR 135.615(c), as a model",
)
def briefing_lead_min(take_off_at: FloatArray, decided_at: FloatArray) -> FloatArray:
    """Minutes from the moment of decision to the planned take-off; a long lead makes every answer older."""
    return (take_off_at - decided_at) / 60
