"""Loads of the invented types, and a slow second opinion on them in plain Python with shapely's polygons."""

import itertools
from dataclasses import fields
from functools import cache
from typing import Any

import numpy as np
from hypothesis import strategies as st
from shapely import Polygon, intersects_xy, prepare

from riskboard.aircraft_types import AircraftType, load_type
from riskboard.aircraft_types.model import DoorState, Envelope, Feed, LateralAgainst
from riskboard.measures.loading import Load
from riskboard.shipped import aircraft_type_files
from tests.aircraft_types.samples import by_moment, good, other

__all__ = ["TYPES", "loads", "one", "oracle_within", "rows_of", "stacked", "tarnwick"]


@cache
def tarnwick() -> AircraftType:
    """The shipped type."""
    (file,) = (pair for pair in aircraft_type_files() if pair[0] == "tarnwick_2.yaml")
    return load_type(file[1], name=file[0])


TYPES = (tarnwick(), good(), other(), by_moment())


def one(aircraft: AircraftType, **changed: Any) -> Load:
    """An ordinary load: a pilot of 170 lb, everything fitted that the weighing included, 15 gal, 8 of them burned."""
    facts: dict[str, Any] = {
        "empty_weight_lb": aircraft.empty.weight_lb,
        "empty_longitudinal_moment_in_lb": aircraft.empty.longitudinal_moment_in_lb,
        "empty_lateral_moment_in_lb": aircraft.empty.lateral_moment_in_lb,
        "fuel_gal": 15.0,
        "burn_gal": 8.0,
    }
    stations = {station.name: 0.0 for station in aircraft.stations} | {aircraft.pilot_station: 170.0}
    fitted = {piece.name: float(piece.in_empty_weight) for piece in aircraft.equipment}
    for name, value in changed.items():
        target = stations if name in stations else fitted if name in fitted else facts
        assert name in target, name
        target[name] = value
    return Load(stations_lb=stations, fitted=fitted, **facts)


@st.composite
def loads(draw: st.DrawFn, aircraft: AircraftType) -> Load:
    """Loads around the limits, in tenths of a pound and of a gallon."""

    def tenths(low: float, high: float) -> float:
        return draw(st.integers(round(10 * low), round(10 * high))) / 10

    changed = {station.name: tenths(0, station.max_lb * 1.1) for station in aircraft.stations}
    changed[aircraft.pilot_station] = tenths(100, 240)
    changed |= {piece.name: float(draw(st.booleans())) for piece in aircraft.equipment}
    changed["fuel_gal"] = tenths(0, np.floor(aircraft.fuel.usable_gal))
    changed["burn_gal"] = tenths(0, 30)
    changed["empty_lateral_moment_in_lb"] = aircraft.empty.lateral_moment_in_lb + tenths(-900, 900)
    return one(aircraft, **changed)


def stacked(many: list[Load]) -> Load:
    """Loads as rows of one."""
    first = many[0]
    plain = {
        field.name: np.array([getattr(load, field.name) for load in many], dtype=np.float64)
        for field in fields(Load)
        if field.name not in {"stations_lb", "fitted"}
    }
    return Load(
        stations_lb={name: np.array([load.stations_lb[name] for load in many]) for name in first.stations_lb},
        fitted={name: np.array([load.fitted[name] for load in many]) for name in first.fitted},
        **plain,
    )


def rows_of(rng: np.random.Generator, aircraft: AircraftType, count: int) -> list[Load]:
    """Random loads around the limits, without hypothesis, for long runs."""
    found = []
    for _ in range(count):
        changed = {s.name: float(np.round(rng.uniform(0, 1.05 * s.max_lb), 1)) for s in aircraft.stations}
        changed = {name: value if rng.random() < 0.6 else 0.0 for name, value in changed.items()}
        changed[aircraft.pilot_station] = float(np.round(rng.uniform(100, 240), 1))
        changed |= {piece.name: float(rng.random() < 0.7) for piece in aircraft.equipment}
        changed["fuel_gal"] = float(np.round(rng.uniform(0, np.floor(aircraft.fuel.usable_gal)), 1))
        changed["burn_gal"] = float(np.round(rng.uniform(0, 25), 1))
        moment = aircraft.empty.lateral_moment_in_lb + rng.uniform(-900, 900)
        changed["empty_lateral_moment_in_lb"] = float(np.round(moment))
        found.append(one(aircraft, **changed))
    return found


def _tanks(aircraft: AircraftType, gallons: float) -> list[float]:
    tanks = aircraft.fuel.tanks
    if aircraft.fuel.feed is Feed.together:
        return [gallons * tank.usable_gal / aircraft.fuel.usable_gal for tank in tanks]
    contents = [0.0] * len(tanks)
    for i in reversed(range(len(tanks))):
        contents[i] = min(tanks[i].usable_gal, gallons)
        gallons -= contents[i]
    return contents


def _point(aircraft: AircraftType, load: Any, gallons: float) -> tuple[float, float, float]:
    items = [(load.empty_weight_lb, load.empty_longitudinal_moment_in_lb, load.empty_lateral_moment_in_lb)]
    things = [(load.stations_lb[s.name], s) for s in aircraft.stations]
    things += [(p.weight_lb * (load.fitted[p.name] - p.in_empty_weight), p) for p in aircraft.equipment]  # type: ignore[misc]
    pounds = [gal * aircraft.fuel.lb_per_gal for gal in _tanks(aircraft, gallons)]
    things += list(zip(pounds, aircraft.fuel.tanks, strict=True))  # type: ignore[arg-type]
    items += [(lb, lb * thing.longitudinal_arm_in, lb * thing.lateral_arm_in) for lb, thing in things]
    weight, along, aside = (sum(item[k] for item in items) for k in range(3))
    return weight, along / weight, aside / weight


@cache
def _polygon(corners: tuple[tuple[float, float], ...]) -> Polygon:
    # A hair of width, as the rounding of margins to 1e-6 gives.
    polygon = Polygon(corners).buffer(5e-7, join_style="mitre")
    prepare(polygon)
    return polygon


def _covered(corners: tuple[tuple[float, float], ...], x: float, y: float) -> bool:
    return bool(intersects_xy(_polygon(corners), x, y))


def _inside(envelope: Envelope, weight: float, along: float, aside: float) -> bool:
    lateral = {
        LateralAgainst.gross_weight: (aside, weight),
        LateralAgainst.longitudinal_cg: (along, aside),
        LateralAgainst.longitudinal_cg_as_moment: (along, aside * weight),
    }[envelope.lateral_against]
    return _covered(envelope.longitudinal, along, weight) and _covered(envelope.lateral, *lateral)


def oracle_within(aircraft: AircraftType, load: Any) -> bool:
    """Whether every limit holds, item by item."""
    states = [load.fitted[door.name] for door in aircraft.doors]
    wanted = {DoorState.either} | ({DoorState.fitted} if any(states) or not states else set())
    wanted |= {DoorState.removed} if not all(states) else set()
    envelopes = [envelope for envelope in aircraft.envelopes if envelope.doors in wanted]
    amounts = [load.fuel_gal * k / 8 for k in (0, *range(8, 0, -1))]
    if aircraft.fuel.feed is Feed.in_order:  # where a tank runs empty
        sizes = [tank.usable_gal for tank in aircraft.fuel.tanks]
        amounts += [min(load.fuel_gal, sum(sizes[k:])) for k in range(1, len(sizes))]
    points = [_point(aircraft, load, gallons) for gallons in amounts]
    if not all(_inside(envelope, *point) for envelope, point in itertools.product(envelopes, points)):
        return False
    limits = aircraft.limits
    if points[1][0] > limits.gross_max_lb + 5e-7 or points[0][0] < limits.gross_min_lb - 5e-7:
        return False
    single = all(s.min_lb <= load.stations_lb[s.name] <= s.max_lb for s in aircraft.stations)
    return single and all(sum(load.stations_lb[n] for n in t.stations) <= t.max_lb + 5e-7 for t in aircraft.together)
