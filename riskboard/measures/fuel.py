"""Fuel in minutes, the unit in which the trade thinks about it. Usable fuel only."""

import numpy.typing as npt

from riskboard.measures.known import Floats, Number, checked, plain, rounded, settled

__all__ = ["endurance_min", "endurance_rows", "fuel_margin_min", "fuel_required_gal"]


def endurance_min(usable_gal: npt.ArrayLike, burn_gal_per_h: npt.ArrayLike, taxi_gal: npt.ArrayLike = 0.0) -> Number:
    """Flying time in the tanks: 60 * (usable - taxi) / burn.

    Args:
        usable_gal: Usable fuel aboard, US gal, 0 or more.
        burn_gal_per_h: Planned burn in US gal per hour, above 0.
        taxi_gal: Fuel for start, warm-up and ground running, US gal, 0 or more (common practice).

    Returns:
        Minutes; negative where even the ground running is not covered.

    Raises:
        ValueError: Names the impossible argument; a burn of zero is impossible.

    Source: arithmetic.
    """
    burn = checked("burn_gal_per_h", burn_gal_per_h, above=0)
    usable = checked("usable_gal", usable_gal, at_least=0)
    return plain(endurance_rows(usable, burn, checked("taxi_gal", taxi_gal, at_least=0)))


def endurance_rows(usable_gal: Floats, burn_gal_per_h: Floats, taxi_gal: Floats) -> Floats:
    """:func:`endurance_min` without the checks."""
    return rounded(60.0 * (usable_gal - taxi_gal) / burn_gal_per_h)


def fuel_margin_min(
    usable_gal: npt.ArrayLike,
    burn_gal_per_h: npt.ArrayLike,
    planned_min: npt.ArrayLike,
    reserve_min: npt.ArrayLike,
    *,
    taxi_gal: npt.ArrayLike = 0.0,
) -> Number:
    """Minutes beyond the planned flight and its reserve: endurance - planned - reserve.

    Args:
        usable_gal: Usable fuel aboard, US gal, 0 or more.
        burn_gal_per_h: Planned burn in US gal per hour, above 0.
        planned_min: Flight to the first point of intended landing, wind and forecast considered, min, 0 or more.
        reserve_min: Reserve at normal cruise, min, 0 or more; the rule for rotorcraft VFR is 20 min.
        taxi_gal: Fuel for start, warm-up and ground running, US gal, 0 or more.

    Returns:
        Minutes; 0 is still enough, negative is short.

    Raises:
        ValueError: Names the impossible argument.

    Source: 14 CFR 91.151(b).
    """
    planned, reserve = _minutes("planned_min", planned_min), _minutes("reserve_min", reserve_min)
    return settled(endurance_min(usable_gal, burn_gal_per_h, taxi_gal) - planned - reserve)


def fuel_required_gal(
    burn_gal_per_h: npt.ArrayLike,
    planned_min: npt.ArrayLike,
    reserve_min: npt.ArrayLike,
    *,
    taxi_gal: npt.ArrayLike = 0.0,
) -> Number:
    """Usable fuel that leaves a margin of exactly 0, US gal. Arguments as :func:`fuel_margin_min`."""
    burn = checked("burn_gal_per_h", burn_gal_per_h, above=0)
    flying_min = _minutes("planned_min", planned_min) + _minutes("reserve_min", reserve_min)
    return plain(burn * flying_min / 60.0 + checked("taxi_gal", taxi_gal, at_least=0))


def _minutes(name: str, value: npt.ArrayLike) -> Floats:
    return checked(name, value, at_least=0)
