"""What must hold between the values of a type file: limits that agree, arms on the airframe, loads that can be carried.

Each check looks only at parts that were read without a problem, so one slip brings one message.
"""

from collections.abc import Iterator

from riskboard.aircraft_types.check_envelopes import check_envelopes
from riskboard.aircraft_types.check_run_up import check_run_up
from riskboard.aircraft_types.check_tables import check_performance
from riskboard.aircraft_types.model import StationKind
from riskboard.aircraft_types.read import Entry, Reader, at

__all__ = ["check_type"]


def check_type(reader: Reader, root: Entry) -> None:
    """Note everything that does not fit together."""
    parts = {
        key: part for key in ("limits", "airframe", "loading", "empty", "fuel", "engine") if (part := root.get(key))
    }
    sound = {key: part for key, part in parts.items() if not part.broken}
    if "limits" in sound:
        _limits(reader, sound["limits"])
    if "airframe" in sound:
        _arms(reader, root, sound["airframe"])
    if "loading" in sound:
        _loading(reader, sound["loading"])
    if {"limits", "empty", "airframe"} <= set(sound):
        _empty(reader, root, sound["empty"], sound["limits"], sound["airframe"])
    if {"limits", "airframe"} <= set(sound):
        check_envelopes(reader, root, sound["limits"], sound["airframe"])
    if "fuel" in sound:
        _fuel(reader, sound["fuel"])
    if "engine" in sound:
        check_performance(reader, root, sound["engine"])
        check_run_up(reader, root, sound["engine"])
    _names(reader, root)
    _upkeep(reader, root)


def _limits(reader: Reader, limits: Entry) -> None:
    for low, high in (("gross_min_lb", "gross_max_lb"), ("temperature_min_c", "temperature_max_c")):
        if limits[low] >= limits[high]:
            message = f"{low} {limits[low]:g} is not below {high} {limits[high]:g}: the limits contradict each other"
            reader.problem(limits.place(low), message, f"{limits[low]:g}", f"below {limits[high]:g}")
    wind = limits.get("wind_max_kt")
    for part in ("crosswind_max_kt", "tailwind_max_kt", "gust_spread_max_kt"):
        if wind is not None and limits.get(part) is not None and limits[part] > wind:
            message = f"{part} {limits[part]:g} is above wind_max_kt {wind:g}, so it could never be reached"
            reader.problem(limits.place(part), message, f"{limits[part]:g}", f"up to {wind:g}")


def _with_arms(root: Entry) -> Iterator[Entry]:
    """Every sound record that has a longitudinal and a lateral arm."""
    loading, fuel = root.get("loading"), root.get("fuel")
    groups = (
        loading.get("stations", {}) if loading is not None else {},
        fuel.get("tanks", {}) if fuel is not None else {},
        root.get("optional_equipment") or {},
    )
    for group in groups:
        yield from (entry for entry in group.values() if not entry.broken)


def _arms(reader: Reader, root: Entry, airframe: Entry) -> None:
    for entry in _with_arms(root):
        for key, extent in (
            ("longitudinal_arm_in", airframe["longitudinal_arms_in"]),
            ("lateral_arm_in", airframe["lateral_arms_in"]),
        ):
            if not extent[0] <= entry[key] <= extent[1]:
                allowed = f"{extent[0]:g} to {extent[1]:g}"
                message = f"the arm {entry[key]:g} in is outside the airframe, which reaches from {allowed} in"
                reader.problem(entry.place(key), message, f"{entry[key]:g}", allowed)


def _loading(reader: Reader, loading: Entry) -> None:
    stations: dict[str, Entry] = loading["stations"]
    pilot = loading["pilot_station"]
    if pilot not in stations or stations[pilot].get("kind") != StationKind.seat:
        seats = [name for name, entry in stations.items() if entry.get("kind") == StationKind.seat]
        message = f"{pilot!r} is no seat among the stations; the seats are {', '.join(seats) or 'not given'}"
        reader.problem(loading.place("pilot_station"), message, pilot, ", ".join(seats))
    for entry in stations.values():
        least = entry.get("min_lb", 0.0)
        if least > entry["max_lb"]:
            message = f"min_lb {least:g} is above max_lb {entry['max_lb']:g}: the limits contradict each other"
            reader.problem(entry.place("min_lb"), message, f"{least:g}", f"up to {entry['max_lb']:g}")
    for limit in loading.get("together", []):
        _together(reader, limit, stations)


def _together(reader: Reader, limit: Entry, stations: dict[str, Entry]) -> None:
    names = limit["stations"]
    nodes = limit.node.value["stations"].value
    for i, name in enumerate(names):
        if name not in stations:
            reader.problem(at(nodes[i]), f"{name!r} is no station; the stations are {', '.join(stations)}", name)
            return
        if name in names[:i]:
            reader.problem(at(nodes[i]), f"{name!r} is listed twice", name)
            return
    most = [stations[name]["max_lb"] for name in names]
    if limit["max_lb"] >= sum(most):
        message = f"max_lb {limit['max_lb']:g} is no less than the stations' own {sum(most):g}, so it limits nothing"
        reader.problem(limit.place("max_lb"), message, f"{limit['max_lb']:g}", f"below {sum(most):g}")
    if limit["max_lb"] < max(most):
        message = f"max_lb {limit['max_lb']:g} is below the {max(most):g} of one station: they contradict each other"
        reader.problem(limit.place("max_lb"), message, f"{limit['max_lb']:g}", f"at least {max(most):g}")


def _empty(reader: Reader, root: Entry, empty: Entry, limits: Entry, airframe: Entry) -> None:
    weight = empty["weight_lb"]
    if weight >= limits["gross_max_lb"]:
        message = f"the empty weight {weight:g} leaves nothing to carry under gross_max_lb {limits['gross_max_lb']:g}"
        reader.problem(empty.place("weight_lb"), message, f"{weight:g}", f"below {limits['gross_max_lb']:g}")
    if empty["plausible_within_lb"] >= weight:
        reader.problem(empty.place("plausible_within_lb"), f"every weighing is within this of {weight:g} lb")
    for key, extent in (
        ("longitudinal_moment_in_lb", airframe["longitudinal_arms_in"]),
        ("lateral_moment_in_lb", airframe["lateral_arms_in"]),
    ):
        arm = empty[key] / weight
        if not extent[0] <= arm <= extent[1]:
            message = (
                f"the moment gives an arm of {arm:.1f} in, outside the airframe ({extent[0]:g} to {extent[1]:g} in)"
            )
            reader.problem(empty.place(key), message, f"{empty[key]:g}", "weight_lb times the arm")
    for entry in (root.get("optional_equipment") or {}).values():
        if not entry.broken and entry["in_empty_weight"] and entry["weight_lb"] >= weight:
            message = f"the empty weight {weight:g} cannot include a piece of {entry['weight_lb']:g} lb"
            reader.problem(entry.place("weight_lb"), message, f"{entry['weight_lb']:g}", f"below {weight:g}")


def _fuel(reader: Reader, fuel: Entry) -> None:
    for tank in fuel["tanks"].values():
        if tank["usable_gal"] > tank["capacity_gal"]:
            message = f"usable_gal {tank['usable_gal']:g} is above capacity_gal {tank['capacity_gal']:g}"
            reader.problem(tank.place("usable_gal"), message, f"{tank['usable_gal']:g}", "no more than the capacity")
    usable = sum(tank["usable_gal"] for tank in fuel["tanks"].values())
    if fuel["start_and_taxi_gal"] >= usable:
        message = f"start and taxi burn {fuel['start_and_taxi_gal']:g} gal of {usable:g}: nothing is left to fly on"
        reader.problem(
            fuel.place("start_and_taxi_gal"), message, f"{fuel['start_and_taxi_gal']:g}", f"below {usable:g}"
        )
    burn = fuel["burn_gal_per_h"]
    for phase in ("cruise", "ground"):
        if phase not in burn:
            reader.problem(fuel.place("burn_gal_per_h"), f"no burn for {phase}, which every plan needs", "", phase)


def _names(reader: Reader, root: Entry) -> None:
    """One name for one thing: station, tank and equipment names stand side by side in a loading sheet."""
    loading, fuel = root.get("loading"), root.get("fuel")
    seen: dict[str, str] = {}
    for what, record, key in (
        ("station", loading, "stations"),
        ("tank", fuel, "tanks"),
        ("equipment", root, "optional_equipment"),
    ):
        node = record.node.value.get(key) if record is not None and record.node.kind == "map" else None
        for name, place in node.keys.items() if node is not None else ():
            if name in seen:
                reader.problem(place, f"the name {name!r} is already that of a {seen[name]}; take another", name)
            seen.setdefault(name, what)


def _upkeep(reader: Reader, root: Entry) -> None:
    for section in ("loose_equipment", "inspections", "life_limits"):
        seen: set[str] = set()
        for entry in root.get(section) or ():
            if entry.broken:
                continue
            if entry["name"] in seen:
                reader.problem(entry.place("name"), f"{entry['name']!r} is listed twice", entry["name"])
            seen.add(entry["name"])
            if section != "loose_equipment" and entry.get("every_h") is None and entry.get("every_months") is None:
                reader.problem(at(entry.node), "neither every_h nor every_months is given; at least one must be")
