"""What the type of the aircraft says about a flight: loading, hover margins and limits, for one worksheet or many.

The same numbers reach the scorer (:func:`airframe_columns`) and the screens (:func:`airframe_of`). What the pure
functions below would refuse as impossible is a problem to mend (:func:`airframe_problems`) and unknown until then.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from riskboard.aircraft_types.model import AircraftType, AltitudeKind
from riskboard.measures.atmosphere import COLDEST_C, HOTTEST_C, density_altitude_rows, pressure_altitude_rows
from riskboard.measures.frame import Frame, LoadRows, frame_of, loaded_rows
from riskboard.measures.known import Floats, rounded
from riskboard.measures.loading import Load, Loading, loading, weighing_believed
from riskboard.measures.performance import PlacePerformance, hover_rows, performance_at, site_temperature_rows
from riskboard.worksheet.checks import WorksheetProblem
from riskboard.worksheet.columns import AIRFRAME, Columns
from riskboard.worksheet.kinds import shown
from riskboard.worksheet.model import Worksheet

__all__ = [
    "Airframe",
    "airframe_columns",
    "airframe_of",
    "airframe_problems",
    "airframe_rows",
    "airframes_of",
    "load_of",
]

_NAN: Final = float("nan")
_INF: Final = float("inf")
_SECONDS_PER_HOUR: Final = 3600.0


@dataclass(frozen=True, eq=False)
class Airframe:
    """A flight as the type of its aircraft sees it; each number a scalar for one flight, an array for many.

    Attributes:
        aircraft: The type.
        load: What is carried: take-off fuel is the usable fuel less start and taxi, burn the planned time at the burn.
        loading: Weight and balance.
        departure: Hover margins and power limits at departure, at the weight of take-off.
        highest_site: The same at the highest landing site, as if nothing were burned on the way; its temperature is
            that of departure less the standard lapse.
    """

    aircraft: AircraftType
    load: Load
    loading: Loading
    departure: PlacePerformance
    highest_site: PlacePerformance


def airframe_of(sheet: Worksheet, types: Mapping[str, AircraftType]) -> Airframe | None:
    """One flight as the type of its aircraft sees it, with scalars; NaN is unknown.

    Args:
        sheet: The worksheet, with what is too old to count left blank (``expire_weather``).
        types: Aircraft types by title.

    Returns:
        The answer; None where no type of that name is on file.
    """
    aircraft = types.get(sheet.aircraft.type_name or "")
    if aircraft is None:
        return None
    return _worked_out(aircraft, load_of(sheet, aircraft), *(np.asarray(each[0]) for each in _places([sheet])))


def airframes_of(sheets: Sequence[Worksheet], aircraft: AircraftType) -> Airframe:
    """Flights of aircraft of one type, with arrays of one value a worksheet; NaN is unknown."""
    return _worked_out(aircraft, _loads_of(sheets, aircraft), *_places(sheets))


def load_of(sheet: Worksheet, aircraft: AircraftType) -> Load:
    """What one flight carries, with scalars; NaN where an entry is blank or impossible."""
    many = _loads_of([sheet], aircraft)
    return Load(
        _first(many.empty_weight_lb),
        _first(many.empty_longitudinal_moment_in_lb),
        _first(many.empty_lateral_moment_in_lb),
        {name: _first(value) for name, value in many.stations_lb.items()},
        _first(many.fuel_gal),
        _first(many.burn_gal),
        {name: _first(value) for name, value in many.fitted.items()},
    )


def _first(values: object) -> float:
    return float(np.asarray(values, dtype=np.float64)[0])


def _known(value: object) -> float:
    return float(value) if isinstance(value, int | float) else _NAN


def _column(sheets: Sequence[Worksheet], part: str, field: str) -> Floats:
    return np.array([_known(getattr(getattr(sheet, part), field)) for sheet in sheets])


def _loads_of(sheets: Sequence[Worksheet], aircraft: AircraftType) -> Load:
    stations = np.array([_station_loads(sheet, aircraft) for sheet in sheets])
    fitted = np.array([_fitted(sheet, aircraft) for sheet in sheets]).reshape(len(sheets), len(aircraft.equipment))
    fuel = _take_off_fuel_gal(
        aircraft, _column(sheets, "aircraft", "fuel_usable_gal"), _column(sheets, "aircraft", "start_and_taxi_gal")
    )
    burn = _column(sheets, "aircraft", "fuel_burn_gal_h") * np.array([_flight_h(sheet) for sheet in sheets])
    return Load(
        _column(sheets, "aircraft", "empty_weight_lb"),
        _column(sheets, "aircraft", "empty_longitudinal_moment_in_lb"),
        _column(sheets, "aircraft", "empty_lateral_moment_in_lb"),
        {station.name: stations[:, i] for i, station in enumerate(aircraft.stations)},
        fuel,
        burn,
        {piece.name: fitted[:, i] for i, piece in enumerate(aircraft.equipment)},
    )


def _take_off_fuel_gal(aircraft: AircraftType, usable_gal: Floats, start_and_taxi_gal: Floats) -> Floats:
    """What is left for the flight; unknown where the tanks cannot hold it, or start and taxi burn more."""
    usable = np.where(usable_gal <= _tanks_gal(aircraft), usable_gal, _NAN)
    fuel = rounded(usable - start_and_taxi_gal)
    return np.where(fuel >= 0, fuel, _NAN)


def _tanks_gal(aircraft: AircraftType) -> float:
    return float(rounded(np.asarray(aircraft.fuel.usable_gal)))


def _station_loads(sheet: Worksheet, aircraft: AircraftType) -> list[float]:
    """The load on each station of the type; all unknown where something lies on a station that it has not."""
    given = {entry.station: entry.load_lb for entry in sheet.plan.station_loads or ()}
    names = [station.name for station in aircraft.stations]
    sound = given.keys() <= set(names)
    return [_known(given.get(name)) if sound else _NAN for name in names]


def _fitted(sheet: Worksheet, aircraft: AircraftType) -> list[float]:
    """Whether each piece of the type's equipment is fitted; all unknown where one is named that it has not."""
    given = {entry.name: entry.fitted for entry in sheet.aircraft.equipment_fitted or ()}
    names = [piece.name for piece in aircraft.equipment]
    sound = given.keys() <= set(names)
    return [_known(given.get(name)) if sound else _NAN for name in names]


def _flight_h(sheet: Worksheet) -> float:
    take_off_at, landing_at = sheet.plan.take_off_at, sheet.plan.landing_at
    if take_off_at is None or landing_at is None:
        return _NAN
    return (landing_at - take_off_at).total_seconds() / _SECONDS_PER_HOUR


def _places(sheets: Sequence[Worksheet]) -> tuple[Floats, Floats, Floats, Floats]:
    """Temperature and altimeter setting at departure, elevations of departure and of the highest site."""
    return (
        _column(sheets, "weather", "temperature_c"),
        _column(sheets, "weather", "altimeter_inhg"),
        _column(sheets, "plan", "departure_elevation_ft"),
        _column(sheets, "plan", "highest_site_elevation_ft"),
    )


def _worked_out(
    aircraft: AircraftType,
    load: Load,
    temperature_c: Floats,
    altimeter_inhg: Floats,
    departure_ft: Floats,
    site_ft: Floats,
) -> Airframe:
    found = loading(aircraft, load)
    gross = found.take_off.gross_weight_lb
    site_c = _site_c(temperature_c, departure_ft, site_ft)
    return Airframe(
        aircraft,
        load,
        found,
        performance_at(aircraft, gross, temperature_c, departure_ft, altimeter_inhg),
        performance_at(aircraft, gross, site_c, site_ft, altimeter_inhg),
    )


def airframe_columns(sheets: Sequence[Worksheet], types: Mapping[str, AircraftType]) -> Columns:
    """The columns of :data:`AIRFRAME` for any number of worksheets; worked out once a type, no row depends on another.

    Args:
        sheets: Checked worksheets, with what is too old to count left blank.
        types: Aircraft types by title.

    Returns:
        Each column with one row a worksheet; NaN where no type of that name is on file, or an entry is blank or cannot
        be.
    """
    titles = [sheet.aircraft.type_name for sheet in sheets]
    present = [title for title in dict.fromkeys(titles) if title is not None and title in types]
    if len(present) == 1 and all(title == present[0] for title in titles):
        return _columns_of(sheets, types[present[0]])
    columns = {name: np.full(len(sheets), _NAN) for name in AIRFRAME}
    for title in present:
        rows = [row for row, each in enumerate(titles) if each == title]
        for name, values in _columns_of([sheets[row] for row in rows], types[title]).items():
            columns[name][rows] = values
    return columns


def _columns_of(sheets: Sequence[Worksheet], aircraft: AircraftType) -> Columns:
    """The columns of flights of one type: the numbers of :func:`airframes_of`, without what only screens show."""
    return _columns_from(aircraft, _loads_of(sheets, aircraft), _places(sheets))


def airframe_rows(
    sheet: Worksheet, aircraft: AircraftType, columns: Columns, stations_lb: Mapping[str, Floats]
) -> Columns:
    """:func:`airframe_columns` for changed copies of one worksheet that come as columns, without a worksheet for each.

    Args:
        sheet: The worksheet; which stations are loaded and which equipment is fitted is the same in every copy.
        aircraft: Its type.
        columns: Weighing, fuel, temperature, altimeter setting and elevations, one value a copy.
        stations_lb: Load on each station that the worksheet names, one value a copy.

    Returns:
        The columns, bit by bit those of the copies as worksheets.
    """
    rows = len(columns["fuel_usable_gal"])
    base = _loads_of([sheet], aircraft)
    sound = stations_lb.keys() <= base.stations_lb.keys()
    load = Load(
        columns["empty_weight_lb"],
        columns["empty_longitudinal_moment_in_lb"],
        columns["empty_lateral_moment_in_lb"],
        {
            name: stations_lb[name] if sound and name in stations_lb else np.full(rows, _NAN)
            for name in base.stations_lb
        },
        _take_off_fuel_gal(aircraft, columns["fuel_usable_gal"], columns["start_and_taxi_gal"]),
        np.full(rows, _NAN),  # no margin hangs on it: the envelope holds at every amount of fuel down to none
        {name: np.repeat(np.asarray(fitted), rows) for name, fitted in base.fitted.items()},
    )
    names = ("temperature_c", "altimeter_inhg", "departure_elevation_ft", "highest_site_elevation_ft")
    temperature, altimeter, departure, site = (columns[name] for name in names)
    return _columns_from(aircraft, load, (temperature, altimeter, departure, site))


def _columns_from(aircraft: AircraftType, load: Load, places: tuple[Floats, Floats, Floats, Floats]) -> Columns:
    frame = frame_of(aircraft)
    weight = np.asarray(load.empty_weight_lb)
    near = np.abs(weight - aircraft.empty.weight_lb) <= aircraft.empty.plausible_within_lb
    moments = (load.empty_longitudinal_moment_in_lb, load.empty_lateral_moment_in_lb)
    empty = np.array([np.where(near, weight, _NAN), *moments])
    stations = [np.asarray(each) for each in load.stations_lb.values()]
    fitted = [np.asarray(each) for each in load.fitted.values()]
    loaded = loaded_rows(frame, LoadRows(empty, stations, fitted, np.asarray(load.fuel_gal)))
    columns = dict(zip(_LOADED, loaded, strict=True))
    columns |= _hover_columns(frame, loaded.take_off_lb, *places)
    rows = len(places[0])
    for name in _LIMITS:
        stated = getattr(aircraft.limits, name)
        columns[f"type_{name}"] = np.full(rows, _INF if stated is None else stated)
    return columns


_LOADED: Final = tuple(name for name in AIRFRAME if name.startswith("loaded_"))
_LIMITS: Final = tuple(name.removeprefix("type_") for name in AIRFRAME if name.startswith("type_"))


def _hover_columns(
    frame: Frame, gross_lb: Floats, temperature_c: Floats, altimeter_inhg: Floats, departure_ft: Floats, site_ft: Floats
) -> Columns:
    """Hover margins at departure and at the highest site, both places in one pass."""
    rows = gross_lb.size
    elevation = np.concatenate([departure_ft, site_ft])
    temperature = np.concatenate([temperature_c, _site_c(temperature_c, departure_ft, site_ft)])
    pressure = pressure_altitude_rows(elevation, np.concatenate([altimeter_inhg, altimeter_inhg]))
    gross = np.concatenate([gross_lb, gross_lb])
    columns = {}
    tables = (
        ("ige", frame.aircraft.hover_in_ground_effect, frame.inside),
        ("oge", frame.aircraft.hover_out_of_ground_effect, frame.outside),
    )
    for name, table, grid in tables:
        altitude = pressure
        if table.altitude is AltitudeKind.density:
            altitude = density_altitude_rows(pressure, temperature, None)
        feet, pounds = hover_rows(grid, gross, temperature, altitude)
        columns[f"hover_{name}_departure_ft"], columns[f"hover_{name}_site_ft"] = feet[:rows], feet[rows:]
        columns[f"hover_{name}_departure_lb"], columns[f"hover_{name}_site_lb"] = pounds[:rows], pounds[rows:]
    return columns


def _site_c(temperature_c: Floats, departure_ft: Floats, site_ft: Floats) -> Floats:
    """Temperature at the site; unknown where it would be one that no air has."""
    found = site_temperature_rows(temperature_c, departure_ft, site_ft)
    return np.where((found >= COLDEST_C) & (found <= HOTTEST_C), found, _NAN)


def airframe_problems(sheet: Worksheet, types: Mapping[str, AircraftType]) -> tuple[WorksheetProblem, ...]:
    """What the worksheet says that cannot be of an aircraft of its type; each problem names the entry. Pure.

    An aircraft of a type that is not on file has none: nothing is known about it.
    """
    aircraft = types.get(sheet.aircraft.type_name or "")
    return () if aircraft is None else tuple(_problems(sheet, aircraft))


def _problems(sheet: Worksheet, aircraft: AircraftType) -> Iterator[WorksheetProblem]:
    stations = [entry.station for entry in sheet.plan.station_loads or ()]
    pieces = [entry.name for entry in sheet.aircraft.equipment_fitted or ()]
    yield from _strangers(
        "station_loads", "seat or baggage place", stations, aircraft, [s.name for s in aircraft.stations]
    )
    yield from _strangers("equipment_fitted", "piece", pieces, aircraft, [piece.name for piece in aircraft.equipment])
    usable = sheet.aircraft.fuel_usable_gal
    if usable is not None and usable > _tanks_gal(aircraft):
        message = f"{usable:g} gal of usable fuel; the tanks of a {aircraft.title} hold {_tanks_gal(aircraft):g} gal"
        yield WorksheetProblem("fuel_usable_gal", message)
    weight = sheet.aircraft.empty_weight_lb
    if weight is not None and float(np.asarray(weighing_believed(aircraft, weight))) == 0:
        typical = aircraft.empty
        yield WorksheetProblem(
            "empty_weight_lb",
            f"an empty weight of {weight:g} lb is more than {typical.plausible_within_lb:g} lb away from the "
            f"{typical.weight_lb:g} lb of a {aircraft.title}; check the weighing and the type",
            ("type_name",),
        )


def _strangers(
    field: str, what: str, given: Sequence[str], aircraft: AircraftType, known: Sequence[str]
) -> Iterator[WorksheetProblem]:
    for name in given:
        if name not in known:
            message = (
                f"a {aircraft.title} has no {what} called {shown(name)}; write one of {', '.join(known) or 'none'}"
            )
            yield WorksheetProblem(field, message)
