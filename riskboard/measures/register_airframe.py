"""Registered measures of loading, hover performance and the type's own limits.

Thin: the columns they read (``worksheet/columns.py``, :data:`AIRFRAME`) are worked out with the type of the aircraft in
``assessment/airframe.py``, and are unknown where no type of that name is on file. A margin is cut down to its last
shown digit, so that a hair outside never reads as just inside.
"""

import numpy as np

from riskboard.measures.atmosphere import pressure_altitude_rows
from riskboard.measures.known import limited, rounded, tightest_rows
from riskboard.measures.registry import measure
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


def _cut(margin: FloatArray, farthest: float, scale: float) -> FloatArray:
    """A margin held within its range and cut down to whole steps; a limit that no manual states is the best end."""
    return np.asarray(np.floor(rounded(limited(margin, -farthest, farthest) * scale)) / scale)


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
)
def gross_max_margin_lb(loaded_gross_max_lb: FloatArray) -> FloatArray:
    """Highest weight allowed less the weight at take-off, lb."""
    return _cut(loaded_gross_max_lb, _LB, 10.0)


@measure(
    "weight with empty tanks above the lowest allowed",
    "lb",
    worse=Direction.lower,
    valid=(-_LB, _LB),
    group=Group.aircraft,
    source=_LOADING,
    decimals=1,
)
def gross_min_margin_lb(loaded_gross_min_lb: FloatArray) -> FloatArray:
    """Weight without usable fuel less the lowest weight allowed, lb."""
    return _cut(loaded_gross_min_lb, _LB, 10.0)


@measure(
    "room on the tightest seat or baggage place",
    "lb",
    worse=Direction.lower,
    valid=(-_LB, _LB),
    group=Group.aircraft,
    source=_LOADING,
    decimals=1,
)
def stations_margin_lb(loaded_stations_lb: FloatArray) -> FloatArray:
    """Tightest margin of all seats and baggage places, alone and together, least loads included, lb."""
    return _cut(loaded_stations_lb, _LB, 10.0)


@measure(
    "distance inside the longitudinal envelope",
    "in",
    worse=Direction.lower,
    valid=(-_IN, _IN),
    group=Group.aircraft,
    source=_LOADING,
    decimals=2,
)
def longitudinal_cg_margin_in(loaded_longitudinal_in: FloatArray) -> FloatArray:
    """Way of the longitudinal centre of gravity to the envelope's edge, the tightest from take-off to no fuel, in."""
    return _cut(loaded_longitudinal_in, _IN, 100.0)


@measure(
    "distance inside the lateral envelope",
    "in",
    worse=Direction.lower,
    valid=(-_IN, _IN),
    group=Group.aircraft,
    source=_LOADING,
    decimals=2,
)
def lateral_cg_margin_in(loaded_lateral_in: FloatArray) -> FloatArray:
    """Way of the lateral centre of gravity to the envelope's edge, the tightest from take-off to no fuel, in."""
    return _cut(loaded_lateral_in, _IN, 100.0)


@measure(
    "hover ceiling in ground effect above departure",
    "ft",
    worse=Direction.lower,
    valid=(-_FT, _FT),
    group=Group.aircraft,
    source=_HOVER,
)
def hover_ige_departure_margin_ft(hover_ige_departure_ft: FloatArray) -> FloatArray:
    """Hover ceiling in ground effect at the weight of take-off, less the altitude of departure, ft."""
    return _cut(hover_ige_departure_ft, _FT, 1.0)


@measure(
    "hover ceiling in ground effect above the highest landing site",
    "ft",
    worse=Direction.lower,
    valid=(-_FT, _FT),
    group=Group.aircraft,
    source=_HOVER + "; the site's temperature by the standard lapse, common practice",
)
def hover_ige_site_margin_ft(hover_ige_site_ft: FloatArray) -> FloatArray:
    """Hover ceiling in ground effect at the weight of take-off, less the altitude of the highest site, ft."""
    return _cut(hover_ige_site_ft, _FT, 1.0)


@measure(
    "hover ceiling out of ground effect above departure and highest site",
    "ft",
    worse=Direction.lower,
    valid=(-_FT, _FT),
    group=Group.aircraft,
    source=_HOVER + "; the site's temperature by the standard lapse, common practice",
)
def hover_oge_margin_ft(hover_oge_departure_ft: FloatArray, hover_oge_site_ft: FloatArray) -> FloatArray:
    """Hover ceiling out of ground effect less the altitude, the tighter of departure and highest site, ft."""
    return _cut(tightest_rows(np.array((hover_oge_departure_ft, hover_oge_site_ft)), axis=0), _FT, 1.0)


@measure(
    "weight to spare for a hover in ground effect",
    "lb",
    worse=Direction.lower,
    valid=(-_LB, _LB),
    group=Group.aircraft,
    source=_HOVER + "; the site's temperature by the standard lapse, common practice",
    decimals=1,
)
def hover_ige_margin_lb(hover_ige_departure_lb: FloatArray, hover_ige_site_lb: FloatArray) -> FloatArray:
    """Weight that could be added and the table lets it hover in ground effect, the tighter of both places, lb."""
    return _cut(tightest_rows(np.array((hover_ige_departure_lb, hover_ige_site_lb)), axis=0), _LB, 10.0)


@measure(
    "weight to spare for a hover out of ground effect",
    "lb",
    worse=Direction.lower,
    valid=(-_LB, _LB),
    group=Group.aircraft,
    source=_HOVER + "; the site's temperature by the standard lapse, common practice",
    decimals=1,
)
def hover_oge_margin_lb(hover_oge_departure_lb: FloatArray, hover_oge_site_lb: FloatArray) -> FloatArray:
    """Weight that could be added and the table lets it hover out of ground effect, the tighter of both places, lb."""
    return _cut(tightest_rows(np.array((hover_oge_departure_lb, hover_oge_site_lb)), axis=0), _LB, 10.0)


@measure(
    "wind below the type's limit",
    "kt",
    worse=Direction.lower,
    valid=(-_KT, _KT),
    group=Group.environment,
    source=_LIMIT,
)
def type_wind_margin_kt(type_wind_max_kt: FloatArray, gust_peak_kt: FloatArray) -> FloatArray:
    """The type's wind limit less the strongest wind, gusts included; the best end where the manual states none, kt."""
    return _cut(type_wind_max_kt - gust_peak_kt, _KT, 1.0)


@measure(
    "gust spread below the type's limit",
    "kt",
    worse=Direction.lower,
    valid=(-_KT, _KT),
    group=Group.environment,
    source=_LIMIT,
)
def type_gust_spread_margin_kt(type_gust_spread_max_kt: FloatArray, gust_spread_kt: FloatArray) -> FloatArray:
    """The type's limit of the gust spread less the gust spread; the best end where the manual states none, kt."""
    return _cut(type_gust_spread_max_kt - gust_spread_kt, _KT, 1.0)


@measure(
    "crosswind below the type's limit",
    "kt",
    worse=Direction.lower,
    valid=(-_KT, _KT),
    group=Group.environment,
    source=_LIMIT,
    decimals=1,
)
def type_crosswind_margin_kt(type_crosswind_max_kt: FloatArray, crosswind_worst_kt: FloatArray) -> FloatArray:
    """The type's crosswind limit less the worst crosswind; the best end where the manual states none, kt."""
    return _cut(type_crosswind_max_kt - crosswind_worst_kt, _KT, 10.0)


@measure(
    "tailwind below the type's limit",
    "kt",
    worse=Direction.lower,
    valid=(-_KT, _KT),
    group=Group.environment,
    source=_LIMIT,
    decimals=1,
)
def type_tailwind_margin_kt(type_tailwind_max_kt: FloatArray, tailwind_worst_kt: FloatArray) -> FloatArray:
    """The type's tailwind limit less the worst tailwind; the best end where the manual states none, kt."""
    return _cut(type_tailwind_max_kt - tailwind_worst_kt, _KT, 10.0)


@measure(
    "temperature within the type's limits",
    "°C",
    worse=Direction.lower,
    valid=(-_C, _C),
    group=Group.environment,
    source=_LIMIT,
    decimals=1,
)
def type_temperature_margin_c(
    type_temperature_min_c: FloatArray, type_temperature_max_c: FloatArray, temperature_c: FloatArray
) -> FloatArray:
    """Way of the temperature at departure to the nearer of the type's two limits, C."""
    return _cut(np.minimum(type_temperature_max_c - temperature_c, temperature_c - type_temperature_min_c), _C, 10.0)


@measure(
    "pressure altitude below the type's limit",
    "ft",
    worse=Direction.lower,
    valid=(-_FT, _FT),
    group=Group.environment,
    source=_LIMIT,
)
def type_pressure_altitude_margin_ft(
    type_pressure_altitude_max_ft: FloatArray,
    departure_elevation_ft: FloatArray,
    highest_site_elevation_ft: FloatArray,
    altimeter_inhg: FloatArray,
) -> FloatArray:
    """The type's highest pressure altitude less that of the higher of departure and highest site, ft."""
    higher = np.maximum(departure_elevation_ft, highest_site_elevation_ft)
    return _cut(type_pressure_altitude_max_ft - pressure_altitude_rows(higher, altimeter_inhg), _FT, 1.0)
