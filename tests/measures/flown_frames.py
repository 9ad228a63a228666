"""Measures of flights of the invented types, from whole worksheets: what the type says is asked as for a decision."""

from collections.abc import Mapping, Sequence
from datetime import timedelta
from functools import cache
from typing import Any

from riskboard.aircraft_types import AircraftType
from riskboard.assessment.airframe import airframe_columns
from riskboard.measures.registry import MEASURES, evaluate, load_all, rests_on_airframe
from riskboard.worksheet.columns import Columns, to_columns
from riskboard.worksheet.model import Worksheet
from tests.aircraft_types.samples import good
from tests.measures.flown_loads import tarnwick
from tests.measures.registered import FLIGHT, TAKE_OFF

load_all()

AT = TAKE_OFF - timedelta(minutes=30)
NAMES = sorted(name for name, entry in MEASURES.items() if not entry.internal and rests_on_airframe(name))
"""Every measure that rests on the type of the aircraft."""


@cache
def types() -> Mapping[str, AircraftType]:
    """Two invented types by title."""
    return {each.title: each for each in (tarnwick(), good())}


def loads(**changed: float | None) -> tuple[dict[str, Any], ...]:
    """Loads of the four places; None leaves one out."""
    carried: dict[str, float | None] = {
        "right_seat": 220.0,
        "left_seat": 215.0,
        "right_baggage": 0.0,
        "left_baggage": 0.0,
    }
    return tuple({"station": name, "load_lb": each} for name, each in (carried | changed).items() if each is not None)


def fitted(**changed: bool | None) -> tuple[dict[str, Any], ...]:
    """Equipment as weighed; None leaves a piece out."""
    state: dict[str, bool | None] = {"right_door": True, "left_door": True, "dual_controls": True, "floats": False}
    return tuple({"name": name, "fitted": each} for name, each in (state | changed).items() if each is not None)


HOT: dict[str, Any] = FLIGHT | {
    "type_name": "Tarnwick 2 (invented)",
    "empty_weight_lb": 985.0,
    "empty_longitudinal_moment_in_lb": 84_907.0,
    "empty_lateral_moment_in_lb": 100.0,
    "equipment_fitted": fitted(),
    "station_loads": loads(),
    "fuel_usable_gal": 21.0,
    "start_and_taxi_gal": 1.0,
    "fuel_burn_gal_h": 12.0,
    "departure_elevation_ft": 1240.0,
    "highest_site_elevation_ft": 6900.0,
    "temperature_c": 34.0,
    "altimeter_inhg": 29.92126,
    "wind_kt": 10.0,
    "gust_kt": "none",
    "wind_from_deg": 90.0,
    "wind_variable_from_deg": "none",
    "wind_variable_to_deg": "none",
    "approach_heading_deg": 0.0,
}
"""A hot afternoon, two large people, 20 gal at take-off, a site at 6,900 ft: 985 + 220 + 215 + 120 = 1,540 lb."""


def sheet(**changed: Any) -> Worksheet:
    """The hot afternoon with other entries."""
    return Worksheet().but(**(HOT | changed))


def columns(sheets: Sequence[Worksheet]) -> Columns:
    """Columns as the facts of a decision have them."""
    return to_columns(sheets, AT) | airframe_columns(sheets, types())


def measured(name: str, **changed: Any) -> float:
    """A measure of the hot afternoon with other entries."""
    return float(evaluate(columns([sheet(**changed)]), [name])[name][0])
