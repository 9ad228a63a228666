"""The standard atmosphere, pressure and density altitude, humidity, cloud base, fog and frost.

Altitude in the standard atmosphere is geopotential, as altimeters are calibrated. Dew points and relative humidity
are over liquid water, also below 0 C, as aviation reports give them.

All functions take scalars or arrays, broadcast them, give the same shape back in float64, and answer NaN where an
input is unknown. Impossible input is refused with a ValueError that names the argument.

| constant | value | source |
| --- | --- | --- |
| sea-level temperature | 288.15 K | ICAO Doc 7488, US Standard Atmosphere 1976 |
| sea-level pressure | 1013.25 hPa | the same |
| lapse rate | 6.5 K/km to 11 km | the same |
| gravity | 9.80665 m/s2 | the same |
| gas constant of dry air | 287.05287 J/(kg K) | the same |
| inch of mercury at 0 C | 33.86389 hPa | NIST SP 811 appendix B.8 |
| molar mass of water over that of dry air | 0.62198 | WMO-No. 8, annex 4.B |
"""

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from riskboard.measures.known import Floats, Number, checked, plain

_SEA_LEVEL_K = 288.15
_SEA_LEVEL_HPA = 1013.25
_LAPSE_K_M = 0.0065
_GRAVITY_M_S2 = 9.80665
_DRY_AIR_J_KG_K = 287.05287
_ZERO_C_K = 273.15
_FT_M = 0.3048
_INHG_HPA = 33.86389
_WATER_TO_AIR = 0.62198
_PRESSURE_EXPONENT = _GRAVITY_M_S2 / (_DRY_AIR_J_KG_K * _LAPSE_K_M)

LOWEST_ALTITUDE_FT = -16_404.0  # -5 km, where the tables of ICAO Doc 7488 begin
HIGHEST_ALTITUDE_FT = 36_089.0  # 11 km, the top of the layer whose lapse rate is used here
COLDEST_C, HOTTEST_C = -90.0, 60.0  # beyond every surface reading on record
DRIEST_DEW_POINT_C = -100.0
_LOWEST_INHG, _HIGHEST_INHG = 25.0, 33.0  # the records are about 25.7 and 32.1


def isa_temperature_c(altitude_ft: ArrayLike | None) -> Number:
    """Temperature of the standard atmosphere.

    Equation: T = 15 C - 6.5 K/km * altitude.

    Args:
        altitude_ft: Geopotential (pressure) altitude in ft, -16,404 to 36,089; any shape.

    Returns:
        Temperature in C, same shape.

    Raises:
        ValueError: Outside the range.

    Source:
        ICAO Doc 7488; US Standard Atmosphere 1976.
    """
    return plain(_isa_kelvin(_altitude(altitude_ft, "altitude_ft")) - _ZERO_C_K)


def isa_pressure_hpa(altitude_ft: ArrayLike | None) -> Number:
    """Pressure of the standard atmosphere.

    Equation: p = 1013.25 hPa * (T / 288.15 K) ** 5.2559, the exponent being g0 / (R * lapse rate).

    Args:
        altitude_ft: Geopotential (pressure) altitude in ft, -16,404 to 36,089; any shape.

    Returns:
        Pressure in hPa, same shape.

    Raises:
        ValueError: Outside the range.

    Source:
        ICAO Doc 7488; US Standard Atmosphere 1976.
    """
    return plain(_isa_hpa(_altitude(altitude_ft, "altitude_ft")))


def altimeter_hpa_to_inhg(altimeter_hpa: ArrayLike | None) -> Number:
    """Convert an altimeter setting from hectopascals to inches of mercury.

    Args:
        altimeter_hpa: Setting (QNH) in hPa, 850 to 1,110; any shape.

    Returns:
        Setting in inHg, same shape, not rounded.

    Raises:
        ValueError: Outside the range, for instance when the setting was already in inHg.

    Source:
        NIST SP 811 appendix B.8: 1 inHg (0 C) = 33.86389 hPa.
    """
    return plain(checked("altimeter_hpa", altimeter_hpa, at_least=850.0, up_to=1110.0) / _INHG_HPA)


def pressure_altitude_ft(elevation_ft: ArrayLike | None, altimeter_inhg: ArrayLike | None) -> Number:
    """Pressure altitude of a place, exactly as an altimeter set to 29.92 would show it.

    Equation: elevation plus the standard altitude of the altimeter setting. That is what an altimeter does, and
    unlike "1,000 ft per inch" it holds at any setting.

    Args:
        elevation_ft: Elevation in ft, -2,000 to 30,000; any shape.
        altimeter_inhg: Altimeter setting in inHg, 25 to 33; any shape.

    Returns:
        Pressure altitude in ft, the broadcast shape.

    Raises:
        ValueError: Outside the ranges, for instance when the setting is in hPa.

    Source:
        ICAO Doc 7488 for the standard altitude of a pressure; FAA-H-8083-25 chapter 11 for the table it reproduces.
    """
    elevation = checked("elevation_ft", elevation_ft, at_least=-2_000.0, up_to=30_000.0)
    setting = checked("altimeter_inhg", altimeter_inhg, at_least=_LOWEST_INHG, up_to=_HIGHEST_INHG)
    return plain(pressure_altitude_rows(elevation, setting))


def pressure_altitude_rows(elevation_ft: Floats, altimeter_inhg: Floats) -> Floats:
    """:func:`pressure_altitude_ft` without the checks."""
    ratio = altimeter_inhg * _INHG_HPA / _SEA_LEVEL_HPA
    standard_m = _SEA_LEVEL_K / _LAPSE_K_M * (1.0 - np.power(ratio, 1.0 / _PRESSURE_EXPONENT))
    return np.asarray(elevation_ft + standard_m / _FT_M)


def density_altitude_ft(
    pressure_altitude_ft: ArrayLike | None, temperature_c: ArrayLike | None, dew_point_c: ArrayLike | None = None
) -> Number:
    """Density altitude: the standard altitude of the air's density.

    Equation: density from the standard pressure of the pressure altitude and the virtual temperature
    Tv = T / (1 - (e / p) * (1 - 0.62198)); then h = (288.15 K / lapse) * (1 - (density / 1.225) ** 0.23497).

    Args:
        pressure_altitude_ft: Pressure altitude in ft, -16,404 to 36,089; any shape.
        temperature_c: Air temperature in C, -90 to 60; any shape.
        dew_point_c: Dew point in C, at most the temperature. Left out, the air is taken as dry, which understates
            the density altitude by up to about 600 ft in hot humid air. A NaN is not left out but unknown, and so
            is the answer.

    Returns:
        Density altitude in ft, the broadcast shape.

    Raises:
        ValueError: Outside the ranges, or for a dew point above the temperature.

    Source:
        ICAO Doc 7488 for the density, WMO-No. 8 annex 4.B for the vapour pressure.
    """
    altitude = _altitude(pressure_altitude_ft, "pressure_altitude_ft")
    temperature = _temperature(temperature_c)
    dew_point = None if dew_point_c is None else _dew_point(dew_point_c, temperature)
    return plain(density_altitude_rows(altitude, temperature, dew_point))


def density_altitude_rows(pressure_altitude_ft: Floats, temperature_c: Floats, dew_point_c: Floats | None) -> Floats:
    """:func:`density_altitude_ft` without the checks."""
    kelvin = temperature_c + _ZERO_C_K
    pressure_hpa = _isa_hpa(pressure_altitude_ft)
    if dew_point_c is not None:
        kelvin = kelvin / (1.0 - _saturation_hpa(dew_point_c) / pressure_hpa * (1.0 - _WATER_TO_AIR))
    density_ratio = pressure_hpa / _SEA_LEVEL_HPA * (_SEA_LEVEL_K / kelvin)
    standard_m = _SEA_LEVEL_K / _LAPSE_K_M * (1.0 - np.power(density_ratio, 1.0 / (_PRESSURE_EXPONENT - 1.0)))
    return np.asarray(standard_m / _FT_M)


def saturation_vapour_pressure_hpa(temperature_c: ArrayLike | None) -> Number:
    """Saturation vapour pressure over liquid water; at the dew point, the air's own vapour pressure.

    Equation: e = 6.112 hPa * exp(17.62 t / (243.12 C + t)).

    Args:
        temperature_c: Temperature or dew point in C, -100 to 60; stated for -45 to 60, below that the pressure is
            too small to matter here. Any shape.

    Returns:
        Vapour pressure in hPa, same shape.

    Raises:
        ValueError: Outside the range.

    Source:
        WMO-No. 8 annex 4.B.
    """
    return plain(_saturation_hpa(checked("temperature_c", temperature_c, at_least=DRIEST_DEW_POINT_C, up_to=HOTTEST_C)))


def relative_humidity_pct(temperature_c: ArrayLike | None, dew_point_c: ArrayLike | None) -> Number:
    """Relative humidity over liquid water.

    Equation: 100 * e(dew point) / e(temperature).

    Args:
        temperature_c: Air temperature in C, -90 to 60; any shape.
        dew_point_c: Dew point in C, at most the temperature; any shape.

    Returns:
        Relative humidity in percent, the broadcast shape.

    Raises:
        ValueError: Outside the ranges, or for a dew point above the temperature.

    Source:
        WMO-No. 8 annex 4.B.
    """
    temperature = _temperature(temperature_c)
    dew_point = _dew_point(dew_point_c, temperature)
    return plain(100.0 * (_saturation_hpa(dew_point) / _saturation_hpa(temperature)))


def dew_point_from_humidity_c(temperature_c: ArrayLike | None, relative_humidity_pct: ArrayLike | None) -> Number:
    """Dew point of air whose relative humidity is known; the inverse of `relative_humidity_pct`.

    Equation: with y = ln(RH / 100) + 17.62 t / (243.12 + t), the dew point is 243.12 y / (17.62 - y).

    Args:
        temperature_c: Air temperature in C, -90 to 60; any shape.
        relative_humidity_pct: Relative humidity over water in percent, 1 to 100; any shape.

    Returns:
        Dew point in C, the broadcast shape, never above the temperature.

    Raises:
        ValueError: Outside the ranges.

    Source:
        WMO-No. 8 annex 4.B, solved for the dew point.
    """
    temperature = _temperature(temperature_c)
    humidity = checked("relative_humidity_pct", relative_humidity_pct, at_least=1.0, up_to=100.0)
    y = np.log(humidity / 100.0) + 17.62 * temperature / (243.12 + temperature)
    # INVARIANT: rounding may not lift the dew point of saturated air above the temperature, which would be refused.
    return plain(np.minimum(243.12 * y / (17.62 - y), temperature))


def dew_point_spread_c(temperature_c: ArrayLike | None, dew_point_c: ArrayLike | None) -> Number:
    """Temperature minus dew point.

    Args:
        temperature_c: Air temperature in C, -90 to 60; any shape.
        dew_point_c: Dew point in C, at most the temperature; any shape.

    Returns:
        Spread in C, zero or more, the broadcast shape.

    Raises:
        ValueError: Outside the ranges, or for a dew point above the temperature.

    Source:
        Definition.
    """
    temperature = _temperature(temperature_c)
    return plain(temperature - _dew_point(dew_point_c, temperature))


def cloud_base_ft_agl(temperature_c: ArrayLike | None, dew_point_c: ArrayLike | None) -> Number:
    """Base of convective cloud, estimated from the dew-point spread at the surface.

    Equation: spread / 2.5 C * 1,000 ft, that is 400 ft per C.

    Best below 5,000 ft and for cumuliform cloud only. It is an estimate of one kind of cloud, not a ceiling.

    Args:
        temperature_c: Surface temperature in C, -90 to 60; any shape.
        dew_point_c: Surface dew point in C, at most the temperature; any shape.

    Returns:
        Height of the base above the surface in ft, the broadcast shape.

    Raises:
        ValueError: Outside the ranges, or for a dew point above the temperature.

    Source:
        FAA-H-8083-25 chapter 12; AFMAN 15-111 table 11.4. The handbook also prints 4.4 F for 2.5 C (4.5 F), which
        gives up to 2.3 % more; the lower figure is used.
    """
    return plain(np.asarray(dew_point_spread_c(temperature_c, dew_point_c)) * 400.0)


def freezing_level_ft(elevation_ft: ArrayLike | None, temperature_c: ArrayLike | None) -> Number:
    """Altitude where the air reaches 0 C, estimated from the surface with the standard lapse rate.

    Equation: elevation + temperature / (1.9812 C per 1,000 ft); the elevation itself when it freezes at the surface.

    Inversions are common in cold weather: a reported or forecast level goes before this estimate.

    Args:
        elevation_ft: Elevation in ft, -2,000 to 30,000; any shape.
        temperature_c: Surface temperature in C, -90 to 60; any shape.

    Returns:
        Altitude above mean sea level in ft, the broadcast shape.

    Raises:
        ValueError: Outside the ranges.

    Source:
        ICAO Doc 7488 for the lapse rate; taking it for the real air is common practice, no source.
    """
    elevation = checked("elevation_ft", elevation_ft, at_least=-2_000.0, up_to=30_000.0)
    temperature = _temperature(temperature_c)
    return plain(elevation + np.maximum(temperature, 0.0) / (_LAPSE_K_M * _FT_M))


def fog_possible(
    temperature_c: ArrayLike | None, dew_point_c: ArrayLike | None, spread_limit_c: ArrayLike = 3.0
) -> Number:
    """Whether the spread is small enough for fog or low stratus to form.

    Args:
        temperature_c: Air temperature in C, -90 to 60; any shape.
        dew_point_c: Dew point in C, at most the temperature; any shape.
        spread_limit_c: The largest spread that counts, in C; zero or more.

    Returns:
        1.0 where the spread is at or below the limit, 0.0 where it is not, NaN where unknown; the broadcast shape.

    Raises:
        ValueError: Outside the ranges, or for a dew point above the temperature.

    Source:
        FAA AC 00-6 and FAA-H-8083-28 name 2 to 3 C, about 5 F (from memory); the wider figure is the default.
    """
    spread = np.asarray(dew_point_spread_c(temperature_c, dew_point_c))
    limit = checked("spread_limit_c", spread_limit_c, at_least=0.0, up_to=30.0)
    return _truth(spread <= limit, spread, limit)


def frost_possible(surface_temperature_c: ArrayLike | None, dew_point_c: ArrayLike | None) -> Number:
    """Whether frost can form on a surface, for instance on blades parked outside.

    Args:
        surface_temperature_c: Temperature of the surface in C, -90 to 60, which on a clear night lies below the
            air's; any shape.
        dew_point_c: Dew point of the air in C, -100 to 60; may lie above the surface's temperature. Any shape.

    Returns:
        1.0 where the surface is at or below both the dew point and 0 C, 0.0 where not, NaN where unknown.

    Raises:
        ValueError: Outside the ranges.

    Source:
        FAA AC 00-6 (from memory).
    """
    surface = checked("surface_temperature_c", surface_temperature_c, at_least=COLDEST_C, up_to=HOTTEST_C)
    dew_point = checked("dew_point_c", dew_point_c, at_least=DRIEST_DEW_POINT_C, up_to=HOTTEST_C)
    return _truth((surface <= dew_point) & (surface <= 0.0), surface, dew_point)


def _altitude(altitude_ft: ArrayLike | None, name: str) -> Floats:
    return checked(name, altitude_ft, at_least=LOWEST_ALTITUDE_FT, up_to=HIGHEST_ALTITUDE_FT)


def _temperature(temperature_c: ArrayLike | None) -> Floats:
    return checked("temperature_c", temperature_c, at_least=COLDEST_C, up_to=HOTTEST_C)


def _dew_point(dew_point_c: ArrayLike | None, temperature: Floats) -> Floats:
    dew_point = checked("dew_point_c", dew_point_c, at_least=DRIEST_DEW_POINT_C, up_to=HOTTEST_C)
    if np.any(dew_point > temperature):
        raise ValueError("dew_point_c must be at most the temperature; found a dew point above it")
    return dew_point


def _isa_kelvin(altitude_ft: Floats) -> Floats:
    return np.asarray(_SEA_LEVEL_K - _LAPSE_K_M * _FT_M * altitude_ft)


def _isa_hpa(altitude_ft: Floats) -> Floats:
    # np.power and not **: the operator takes another path for scalars, and one row must equal the same row in a batch.
    return np.asarray(_SEA_LEVEL_HPA * np.power(_isa_kelvin(altitude_ft) / _SEA_LEVEL_K, _PRESSURE_EXPONENT))


def _saturation_hpa(temperature_c: Floats) -> Floats:
    return np.asarray(6.112 * np.exp(17.62 * temperature_c / (243.12 + temperature_c)))


def _truth(condition: npt.NDArray[np.bool_], *facts: Floats) -> Number:
    unknown = np.zeros(condition.shape, dtype=np.bool_)
    for fact in facts:
        unknown = unknown | np.isnan(fact)
    return plain(np.where(unknown, np.nan, condition.astype(np.float64)))
