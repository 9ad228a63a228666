"""An aircraft type read aloud: every figure of its file in plain words, to be compared with the flight manual."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from riskboard.aircraft_types.model import (
    PHASES,
    AircraftType,
    AltitudeKind,
    Corner,
    DoorState,
    Envelope,
    Equipment,
    Feed,
    HoverTable,
    Interval,
    LateralAgainst,
    PowerTable,
    PowerUnit,
    Rows,
    Upkeep,
)

__all__ = ["Section", "type_in_words"]


class Section(NamedTuple):
    """One part of the file.

    Attributes:
        heading: What it is about.
        lines: Sentences.
        table: Rows of a table, in columns of one width; empty where there is none.
    """

    heading: str
    lines: tuple[str, ...]
    table: tuple[str, ...] = ()


def type_in_words(aircraft: AircraftType) -> tuple[Section, ...]:
    """Everything that a type file says, in the order of the file.

    Args:
        aircraft: A checked type.

    Returns:
        Sections with sentences and tables; every number with its unit.
    """
    return (
        Section(f"{aircraft.title} ({aircraft.id} version {aircraft.version})", tuple(_head(aircraft))),
        Section("Limits", tuple(_limits(aircraft))),
        Section("Seats and baggage places", tuple(_stations(aircraft))),
        Section("Empty aircraft", tuple(_empty(aircraft))),
        *(section for envelope in aircraft.envelopes for section in _envelope(envelope)),
        _hover("Hover ceiling in ground effect", aircraft.hover_in_ground_effect),
        _hover("Hover ceiling out of ground effect", aircraft.hover_out_of_ground_effect),
        *(_power(table) for table in aircraft.power_tables),
        Section("Fuel", tuple(_fuel(aircraft))),
        Section("Run-up", tuple(_run_up(aircraft))),
        Section("Shut-down", tuple(_shut_down(aircraft))),
        Section("Upkeep", tuple(_upkeep(aircraft))),
    )


def _number(value: float) -> str:
    digits = f"{value:,.3f}".rstrip("0").rstrip(".")
    return digits.replace("-", "\N{MINUS SIGN}")


def _amount(value: float, unit: str) -> str:
    return f"{_number(value)} {unit}"


def _between(interval: Interval, unit: str) -> str:
    return f"{_number(interval[0])} to {_amount(interval[1], unit)}"


def _arms(longitudinal_in: float, lateral_in: float) -> str:
    if lateral_in == 0:
        return f"{_amount(longitudinal_in, 'in')} behind the datum, on the centre line"
    side = "right" if lateral_in > 0 else "left"
    return f"{_amount(longitudinal_in, 'in')} behind the datum, {_amount(abs(lateral_in), 'in')} to the {side}"


def _head(aircraft: AircraftType) -> Iterator[str]:
    if aircraft.invented:
        yield "Invented: no aircraft has these figures, and nobody may fly by them."
    source = aircraft.source
    yield f"Figures: {source.text} ({source.kind}, checked {source.checked_on})."
    rpm = _amount(aircraft.engine.rpm_at_100_pct, "rpm")
    yield f"Engine: {aircraft.engine.induction}; 100 % of the tachometer is {rpm}."
    yield f"The main rotor turns {aircraft.rotor_direction}, seen from above."
    yield f"Digest {aircraft.digest}."


def _limits(aircraft: AircraftType) -> Iterator[str]:
    limits = aircraft.limits
    yield f"Weight for flight: {_between((limits.gross_min_lb, limits.gross_max_lb), 'lb')}."
    yield f"Outside temperature: {_between((limits.temperature_min_c, limits.temperature_max_c), '°C')}."
    yield f"Pressure altitude: up to {_amount(limits.pressure_altitude_max_ft, 'ft')}."
    stated = {
        "Wind, gusts included": limits.wind_max_kt,
        "Gust spread": limits.gust_spread_max_kt,
        "Crosswind": limits.crosswind_max_kt,
        "Tailwind": limits.tailwind_max_kt,
    }
    for label, value in stated.items():
        said = "no limit stated" if value is None else f"up to {_amount(value, 'kt')}"
        yield f"{label}: {said}."


def _stations(aircraft: AircraftType) -> Iterator[str]:
    along, aside = aircraft.extent.longitudinal_arms_in, aircraft.extent.lateral_arms_in
    yield f"Nothing hangs outside the arms {_between(along, 'in')} along and {_between(aside, 'in')} aside."
    labels = {station.name: station.label for station in aircraft.stations}
    for station in aircraft.stations:
        least = f"{_amount(station.min_lb, 'lb')} to " if station.min_lb > 0 else "up to "
        pilot = " The pilot's." if station.name == aircraft.pilot_station else ""
        where = _arms(station.longitudinal_arm_in, station.lateral_arm_in)
        most = _amount(station.max_lb, "lb")
        yield f"{station.label} ({station.name}): {station.kind}, {least}{most}; {where}.{pilot}"
    for limit in aircraft.together:
        names = " and ".join(labels[name].lower() for name in limit.stations)
        yield f"Together, {names}: up to {_amount(limit.max_lb, 'lb')}."


def _empty(aircraft: AircraftType) -> Iterator[str]:
    empty = aircraft.empty
    along, aside = empty.longitudinal_moment_in_lb, empty.lateral_moment_in_lb
    yield (
        f"Typically {_amount(empty.weight_lb, 'lb')} with moments of {_amount(along, 'in·lb')} along and "
        f"{_amount(aside, 'in·lb')} aside (an arm of {_amount(round(empty.longitudinal_arm_in, 2), 'in')}). A weighing "
        f"further than {_amount(empty.plausible_within_lb, 'lb')} from that is not believed."
    )
    for piece in aircraft.equipment:
        yield f"{piece.label} ({piece.name}): {_piece(piece)}."


def _piece(piece: Equipment) -> str:
    weighed = "included in" if piece.in_empty_weight else "not part of"
    where = _arms(piece.longitudinal_arm_in, piece.lateral_arm_in)
    return f"{piece.kind.replace('_', ' ')}, {_amount(piece.weight_lb, 'lb')}, {where}; {weighed} the weighing"


_DOORS = {
    DoorState.fitted: "with every door fitted",
    DoorState.removed: "with every door removed",
    DoorState.either: "with the doors on or off",
}
_LATERAL = {
    LateralAgainst.gross_weight: ("lateral centre of gravity, in", "weight, lb"),
    LateralAgainst.longitudinal_cg: ("longitudinal centre of gravity, in", "lateral centre of gravity, in"),
    LateralAgainst.longitudinal_cg_as_moment: ("longitudinal centre of gravity, in", "lateral moment, in·lb"),
}


def _envelope(envelope: Envelope) -> Iterator[Section]:
    doors = _DOORS[envelope.doors]
    around = ("Corners in order around the outline; edges and corners belong to it.",)
    along = ("longitudinal centre of gravity, in", "weight, lb")
    yield Section(f"Longitudinal envelope {doors}", around, _corners(envelope.longitudinal, along))
    aside = _LATERAL[envelope.lateral_against]
    yield Section(f"Lateral envelope {doors}", around, _corners(envelope.lateral, aside))


def _corners(corners: Sequence[Corner], heads: tuple[str, str]) -> tuple[str, ...]:
    return _columns([heads, *((_number(x), _number(y)) for x, y in corners)])


def _hover(heading: str, table: HoverTable) -> Section:
    kind = "density" if table.altitude is AltitudeKind.density else "pressure"
    said = f"{kind.capitalize()} altitude in ft, by weight (down) and temperature (across); outside of it is unknown."
    return Section(heading, (said,), _table("lb", table.gross_weights_lb, table.temperatures_c, table.ceilings_ft))


def _power(table: PowerTable) -> Section:
    torque = table.unit is PowerUnit.pct
    what, unit = ("Torque", "%") if torque else ("Manifold pressure", "inHg")
    said = [f"{what} in {unit}, by pressure altitude (down) and temperature (across); outside of it is unknown."]
    if table.held_max_min is not None:
        said.append(f"Held at most {_amount(table.held_max_min, 'min')}.")
    rows = _table("ft", table.pressure_altitudes_ft, table.temperatures_c, table.limits)
    return Section(f"Power limit: {table.label} ({table.name})", tuple(said), rows)


def _table(unit: str, down: Sequence[float], across: Sequence[float], cells: Rows) -> tuple[str, ...]:
    head = ("", *(_amount(temperature, "°C") for temperature in across))
    body = [
        (_amount(place, unit), *("blank" if cell is None else _number(cell) for cell in row))
        for place, row in zip(down, cells, strict=True)
    ]
    return _columns([head, *body])


def _columns(rows: Sequence[tuple[str, ...]]) -> tuple[str, ...]:
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    return tuple("  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows)


def _fuel(aircraft: AircraftType) -> Iterator[str]:
    fuel = aircraft.fuel
    for tank in fuel.tanks:
        where = _arms(tank.longitudinal_arm_in, tank.lateral_arm_in)
        yield (
            f"{tank.label} ({tank.name}): {_amount(tank.usable_gal, 'US gal')} usable of "
            f"{_amount(tank.capacity_gal, 'US gal')}; {where}."
        )
    order = "All tanks empty by the same share." if fuel.feed is Feed.together else "The tanks empty in this order."
    yield f"{order} A gallon weighs {_amount(fuel.lb_per_gal, 'lb')}."
    yield f"Start and taxi: {_amount(fuel.start_and_taxi_gal, 'US gal')}."
    burns = [f"{phase} {_amount(burn, 'US gal/h')}" for phase in PHASES if (burn := fuel.burn_in(phase)) is not None]
    yield f"Burn: {', '.join(burns)}."
    spread = fuel.spread
    yield (
        f"Burn differs by about {_amount(spread.between_aircraft_gal_per_h, 'US gal/h')} from one aircraft to the next "
        f"and by {_amount(spread.between_flights_gal_per_h, 'US gal/h')} from one flight to the next; a reading of the "
        f"tanks by {_amount(spread.reading_gal, 'US gal')}."
    )


def _run_up(aircraft: AircraftType) -> Iterator[str]:
    run_up = aircraft.run_up
    yield f"Stated in: {run_up.stated_in}."
    yield f"Oil pressure within {_amount(run_up.oil_pressure_within_s, 's')} after the start."
    yield f"The rotor turns within {_amount(run_up.rotor_turning_within_s, 's')}."
    if run_up.clutch_light_out_within_s is not None:
        yield f"Clutch light out within {_amount(run_up.clutch_light_out_within_s, 's')}."
    if run_up.magneto_check_rpm_pct is not None:
        yield f"Magnetos are checked at {_between(run_up.magneto_check_rpm_pct, '% rpm')}."
    if run_up.magneto_drop_max_pct is not None:
        yield f"A magneto drops by at most {_amount(run_up.magneto_drop_max_pct, '% rpm')}."
    if run_up.magneto_difference_max_pct is not None:
        yield f"The two drops differ by at most {_amount(run_up.magneto_difference_max_pct, '% rpm')}."
    if run_up.magneto_hold_s is not None:
        yield f"Each magneto is held for {_between(run_up.magneto_hold_s, 's')}."
    if run_up.carburettor_heat_rise_min_c is not None:
        yield f"Carburettor heat raises the gauge by at least {_amount(run_up.carburettor_heat_rise_min_c, '°C')}."
    if run_up.governor_rpm_pct is not None:
        yield f"The governor holds {_between(run_up.governor_rpm_pct, '% rpm')}."
    yield f"The low-rotor warning comes at {_between(run_up.low_rotor_warning_rpm_pct, '% rpm')}."
    yield f"Hydraulics are {'checked off and on' if run_up.hydraulics else 'not part of this type'}."


def _shut_down(aircraft: AircraftType) -> Iterator[str]:
    shut_down = aircraft.shut_down
    idle = _between(shut_down.idle_rpm_pct, "% rpm")
    yield f"Cool down at idle ({idle}) for {_amount(shut_down.cool_down_at_idle_s, 's')}."
    if shut_down.before_mixture_off_s is not None:
        yield f"Wait {_amount(shut_down.before_mixture_off_s, 's')} before the mixture is pulled."
    if shut_down.before_rotor_brake_s is not None:
        yield f"Wait {_amount(shut_down.before_rotor_brake_s, 's')} before the rotor brake."


def _upkeep(aircraft: AircraftType) -> Iterator[str]:
    for item in aircraft.loose_equipment:
        yield f"Aboard: {item.name}. {item.why}"
    for what, entries in (("Inspection", aircraft.inspections), ("Life limit", aircraft.life_limits)):
        for entry in entries:
            yield f"{what}: {entry.name}, {_every(entry)}."


def _every(entry: Upkeep) -> str:
    parts = []
    if entry.every_h is not None:
        parts.append(_amount(entry.every_h, "h"))
    if entry.every_months is not None:
        parts.append(f"{entry.every_months} calendar months")
    every = " or ".join(parts)
    return f"every {every}, whichever comes first" if len(parts) > 1 else f"every {every}"
