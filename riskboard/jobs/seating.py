"""Loads that need not be typed: who is aboard has a weight on file, and a usual flight its baggage.

Only places that nobody has typed are filled in, and only with what is known: an empty place of which nothing is known
stays unknown. What was filled in follows when another instructor or flight is chosen; what somebody typed stays.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from riskboard.aircraft_types import AircraftType
from riskboard.aircraft_types.model import Station, StationKind

__all__ = ["Aboard", "loads_known", "other_front_seat", "seated"]

Loads = Mapping[str, float]
"""Load in pounds by station."""


@dataclass(frozen=True)
class Aboard:
    """What is known of who and what is aboard; None is unknown.

    Attributes:
        pilot_lb: Weight of the pilot in command, dressed to fly.
        instructor_chosen: Whether an instructor other than the pilot is chosen.
        instructor_lb: Weight of that instructor.
        instructor_aboard: What was said about an instructor aboard.
        passengers: How many, as said.
        usual: Loads that the usual flight carries.
    """

    pilot_lb: float | None
    instructor_chosen: bool
    instructor_lb: float | None
    instructor_aboard: bool | None
    passengers: int | None
    usual: Loads


def other_front_seat(kind: AircraftType) -> Station | None:
    """The seat beside the pilot's: of the other seats the one whose arm is nearest to the pilot's; None where none."""
    pilot = kind.station(kind.pilot_station)
    others = [s for s in kind.stations if s.kind is StationKind.seat and s.name != pilot.name]
    return min(others, key=lambda s: abs(s.longitudinal_arm_in - pilot.longitudinal_arm_in), default=None)


def loads_known(kind: AircraftType, aboard: Aboard) -> dict[str, float]:
    """The load of every station of a type for which it follows from what is known."""
    found: dict[str, float] = {}
    beside = other_front_seat(kind)
    with_instructor = aboard.instructor_chosen and aboard.instructor_aboard is not False
    if with_instructor and beside is not None and aboard.instructor_lb is not None:
        found[beside.name] = aboard.instructor_lb
    if aboard.pilot_lb is not None:
        found[kind.pilot_station] = aboard.pilot_lb
    taken = {kind.pilot_station}
    if beside is not None and aboard.instructor_aboard is not False:
        taken.add(beside.name)
    for station in kind.stations:
        if station.name in taken:
            continue
        if station.name in aboard.usual:
            found[station.name] = aboard.usual[station.name]
        elif station.kind is StationKind.seat and aboard.passengers == 0:
            found[station.name] = 0.0
    return {station.name: found[station.name] for station in kind.stations if station.name in found}


def seated(typed: object, before: Loads, known: Loads) -> tuple[Any, dict[str, float]]:
    """The loads of a worksheet with what is known filled in.

    Args:
        typed: The entry as it stands, also an unsound one.
        before: What was filled in last.
        known: What is known now.

    Returns:
        The entry as it is to stand, and what is filled in now. An entry of which a line cannot be understood is left
        alone.
    """
    lines = [] if typed is None else typed
    if not isinstance(lines, list) or not all(isinstance(line, dict) for line in lines):
        return typed, dict(before)
    kept = [line for line in lines if not _ours(line, before)]
    there = {str(line.get("station", "")) for line in lines}
    # A place that was filled in and is blank now was blanked by somebody: it stays so until something else is known.
    blanked = {name for name, load in before.items() if name not in there and known.get(name) == load}
    mine = {name: load for name, load in known.items() if name not in blanked and name not in _places(kept)}
    return _in_order(kept, mine, known) or None, {**mine, **{name: before[name] for name in blanked}}


def _ours(line: Mapping[str, Any], before: Loads) -> bool:
    name = str(line.get("station", ""))
    return set(line) == {"station", "load_lb"} and name in before and line["load_lb"] == before[name]


def _places(lines: list[dict[str, Any]]) -> set[str]:
    return {str(line.get("station", "")) for line in lines}


def _in_order(kept: list[dict[str, Any]], mine: Loads, known: Loads) -> list[dict[str, Any]]:
    """What is filled in, in the order of the type's stations, then what was typed, as it was typed."""
    return [{"station": name, "load_lb": mine[name]} for name in known if name in mine] + kept
