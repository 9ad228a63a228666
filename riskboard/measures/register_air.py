"""Registered measures of the air: density altitude, icing, wind, visibility, cloud, obstacles and the age of it all.

A row that cannot be (dew point above temperature, a direction of 400 deg) comes out unknown; the worksheet has refused
it before. Columns write the answer "none" as infinity.
"""

import numpy as np
from numpy.typing import NDArray

from riskboard.measures.atmosphere import (
    COLDEST_C,
    DRIEST_DEW_POINT_C,
    HIGHEST_ALTITUDE_FT,
    HOTTEST_C,
    LOWEST_ALTITUDE_FT,
    density_altitude_rows,
    pressure_altitude_rows,
)
from riskboard.measures.icing import carb_icing_rows
from riskboard.measures.known import both, either, row_of
from riskboard.measures.minima import vfr_minima_rows
from riskboard.measures.register_guards import student_solo
from riskboard.measures.registry import measure, quantity
from riskboard.words import Direction, Group
from riskboard.worksheet.columns import FloatArray

_ENV = Group.environment
_HIGHEST_FT = 60_000.0
_FARTHEST_SM = 100.0
_FARTHEST_NM = 300.0
_ISA_LAPSE_C_FT = 0.0065 * 0.3048
_FROST_COOLING_C = 4.0
_ICING_LIMIT_C = 2.0
_FOG_SPREAD_C = 2.5
_OLDEST_MIN = 10_080.0
_YES = {0: "no", 1: "yes"}
_OWN = "common practice, no source"
_MINIMA = "14 CFR 91.155, 91.157, 61.89(a)(6)"


def between(value: FloatArray, low: float, high: float) -> FloatArray:
    """Keep what lies in a range and make the rest unknown, so that a pure function does not refuse the whole batch."""
    return np.where((value >= low) & (value <= high), value, np.nan)


def known(condition: NDArray[np.bool_], *facts: FloatArray) -> FloatArray:
    """A condition as 1 or 0, NaN where a fact behind it is unknown."""
    return np.where(np.isnan(sum(facts)), np.nan, condition)


@quantity
def air_c(temperature_c: FloatArray, dew_point_c: FloatArray) -> FloatArray:
    """Temperature and dew point, shape (2, rows); unknown together where the pair cannot be."""
    possible = (temperature_c >= COLDEST_C) & (temperature_c <= HOTTEST_C)
    possible &= (dew_point_c >= DRIEST_DEW_POINT_C) & (dew_point_c <= temperature_c)
    return np.where(possible, np.array((temperature_c, dew_point_c)), np.nan)


@quantity
def density_altitudes_ft(
    air_c: FloatArray,
    altimeter_inhg: FloatArray,
    departure_elevation_ft: FloatArray,
    highest_site_elevation_ft: FloatArray,
) -> FloatArray:
    """Density altitude at departure and at the highest site, shape (2, rows)."""
    elevation = between(np.array((departure_elevation_ft, highest_site_elevation_ft)), -2_000.0, 30_000.0)
    pressure = pressure_altitude_rows(elevation, between(altimeter_inhg, 25.0, 33.0))
    temperature = air_c[0] - (elevation - elevation[0]) * _ISA_LAPSE_C_FT
    possible = (pressure >= LOWEST_ALTITUDE_FT) & (pressure <= HIGHEST_ALTITUDE_FT)
    possible &= (temperature >= COLDEST_C) & (temperature <= HOTTEST_C)
    altitude = density_altitude_rows(pressure, temperature, np.minimum(air_c[1], temperature))
    return np.where(possible, altitude, np.nan)


@measure(
    "density altitude at departure",
    "ft",
    worse=Direction.higher,
    valid=(-16_000, 30_000),
    group=_ENV,
    source="ICAO Doc 7488; WMO-No. 8 annex 4.B for the vapour",
    rests_on=("air_c", "altimeter_inhg", "departure_elevation_ft"),
)
def density_altitude_departure_ft(density_altitudes_ft: FloatArray) -> FloatArray:
    """Density altitude at departure with the humidity counted, ft."""
    return row_of(density_altitudes_ft, 0)


@measure(
    "highest density altitude of the flight",
    "ft",
    worse=Direction.higher,
    valid=(-16_000, 30_000),
    group=_ENV,
    source="ICAO Doc 7488; WMO-No. 8 annex 4.B for the vapour; the lapse upward is common practice",
)
def density_altitude_highest_ft(density_altitudes_ft: FloatArray) -> FloatArray:
    """The higher of the density altitudes at departure and at the highest landing site, ft.

    The site's temperature is the departure's less the standard lapse (1.98 C per 1,000 ft). The dew point stays that of
    departure, or the temperature where that is lower, which errs on the high side.
    """
    return np.maximum(row_of(density_altitudes_ft, 0), row_of(density_altitudes_ft, 1))


@measure("dew-point spread", "°C", worse=Direction.lower, valid=(0, 90), group=_ENV, source="definition", decimals=1)
def dew_point_spread_c(air_c: FloatArray) -> FloatArray:
    """Temperature minus dew point, C."""
    return row_of(air_c, 0) - row_of(air_c, 1)


@measure(
    "carburettor icing zone",
    "",
    worse=Direction.higher,
    valid=(0, 4),
    group=_ENV,
    source="EGAST leaflet GA 5 page 8 and ATSB chart of 2004 (DMI Technical Report 04-25), the worse of the two",
    words={
        0: "none",
        1: "light",
        2: "serious at descent power",
        3: "moderate at cruise power, serious at descent power",
        4: "serious at any power",
    },
)
def carb_icing_code(air_c: FloatArray) -> FloatArray:
    """Zone of the more cautious chart, 0 to 4; whether the engine has a carburettor is for a guard to ask."""
    zone = carb_icing_rows(air_c[0], air_c[1])
    return np.where(zone < 0, np.nan, zone)


@measure(
    "frost possible",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=_ENV,
    source="FAA AC 00-6 (from memory); the 4 C of night cooling is common practice, no source",
    words=_YES,
)
def frost_possible(air_c: FloatArray) -> FloatArray:
    """1 where a surface 4 C colder than the air, as under a clear night sky, is at or below the dew point and 0 C."""
    surface = air_c[0] - _FROST_COOLING_C
    return known((surface <= air_c[1]) & (surface <= 0.0), surface, air_c[1])


@measure(
    "airframe icing possible",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=_ENV,
    source="FAA Aeronautical Information Manual: visible moisture at 0 C or colder, 2 C more for cooling (from memory)",
    words=_YES,
)
def airframe_icing_possible(
    temperature_c: FloatArray,
    cruise_ft_agl: FloatArray,
    precipitation: FloatArray,
    fog_or_mist: FloatArray,
    freezing_precipitation: FloatArray,
    lowest_cloud_ft_agl: FloatArray,
) -> FloatArray:
    """1 where it is +2 C or colder at the cruise height by the standard lapse and moisture can be seen.

    Moisture is precipitation, fog or mist, or a cloud at or below the cruise height. A sure "too warm" or a sure "dry"
    settles the answer; anything else that is blank leaves it unknown.
    """
    aloft = temperature_c - cruise_ft_agl * _ISA_LAPSE_C_FT
    moist = either(
        known(precipitation > 0.0, precipitation),
        fog_or_mist,
        freezing_precipitation,
        known(lowest_cloud_ft_agl <= cruise_ft_agl, lowest_cloud_ft_agl, cruise_ft_agl),
    )
    return both(known(aloft <= _ICING_LIMIT_C, aloft), moist)


@measure(
    "fog possible",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=_ENV,
    source="FAA AC 00-6 and FAA-H-8083-28: a spread of 2 to 3 C, about 5 F (from memory)",
    words=_YES,
)
def fog_possible(dew_point_spread_c: FloatArray, fog_or_mist: FloatArray) -> FloatArray:
    """1 where fog or mist is reported or the spread is 2.5 C or less."""
    return either(fog_or_mist, known(dew_point_spread_c <= _FOG_SPREAD_C, dew_point_spread_c))


@measure(
    "cloud base estimated from the spread",
    "ft AGL",
    worse=Direction.lower,
    valid=(0, 36_000),
    group=_ENV,
    source="FAA-H-8083-25 chapter 12; AFMAN 15-111 table 11.4",
)
def cloud_base_estimate_ft(air_c: FloatArray) -> FloatArray:
    """Base of convective cloud, 400 ft per C of spread; an estimate of one kind of cloud, not a ceiling."""
    return (row_of(air_c, 0) - row_of(air_c, 1)) * 400.0


@measure(
    "lowest visibility",
    "SM",
    worse=Direction.lower,
    valid=(0, _FARTHEST_SM),
    group=_ENV,
    source="14 CFR 91.155",
    decimals=2,
)
def visibility_lowest_sm(visibility_sm: FloatArray, route_visibility_sm: FloatArray) -> FloatArray:
    """The lower of the visibilities at departure and along the route, SM."""
    return np.minimum(visibility_sm, route_visibility_sm)


@measure("lowest ceiling", "ft AGL", worse=Direction.lower, valid=(0, _HIGHEST_FT), group=_ENV, source="14 CFR 91.155")
def ceiling_lowest_ft(ceiling_ft_agl: FloatArray, route_ceiling_ft_agl: FloatArray) -> FloatArray:
    """The lower of the ceilings at departure and along the route; 60,000 where there is none, ft AGL."""
    return _capped(np.minimum(ceiling_ft_agl, route_ceiling_ft_agl), _HIGHEST_FT)


@quantity
def legal_minima(
    airspace: FloatArray,
    cruise_ft_agl: FloatArray,
    departure_elevation_ft: FloatArray,
    highest_site_elevation_ft: FloatArray,
    civil_night_min: FloatArray,
    special_vfr: FloatArray,
    surface_area: FloatArray,
    certificate: FloatArray,
    instructor_aboard: FloatArray,
    purpose: FloatArray,
) -> FloatArray:
    """Least visibility (SM) and distance below cloud (ft) at the cruise height, shape (2, rows).

    The altitude above sea level is taken over the higher of departure and highest site, the stricter reading.
    """
    altitude = np.maximum(departure_elevation_ft, highest_site_elevation_ft) + cruise_ft_agl
    minima = vfr_minima_rows(
        airspace,
        between(cruise_ft_agl, 0.0, _HIGHEST_FT),
        between(altitude, -2_000.0, _HIGHEST_FT),
        known(civil_night_min > 0.0, civil_night_min),
        special_vfr=special_vfr,
        surface_area=surface_area,
        student_solo=student_solo(certificate, instructor_aboard, purpose),
    )
    return minima[:2]


@measure(
    "visibility above the legal minimum",
    "SM",
    worse=Direction.lower,
    valid=(-5, _FARTHEST_SM),
    group=_ENV,
    source=_MINIMA,
    decimals=2,
)
def visibility_margin_sm(visibility_lowest_sm: FloatArray, legal_minima: FloatArray) -> FloatArray:
    """Lowest visibility minus the least that class, height, civil night, special VFR and a student alone allow, SM."""
    return visibility_lowest_sm - row_of(legal_minima, 0)


@measure(
    "room under the cloud above the legal minimum",
    "ft",
    worse=Direction.lower,
    valid=(-20_000, _HIGHEST_FT),
    group=_ENV,
    source=_MINIMA,
)
def cloud_clearance_margin_ft(
    lowest_cloud_ft_agl: FloatArray,
    route_ceiling_ft_agl: FloatArray,
    cruise_ft_agl: FloatArray,
    legal_minima: FloatArray,
) -> FloatArray:
    """Lowest cloud or route ceiling minus cruise height minus the clearance required below it; 60,000 without cloud."""
    cloud = np.minimum(lowest_cloud_ft_agl, route_ceiling_ft_agl)
    return _capped(cloud - cruise_ft_agl - legal_minima[1], _HIGHEST_FT)


@measure(
    "ceiling above the 1,000 ft of a surface area",
    "ft",
    worse=Direction.lower,
    valid=(-1_000, _HIGHEST_FT),
    group=_ENV,
    source="14 CFR 91.155(c)",
)
def surface_ceiling_margin_ft(
    ceiling_ft_agl: FloatArray, surface_area: FloatArray, special_vfr: FloatArray
) -> FloatArray:
    """Ceiling minus 1,000 ft in a surface area without special VFR; 60,000 where the rule does not apply."""
    applies = both(surface_area, 1.0 - special_vfr)
    margin = _capped(ceiling_ft_agl - 1_000.0, _HIGHEST_FT)
    return np.where(applies == 0.0, _HIGHEST_FT, np.where(applies == 1.0, margin, np.nan))


@measure(
    "cruise height above the highest obstacle",
    "ft",
    worse=Direction.lower,
    valid=(-5_000, 15_000),
    group=_ENV,
    source="14 CFR 135.615(a), as a model",
)
def obstacle_clearance_ft(cruise_ft_agl: FloatArray, highest_obstacle_ft_agl: FloatArray) -> FloatArray:
    """Cruise height minus the highest obstacle; where there is none, the cruise height itself: the ground remains."""
    return cruise_ft_agl - np.where(highest_obstacle_ft_agl == np.inf, 0.0, highest_obstacle_ft_agl)


@measure(
    "obstacle clearance above 300 ft by day, 500 ft at night",
    "ft",
    worse=Direction.lower,
    valid=(-5_500, 15_000),
    group=_ENV,
    source="14 CFR 135.615(b), as a model",
)
def obstacle_clearance_margin_ft(obstacle_clearance_ft: FloatArray, civil_night_min: FloatArray) -> FloatArray:
    """Obstacle clearance minus 300 ft, or minus 500 ft when some of the flight lies in civil night."""
    required = np.where(civil_night_min > 0.0, 500.0, 300.0)
    return np.where(np.isnan(civil_night_min), np.nan, obstacle_clearance_ft - required)


@measure(
    "nearest thunderstorm", "NM", worse=Direction.lower, valid=(0, _FARTHEST_NM), group=_ENV, source=_OWN, decimals=1
)
def thunderstorm_distance_nm(thunderstorm_nm: FloatArray) -> FloatArray:
    """Distance of the nearest thunderstorm; 300 where there is none, NM."""
    return _capped(thunderstorm_nm, _FARTHEST_NM)


@measure(
    "freezing precipitation reported",
    "",
    worse=Direction.higher,
    valid=(0, 1),
    group=_ENV,
    source="FAA AC 00-6 (from memory)",
    words=_YES,
)
def freezing_precipitation_reported(freezing_precipitation: FloatArray) -> FloatArray:
    """1 when freezing rain, freezing drizzle or ice pellets are reported."""
    return freezing_precipitation


@measure(
    "precipitation",
    "",
    worse=Direction.higher,
    valid=(0, 3),
    group=_ENV,
    source="intensities of the METAR code, ICAO Annex 3",
    words={0: "none", 1: "light", 2: "moderate", 3: "heavy"},
)
def precipitation_intensity(precipitation: FloatArray) -> FloatArray:
    """0 none, 1 light, 2 moderate, 3 heavy."""
    return precipitation


@measure(
    "turbulence",
    "",
    worse=Direction.higher,
    valid=(0, 3),
    group=_ENV,
    source="intensities of the FAA Aeronautical Information Manual chapter 7 (from memory)",
    words={0: "none", 1: "light", 2: "moderate", 3: "severe"},
)
def turbulence_level(turbulence: FloatArray) -> FloatArray:
    """0 none, 1 light, 2 moderate, 3 severe."""
    return turbulence


@measure("age of the observation", "min", worse=Direction.higher, valid=(0, _OLDEST_MIN), group=_ENV, source=_OWN)
def observation_age_min(decided_at: FloatArray, weather_true_at: FloatArray) -> FloatArray:
    """Minutes since the oldest weather fact was true, at the moment of decision; unknown for one in the future."""
    return (decided_at - weather_true_at) / 60.0


@measure(
    "age of the observation at take-off", "min", worse=Direction.higher, valid=(0, _OLDEST_MIN), group=_ENV, source=_OWN
)
def observation_age_at_take_off_min(take_off_at: FloatArray, weather_true_at: FloatArray) -> FloatArray:
    """Minutes since the oldest weather fact was true, at the planned take-off."""
    return (take_off_at - weather_true_at) / 60.0


@measure("distance of the station", "NM", worse=Direction.higher, valid=(0, 500), group=_ENV, source=_OWN, decimals=1)
def observation_distance_nm(station_distance_nm: FloatArray) -> FloatArray:
    """How far from departure the weather was observed, NM."""
    return station_distance_nm


def _capped(value: FloatArray, best: float) -> FloatArray:
    """Infinity means that there is none: the best end of the range. Unknown stays unknown."""
    return np.minimum(value, best)
