"""Slow drift of a reading from flight to flight, such as a magneto drop: robust trend, and flights left to a limit.

The slope is the median of the slopes between all pairs of readings, so that a quarter of wild readings does not bend
it. Nothing is said about fewer than :data:`FEWEST` readings, and the answer is a range, not a number: the slope is
uncertain, and single readings scatter about the trend.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from riskboard.measures.known import Floats, checked

__all__ = ["FEWEST", "Drift", "Outlook", "Trend", "drift", "theil_sen"]

FEWEST: Final = 8
"""Readings below which no trend is stated: our own choice, no source. With fewer the range says next to nothing."""
_FEWEST_FOR_A_LINE: Final = 2
_CONFIDENCE: Final = 0.9
_MAD_TO_SD: Final = 1.4826
"""Median absolute deviation to standard deviation, for normal scatter (1 / 0.6745)."""
_ONE_SIDED: Final = NormalDist().inv_cdf(0.95)
MOST: Final = 9999
"""More flights than this are no forecast; "not in sight" is said instead."""


class Outlook(StrEnum):
    """What a drift says."""

    too_few_flights = "too_few_flights"
    over_the_limit = "over_the_limit"
    rising = "rising"
    may_rise = "may_rise"
    not_rising = "not_rising"


@dataclass(frozen=True)
class Trend:
    """A robust straight line.

    Attributes:
        slope: Median slope of all pairs.
        intercept: Median of y - slope * median of x: scipy's form of the line.
        low: Lower end of the slope's range.
        high: Upper end of the slope's range.
    """

    slope: float
    intercept: float
    low: float
    high: float


@dataclass(frozen=True)
class Drift:
    """What the readings of one aircraft say.

    Flights left are whole flights that still read within the limit; None is "not in sight".

    Attributes:
        outlook: What it comes to.
        readings: How many readings were known.
        unknown: How many flights had none.
        level: The trend at the last flight.
        slope_per_flight: Change from flight to flight.
        slope_low: Lower end of its 90 % range.
        slope_high: Upper end of its 90 % range.
        scatter: Standard deviation of single readings about the trend, from the median absolute deviation.
        flights_left: Until the trend itself passes the limit.
        soonest: Until a single reading may pass it: steepest slope of the range, and a high reading (1 in 20).
        latest: Until the trend passes it with the flattest slope of the range.
    """

    outlook: Outlook
    readings: int
    unknown: int
    level: float | None = None
    slope_per_flight: float | None = None
    slope_low: float | None = None
    slope_high: float | None = None
    scatter: float | None = None
    flights_left: int | None = None
    soonest: int | None = None
    latest: int | None = None

    def sentence(self, what: str, unit: str) -> str:
        """The drift in words, e.g. ``sentence("The left magneto's drop", "%")``."""
        if self.outlook is Outlook.too_few_flights:
            return f"{what}: too few flights for a trend ({self.readings} readings; {FEWEST} are needed)."
        now = f"{what} is now about {self.level:.1f} {unit}"
        if self.outlook is Outlook.over_the_limit:
            return f"{now}: the trend has passed the limit."
        if self.outlook is Outlook.not_rising:
            return f"{now} and does not rise."
        soon = f"the limit may be passed after {self.soonest} flights"
        if self.outlook is Outlook.may_rise:
            return f"{now}; whether it rises is not sure. At worst {soon}."
        last = f"{self.latest}" if self.latest is not None else f"more than {MOST}"
        rise = f"rises by about {self.slope_per_flight:.2g} {unit} a flight"
        return f"{now} and {rise}: {soon}, more likely after {self.flights_left} (range to {last})."


def theil_sen(x: npt.ArrayLike, y: npt.ArrayLike, confidence: float = 0.95) -> Trend:
    """Robust line through points.

    Args:
        x: Abscissae, shape (n,), two or more, all different.
        y: Ordinates, shape (n,).
        confidence: Confidence of the slope's range, above 0 and below 1.

    Returns:
        The line, with the range of its slope by Sen's method: slopes of given rank, from the normal approximation of
        Kendall's statistic with its correction for ties.

    Raises:
        ValueError: Values that are unknown or infinite, fewer than two, or two at one place.

    Source: Theil 1950; Sen 1968, J Am Stat Assoc 63:1379-1389 (from memory); checked against scipy.stats.theilslopes.
    """
    places, values = checked("x", x), checked("y", y)
    if places.ndim != 1 or places.shape != values.shape or np.isnan(places).any() or np.isnan(values).any():
        raise ValueError("x and y must be lists of known numbers of the same length")
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be above 0 and below 1; found {confidence:g}")
    if places.size < _FEWEST_FOR_A_LINE or np.unique(places).size < places.size:
        raise ValueError("x must hold at least two places, each once")
    slopes = _pair_slopes(places, values)
    slope = float(np.median(slopes))
    intercept = float(np.median(values) - slope * np.median(places))
    low, high = _range(slopes, values, confidence)
    return Trend(slope, intercept, low, high)


def _pair_slopes(x: Floats, y: Floats) -> Floats:
    """Slopes of all pairs, ascending."""
    ahead, rise = x[:, None] - x, y[:, None] - y
    return np.sort(rise[ahead > 0] / ahead[ahead > 0])


def _tied(values: Floats) -> float:
    """Kendall's correction: sum over groups of equal values of k (k - 1) (2 k + 5)."""
    _, counts = np.unique(values, return_counts=True)
    return float(np.sum(counts * (counts - 1) * (2 * counts + 5)))


def _range(slopes: Floats, y: Floats, confidence: float) -> tuple[float, float]:
    count, pairs = y.size, slopes.size
    variance = (count * (count - 1) * (2 * count + 5) - _tied(y)) / 18.0
    reach = NormalDist().inv_cdf(0.5 + confidence / 2) * float(np.sqrt(variance))
    upper = round((pairs + reach) / 2)
    lower = round((pairs - reach) / 2) - 1
    return float(slopes[np.clip(lower, 0, pairs - 1)]), float(slopes[np.clip(upper, 0, pairs - 1)])


def drift(readings: Sequence[float | None], limit: float, *, resolution: float) -> Drift:
    """The trend of a reading over the flights of one aircraft, and how many flights are left to its limit.

    Give the flights since the part was last changed or adjusted: a repair breaks the trend.

    Args:
        readings: One a flight, oldest first; None or NaN for a flight without one. It keeps its place and is not
            taken for a zero.
        limit: Highest reading allowed, in the same unit.
        resolution: Step in which the reading can be read, above 0. Readings that look alike because the gauge is
            coarse are not taken for exact: the scatter is at least that of rounding.

    Returns:
        The drift. Known readings below :data:`FEWEST`: ``too_few_flights`` and no figures.

    Raises:
        ValueError: A reading is infinite, or the limit or the resolution is not known.

    Source: :func:`theil_sen`; the scatter of single readings and the rule that a range is shown are our own reasoning.
    """
    values = checked("readings", np.array(readings, dtype=np.float64))
    bound = float(checked("limit", limit))
    step = float(checked("resolution", resolution, above=0))
    if np.isnan(bound) or np.isnan(step):
        raise ValueError("limit and resolution must be known")
    known = ~np.isnan(values)
    count, missing = int(known.sum()), int((~known).sum())
    if count < FEWEST:
        return Drift(Outlook.too_few_flights, count, missing)
    flights, seen = np.arange(float(values.size))[known] - (values.size - 1), values[known]
    trend = theil_sen(flights, seen, _CONFIDENCE)
    level, scatter = _level(flights, seen, trend.slope), _scatter(flights, seen, trend.slope, step)
    steep = _level(flights, seen, trend.high) + _ONE_SIDED * scatter
    left = _flights_left(level, trend.slope, bound)
    return Drift(
        outlook=_outlook(level, trend, bound),
        readings=count,
        unknown=missing,
        level=level,
        slope_per_flight=trend.slope,
        slope_low=trend.low,
        slope_high=trend.high,
        scatter=scatter,
        flights_left=left,
        soonest=_flights_left(steep, trend.high, bound),
        latest=_flights_left(_level(flights, seen, trend.low), trend.low, bound),
    )


def _outlook(level: float, trend: Trend, limit: float) -> Outlook:
    if level > limit:
        return Outlook.over_the_limit
    if trend.low > 0:
        return Outlook.rising
    return Outlook.may_rise if trend.high > 0 else Outlook.not_rising


def _level(flights: Floats, seen: Floats, slope: float) -> float:
    """Where a line of that slope stands at the last flight (place 0): the median of what it leaves."""
    return float(np.median(seen - slope * flights))


def _scatter(flights: Floats, seen: Floats, slope: float, resolution: float) -> float:
    """Standard deviation of single readings about the line; rounding alone gives resolution / sqrt(12)."""
    rest = seen - slope * flights
    from_readings = _MAD_TO_SD * np.median(np.abs(rest - np.median(rest)))
    return float(np.maximum(from_readings, resolution / np.sqrt(12.0)))


def _flights_left(level: float, slope: float, limit: float) -> int | None:
    """Whole flights after the last one at which a line still reads no more than the limit."""
    if level > limit:
        return 0
    if slope <= 0:
        return None
    left = (limit - level) / slope
    return int(np.floor(left + 1e-9)) if left <= MOST else None
