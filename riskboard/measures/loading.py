"""Weight and balance on two axes: for zero fuel, take-off, landing and the way between.

Weights in pounds, arms in inches: longitudinal behind the datum, lateral positive to the right. Formulas: moment is
weight times arm, the centre of gravity is the sum of moments over the sum of weights (FAA-H-8083-1, chapter on
helicopters, from memory). Everything works on scalars and arrays; NaN is unknown and never ends inside.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
import numpy.typing as npt

from riskboard.aircraft_types.model import AircraftType, Equipment
from riskboard.measures.envelope import OutlineMargin, outline_margin
from riskboard.measures.frame import (
    Frame,
    along_the_fuel,
    amounts_of_fuel,
    contents_gal,
    doors_fitted,
    dry_totals,
    envelope_margins,
    frame_of,
    station_margins,
)
from riskboard.measures.known import Floats, Number, both, checked, plain, rounded, tightest_rows

__all__ = [
    "Balance",
    "Load",
    "Loading",
    "OutlineMargin",
    "center_of_gravity_in",
    "empty_as_fitted",
    "gross_weight_lb",
    "loading",
    "outline_margin",
    "stations_margin_lb",
    "tank_contents_gal",
    "weighing_believed",
]

_BETWEEN: Final = np.linspace(0.0, 1.0, 9)
"""Shares of the fuel burned at which the way from take-off to landing is looked at, both ends included."""


@dataclass(frozen=True, eq=False)
class Load:
    """What a flight carries, or many flights: each value a scalar or an array, all of shapes that broadcast.

    Attributes:
        empty_weight_lb: Empty weight of this very aircraft, from its weighing.
        empty_longitudinal_moment_in_lb: Its longitudinal moment.
        empty_lateral_moment_in_lb: Its lateral moment.
        stations_lb: Load on each station by name. 0 is an empty seat; a station left out is unknown.
        fuel_gal: Usable fuel at take-off, US gal.
        burn_gal: Fuel burned from take-off to landing, US gal.
        fitted: For each piece of optional equipment whether it is fitted: 1, 0, NaN; left out is unknown.
    """

    empty_weight_lb: npt.ArrayLike
    empty_longitudinal_moment_in_lb: npt.ArrayLike
    empty_lateral_moment_in_lb: npt.ArrayLike
    stations_lb: Mapping[str, npt.ArrayLike]
    fuel_gal: npt.ArrayLike
    burn_gal: npt.ArrayLike
    fitted: Mapping[str, npt.ArrayLike]


@dataclass(frozen=True, eq=False)
class Balance:
    """Weight and centre of gravity in one condition, and the margins to the envelope, positive inside.

    Attributes:
        gross_weight_lb: Weight.
        longitudinal_cg_in: Longitudinal centre of gravity.
        lateral_cg_in: Lateral centre of gravity.
        longitudinal_margin_in: Way to the nearest edge of the longitudinal envelope at this weight.
        longitudinal_margin_lb: Weight to its nearest edge at this centre of gravity.
        lateral_margin_in: Way to the nearest edge of the lateral envelope.
        lateral_margin_lb: Weight to its nearest edge; inf (outside -inf) where it is not drawn against weight.
        inside: 1 inside both envelopes or on their edge, 0 outside, NaN unknown.
    """

    gross_weight_lb: Number
    longitudinal_cg_in: Number
    lateral_cg_in: Number
    longitudinal_margin_in: Number
    longitudinal_margin_lb: Number
    lateral_margin_in: Number
    lateral_margin_lb: Number
    inside: Number


@dataclass(frozen=True, eq=False)
class Loading:
    """The answer about one load or many.

    The envelope must hold at every amount of fuel from that of take-off down to none: no landing, early or late, is
    then left out, and burning more or less than planned changes nothing.

    Attributes:
        zero_fuel: With no usable fuel.
        take_off: At take-off.
        landing: At landing, with what is left; with none where more is planned than is aboard.
        way: From take-off to landing at 9 equal steps of fuel, as a last axis: for the chart.
        whole: From take-off to none, as a last axis: 9 equal steps, and where a tank runs empty.
        gross_max_margin_lb: Highest weight allowed less the weight at take-off.
        gross_min_margin_lb: Weight with zero fuel less the lowest weight allowed.
        stations_margin_lb: Tightest margin of the seats, baggage places and those that share a limit.
        within: 1 where every limit above holds, 0 where one is surely broken, NaN otherwise.
    """

    zero_fuel: Balance
    take_off: Balance
    landing: Balance
    way: Balance
    whole: Balance
    gross_max_margin_lb: Number
    gross_min_margin_lb: Number
    stations_margin_lb: Number
    within: Number

    def tightest(self, name: str) -> Number:
        """The tightest value of a margin of :class:`Balance` from take-off to no fuel; known failure beats unknown."""
        return plain(tightest_rows(np.asarray(getattr(self.whole, name))))


def gross_weight_lb(weights_lb: npt.ArrayLike) -> Number:
    """Sum of the weights of all items (last axis), lb; NaN where one is unknown.

    Raises:
        ValueError: A weight is infinite. Negative weights are allowed: something removed from the empty aircraft.

    Source: FAA-H-8083-1 (from memory).
    """
    return plain(rounded(checked("weights_lb", weights_lb).sum(axis=-1)))


def center_of_gravity_in(weights_lb: npt.ArrayLike, arms_in: npt.ArrayLike) -> Number:
    """Centre of gravity on one axis, in: sum of weight times arm over sum of weights (last axis).

    Raises:
        ValueError: A weight or an arm is infinite, or the weights add up to nothing.

    Source: FAA-H-8083-1 (from memory).
    """
    weights, arms = np.broadcast_arrays(checked("weights_lb", weights_lb), checked("arms_in", arms_in))
    total = weights.sum(axis=-1)
    if np.any(total <= 0):
        raise ValueError("weights_lb must add up to more than 0")
    return plain(rounded((weights * arms).sum(axis=-1) / total))


def tank_contents_gal(aircraft: AircraftType, fuel_gal: npt.ArrayLike) -> Floats:
    """Usable fuel in each tank (last axis), from the usable fuel aboard.

    Tanks that empty together hold the same share of their usable fuel. Of tanks that empty in order the first is the
    first to be empty, so what is left is in the later ones.

    Raises:
        ValueError: There is less than no fuel, or more than the tanks hold.
    """
    return np.stack(contents_gal(frame_of(aircraft), _fuel(aircraft, fuel_gal)), axis=-1)


def _fuel(aircraft: AircraftType, fuel_gal: npt.ArrayLike) -> Floats:
    most = float(rounded(np.asarray(aircraft.fuel.usable_gal)))
    return checked("fuel_gal", fuel_gal, at_least=0, up_to=most)


def empty_as_fitted(aircraft: AircraftType, load: Load) -> tuple[Floats, Floats, Floats]:
    """Weight and both moments of the empty aircraft with what is fitted today.

    Returns:
        Weight in lb, longitudinal and lateral moment in in-lb. Unknown where the weighing is not believed
        (:func:`weighing_believed`) or the state of a piece of equipment is not known.
    """
    frame = frame_of(aircraft)
    fitted = [_fitted(load, piece) for piece in aircraft.equipment]
    parts = np.broadcast_arrays(*_weighing(aircraft, load), *fitted)
    nothing = [np.zeros(parts[0].shape)] * len(aircraft.stations)
    totals = dry_totals(frame, np.stack(parts[:3]), nothing, parts[3:])
    return totals[0], totals[1], totals[2]


def _weighing(aircraft: AircraftType, load: Load) -> tuple[Floats, Floats, Floats]:
    weight = checked("empty_weight_lb", load.empty_weight_lb, above=0)
    return (
        np.where(np.asarray(weighing_believed(aircraft, weight)) == 1, weight, np.nan),
        checked("empty_longitudinal_moment_in_lb", load.empty_longitudinal_moment_in_lb),
        checked("empty_lateral_moment_in_lb", load.empty_lateral_moment_in_lb),
    )


def weighing_believed(aircraft: AircraftType, empty_weight_lb: npt.ArrayLike) -> Number:
    """Whether an aircraft's own empty weight is near enough to its type's to be believed: 1, 0, NaN."""
    weight = checked("empty_weight_lb", empty_weight_lb, above=0)
    near = np.abs(weight - aircraft.empty.weight_lb) <= aircraft.empty.plausible_within_lb
    return plain(np.where(np.isnan(weight), np.nan, np.where(near, 1.0, 0.0)))


def _fitted(load: Load, piece: Equipment) -> Floats:
    state = checked(f"fitted[{piece.name}]", load.fitted.get(piece.name), at_least=0, up_to=1)
    if np.any((state > 0) & (state < 1)):
        raise ValueError(f"fitted[{piece.name}] must be 1 (fitted), 0 (not fitted) or NaN (unknown)")
    return state


def _stations(aircraft: AircraftType, load: Load) -> list[Floats]:
    return [
        checked(f"stations_lb[{place.name}]", load.stations_lb.get(place.name), at_least=0)
        for place in aircraft.stations
    ]


def _refuse_strangers(aircraft: AircraftType, load: Load) -> None:
    for what, given, known in (
        ("station", load.stations_lb, {station.name for station in aircraft.stations}),
        ("piece of equipment", load.fitted, {piece.name for piece in aircraft.equipment}),
    ):
        for name in given:
            if name not in known:
                raise ValueError(f"{aircraft.title} has no {what} {name!r}; it has {', '.join(sorted(known))}")


def stations_margin_lb(aircraft: AircraftType, load: Load) -> Number:
    """Tightest margin of seats and baggage places, each alone and those that share a limit, lb.

    Known failure beats unknown beats pass, as on every list.
    """
    return plain(station_margins(aircraft, np.broadcast_arrays(*_stations(aircraft, load))))


def loading(aircraft: AircraftType, load: Load) -> Loading:
    """Weight and balance of a load.

    Args:
        aircraft: The type with its stations, tanks and envelopes.
        load: What is carried.

    Returns:
        Weights, centres of gravity and signed margins, each in the shape that the values of the load broadcast to.

    Raises:
        ValueError: A weight or an amount of fuel is impossible, more fuel than the tanks hold, or a station or piece of
            equipment that the type has not; the message names it.

    Source: FAA-H-8083-1, chapter on helicopters (from memory); the envelope is the type's own.
    """
    _refuse_strangers(aircraft, load)
    frame = frame_of(aircraft)
    stations = _stations(aircraft, load)
    fitted = [_fitted(load, piece) for piece in aircraft.equipment]
    fuel = (_fuel(aircraft, load.fuel_gal), checked("burn_gal", load.burn_gal, at_least=0))
    parts = np.broadcast_arrays(*_weighing(aircraft, load), *fuel, *fitted, *stations)
    (aboard, burn), parts = parts[3:5], (*parts[:3], *parts[5:])
    fitted, stations = list(parts[3 : 3 + len(fitted)]), list(parts[3 + len(fitted) :])
    dry = dry_totals(frame, np.stack(parts[:3]), stations, fitted)
    doors = doors_fitted(frame, fitted, aboard.shape)[..., None]
    whole = _balances(frame, dry, doors, amounts_of_fuel(frame, aboard))
    left = np.maximum(aboard - burn, 0.0)
    way = _balances(frame, dry, doors, aboard[..., None] + (left - aboard)[..., None] * _BETWEEN)
    zero_fuel, take_off, landing = _pick(whole, len(_BETWEEN) - 1), _pick(whole, 0), _pick(way, -1)
    highest = rounded(aircraft.limits.gross_max_lb - np.asarray(take_off.gross_weight_lb))
    lowest = rounded(rounded(dry[0]) - aircraft.limits.gross_min_lb)
    margin = station_margins(aircraft, stations)
    inside = both(*np.moveaxis(np.asarray(whole.inside), -1, 0))
    within = both(inside, *(_at_least_zero(part) for part in (highest, lowest, margin)))
    margins = (plain(highest), plain(lowest), plain(margin))
    return Loading(zero_fuel, take_off, landing, way, whole, *margins, plain(within))


def _at_least_zero(margin: Floats) -> Floats:
    return np.where(np.isnan(margin), np.nan, np.where(margin >= 0, 1.0, 0.0))


def _balances(frame: Frame, dry: Floats, doors: Floats, fuel_gal: Floats) -> Balance:
    """Balances for amounts of fuel (last axis)."""
    points = along_the_fuel(frame, dry, fuel_gal)
    found = envelope_margins(frame, doors, points, pounds=True)
    return Balance(
        points.weight,
        points.along,
        points.aside,
        found.longitudinal_in,
        np.asarray(found.longitudinal_lb),
        found.lateral_in,
        np.asarray(found.lateral_lb),
        found.inside,
    )


def _pick(found: Balance, place: int) -> Balance:
    return Balance(
        **{field.name: plain(np.asarray(getattr(found, field.name))[..., place]) for field in fields(Balance)}
    )
