"""Registered measures of light: how near the night is, how much of the flight lies in it, moon, low sun, ground lights.

Light is taken at the departure place for the whole flight, over a flat horizon at sea level. Rows that cannot be (a
landing before the take-off) come out unknown; the worksheet has refused them before.
"""

import numpy as np

from riskboard.measures.registry import quantity
from riskboard.worksheet.columns import FloatArray

_DAY_S = 86_400.0


@quantity
def flight_day(take_off_at: FloatArray, utc_offset_s: FloatArray) -> FloatArray:
    """Local calendar day of the take-off, days since 1970-01-01."""
    return np.floor((take_off_at + utc_offset_s) / _DAY_S)


@quantity
def landing_day(landing_at: FloatArray, utc_offset_s: FloatArray) -> FloatArray:
    """Local calendar day of the landing, on the clock of the take-off, days since 1970-01-01."""
    return np.floor((landing_at + utc_offset_s) / _DAY_S)


@quantity
def flight_min(take_off_at: FloatArray, landing_at: FloatArray) -> FloatArray:
    """Planned time from take-off to landing, min; unknown where the landing is not after the take-off."""
    minutes = (landing_at - take_off_at) / 60.0
    return np.where(minutes > 0.0, minutes, np.nan)
