"""The equations of the three-process model of alertness, one function each.

A homeostat S falls awake and rises asleep, a circadian wave C has 24 h, an ultradian wave U has 12 h; sleep inertia W
is reported apart. The lower-case forms without checks are for the row code in ``fatigue.py``.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from riskboard.measures.known import Floats, Number, checked, plain

__all__ = [
    "HIGHEST_S",
    "KSS_10_6",
    "KSS_10_9",
    "KSS_REFIT",
    "LOWEST_S",
    "asleep",
    "awake",
    "circadian",
    "circadian_wave",
    "homeostat_asleep",
    "homeostat_awake",
    "inertia",
    "kss_for_display",
    "sleep_inertia",
    "steady_start_s",
    "ultradian",
    "ultradian_wave",
]

# Parameters: documentation of an open R package for fatigue-model research (Wilson et al. 2020, J. Open Source
# Software), citing Ingre et al. 2014 (PLoS ONE 9:e108679). The straight line below the break level and the U phase
# are from memory of that paper.
LOWEST_S: Final = 2.4
HIGHEST_S: Final = 14.3
_FALL_PER_H: Final = -0.0353
_BREAK: Final = 12.2
_RISE_PER_H: Final = float(np.log((HIGHEST_S - 14.0) / (HIGHEST_S - 7.96)) / 8.0)
_C_AMPLITUDE: Final = 2.5
_C_PEAK_H: Final = 16.8
_U_MEAN: Final = -0.5
_U_AMPLITUDE: Final = 0.5
_W_START: Final = -5.72
_W_PER_H: Final = -1.51

KSS_10_6: Final = (10.6, -0.6)
"""Intercept and slope that belong to a U of mean -0.5, the U used here."""
KSS_10_9: Final = (10.9, -0.6)
"""The long-standing pair for a U of mean 0; with the U used here it reads 0.3 sleepier."""
KSS_REFIT: Final = (9.68, -0.46)
"""Refit to aircrew data (model 5c of Ingre et al. 2014, as quoted in public source text)."""


def homeostat_awake(s: npt.ArrayLike, hours: npt.ArrayLike) -> Number:
    """S after ``hours`` awake: la + (s - la) * exp(d * h), d = -0.0353 per hour (Ingre et al. 2014)."""
    start = checked("s", s, at_least=LOWEST_S, up_to=HIGHEST_S)
    return plain(awake(start, checked("hours", hours, at_least=0)))


def homeostat_asleep(s: npt.ArrayLike, hours: npt.ArrayLike) -> Number:
    """S after ``hours`` asleep.

    Below the break level 12.2 a straight line, s + g * (bl - ha) * h (0.80 per hour); from it on
    ha - (ha - bl) * exp(g * (h - h_break)). Source: Ingre et al. 2014, equations 1.3 to 1.5 (from memory).
    """
    start = checked("s", s, at_least=LOWEST_S, up_to=HIGHEST_S)
    return plain(asleep(start, checked("hours", hours, at_least=0)))


def circadian(clock_h: npt.ArrayLike) -> Number:
    """C = 2.5 * cos(2 pi / 24 * (clock - 16.8)), clock in hours of the body's local time."""
    return plain(circadian_wave(np.asarray(clock_h, dtype=np.float64)))


def ultradian(clock_h: npt.ArrayLike) -> Number:
    """U = -0.5 + 0.5 * cos(2 pi / 12 * (clock - 19.8)), clock in hours of the body's local time."""
    return plain(ultradian_wave(np.asarray(clock_h, dtype=np.float64)))


def sleep_inertia(awake_h: npt.ArrayLike) -> Number:
    """W = -5.72 * exp(-1.51 * hours awake)."""
    return plain(inertia(checked("awake_h", awake_h, at_least=0)))


def kss_for_display(kss: npt.ArrayLike) -> Number:
    """The scale ends at 1 and 9; scoring uses the unclipped value."""
    return plain(np.clip(np.asarray(kss, dtype=np.float64), 1.0, 9.0))


def steady_start_s(hours_asleep: npt.ArrayLike) -> Number:
    """S on waking of someone who sleeps ``hours_asleep`` every day (fixed point of one day and one night).

    Args:
        hours_asleep: Habitual sleep in h per 24 h, 0 to 24.

    Returns:
        S on waking, in the shape given.
    """
    asleep_h = checked("hours_asleep", hours_asleep, at_least=0, up_to=24)
    s = np.full(asleep_h.shape, HIGHEST_S)
    for _ in range(80):  # one round shrinks the error to 0.57 of it or less, whatever the hours
        s = asleep(awake(s, 24.0 - asleep_h), asleep_h)
    return plain(np.where(np.isnan(asleep_h), np.nan, s))


def awake(s: Floats, hours: Floats) -> Floats:
    """:func:`homeostat_awake` without the checks."""
    return np.asarray(LOWEST_S + (s - LOWEST_S) * np.exp(_FALL_PER_H * hours))


def asleep(s: Floats, hours: Floats) -> Floats:
    """:func:`homeostat_asleep` without the checks."""
    line_per_h = _RISE_PER_H * (_BREAK - HIGHEST_S)
    to_break_h = np.maximum((_BREAK - s) / line_per_h, 0.0)
    bent = HIGHEST_S - (HIGHEST_S - np.maximum(s, _BREAK)) * np.exp(_RISE_PER_H * np.maximum(hours - to_break_h, 0.0))
    return np.where(hours < to_break_h, s + line_per_h * hours, bent)


def circadian_wave(clock_h: Floats) -> Floats:
    """:func:`circadian` on arrays."""
    return np.asarray(_C_AMPLITUDE * np.cos(2 * np.pi / 24 * (clock_h - _C_PEAK_H)))


def ultradian_wave(clock_h: Floats) -> Floats:
    """:func:`ultradian` on arrays."""
    return np.asarray(_U_MEAN + _U_AMPLITUDE * np.cos(2 * np.pi / 12 * (clock_h - _C_PEAK_H - 3)))


def inertia(awake_h: Floats) -> Floats:
    """:func:`sleep_inertia` without the checks."""
    return np.asarray(_W_START * np.exp(_W_PER_H * awake_h))
