"""Unit conversions: convert once, round to the stated resolution, compare in the policy's unit.

| unit | equals | source |
| --- | --- | --- |
| foot | 0.3048 m, exact | NIST Special Publication 811 (2008), appendix B.8 |
| nautical mile | 1852 m, exact | SI Brochure (8th ed.), table 8 |
| statute mile | 5280 ft = 1609.344 m, exact | NIST SP 811, appendix B.8 |
| knot | 1 nautical mile per hour, exact | SI Brochure (8th ed.), table 8 |
| US gallon | 231 cubic inches = 3.785411784 L, exact | NIST Handbook 44, appendix C |
| pound | 0.45359237 kg, exact | NIST SP 811, appendix B.8 |
| inch of mercury, 0 °C | 33.86389 hPa, as published | NIST SP 811, appendix B.8 |
| degree Fahrenheit | t_F = 1.8 t_C + 32, exact | NIST SP 811, appendix B.8 |

Each pair is one factor, divided exactly and rounded to a float once, so that a conversion makes as little rounding
error as it can. That little is enough to put a whole number of knots just under itself on the way back from metres per
second: whoever compares with a limit rounds first (:func:`convert_rounded`).
"""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import overload

import numpy as np
from numpy.typing import NDArray

__all__ = ["UNITS", "convert", "convert_rounded", "round_to"]

FloatArray = NDArray[np.float64]

_FOOT_M = Fraction("0.3048")
_NAUTICAL_MILE_M = Fraction(1852)

# unit -> (dimension, size in the dimension's first unit, zero point in that first unit)
UNITS: Mapping[str, tuple[str, Fraction, Fraction]] = {
    "m": ("length", Fraction(1), Fraction(0)),
    "km": ("length", Fraction(1000), Fraction(0)),
    "ft": ("length", _FOOT_M, Fraction(0)),
    "sm": ("length", 5280 * _FOOT_M, Fraction(0)),
    "nm": ("length", _NAUTICAL_MILE_M, Fraction(0)),
    "ms": ("speed", Fraction(1), Fraction(0)),
    "kmh": ("speed", Fraction(1000, 3600), Fraction(0)),
    "kt": ("speed", _NAUTICAL_MILE_M / 3600, Fraction(0)),
    "l": ("volume", Fraction(1), Fraction(0)),
    "gal": ("volume", Fraction("3.785411784"), Fraction(0)),
    "kg": ("mass", Fraction(1), Fraction(0)),
    "lb": ("mass", Fraction("0.45359237"), Fraction(0)),
    "hpa": ("pressure", Fraction(1), Fraction(0)),
    "inhg": ("pressure", Fraction("33.86389"), Fraction(0)),
    "c": ("temperature", Fraction(1), Fraction(0)),
    "f": ("temperature", Fraction(5, 9), Fraction(-160, 9)),
}
"""Every unit by the suffix it has in a name (``_sm`` is a statute mile, ``_ms`` a metre per second)."""


@cache
def _line(from_unit: str, to_unit: str) -> tuple[float, float]:
    """Slope and offset that lead from one unit to another."""
    for unit in (from_unit, to_unit):
        if unit not in UNITS:
            raise ValueError(f"no unit is called {unit!r}; the units are {', '.join(UNITS)}")
    (dimension, size, zero), (other, other_size, other_zero) = UNITS[from_unit], UNITS[to_unit]
    if dimension != other:
        raise ValueError(f"{from_unit} is a unit of {dimension} and {to_unit} one of {other}; they do not convert")
    return float(size / other_size), float((zero - other_zero) / other_size)


@overload
def convert(value: float, from_unit: str, to_unit: str) -> float: ...
@overload
def convert(value: FloatArray, from_unit: str, to_unit: str) -> FloatArray: ...
def convert(value: float | FloatArray, from_unit: str, to_unit: str) -> float | FloatArray:
    """Convert a quantity.

    Args:
        value: One number or an array of any shape; NaN stays NaN, an infinity stays one.
        from_unit: Unit of ``value``, a key of :data:`UNITS`.
        to_unit: Unit wanted, of the same dimension.

    Returns:
        The quantity in ``to_unit``, not rounded, in the shape given.

    Raises:
        ValueError: A unit is not known, or the two do not measure the same thing.
    """
    slope, offset = _line(from_unit, to_unit)
    return value * slope + offset


@overload
def round_to(value: float, resolution: float) -> float: ...
@overload
def round_to(value: FloatArray, resolution: float) -> FloatArray: ...
def round_to(value: float | FloatArray, resolution: float) -> float | FloatArray:
    """Round to the nearest multiple of a resolution; half a step goes to the even multiple.

    Args:
        value: One number or an array; NaN stays NaN, an infinity stays one.
        resolution: Step in the unit of ``value``, a positive decimal such as 0.05, 1 or 100.

    Returns:
        The multiple as the float nearest to its decimal, so that 0.15 is the same 0.15 that a person types.

    Raises:
        ValueError: The resolution is not a positive finite number.
    """
    if not 0 < resolution < float("inf"):
        raise ValueError(f"a resolution must be a positive number, not {resolution}")
    places = -int(Decimal(repr(float(resolution))).normalize().as_tuple().exponent)
    rounded = np.round(np.rint(np.asarray(value, dtype=np.float64) / resolution) * resolution, max(places, 0)) + 0.0
    return rounded if isinstance(value, np.ndarray) else float(rounded)


@overload
def convert_rounded(value: float, from_unit: str, to_unit: str, resolution: float) -> float: ...
@overload
def convert_rounded(value: FloatArray, from_unit: str, to_unit: str, resolution: float) -> FloatArray: ...
def convert_rounded(value: float | FloatArray, from_unit: str, to_unit: str, resolution: float) -> float | FloatArray:
    """Convert once and round to the resolution in which the result will be compared.

    Args:
        value: One number or an array; NaN stays NaN.
        from_unit: Unit of ``value``, a key of :data:`UNITS`.
        to_unit: Unit wanted.
        resolution: Step of the result, in ``to_unit``.

    Returns:
        The rounded quantity in ``to_unit``, in the shape given.

    Raises:
        ValueError: A unit is not known, the two do not convert, or the resolution is not positive.
    """
    return round_to(convert(value, from_unit, to_unit), resolution)
