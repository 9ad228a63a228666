"""Hours worked, flown and rested, as differences of instants.

The figures of 14 CFR 135.267 bind no flight school; they are a well-known yardstick for a policy.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Final

import numpy as np
import numpy.typing as npt

from riskboard.measures.instants import one_clock, seconds
from riskboard.measures.known import Floats, Number, checked, plain, rounded

__all__ = [
    "hours_between",
    "max_hours_in_24h",
    "max_hours_in_24h_rows",
    "next_rest_needed_h",
    "rest_in_24h_before_end_h",
]

_HOUR_S: Final = 3600.0
_DAY_S: Final = 86400.0


def hours_between(name: str, earlier: datetime | None, later: datetime | None) -> float:
    """Hours from one instant to a later one; NaN if either is unknown.

    Args:
        name: What ``earlier`` is, for the error.
        earlier: The first instant.
        later: The second.

    Returns:
        Hours, 0 or more.

    Raises:
        ValueError: ``earlier`` is after ``later`` (a contradiction to mend), or clocks are mixed.
    """
    one_clock(name, [earlier, later])
    elapsed_s = seconds(later) - seconds(earlier)
    if elapsed_s < 0:
        raise ValueError(f"{name} {earlier} is after {later}; it must come first")
    return elapsed_s / _HOUR_S


def max_hours_in_24h(
    blocks: Sequence[tuple[datetime, datetime]] | None, planned: tuple[datetime, datetime] | None
) -> float:
    """Most hours of flight instruction in any 24 consecutive hours, the planned block included.

    Args:
        blocks: (from, to) of the instruction given; an empty list means none, None means unknown.
        planned: The planned block, or None when the flight is no instruction.

    Returns:
        Hours; every 24 h window is looked at, midnight resets nothing. NaN when ``blocks`` is None.

    Raises:
        ValueError: A block ends before it begins, two overlap, or clocks are mixed.

    Source: 14 CFR 61.195(a): at most 8 h of flight training in any 24 consecutive hours; exactly 8.0 is allowed.
    """
    if blocks is None:
        return float(np.nan)
    every = sorted([*blocks, *([planned] if planned is not None else [])])
    one_clock("blocks, planned", *every)
    pairs = np.array([[seconds(a), seconds(b)] for a, b in every], dtype=np.float64).reshape(-1, 2)
    if np.any(pairs[:, 1] <= pairs[:, 0]):
        raise ValueError("blocks must end after they begin")
    if np.any(pairs[1:, 0] < pairs[:-1, 1]):
        raise ValueError("blocks must not overlap, the planned one included")
    return float(max_hours_in_24h_rows(pairs[None, :, 0], pairs[None, :, 1])[0])


def max_hours_in_24h_rows(begins: Floats, ends: Floats) -> Floats:
    """:func:`max_hours_in_24h` for n people: UNIX s, (n, k), NaN padding anywhere.

    The largest total is found in a window that ends where a block ends: a later end only gains while a block runs.
    Half a pair makes the row unknown; overlapping blocks are counted twice (the worksheet refuses them).
    """
    half = (np.isnan(begins) != np.isnan(ends)).any(axis=1)
    window_begins = (ends - _DAY_S)[:, :, None]
    inside = np.minimum(ends[:, None, :], window_begins + _DAY_S) - np.maximum(begins[:, None, :], window_begins)
    totals = np.where(np.isnan(inside), 0.0, np.maximum(inside, 0.0)).sum(axis=2)
    most = totals.max(axis=1, initial=0.0)
    return np.where(half, np.nan, rounded(most / _HOUR_S))


def rest_in_24h_before_end_h(previous_duty_end: datetime, duty_start: datetime, planned_end: datetime) -> float:
    """Hours of the one rest block that lie in the 24 h before the planned end.

    Source: 14 CFR 135.267(d) asks for 10 consecutive hours.

    Raises:
        ValueError: The instants are out of order, or clocks are mixed.
    """
    hours_between("previous_duty_end", previous_duty_end, duty_start)
    hours_between("duty_start", duty_start, planned_end)
    begin = np.maximum(seconds(previous_duty_end), seconds(planned_end) - _DAY_S)
    return float(np.maximum(seconds(duty_start) - begin, 0.0)) / _HOUR_S


def next_rest_needed_h(over_min: npt.ArrayLike) -> Number:
    """Rest after passing a daily flight limit: 11 h up to 30 min over, 12 h up to 60 min, 16 h beyond.

    Args:
        over_min: Minutes over the limit, 0 or more.

    Returns:
        Hours; 10 h, the usual rest, when nothing is over.

    Source: 14 CFR 135.267(e).
    """
    over = checked("over_min", over_min, at_least=0)
    rest = np.where(over > 60, 16.0, np.where(over > 30, 12.0, np.where(over > 0, 11.0, 10.0)))  # noqa: PLR2004
    return plain(np.where(np.isnan(over), np.nan, rest))
