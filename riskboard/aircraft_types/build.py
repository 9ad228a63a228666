"""From a record read without a problem to the frozen type."""

import hashlib
import json
from typing import Any

from riskboard.aircraft_types.model import (
    AircraftType,
    AirframeExtent,
    AltitudeKind,
    BurnSpread,
    DoorState,
    EmptyAircraft,
    Engine,
    Envelope,
    Equipment,
    EquipmentKind,
    Feed,
    Fuel,
    HoverTable,
    LateralAgainst,
    Limits,
    LooseItem,
    PowerTable,
    PowerUnit,
    RunUp,
    ShutDown,
    Source,
    Station,
    StationKind,
    Tank,
    TogetherLimit,
    Upkeep,
)
from riskboard.aircraft_types.read import Entry
from riskboard.aircraft_types.schema import LIMITS, RUN_UP, SHUT_DOWN
from riskboard.aircraft_types.shape import Record
from riskboard.words import Induction, RotorDirection
from riskboard.yaml_source import Node

__all__ = ["build_type"]


_LATERAL = {
    "lateral_corners_arm_in_weight_lb": LateralAgainst.gross_weight,
    "lateral_corners_arm_in_arm_in": LateralAgainst.longitudinal_cg,
    "lateral_corners_arm_in_moment_in_lb": LateralAgainst.longitudinal_cg_as_moment,
}


def build_type(root: Entry) -> AircraftType:
    """The type. Every key that must be there is there: the reader has seen to it."""
    loading, performance = root["loading"], root["performance"]
    engine, airframe = root["engine"], root["airframe"]
    return AircraftType(
        id=root["id"],
        version=root["version"],
        title=root["title"],
        invented=root["invented"],
        source=Source(**root["source"].values),
        engine=Engine(Induction(engine["induction"]), engine["rpm_at_100_pct"]),
        rotor_direction=RotorDirection(root["rotor_direction"]),
        limits=Limits(**_all_keys(LIMITS, root["limits"])),
        extent=AirframeExtent(airframe["longitudinal_arms_in"], airframe["lateral_arms_in"]),
        stations=tuple(_station(name, entry) for name, entry in loading["stations"].items()),
        pilot_station=loading["pilot_station"],
        together=tuple(
            TogetherLimit(tuple(entry["stations"]), entry["max_lb"]) for entry in loading.get("together", [])
        ),
        empty=EmptyAircraft(**root["empty"].values),
        equipment=tuple(_equipment(name, entry) for name, entry in root["optional_equipment"].items()),
        envelopes=tuple(_envelope(entry) for entry in root["envelopes"]),
        hover_in_ground_effect=_hover(performance["hover_in_ground_effect"]),
        hover_out_of_ground_effect=_hover(performance["hover_out_of_ground_effect"]),
        power_tables=tuple(_power(name, entry) for name, entry in performance["power"].items()),
        fuel=_fuel(root["fuel"]),
        run_up=RunUp(**_all_keys(RUN_UP, root["run_up"])),
        shut_down=ShutDown(**_all_keys(SHUT_DOWN, root["shut_down"])),
        loose_equipment=tuple(LooseItem(entry["name"], entry["why"]) for entry in root["loose_equipment"]),
        inspections=tuple(_upkeep(entry) for entry in root["inspections"]),
        life_limits=tuple(_upkeep(entry) for entry in root["life_limits"]),
        digest=digest_of(root.node),
    )


def digest_of(node: Node) -> str:
    """SHA-256 of the data of a file: comments and line breaks do not count, every value and its order does."""
    text = json.dumps(node.plain(), ensure_ascii=False, separators=(",", ":"), default=str)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _all_keys(kind: Record, entry: Entry) -> dict[str, Any]:
    """Every key of a record, None where it is not given."""
    return {key: entry.get(key) for key in kind.keys}


def _station(name: str, entry: Entry) -> Station:
    return Station(
        name=name,
        label=entry["label"],
        kind=StationKind(entry["kind"]),
        longitudinal_arm_in=entry["longitudinal_arm_in"],
        lateral_arm_in=entry["lateral_arm_in"],
        max_lb=entry["max_lb"],
        min_lb=entry.get("min_lb", 0.0),
    )


def _equipment(name: str, entry: Entry) -> Equipment:
    return Equipment(
        name=name,
        label=entry["label"],
        kind=EquipmentKind(entry["kind"]),
        weight_lb=entry["weight_lb"],
        longitudinal_arm_in=entry["longitudinal_arm_in"],
        lateral_arm_in=entry["lateral_arm_in"],
        in_empty_weight=entry["in_empty_weight"],
    )


def _envelope(entry: Entry) -> Envelope:
    key = next(key for key in _LATERAL if key in entry.values)
    return Envelope(
        doors=DoorState(entry["doors"]),
        longitudinal=entry["longitudinal_corners_arm_in_weight_lb"],
        lateral=entry[key],
        lateral_against=_LATERAL[key],
    )


def _hover(entry: Entry) -> HoverTable:
    pressure = entry.get("ceilings_pressure_altitude_ft")
    return HoverTable(
        gross_weights_lb=entry["gross_weights_lb"],
        temperatures_c=entry["temperatures_c"],
        ceilings_ft=pressure if pressure is not None else entry["ceilings_density_altitude_ft"],
        altitude=AltitudeKind.pressure if pressure is not None else AltitudeKind.density,
    )


def _power(name: str, entry: Entry) -> PowerTable:
    inhg = entry.get("limits_inhg")
    return PowerTable(
        name=name,
        label=entry["label"],
        pressure_altitudes_ft=entry["pressure_altitudes_ft"],
        temperatures_c=entry["temperatures_c"],
        limits=inhg if inhg is not None else entry["limits_pct"],
        unit=PowerUnit.inhg if inhg is not None else PowerUnit.pct,
        held_max_min=entry.get("held_max_min"),
    )


def _fuel(entry: Entry) -> Fuel:
    spread = entry["burn_spread"]
    return Fuel(
        lb_per_gal=entry["lb_per_gal"],
        feed=Feed(entry["feed"]),
        tanks=tuple(Tank(name, **tank.values) for name, tank in entry["tanks"].items()),
        start_and_taxi_gal=entry["start_and_taxi_gal"],
        burn_gal_per_h=tuple(entry["burn_gal_per_h"].items()),
        spread=BurnSpread(
            spread["between_aircraft_sd_gal_per_h"],
            spread["between_flights_sd_gal_per_h"],
            spread["reading_sd_gal"],
        ),
    )


def _upkeep(entry: Entry) -> Upkeep:
    return Upkeep(entry["name"], entry.get("every_h"), entry.get("every_months"))
