"""An aircraft's own fuel burn, from what its flights used, held back toward the type's value while flights are few.

Both figures are shown, never the estimate alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from riskboard.aircraft_types.model import BurnSpread
from riskboard.measures.known import Floats, checked

__all__ = ["BurnEstimate", "own_burn"]


@dataclass(frozen=True)
class BurnEstimate:
    """Two figures side by side.

    Attributes:
        type_gal_per_h: The type's value.
        own_gal_per_h: The aircraft's own estimate, drawn toward the type's value.
        flown_gal_per_h: What its flights alone say, weighted; None without flights.
        sd_gal_per_h: Standard deviation of the own estimate: how sure it is of this aircraft's mean.
        own_weight: Share of the flights in the estimate, from 0 (type's value only) to below 1.
        flights: Flights used.
        left_out: Flights with an unknown fuel or time.
    """

    type_gal_per_h: float
    own_gal_per_h: float
    flown_gal_per_h: float | None
    sd_gal_per_h: float
    own_weight: float
    flights: int
    left_out: int


def own_burn(
    type_gal_per_h: float,
    spread: BurnSpread,
    used_gal: Sequence[float | None] | npt.ArrayLike,
    flown_h: Sequence[float | None] | npt.ArrayLike,
) -> BurnEstimate:
    """Estimate of one aircraft's mean burn.

    Assume that the aircraft's mean burn m lies about the type's value b with standard deviation a (between aircraft),
    and that flight i of h_i hours, having used u_i gallons, shows the rate r_i = u_i / h_i with variance
    v_i = f**2 + (g / h_i)**2: f from flight to flight, g the error of reading the fuel. All normal. Then m given the
    flights is normal with the precision-weighted mean and variance

        mean = (b / a**2 + sum(r_i / v_i)) / (1 / a**2 + sum(1 / v_i)),    variance = 1 / (1 / a**2 + sum(1 / v_i)),

    which follows from completing the square in the product of the densities.

    Args:
        type_gal_per_h: The type's burn b for this kind of flight, above 0.
        spread: Standard deviations a, f and g of the type.
        used_gal: Fuel used on each flight, US gal, 0 or more; None or NaN is unknown and leaves the flight out.
        flown_h: Time of each flight, h, above 0; None or NaN as well.

    Returns:
        The estimate beside the type's value. Without flights they are equal.

    Raises:
        ValueError: Names the impossible argument.

    Source: normal distribution with normal prior and known variances, any textbook of Bayesian statistics; derived
    above. The spreads are the type's, invented in the shipped one.
    """
    base = float(checked("type_gal_per_h", type_gal_per_h, above=0))
    if np.isnan(base):
        raise ValueError("type_gal_per_h must be known")
    used = checked("used_gal", np.array(used_gal, dtype=np.float64), at_least=0)
    hours = checked("flown_h", np.array(flown_h, dtype=np.float64), above=0)
    if used.ndim != 1 or used.shape != hours.shape:
        raise ValueError("used_gal and flown_h must be lists of the same length")
    known = ~(np.isnan(used) | np.isnan(hours))
    rates, precision = _rates(used[known], hours[known], spread)
    prior = 1.0 / spread.between_aircraft_gal_per_h**2
    seen = float(precision.sum())
    weighted = float((rates * precision).sum())
    return BurnEstimate(
        type_gal_per_h=base,
        own_gal_per_h=(base * prior + weighted) / (prior + seen),
        flown_gal_per_h=weighted / seen if seen > 0 else None,
        sd_gal_per_h=float((prior + seen) ** -0.5),
        own_weight=seen / (prior + seen),
        flights=int(known.sum()),
        left_out=int((~known).sum()),
    )


def _rates(used: Floats, hours: Floats, spread: BurnSpread) -> tuple[Floats, Floats]:
    """Burn of each flight and how much it says (1 / variance)."""
    variance = spread.between_flights_gal_per_h**2 + (spread.reading_gal / hours) ** 2
    return used / hours, 1.0 / variance
