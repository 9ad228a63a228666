"""Worksheets as columns: one float64 array per fact, NaN for unknown, so that one worksheet and a million score alike.

Encoding, the same everywhere:

* number: itself. Truth value: 1 or 0. Choice: its position in the vocabulary of ``words.py``, from 0.
* calendar day: days since 1970-01-01. Instant: seconds since 1970-01-01T00:00Z.
* the answer "none": +inf (no gust, no ceiling, never). A wind "variable" in direction: +inf as well.
* text: 1 when something is written, 0 for the answer "none".
* a list: ``<field>_count`` (NaN when the list is unknown, 0 for "none") and one padded (rows, longest) array per entry
  field, ``<field>_<entry field>``; padding is NaN, and so is a blank inside an entry: the count tells them apart.
"""

import types
import typing
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from enum import Enum
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

from riskboard.words import NONE
from riskboard.worksheet.model import FIELD_PART, PARTS, Worksheet

__all__ = [
    "AIRFRAME",
    "CONTEXT",
    "Columns",
    "FloatArray",
    "column_fields",
    "expire_weather",
    "to_columns",
    "weather_ages_min",
]

FloatArray = NDArray[np.float64]
Columns = dict[str, FloatArray]

NAN = float("nan")
INF = float("inf")
_EPOCH_DAY = date(1970, 1, 1).toordinal()
_SECONDS_PER_MIN = 60.0

_WEIGHT = ("empty_weight_lb", "equipment_fitted", "station_loads", "type_name")
_TAKE_OFF = (*_WEIGHT, "fuel_usable_gal", "start_and_taxi_gal")
_DEPARTURE = (*_TAKE_OFF, "departure_elevation_ft", "temperature_c", "altimeter_inhg")
_SITE = (*_DEPARTURE, "highest_site_elevation_ft")

AIRFRAME: Mapping[str, tuple[str, ...]] = {
    "loaded_take_off_lb": _TAKE_OFF,
    "loaded_gross_max_lb": _TAKE_OFF,
    "loaded_gross_min_lb": _WEIGHT,
    "loaded_stations_lb": ("type_name", "station_loads"),
    "loaded_longitudinal_in": (*_TAKE_OFF, "empty_longitudinal_moment_in_lb"),
    "loaded_lateral_in": (*_TAKE_OFF, "empty_longitudinal_moment_in_lb", "empty_lateral_moment_in_lb"),
    "hover_ige_departure_ft": _DEPARTURE,
    "hover_ige_departure_lb": _DEPARTURE,
    "hover_oge_departure_ft": _DEPARTURE,
    "hover_oge_departure_lb": _DEPARTURE,
    "hover_ige_site_ft": _SITE,
    "hover_ige_site_lb": _SITE,
    "hover_oge_site_ft": _SITE,
    "hover_oge_site_lb": _SITE,
    "type_wind_max_kt": ("type_name",),
    "type_gust_spread_max_kt": ("type_name",),
    "type_crosswind_max_kt": ("type_name",),
    "type_tailwind_max_kt": ("type_name",),
    "type_temperature_min_c": ("type_name",),
    "type_temperature_max_c": ("type_name",),
    "type_pressure_altitude_max_ft": ("type_name",),
}
"""Columns worked out with the type of the aircraft (``assessment/airframe.py``), and the entries each rests on.

The ``loaded_`` and ``hover_`` ones are margins, positive inside; the ``type_`` ones limits, +inf where the manual
states none. NaN where no such type is on file.
"""

CONTEXT = ("decided_at", "utc_offset_s", "weather_true_at", *AIRFRAME)
"""Columns that are no entry: the moment of decision, the zone offset at take-off, the oldest weather fact, the type."""


def _encode(value: object) -> float:
    if value is None:
        return NAN
    if isinstance(value, bool | int | float):
        return float(value)
    if isinstance(value, Enum):
        return float(_positions(type(value))[value])
    if isinstance(value, datetime):
        return value.timestamp()
    if isinstance(value, date):
        return float(value.toordinal() - _EPOCH_DAY)
    if isinstance(value, str):
        return INF if value in {NONE, "variable"} else 1.0
    raise TypeError(f"no column encoding for {type(value).__name__}")


def _encode_text(value: object) -> float:
    return NAN if value is None else float(value != NONE)


@cache
def _positions(vocabulary: type[Enum]) -> Mapping[Enum, int]:
    return {word: position for position, word in enumerate(vocabulary)}


def _leaves(annotation: object) -> set[object]:
    origin = typing.get_origin(annotation)
    if origin is typing.Annotated:
        return _leaves(typing.get_args(annotation)[0])
    if origin in {typing.Union, types.UnionType}:
        return set().union(*(_leaves(part) for part in typing.get_args(annotation)))
    if origin is tuple:
        return {("list", typing.get_args(annotation)[0])}
    return {annotation}


def _entry_model(annotation: object) -> type[BaseModel] | None:
    return next((leaf[1] for leaf in _leaves(annotation) if isinstance(leaf, tuple)), None)


def _encoder(annotation: object) -> Callable[[object], float]:
    """Text gets its own rule: a field that holds a text and nothing countable is 1 when written, 0 for "none"."""
    return _encode_text if str in _leaves(annotation) else _encode


@cache
def _layout() -> tuple[
    tuple[tuple[str, str, Callable[[object], float]], ...],
    tuple[tuple[str, str, tuple[tuple[str, Callable[[object], float]], ...]], ...],
]:
    """The single fields as (part, field, encoder) and the lists as (part, field, ((entry field, encoder), ...))."""
    singles, lists = [], []
    for part, model in PARTS.items():
        for name, field in model.model_fields.items():
            entry = _entry_model(field.annotation)
            if entry is None:
                singles.append((part, name, _encoder(field.annotation)))
            else:
                lists.append(
                    (part, name, tuple((sub, _encoder(info.annotation)) for sub, info in entry.model_fields.items()))
                )
    return tuple(singles), tuple(lists)


@cache
def column_fields() -> Mapping[str, str]:
    """Which worksheet field a column comes from. Context columns are not in here."""
    singles, lists = _layout()
    fields = {name: name for _, name, _ in singles}
    for _, name, subs in lists:
        fields[f"{name}_count"] = name
        fields.update({f"{name}_{sub}": name for sub, _ in subs})
    return fields


def to_columns(sheets: Sequence[Worksheet], at: datetime | Sequence[datetime]) -> Columns:
    """Encode worksheets as columns.

    Args:
        sheets: One or more worksheets, checked.
        at: The moment of decision, aware; one for all, or one a worksheet.

    Returns:
        Every column of :func:`column_fields` and :data:`CONTEXT`, each with ``len(sheets)`` rows; those of
        :data:`AIRFRAME` unknown, since a worksheet alone does not tell what its aircraft may carry.
    """
    singles, lists = _layout()
    parts = [[getattr(sheet, part) for part in PARTS] for sheet in sheets]
    index = {part: i for i, part in enumerate(PARTS)}
    block = np.array(
        [[encode(getattr(row[index[part]], name)) for part, name, encode in singles] for row in parts], dtype=np.float64
    )
    columns = {name: block[:, i] for i, (_, name, _) in enumerate(singles)}
    for part, name, subs in lists:
        entries = [getattr(row[index[part]], name) for row in parts]
        columns |= _list_columns(name, subs, entries)
    moments = [at] * len(sheets) if isinstance(at, datetime) else list(at)
    columns["decided_at"] = np.array([moment.timestamp() for moment in moments])
    columns["utc_offset_s"] = np.array([_utc_offset_s(sheet) for sheet in sheets])
    columns["weather_true_at"] = np.array([_oldest_weather_s(sheet) for sheet in sheets])
    columns |= dict.fromkeys(AIRFRAME, np.full(len(sheets), NAN))
    return columns


def _list_columns(
    name: str, subs: tuple[tuple[str, Callable[[object], float]], ...], rows: Sequence[Sequence[BaseModel] | None]
) -> Columns:
    longest = max([len(entries) for entries in rows if entries is not None] + [1])
    columns: Columns = {
        f"{name}_count": np.array([NAN if entries is None else float(len(entries)) for entries in rows])
    }
    for sub, encode in subs:
        padded = np.full((len(rows), longest), NAN)
        for i, entries in enumerate(rows):
            for j, entry in enumerate(entries or ()):
                padded[i, j] = encode(getattr(entry, sub))
        columns[f"{name}_{sub}"] = padded
    return columns


def _utc_offset_s(sheet: Worksheet) -> float:
    plan = sheet.plan
    if plan.time_zone is None or plan.take_off_at is None:
        return NAN
    offset = plan.take_off_at.astimezone(ZoneInfo(plan.time_zone)).utcoffset()
    return NAN if offset is None else offset.total_seconds()


# Facts of the air that go stale with the observation. Forecast lines carry their own times; pasted texts are no facts.
_NOT_OBSERVED = {"observed_at", "forecast_issued_at", "forecast_lines", "pasted_report", "pasted_forecast"}
OBSERVED = tuple(name for name, part in FIELD_PART.items() if part == "weather" and name not in _NOT_OBSERVED)


def _true_at(sheet: Worksheet, field: str) -> datetime | None:
    clock = sheet.clocks.get(field)
    return clock.true_at if clock is not None and clock.true_at is not None else sheet.weather.observed_at


def weather_ages_min(sheet: Worksheet, at: datetime) -> dict[str, float]:
    """Age of each filled weather fact at ``at``, in minutes; NaN when nobody said when it was true."""
    ages = {}
    for field in OBSERVED:
        if getattr(sheet.weather, field) is not None:
            moment = _true_at(sheet, field)
            ages[field] = NAN if moment is None else (at - moment).total_seconds() / _SECONDS_PER_MIN
    return ages


def _oldest_weather_s(sheet: Worksheet) -> float:
    moments = [_true_at(sheet, field) for field in OBSERVED if getattr(sheet.weather, field) is not None]
    if not moments or None in moments:
        return NAN
    return min(moment.timestamp() for moment in moments if moment is not None)


def expire_weather(sheet: Worksheet, at: datetime, age_max_min: float) -> tuple[Worksheet, tuple[str, ...]]:
    """Blank every weather fact that is older than the policy allows: old weather is unknown weather.

    Returns:
        The worksheet with expired facts blank, and their names.
    """
    expired = tuple(field for field, age in weather_ages_min(sheet, at).items() if not 0 <= age <= age_max_min)
    return (sheet.but(**dict.fromkeys(expired)) if expired else sheet), expired
