"""Registered measures of loading, hover performance and the type's own limits.

Thin: the columns they read (``worksheet/columns.py``, :data:`AIRFRAME`) are worked out with the type of the aircraft in
``assessment/airframe.py``, and are unknown where no type of that name is on file. A margin is cut down to its last
shown digit, so that a hair outside never reads as just inside.
"""

import numpy as np

from riskboard.measures.atmosphere import pressure_altitude_rows
from riskboard.measures.known import limited, rounded, row_of, tightest_rows
from riskboard.measures.registry import measure, quantity
from riskboard.words import Direction, Group
from riskboard.worksheet.columns import FloatArray

_LB = 60_000.0
_IN = 100.0
_FT = 40_000.0
_KT = 200.0
_C = 200.0
_LOADING = "FAA-H-8083-1, chapter on helicopters (from memory); limits from the type's flight manual"
_HOVER = "the hover tables of the type's flight manual"
_LIMIT = "the limits of the type's flight manual"


def _cut(margins: FloatArray, scales: FloatArray, farthest: FloatArray) -> FloatArray:
    """Margins held within their range and cut down to whole steps; a limit that no manual states is the best end."""
    return np.asarray(np.floor(rounded(limited(margins, -farthest, farthest) * scales)) / scales)


_LOADED_SCALES = np.array([[10.0, 10.0, 10.0, 100.0, 100.0, 1.0, 1.0, 1.0, 10.0, 10.0]]).T
_LOADED_FARTHEST = np.array([[_LB, _LB, _LB, _IN, _IN, _FT, _FT, _FT, _LB, _LB]]).T


@quantity
def loaded_margins(
    loaded_gross_max_lb: FloatArray,
    loaded_gross_min_lb: FloatArray,
    loaded_stations_lb: FloatArray,
    loaded_longitudinal_in: FloatArray,
    loaded_lateral_in: FloatArray,
    hover_ige_departure_ft: FloatArray,
    hover_ige_site_ft: FloatArray,
    hover_oge_departure_ft: FloatArray,
    hover_oge_site_ft: FloatArray,
    hover_ige_departure_lb: FloatArray,
    hover_ige_site_lb: FloatArray,
    hover_oge_departure_lb: FloatArray,
    hover_oge_site_lb: FloatArray,
) -> FloatArray:
    """Margins of weight, balance and hover, (10, rows), cut down in one pass; the last three of the tighter place."""
    departure = np.array((hover_oge_departure_ft, hover_ige_departure_lb, hover_oge_departure_lb))
    site = np.array((hover_oge_site_ft, hover_ige_site_lb, hover_oge_site_lb))
    single = np.array(
        (
            loaded_gross_max_lb,
            loaded_gross_min_lb,
            loaded_stations_lb,
            loaded_longitudinal_in,
            loaded_lateral_in,
            hover_ige_departure_ft,
            hover_ige_site_ft,
        )
    )
    tighter = tightest_rows(np.array((departure, site)), axis=0)
    return _cut(np.concatenate((single, tighter)), _LOADED_SCALES, _LOADED_FARTHEST)


_TYPE_SCALES = np.array([[1.0, 1.0, 10.0, 10.0, 10.0, 1.0]]).T
_TYPE_FARTHEST = np.array([[_KT, _KT, _KT, _KT, _C, _FT]]).T


@quantity
def type_margins(
    type_wind_max_kt: FloatArray,
    gust_peak_kt: FloatArray,
    type_gust_spread_max_kt: FloatArray,
    gust_spread_kt: FloatArray,
    type_crosswind_max_kt: FloatArray,
    crosswind_worst_kt: FloatArray,
    type_tailwind_max_kt: FloatArray,
    tailwind_worst_kt: FloatArray,
    type_temperature_min_c: FloatArray,
    type_temperature_max_c: FloatArray,
    temperature_c: FloatArray,
    type_pressure_altitude_max_ft: FloatArray,
    departure_elevation_ft: FloatArray,
    highest_site_elevation_ft: FloatArray,
    altimeter_inhg: FloatArray,
) -> FloatArray:
    """Margins to the type's own limits, (6, rows), cut down in one pass."""
    higher = np.maximum(departure_elevation_ft, highest_site_elevation_ft)
    limits = (
        type_wind_max_kt,
        type_gust_spread_max_kt,
        type_crosswind_max_kt,
        type_tailwind_max_kt,
        np.minimum(type_temperature_max_c - temperature_c, temperature_c - type_temperature_min_c),
        type_pressure_altitude_max_ft,
    )
    values = (
        gust_peak_kt,
        gust_spread_kt,
        crosswind_worst_kt,
        tailwind_worst_kt,
        np.zeros(len(temperature_c)),
        pressure_altitude_rows(higher, altimeter_inhg),
    )
    return _cut(np.array(limits) - np.array(values), _TYPE_SCALES, _TYPE_FARTHEST)


@measure(
    "weight at take-off",
    "lb",
    worse=Direction.higher,
    valid=(0, _LB),
    group=Group.aircraft,
    source=_LOADING,
    decimals=1,
)
def take_off_weight_lb(loaded_take_off_lb: FloatArray) -> FloatArray:
    """Empty aircraft as weighed and fitted, loads, and the usable fuel less start and taxi, lb."""
    return loaded_take_off_lb


@measure(
    "room below the highest weight allowed",
    "lb",
    worse=Direction.lower,
    valid=(-_LB, _LB),
    group=Group.aircraft,
    source=_LOADING,
    decimals=1,
    rests_on=("loaded_gross_max_lb",),
)
def gross_max_margin_lb(loaded_margins: FloatArray) -> FloatArray:
    """Highest weight allowed less the weight at take-off, lb."""
    return row_of(loaded_margins, 0)


@measure(
    "weight with empty tanks above the lowest allowed",
    "lb",
    worse=Direction.lower,
    valid=(-_LB, _LB),
    group=Group.aircraft,
    source=_LOADING,
    decimals=1,
    rests_on=("loaded_gross_min_lb",),
)
def gross_min_margin_lb(loaded_margins: FloatArray) -> FloatArray:
    """Weight without usable fuel less the lowest weight allowed, lb."""
    return row_of(loaded_margins, 1)


@measure(
    "room on the tightest seat or baggage place",
    "lb",
    worse=Direction.lower,
    valid=(-_LB, _LB),
    group=Group.aircraft,
    source=_LOADING,
    decimals=1,
    rests_on=("loaded_stations_lb",),
)
def stations_margin_lb(loaded_margins: FloatArray) -> FloatArray:
    """Tightest margin of all seats and baggage places, alone and together, least loads included, lb."""
    return row_of(loaded_margins, 2)


@measure(
    "distance inside the longitudinal envelope",
    "in",
    worse=Direction.lower,
    valid=(-_IN, _IN),
    group=Group.aircraft,
    source=_LOADING,
    decimals=2,
    at_low="outside wherever the load lies, at this weight",
    rests_on=("loaded_longitudinal_in",),
)
def longitudinal_cg_margin_in(loaded_margins: FloatArray) -> FloatArray:
    """Way of the longitudinal centre of gravity to the envelope's edge, the tightest from take-off to no fuel, in."""
    return row_of(loaded_margins, 3)


@measure(
    "distance inside the lateral envelope",
    "in",
    worse=Direction.lower,
    valid=(-_IN, _IN),
    group=Group.aircraft,
    source=_LOADING,
    decimals=2,
    at_low="outside wherever the load lies, at this weight",
    rests_on=("loaded_lateral_in",),
)
def lateral_cg_margin_in(loaded_margins: FloatArray) -> FloatArray:
    """Way of the lateral centre of gravity to the envelope's edge, the tightest from take-off to no fuel, in."""
    return row_of(loaded_margins, 4)


@measure(
    "hover ceiling in ground effect above departure",
    "ft",
    worse=Direction.lower,
    valid=(-_FT, _FT),
    group=Group.aircraft,
    source=_HOVER,
    rests_on=("hover_ige_departure_ft",),
)
def hover_ige_departure_margin_ft(loaded_margins: FloatArray) -> FloatArray:
    """Hover ceiling in ground effect at the weight of take-off, less the altitude of departure, ft."""
    return row_of(loaded_margins, 5)


@measure(
    "hover ceiling in ground effect above the highest landing site",
    "ft",
    worse=Direction.lower,
    valid=(-_FT, _FT),
    group=Group.aircraft,
    source=_HOVER + "; the site's temperature by the standard lapse, common practice",
    rests_on=("hover_ige_site_ft",),
)
def hover_ige_site_margin_ft(loaded_margins: FloatArray) -> FloatArray:
    """Hover ceiling in ground effect at the weight of take-off, less the altitude of the highest site, ft."""
    return row_of(loaded_margins, 6)


@measure(
    "hover ceiling out of ground effect above departure and highest site",
    "ft",
    worse=Direction.lower,
    valid=(-_FT, _FT),
    group=Group.aircraft,
    source=_HOVER + "; the site's temperature by the standard lapse, common practice",
    rests_on=(
        "hover_oge_departure_ft",
        "hover_oge_site_ft",
    ),
)
def hover_oge_margin_ft(loaded_margins: FloatArray) -> FloatArray:
    """Hover ceiling out of ground effect less the altitude, the tighter of departure and highest site, ft."""
    return row_of(loaded_margins, 7)


@measure(
    "weight to spare for a hover in ground effect",
    "lb",
    worse=Direction.lower,
    valid=(-_LB, _LB),
    group=Group.aircraft,
    source=_HOVER + "; the site's temperature by the standard lapse, common practice",
    decimals=1,
    rests_on=(
        "hover_ige_departure_lb",
        "hover_ige_site_lb",
    ),
)
def hover_ige_margin_lb(loaded_margins: FloatArray) -> FloatArray:
    """Weight that could be added and the table lets it hover in ground effect, the tighter of both places, lb."""
    return row_of(loaded_margins, 8)


@measure(
    "weight to spare for a hover out of ground effect",
    "lb",
    worse=Direction.lower,
    valid=(-_LB, _LB),
    group=Group.aircraft,
    source=_HOVER + "; the site's temperature by the standard lapse, common practice",
    decimals=1,
    rests_on=(
        "hover_oge_departure_lb",
        "hover_oge_site_lb",
    ),
)
def hover_oge_margin_lb(loaded_margins: FloatArray) -> FloatArray:
    """Weight that could be added and the table lets it hover out of ground effect, the tighter of both places, lb."""
    return row_of(loaded_margins, 9)


@measure(
    "room to the type's wind limit",
    "kt",
    worse=Direction.lower,
    valid=(-_KT, _KT),
    group=Group.environment,
    source=_LIMIT,
    rests_on=(
        "type_wind_max_kt",
        "gust_peak_kt",
    ),
)
def type_wind_margin_kt(type_margins: FloatArray) -> FloatArray:
    """The type's wind limit less the strongest wind, gusts included; the best end where the manual states none, kt."""
    return row_of(type_margins, 0)


@measure(
    "room to the type's limit of the gust spread",
    "kt",
    worse=Direction.lower,
    valid=(-_KT, _KT),
    group=Group.environment,
    source=_LIMIT,
    rests_on=(
        "type_gust_spread_max_kt",
        "gust_spread_kt",
    ),
)
def type_gust_spread_margin_kt(type_margins: FloatArray) -> FloatArray:
    """The type's limit of the gust spread less the gust spread; the best end where the manual states none, kt."""
    return row_of(type_margins, 1)


@measure(
    "room to the type's crosswind limit",
    "kt",
    worse=Direction.lower,
    valid=(-_KT, _KT),
    group=Group.environment,
    source=_LIMIT,
    decimals=1,
    rests_on=(
        "type_crosswind_max_kt",
        "crosswind_worst_kt",
    ),
)
def type_crosswind_margin_kt(type_margins: FloatArray) -> FloatArray:
    """The type's crosswind limit less the worst crosswind; the best end where the manual states none, kt."""
    return row_of(type_margins, 2)


@measure(
    "room to the type's tailwind limit",
    "kt",
    worse=Direction.lower,
    valid=(-_KT, _KT),
    group=Group.environment,
    source=_LIMIT,
    decimals=1,
    rests_on=(
        "type_tailwind_max_kt",
        "tailwind_worst_kt",
    ),
)
def type_tailwind_margin_kt(type_margins: FloatArray) -> FloatArray:
    """The type's tailwind limit less the worst tailwind; the best end where the manual states none, kt."""
    return row_of(type_margins, 3)


@measure(
    "room to the type's temperature limits",
    "°C",
    worse=Direction.lower,
    valid=(-_C, _C),
    group=Group.environment,
    source=_LIMIT,
    decimals=1,
    rests_on=(
        "type_temperature_min_c",
        "type_temperature_max_c",
        "temperature_c",
    ),
)
def type_temperature_margin_c(type_margins: FloatArray) -> FloatArray:
    """Way of the temperature at departure to the nearer of the type's two limits, C."""
    return row_of(type_margins, 4)


@measure(
    "room to the type's highest pressure altitude",
    "ft",
    worse=Direction.lower,
    valid=(-_FT, _FT),
    group=Group.environment,
    source=_LIMIT,
    rests_on=(
        "type_pressure_altitude_max_ft",
        "departure_elevation_ft",
        "highest_site_elevation_ft",
        "altimeter_inhg",
    ),
)
def type_pressure_altitude_margin_ft(type_margins: FloatArray) -> FloatArray:
    """The type's highest pressure altitude less that of the higher of departure and highest site, ft."""
    return row_of(type_margins, 5)
