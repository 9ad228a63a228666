"""An aircraft type made ready for arithmetic, and weight and balance on rows of it: the one place both are worked out.

What is here trusts its arguments: float64 arrays without infinities, NaN for unknown, nothing impossible. The checked
functions around it are in ``loading.py`` and ``performance.py``; the scorer asks from ``assessment/airframe.py``.
Sums go item by item, so that a row among a million is that row alone, bit by bit.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np

from riskboard.aircraft_types.model import (
    AircraftType,
    DoorState,
    Envelope,
    EquipmentKind,
    Feed,
    HoverTable,
    LateralAgainst,
)
from riskboard.measures.envelope import Outline, outline_across, outline_of, outline_rows
from riskboard.measures.known import Floats, both, limited, rounded, tightest_rows
from riskboard.measures.tables import Grid, grid_of

__all__ = [
    "FALLING",
    "EnvelopeMargins",
    "Frame",
    "LoadRows",
    "LoadedRows",
    "Points",
    "along_the_fuel",
    "amounts_of_fuel",
    "contents_gal",
    "doors_fitted",
    "dry_totals",
    "envelope_margins",
    "frame_of",
    "loaded_rows",
    "station_margins",
]

FALLING: Final = np.linspace(1.0, 0.0, 9)
"""Shares of the take-off fuel at which weight and balance are looked at, from all of it to none."""
_INF: Final = float("inf")


@dataclass(frozen=True, eq=False)
class _Shape:
    """An envelope made ready."""

    longitudinal: Outline
    lateral: Outline
    against: LateralAgainst


@dataclass(frozen=True, eq=False)
class Frame:
    """An aircraft type made ready once.

    Attributes:
        aircraft: The type.
        stations: For each station a pound's weight and its two moments, shape (stations, 3).
        pieces: For each piece of optional equipment its weight and its two moments, shape (pieces, 3).
        weighed: 1 for each piece that the empty weight includes, else 0.
        doors: Positions of the pieces that are doors.
        tanks: For each tank a gallon's weight and its two moments, shape (tanks, 3).
        usable_gal: Usable fuel of each tank.
        left_gal: What is still aboard when each tank is empty; only tanks that empty in order.
        shapes: Envelopes by the doors they are for.
        inside: Hover table in ground effect.
        outside: Hover table out of ground effect.
    """

    aircraft: AircraftType
    stations: Floats
    pieces: Floats
    weighed: Floats
    doors: tuple[int, ...]
    tanks: Floats
    usable_gal: Floats
    left_gal: Floats
    shapes: Mapping[DoorState, _Shape]
    inside: Grid
    outside: Grid


@lru_cache(maxsize=64)
def frame_of(aircraft: AircraftType) -> Frame:
    """Make a type ready; kept for the types last used."""
    pounds = aircraft.fuel.lb_per_gal
    usable = np.array([tank.usable_gal for tank in aircraft.fuel.tanks])
    return Frame(
        aircraft,
        np.array([(1.0, place.longitudinal_arm_in, place.lateral_arm_in) for place in aircraft.stations]),
        np.array(
            [
                (piece.weight_lb, piece.weight_lb * piece.longitudinal_arm_in, piece.weight_lb * piece.lateral_arm_in)
                for piece in aircraft.equipment
            ]
        ).reshape(-1, 3),
        np.array([float(piece.in_empty_weight) for piece in aircraft.equipment]),
        tuple(i for i, piece in enumerate(aircraft.equipment) if piece.kind is EquipmentKind.door),
        np.array(
            [(pounds, pounds * tank.longitudinal_arm_in, pounds * tank.lateral_arm_in) for tank in aircraft.fuel.tanks]
        ),
        usable,
        (usable.sum() - np.cumsum(usable))[:-1] if aircraft.fuel.feed is Feed.in_order else np.empty(0),
        {envelope.doors: _shape(envelope) for envelope in aircraft.envelopes},
        hover_grid(aircraft.hover_in_ground_effect),
        hover_grid(aircraft.hover_out_of_ground_effect),
    )


def _shape(envelope: Envelope) -> _Shape:
    return _Shape(outline_of(envelope.longitudinal), outline_of(envelope.lateral), envelope.lateral_against)


def hover_grid(table: HoverTable) -> Grid:
    """A hover table as a grid: weights down, temperatures across."""
    return grid_of(table.gross_weights_lb, table.temperatures_c, table.ceilings_ft)


def contents_gal(frame: Frame, fuel_gal: Floats) -> list[Floats]:
    """Usable fuel in each tank, from the usable fuel aboard; see ``loading.tank_contents_gal``."""
    if frame.aircraft.fuel.feed is Feed.together:
        return [fuel_gal * share for share in frame.usable_gal / frame.usable_gal.sum()]
    later = frame.usable_gal.sum() - np.cumsum(frame.usable_gal)
    return [limited(fuel_gal - left, 0.0, most) for left, most in zip(later, frame.usable_gal, strict=True)]


def amounts_of_fuel(frame: Frame, fuel_gal: Floats) -> Floats:
    """Amounts of fuel from that of take-off down to none (last axis): every landing is made with one between them.

    Nine equal steps, and the amounts at which a tank runs empty, where the balance turns.
    """
    falling = fuel_gal[..., None] * FALLING
    if not frame.left_gal.size:
        return falling
    return np.concatenate([falling, np.minimum(fuel_gal[..., None], frame.left_gal)], axis=-1)


def dry_totals(frame: Frame, empty: Floats, stations: Sequence[Floats], fitted: Sequence[Floats]) -> Floats:
    """Weight and both moments without usable fuel, shape (3, ...).

    Args:
        frame: The type.
        empty: Empty weight and its two moments as weighed, shape (3, ...).
        stations: Load of each station, each of the shape (...).
        fitted: For each piece of equipment 1, 0 or NaN, each of the shape (...).
    """
    totals = empty
    for state, weighed, moments in zip(fitted, frame.weighed, frame.pieces, strict=True):
        totals = totals + np.multiply.outer(moments, state - weighed)
    for load, moments in zip(stations, frame.stations, strict=True):
        totals = totals + np.multiply.outer(moments, load)
    return totals


class Points(NamedTuple):
    """Weight and centre of gravity, rounded to 1e-6."""

    weight: Floats
    along: Floats
    aside: Floats
    moment: Floats
    """The lateral moment, for an envelope drawn against it."""


def along_the_fuel(frame: Frame, dry: Floats, fuel_gal: Floats) -> Points:
    """Weight and centre of gravity for amounts of fuel (last axis)."""
    totals = dry[..., None]
    for gallons, moments in zip(contents_gal(frame, fuel_gal), frame.tanks, strict=True):
        totals = totals + np.multiply.outer(moments, gallons)
    weight = totals[0]
    return Points(rounded(weight), rounded(totals[1] / weight), rounded(totals[2] / weight), rounded(totals[2]))


def doors_fitted(frame: Frame, fitted: Sequence[Floats], shape: tuple[int, ...]) -> Floats:
    """1 where every door is fitted, 0 where none is, 0.5 where some are, NaN unknown; 1 for a type without doors."""
    if not frame.doors:
        return np.ones(shape)
    total = fitted[frame.doors[0]]
    for door in frame.doors[1:]:
        total = total + fitted[door]
    count = float(len(frame.doors))
    return np.where(total == count, 1.0, np.where(total == 0, 0.0, np.where(np.isnan(total), np.nan, 0.5)))


class EnvelopeMargins(NamedTuple):
    """Margins to both envelopes, and whether inside them. The margins in pounds are None where nobody asked."""

    longitudinal_in: Floats
    lateral_in: Floats
    inside: Floats
    longitudinal_lb: Floats | None
    lateral_lb: Floats | None


def envelope_margins(frame: Frame, doors: Floats, points: Points, *, pounds: bool) -> EnvelopeMargins:
    """Margins for the doors as they are. With some doors off both envelopes hold: manuals are silent on such a mix.

    Args:
        frame: The type.
        doors: From :func:`doors_fitted`, of a shape that broadcasts.
        points: From :func:`along_the_fuel`.
        pounds: Work out the margins in pounds as well.
    """
    if DoorState.either in frame.shapes:
        return _to_shape(frame.shapes[DoorState.either], points, pounds=pounds)
    shut, off = frame.shapes[DoorState.fitted], frame.shapes.get(DoorState.removed)
    if off is None or bool((doors == 1).all()):
        found = _to_shape(shut, points, pounds=pounds)
        return _chosen(doors, found, found)
    return _chosen(
        doors,
        _to_shape(shut, points, pounds=pounds),
        _to_shape(off, points, pounds=pounds),
    )


def _chosen(doors: Floats, shut: EnvelopeMargins, off: EnvelopeMargins) -> EnvelopeMargins:
    known = ~np.isnan(doors)

    def chosen(one: Floats | None, other: Floats | None) -> Floats | None:
        if one is None or other is None:
            return None
        by_doors = (
            one if one is other else np.where(doors == 1, one, np.where(doors == 0, other, np.minimum(one, other)))
        )
        return np.where(known, by_doors, np.nan)

    return EnvelopeMargins(*(chosen(one, other) for one, other in zip(shut, off, strict=True)))  # type: ignore[arg-type]


def _to_shape(shape: _Shape, points: Points, *, pounds: bool) -> EnvelopeMargins:
    weight, along, aside, moment = points
    long_lb = side_lb = None
    if pounds:
        within, long_in, long_lb = outline_rows(along, weight, shape.longitudinal)
    else:
        within, long_in = outline_across(along, weight, shape.longitudinal)
    if shape.against is not LateralAgainst.gross_weight:
        as_moment = shape.against is LateralAgainst.longitudinal_cg_as_moment
        beside, _, reach = outline_rows(along, moment if as_moment else aside, shape.lateral)
        side_in = rounded(reach / weight) if as_moment else reach
        side_lb = np.where(np.isnan(beside), np.nan, np.where(beside == 1, _INF, -_INF)) if pounds else None
    elif pounds:
        beside, side_in, side_lb = outline_rows(aside, weight, shape.lateral)
    else:
        beside, side_in = outline_across(aside, weight, shape.lateral)
    return EnvelopeMargins(long_in, side_in, both(within, beside), long_lb, side_lb)


def station_margins(aircraft: AircraftType, stations: Sequence[Floats]) -> Floats:
    """Tightest margin of seats and baggage places; see ``loading.stations_margin_lb``."""
    margins = []
    by_name = {}
    for station, value in zip(aircraft.stations, stations, strict=True):
        by_name[station.name] = value
        margins.append(station.max_lb - value)
        if station.min_lb > 0:
            margins.append(value - station.min_lb)
    for limit in aircraft.together:
        shared = by_name[limit.stations[0]]
        for name in limit.stations[1:]:
            shared = shared + by_name[name]
        margins.append(limit.max_lb - shared)
    return rounded(tightest_rows(np.array(margins), axis=0))


class LoadRows(NamedTuple):
    """Loads of many flights: what ``loading.Load`` holds, as arrays of one shape (rows,)."""

    empty: Floats
    """Empty weight and its two moments, (3, rows); unknown where the weighing is not believed."""
    stations: Sequence[Floats]
    fitted: Sequence[Floats]
    fuel_gal: Floats


class LoadedRows(NamedTuple):
    """What a scorer needs of weight and balance, each (rows,); margins positive inside, -inf where no change helps."""

    take_off_lb: Floats
    gross_max_lb: Floats
    gross_min_lb: Floats
    stations_lb: Floats
    longitudinal_in: Floats
    lateral_in: Floats


def loaded_rows(frame: Frame, load: LoadRows) -> LoadedRows:
    """Weight and balance of many flights, the same numbers as ``loading.loading`` gives one by one."""
    limits = frame.aircraft.limits
    dry = dry_totals(frame, load.empty, load.stations, load.fitted)
    points = along_the_fuel(frame, dry, amounts_of_fuel(frame, load.fuel_gal))
    doors = doors_fitted(frame, load.fitted, load.fuel_gal.shape)[..., None]
    margins = envelope_margins(frame, doors, points, pounds=False)
    return LoadedRows(
        points.weight[..., 0],
        rounded(limits.gross_max_lb - points.weight[..., 0]),
        rounded(rounded(dry[0]) - limits.gross_min_lb),
        station_margins(frame.aircraft, load.stations),
        tightest_rows(margins.longitudinal_in),
        tightest_rows(margins.lateral_in),
    )
