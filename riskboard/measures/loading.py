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

from riskboard.aircraft_types.model import (
    AircraftType,
    DoorState,
    Envelope,
    Equipment,
    EquipmentKind,
    Feed,
    Fuel,
    LateralAgainst,
)
from riskboard.measures.envelope import OutlineMargin, outline_margin, outline_rows
from riskboard.measures.known import Floats, Number, both, checked, limited, plain, rounded, tightest_rows

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
_INF: Final = float("inf")


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

    Attributes:
        zero_fuel: With no usable fuel.
        take_off: At take-off.
        landing: At landing, with what is left; with none where more is planned than is aboard.
        way: From take-off to landing at 9 equal steps of fuel, as a last axis: for the chart, and what lies between.
        gross_max_margin_lb: Highest weight allowed less the weight at take-off.
        gross_min_margin_lb: Weight with zero fuel less the lowest weight allowed.
        stations_margin_lb: Tightest margin of the seats, baggage places and those that share a limit.
        within: 1 where every limit above holds, 0 where one is surely broken, NaN otherwise.
    """

    zero_fuel: Balance
    take_off: Balance
    landing: Balance
    way: Balance
    gross_max_margin_lb: Number
    gross_min_margin_lb: Number
    stations_margin_lb: Number
    within: Number

    def tightest(self, name: str) -> Number:
        """The tightest value of a margin of :class:`Balance` over all conditions; known failure beats unknown."""
        parts = [np.asarray(getattr(part, name)) for part in (self.zero_fuel, self.take_off, self.landing)]
        folded = np.stack([*parts, np.asarray(_last_axis_tightest(getattr(self.way, name)))], axis=-1)
        return plain(tightest_rows(folded))


def _last_axis_tightest(values: Number) -> Floats:
    return tightest_rows(np.asarray(values, dtype=np.float64))


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


def tank_contents_gal(fuel: Fuel, fuel_gal: npt.ArrayLike) -> Floats:
    """Usable fuel in each tank (last axis), from the usable fuel aboard.

    Tanks that empty together hold the same share of their usable fuel. Of tanks that empty in order the first is the
    first to be empty, so what is left is in the later ones.

    Raises:
        ValueError: There is less than no fuel, or more than the tanks hold.
    """
    aboard = checked("fuel_gal", fuel_gal, at_least=0, up_to=float(rounded(np.asarray(fuel.usable_gal))))
    usable = np.array([tank.usable_gal for tank in fuel.tanks])
    if fuel.feed is Feed.together:
        return np.asarray(aboard[..., None] * (usable / usable.sum()))
    later = usable.sum() - np.cumsum(usable)
    return limited(aboard[..., None] - later, 0.0, usable)


def empty_as_fitted(aircraft: AircraftType, load: Load) -> tuple[Floats, Floats, Floats]:
    """Weight and both moments of the empty aircraft with what is fitted today.

    Returns:
        Weight in lb, longitudinal and lateral moment in in-lb. Unknown where the weighing is not believed
        (:func:`weighing_believed`) or the state of a piece of equipment is not known.
    """
    weight = checked("empty_weight_lb", load.empty_weight_lb, above=0)
    totals = [
        np.where(np.asarray(weighing_believed(aircraft, weight)) == 1, weight, np.nan),
        checked("empty_longitudinal_moment_in_lb", load.empty_longitudinal_moment_in_lb),
        checked("empty_lateral_moment_in_lb", load.empty_lateral_moment_in_lb),
    ]
    for piece in aircraft.equipment:
        change = _fitted(load, piece) - (1.0 if piece.in_empty_weight else 0.0)
        arms = (1.0, piece.longitudinal_arm_in, piece.lateral_arm_in)
        totals = [total + change * piece.weight_lb * arm for total, arm in zip(totals, arms, strict=True)]
    return totals[0], totals[1], totals[2]


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


def _station(load: Load, name: str) -> Floats:
    return checked(f"stations_lb[{name}]", load.stations_lb.get(name), at_least=0)


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
    margins = []
    for station in aircraft.stations:
        value = _station(load, station.name)
        margins.append(station.max_lb - value)
        if station.min_lb > 0:
            margins.append(value - station.min_lb)
    for limit in aircraft.together:
        shared = [_station(load, name) for name in limit.stations]
        margins.append(limit.max_lb - np.sum(np.broadcast_arrays(*shared), axis=0))
    return plain(rounded(tightest_rows(np.stack(np.broadcast_arrays(*margins), axis=-1))))


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
    aboard = checked("fuel_gal", load.fuel_gal, at_least=0)
    burn = checked("burn_gal", load.burn_gal, at_least=0)
    left = np.maximum(aboard - burn, 0.0)
    dry = _zero_fuel(aircraft, load)
    shape = np.broadcast_shapes(*(part.shape for part in (*dry, aboard, burn)), np.shape(_doors(aircraft, load)))
    dry = tuple(np.broadcast_to(part, shape) for part in dry)
    aboard, left = np.broadcast_to(aboard, shape), np.broadcast_to(left, shape)
    steps = aboard[..., None] + (left - aboard)[..., None] * _BETWEEN
    every = np.concatenate([np.zeros((*shape, 1)), steps], axis=-1)
    found = _balances(aircraft, load, dry, every)
    zero_fuel, take_off, landing = (_pick(found, place) for place in (0, 1, -1))
    way = Balance(**{field.name: np.asarray(getattr(found, field.name))[..., 1:] for field in fields(Balance)})
    highest = rounded(aircraft.limits.gross_max_lb - np.asarray(take_off.gross_weight_lb))
    lowest = rounded(np.asarray(zero_fuel.gross_weight_lb) - aircraft.limits.gross_min_lb)
    stations = np.asarray(stations_margin_lb(aircraft, load))
    inside = both(*np.moveaxis(np.asarray(found.inside), -1, 0))
    parts = [_at_least_zero(np.broadcast_to(part, shape)) for part in (highest, lowest, stations)]
    return Loading(
        zero_fuel, take_off, landing, way, plain(highest), plain(lowest), plain(stations), plain(both(inside, *parts))
    )


def _at_least_zero(margin: Floats) -> Floats:
    return np.where(np.isnan(margin), np.nan, np.where(margin >= 0, 1.0, 0.0))


def _zero_fuel(aircraft: AircraftType, load: Load) -> tuple[Floats, ...]:
    """Weight and both moments without usable fuel."""
    totals = list(empty_as_fitted(aircraft, load))
    for station in aircraft.stations:
        value = _station(load, station.name)
        arms = (1.0, station.longitudinal_arm_in, station.lateral_arm_in)
        totals = [total + value * arm for total, arm in zip(totals, arms, strict=True)]
    return tuple(totals)


def _balances(aircraft: AircraftType, load: Load, dry: tuple[Floats, ...], fuel_gal: Floats) -> Balance:
    """Balances for amounts of fuel (last axis)."""
    tanks = aircraft.fuel.tanks
    fuel_lb = tank_contents_gal(aircraft.fuel, fuel_gal) * aircraft.fuel.lb_per_gal
    arms = np.array([[1.0, tank.longitudinal_arm_in, tank.lateral_arm_in] for tank in tanks])
    weight, longitudinal, lateral = np.moveaxis(fuel_lb @ arms, -1, 0) + np.stack(dry)[..., None]
    along, aside = longitudinal / weight, lateral / weight
    margins = _margins(aircraft, load, weight, along, aside)
    return Balance(rounded(weight), rounded(along), rounded(aside), *margins)


def _doors(aircraft: AircraftType, load: Load) -> Floats:
    """1 where every door is fitted, 0 where none is, 0.5 where some are, NaN unknown; 1 for a type without doors."""
    states = [_fitted(load, piece) for piece in aircraft.equipment if piece.kind is EquipmentKind.door]
    if not states:
        return np.asarray(1.0)
    share = np.mean(np.broadcast_arrays(*states), axis=0)
    return np.asarray(np.where((share > 0) & (share < 1), 0.5, share))


def _margins(
    aircraft: AircraftType, load: Load, weight: Floats, along: Floats, aside: Floats
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """The four margins and the truth of being inside, for the doors as they are.

    With some doors off both envelopes must hold: manuals are silent about such a mix.
    """
    for envelope in aircraft.envelopes:
        if envelope.doors is DoorState.either:
            return _envelope_margins(envelope, weight, along, aside)
    by_doors = {envelope.doors: _envelope_margins(envelope, weight, along, aside) for envelope in aircraft.envelopes}
    closed = by_doors[DoorState.fitted]
    opened = by_doors.get(DoorState.removed, closed)
    doors = _doors(aircraft, load)[..., None]
    mixed = [np.minimum(one, other) for one, other in zip(closed, opened, strict=True)]
    chosen = [
        np.where(np.isnan(doors), np.nan, np.where(doors == 1, shut, np.where(doors == 0, off, some)))
        for shut, off, some in zip(closed, opened, mixed, strict=True)
    ]
    return chosen[0], chosen[1], chosen[2], chosen[3], chosen[4]


def _envelope_margins(
    envelope: Envelope, weight: Floats, along: Floats, aside: Floats
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    within, long_in, long_lb = outline_rows(along, weight, np.array(envelope.longitudinal))
    corners = np.array(envelope.lateral)
    if envelope.lateral_against is LateralAgainst.gross_weight:
        beside, side_in, side_lb = outline_rows(aside, weight, corners)
    else:
        as_moment = envelope.lateral_against is LateralAgainst.longitudinal_cg_as_moment
        beside, _, reach = outline_rows(along, aside * weight if as_moment else aside, corners)
        side_in = rounded(reach / weight) if as_moment else reach
        side_lb = np.where(np.isnan(beside), np.nan, np.where(beside == 1, _INF, -_INF))
    return long_in, long_lb, side_in, side_lb, both(within, beside)


def _pick(found: Balance, place: int) -> Balance:
    return Balance(
        **{field.name: plain(np.asarray(getattr(found, field.name))[..., place]) for field in fields(Balance)}
    )
