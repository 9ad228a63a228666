"""What would bring a load inside its limits: how much fuel, which seat, which baggage. Each answer is worked out anew.

For one flight or a few at a time; nothing here is needed to score a flight.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import IntEnum
from itertools import combinations
from typing import Final

import numpy as np
import numpy.typing as npt

from riskboard.aircraft_types.model import AircraftType, Station, StationKind
from riskboard.measures.known import Floats, Number, both, checked, plain, rounded
from riskboard.measures.loading import Load, Loading, loading

__all__ = ["Change", "ChangeKind", "Fix", "fixes", "fuel_that_can_be_carried_gal"]

_FUEL_STEP_GAL: Final = 0.1
_STEPS_AT_ONCE: Final = 64
_NO_LIMIT_LB: Final = 1e9
_INF: Final = float("inf")
_LITTLE: Final = 1e-6


class ChangeKind(IntEnum):
    """What is changed, least disturbing first (common practice, no source)."""

    change_seats = 0
    move_baggage = 1
    less_fuel = 2
    more_fuel = 3
    baggage_out = 4
    person_out = 5


@dataclass(frozen=True)
class Change:
    """One thing to do.

    Attributes:
        kind: What sort of change.
        amount_lb: Pounds moved, taken off or added.
        sentence: What to do, in words.
    """

    kind: ChangeKind
    amount_lb: float
    sentence: str


@dataclass(frozen=True, eq=False)
class Fix:
    """Changes that together bring a load inside every limit, with the load after them and what it comes to."""

    changes: tuple[Change, ...]
    load: Load
    result: Loading

    @property
    def sentence(self) -> str:
        """What to do, in words."""
        return " ".join(change.sentence for change in self.changes)

    @property
    def rank(self) -> tuple[bool, int, int, float]:
        """Nobody left behind first, then fewer changes, then the less disturbing, then the smaller."""
        kinds = [int(change.kind) for change in self.changes]
        amount_lb = sum(change.amount_lb for change in self.changes)
        return ChangeKind.person_out in kinds, len(kinds), sum(kinds), amount_lb


def fuel_that_can_be_carried_gal(
    aircraft: AircraftType, load: Load, *, gross_limit_lb: npt.ArrayLike | None = None
) -> Number:
    """Most usable fuel at take-off, in steps of 0.1 gal, with which every limit holds.

    The fuel burned from take-off to landing stays as the load says.

    Args:
        aircraft: The type.
        load: What is carried; its own fuel does not matter.
        gross_limit_lb: A weight to hold at take-off besides, such as what the hover tables allow; None for none.

    Returns:
        US gal; -inf where no amount of fuel will do, NaN where that cannot be known.

    Raises:
        ValueError: As :func:`riskboard.measures.loading.loading`.
    """
    amounts = _amounts_gal(aircraft)
    best = np.asarray(-_INF)
    for start in range(0, len(amounts), _STEPS_AT_ONCE):
        block = amounts[start : start + _STEPS_AT_ONCE]
        truth = _truth_for_fuel(aircraft, load, block, gross_limit_lb)
        found = np.where(truth == 1, block, np.where(np.isnan(truth), np.nan, -_INF))
        best = np.maximum(best, found.max(axis=-1))
    return plain(best)


def _amounts_gal(aircraft: AircraftType) -> Floats:
    """Every amount of fuel that can be filled, in steps."""
    steps = np.floor(aircraft.fuel.usable_gal / _FUEL_STEP_GAL + _LITTLE)
    return np.round(np.arange(0.0, steps + 1.0) * _FUEL_STEP_GAL, 1)


def _truth_for_fuel(
    aircraft: AircraftType, load: Load, fuel_gal: Floats, gross_limit_lb: npt.ArrayLike | None
) -> Floats:
    """Whether every limit holds, for several amounts of fuel as a last axis."""
    wide = Load(
        _widened(load.empty_weight_lb),
        _widened(load.empty_longitudinal_moment_in_lb),
        _widened(load.empty_lateral_moment_in_lb),
        {name: _widened(value) for name, value in load.stations_lb.items()},
        fuel_gal,
        _widened(load.burn_gal),
        {name: _widened(value) for name, value in load.fitted.items()},
    )
    limit = _widened(_NO_LIMIT_LB if gross_limit_lb is None else gross_limit_lb)
    return _truth(loading(aircraft, wide), limit)


def _widened(value: npt.ArrayLike) -> Floats:
    return np.asarray(value, dtype=np.float64)[..., None]


def _truth(found: Loading, gross_limit_lb: Floats) -> Floats:
    margin = rounded(gross_limit_lb - np.asarray(found.take_off.gross_weight_lb))
    held = np.where(np.isnan(margin), np.nan, np.where(margin >= 0, 1.0, 0.0))
    return both(*np.broadcast_arrays(np.asarray(found.within), held))


def fixes(
    aircraft: AircraftType,
    load: Load,
    *,
    fuel_needed_gal: float = 0.0,
    gross_limit_lb: float | None = None,
    pilot_may_change_seat: bool = False,
) -> tuple[Fix, ...]:
    """The smallest changes that bring one load inside every limit, best first.

    Tried: other seats, baggage moved, less fuel (never below what is needed), more fuel, baggage out, a person out.
    Where nothing but leaving a person behind will do by itself, also seats or baggage together with fuel. Every answer
    has been worked out anew with the changed load.

    Args:
        aircraft: The type.
        load: One flight; every value a scalar.
        fuel_needed_gal: Fuel at take-off that the flight and its reserve need.
        gross_limit_lb: A weight to hold at take-off besides, such as what the hover tables allow.
        pilot_may_change_seat: Whether the pilot's own seat takes part when seats are changed.

    Returns:
        Fixes in order of :attr:`Fix.rank`; empty where the load is inside already, where something is unknown, or where
        none of these changes will do.

    Raises:
        ValueError: As :func:`riskboard.measures.loading.loading`; or a value is an array.
    """
    needed = float(checked("fuel_needed_gal", fuel_needed_gal, at_least=0))
    limit = np.asarray(_NO_LIMIT_LB if gross_limit_lb is None else checked("gross_limit_lb", gross_limit_lb))
    if np.ndim(loading(aircraft, load).within) != 0:
        raise ValueError("load must be that of one flight: every value a scalar")
    truth = float(_truth(loading(aircraft, load), limit))
    if np.isnan(truth) or np.isnan(needed) or truth == 1:
        return ()
    arranged = list(_arrangements(aircraft, load, pilot_may_change_seat=pilot_may_change_seat))
    tried = [*arranged, *_fuel_changes(aircraft, load, needed, limit), *_baggage_out(aircraft, load, limit)]
    tried += _people_out(aircraft, load)
    found = [fix for changes, changed in tried if (fix := _verified(aircraft, changes, changed, limit)) is not None]
    if all(fix.rank[0] for fix in found):
        pairs = [
            (changes + more, both_changed)
            for changes, changed in [*arranged, *_all_baggage_out(aircraft, load)]
            for more, both_changed in _fuel_changes(aircraft, changed, needed, limit)
        ]
        found += [
            fix for changes, changed in pairs if (fix := _verified(aircraft, changes, changed, limit)) is not None
        ]
    return tuple(sorted(found, key=lambda fix: fix.rank))


_Tried = tuple[tuple[Change, ...], Load]


def _verified(aircraft: AircraftType, changes: tuple[Change, ...], load: Load, limit: Floats) -> Fix | None:
    result = loading(aircraft, load)
    return Fix(changes, load, result) if float(_truth(result, limit)) == 1 else None


def _with_stations(load: Load, **changed: float) -> Load:
    return replace(load, stations_lb={**load.stations_lb, **changed})


def _carried(load: Load, station: Station) -> float:
    return float(np.asarray(load.stations_lb[station.name], dtype=np.float64))


def _of_kind(aircraft: AircraftType, kind: StationKind) -> list[Station]:
    return [station for station in aircraft.stations if station.kind is kind]


def _arrangements(aircraft: AircraftType, load: Load, *, pilot_may_change_seat: bool) -> Iterator[_Tried]:
    """The same load in other places."""
    for first, second in combinations(_of_kind(aircraft, StationKind.seat), 2):
        one, other = _carried(load, first), _carried(load, second)
        if one == other or (aircraft.pilot_station in {first.name, second.name} and not pilot_may_change_seat):
            continue
        words = f"Change seats: {other:g} lb to the {_low(first)}, {one:g} lb to the {_low(second)}."
        moved = _with_stations(load, **{first.name: other, second.name: one})
        yield (Change(ChangeKind.change_seats, abs(one - other), words),), moved
    for source in _of_kind(aircraft, StationKind.baggage):
        for target in _of_kind(aircraft, StationKind.baggage):
            amount = _carried(load, source)
            if source is not target and amount > 0:
                words = f"Move {amount:g} lb of baggage: {_low(source)} to {_low(target)}."
                there = _carried(load, target) + amount
                moved = _with_stations(load, **{source.name: 0.0, target.name: there})
                yield (Change(ChangeKind.move_baggage, amount, words),), moved


def _low(station: Station) -> str:
    return station.label[0].lower() + station.label[1:]


def _fuel_changes(aircraft: AircraftType, load: Load, needed_gal: float, limit: Floats) -> Iterator[_Tried]:
    """The fuel nearest to what is planned with which every limit holds: less of it, and more of it."""
    planned = float(np.asarray(load.fuel_gal, dtype=np.float64))
    amounts = _amounts_gal(aircraft)
    good = amounts[(_truth_for_fuel(aircraft, load, amounts, float(limit)) == 1) & (amounts >= needed_gal)]
    below, above = good[good < planned], good[good > planned]
    if below.size:
        yield _with_fuel(aircraft, load, float(below[-1]), planned)
    if above.size:
        yield _with_fuel(aircraft, load, float(above[0]), planned)


def _with_fuel(aircraft: AircraftType, load: Load, fuel_gal: float, planned_gal: float) -> _Tried:
    kind = ChangeKind.less_fuel if fuel_gal < planned_gal else ChangeKind.more_fuel
    amount = round(abs(fuel_gal - planned_gal) * aircraft.fuel.lb_per_gal, 6)
    word = "less" if fuel_gal < planned_gal else "more"
    words = f"Take {fuel_gal:g} gal of fuel, {abs(fuel_gal - planned_gal):.3g} gal {word}."
    return (Change(kind, amount, words),), replace(load, fuel_gal=fuel_gal)


def _baggage_out(aircraft: AircraftType, load: Load, limit: Floats) -> Iterator[_Tried]:
    """The least that has to come out of one baggage place, to the pound."""
    for station in _of_kind(aircraft, StationKind.baggage):
        carried = _carried(load, station)
        remaining = np.append(np.arange(np.ceil(carried) - 1.0, 0.0, -1.0), 0.0) if carried > 0 else np.empty(0)
        for left in remaining:
            changed = _with_stations(load, **{station.name: float(left)})
            if float(_truth(loading(aircraft, changed), limit)) == 1:
                yield (_out(station, carried - float(left), float(left)),), changed
                break


def _out(station: Station, amount: float, left: float) -> Change:
    rest = f", {left:g} lb stay" if left > 0 else ""
    words = f"Take {amount:g} lb of baggage out ({_low(station)}){rest}."
    return Change(ChangeKind.baggage_out, amount, words)


def _all_baggage_out(aircraft: AircraftType, load: Load) -> Iterator[_Tried]:
    """No baggage at all, as the first half of a pair of changes."""
    places = [station for station in _of_kind(aircraft, StationKind.baggage) if _carried(load, station) > 0]
    if places:
        total = sum(_carried(load, station) for station in places)
        words = f"Take all {total:g} lb of baggage out."
        emptied = _with_stations(load, **{station.name: 0.0 for station in places})
        yield (Change(ChangeKind.baggage_out, total, words),), emptied


def _people_out(aircraft: AircraftType, load: Load) -> Iterator[_Tried]:
    for station in _of_kind(aircraft, StationKind.seat):
        carried = _carried(load, station)
        if station.name != aircraft.pilot_station and carried > 0:
            words = f"Leave behind who is on the {_low(station)} ({carried:g} lb)."
            emptied = _with_stations(load, **{station.name: 0.0})
            yield (Change(ChangeKind.person_out, carried, words),), emptied
