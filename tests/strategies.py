"""Generated worksheets, for every property that is promised about any worksheet.

Each worksheet is possible: no contradiction, neither in itself nor at the moment of decision. It holds blanks, answers
of "none", values at their bounds, and texts that a careless reader would take for something else.
"""

from datetime import UTC, date, datetime, timedelta
from functools import cache
from typing import Any

from hypothesis import strategies as st
from pydantic import BaseModel

from riskboard.words import NONE
from riskboard.worksheet import FIELD_PART, PARTS, Worksheet, read_worksheet
from riskboard.worksheet.entries import FittedItem, ForecastLine, Inspection, LandingEntry, Span, StationLoad
from riskboard.worksheet.shape import Shape, shape_of

__all__ = ["DECIDED_AT", "plain_worksheets", "worksheets"]

DECIDED_AT = datetime(2026, 5, 4, 15, 30, tzinfo=UTC)
"""The moment of decision that all generated worksheets fit."""

_TODAY = date(2026, 5, 3)  # behind the local day in every zone
_EARLIEST_PAPER = date(2016, 1, 1)
_ZONES = ("UTC", "America/Denver", "Asia/Kathmandu", "Pacific/Auckland", "Europe/London")

# What a careless reader takes for a truth value, a number, a time, a comment or a map.
_TRICKY = (
    "no", "yes", "true", "null", "~", "12:30", "010", "1e3", "0x1F", "2026-05-04", "2026-05-04T14:30Z", "a: b", "- a",
    "# a", 'a "b"', "back\\slash", "{a}", "[a]", "&a", "*a", "!a", "|", ">", "%", "@", "'", "none at all", "Zoë Łuk",
    "飛行",
)  # fmt: skip
_LETTERS = st.characters(categories=("L", "N", "P", "S"), exclude_characters="\u200b")


def _text(longest: int, *, lines: bool) -> st.SearchStrategy[str]:
    free = st.text(_LETTERS | st.just("\n" if lines else " "), min_size=1, max_size=min(longest, 20))
    return (st.sampled_from(_TRICKY) | free.map(str.strip).filter(bool)).filter(lambda text: text != NONE)


def _number(shape: Shape) -> st.SearchStrategy[float]:
    low, high = float(shape.lowest or 0), float(shape.highest or 0)
    return st.sampled_from((low, high)) | st.floats(low, high).map(lambda value: min(max(round(value, 3), low), high))


def _past(days: int = 3) -> st.SearchStrategy[datetime]:
    return st.integers(0, days * 24 * 60).map(lambda minutes: DECIDED_AT - timedelta(minutes=minutes))


def _future(hours: int = 6) -> st.SearchStrategy[datetime]:
    return st.integers(0, hours * 60).map(lambda minutes: DECIDED_AT + timedelta(minutes=minutes))


@st.composite
def _spans(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Up to four spans that end before the decision and do not overlap."""
    spans, end_at = [], DECIDED_AT
    for _ in range(draw(st.integers(0, 4))):
        end_at -= timedelta(minutes=draw(st.integers(0, 600)))
        start_at = end_at - timedelta(minutes=draw(st.integers(1, 600)))
        spans.append({"start_at": start_at, "end_at": end_at})
        end_at = start_at
    return spans


@st.composite
def _landings(draw: st.DrawFn) -> dict[str, Any]:
    landings = draw(st.integers(0, 20))
    return {
        "on": _TODAY - timedelta(days=draw(st.integers(0, 120))),
        "period": draw(st.sampled_from(shape_of(LandingEntry, "period").words)),
        "takeoffs": draw(st.integers(0, 20)),
        "landings": landings,
        "full_stop": draw(st.integers(0, landings)),
    }


@st.composite
def _forecast_line(draw: st.DrawFn) -> dict[str, Any]:
    start_at = DECIDED_AT + timedelta(minutes=draw(st.integers(-600, 600)))
    line = {
        name: draw(_value(ForecastLine, name) | st.none())
        for name in ForecastLine.model_fields
        if name not in {"start_at", "end_at", "kind"}
    }
    kind = draw(st.sampled_from(shape_of(ForecastLine, "kind").words))
    end_at = start_at + timedelta(minutes=draw(st.integers(1, 1800)))
    return {"start_at": start_at, "end_at": end_at, "kind": kind, **line}


@st.composite
def _entry(draw: st.DrawFn, model: type[BaseModel]) -> dict[str, Any]:
    entry = {}
    for name, info in model.model_fields.items():
        value = _value(model, name)
        entry[name] = draw(value if info.is_required() else value | st.none())
    return {name: value for name, value in entry.items() if value is not None}


def _entries(model: type[BaseModel]) -> st.SearchStrategy[Any]:
    if model is Span:
        return _spans()
    special = {LandingEntry: _landings(), ForecastLine: _forecast_line()}
    once = "station" if model is StationLoad else "name" if model is FittedItem else ""
    each = special[model] if model in special else _entry(model)
    return st.lists(each, max_size=3, unique_by=(lambda entry: entry[once]) if once else None)


_FUTURE_INSTANTS = frozenset({"take_off_at", "must_be_back_at"})


def _day(model: type[BaseModel], name: str) -> st.SearchStrategy[date]:
    if name == "born_on":
        return st.dates(date(1945, 1, 1), date(2008, 1, 1))
    if name == "certificate_on":
        return st.dates(_EARLIEST_PAPER, _TODAY - timedelta(days=121))
    later = name == "instructor_period_ends_on" or model is Inspection or name == "deferred_until"
    return st.dates(_EARLIEST_PAPER, date(2029, 1, 1) if later else _TODAY)


@cache
def _value(model: type[BaseModel], name: str) -> st.SearchStrategy[Any]:
    """Any value that the field accepts, "none" included where it is an answer."""
    shape = shape_of(model, name)
    value = _plain_value(model, name, shape)
    if shape.kind in {"number", "whole"} and shape.words:
        value |= st.sampled_from(shape.words)
    return value | st.just(NONE) if shape.none_answer and shape.kind != "list" else value


def _plain_value(model: type[BaseModel], name: str, shape: Shape) -> st.SearchStrategy[Any]:
    if name == "time_zone":
        return st.sampled_from(_ZONES)
    if shape.kind == "list":
        return _entries(shape.entry or BaseModel)
    if shape.kind == "day":
        return _day(model, name)
    if shape.kind in {"text", "note"}:
        return _text(shape.longest or 1, lines=shape.kind == "note")
    kinds: dict[str, st.SearchStrategy[Any]] = {
        "flag": st.booleans(),
        "choice": st.sampled_from(shape.words or ("",)),
        "instant": _future() if name in _FUTURE_INSTANTS else _past(),
        "number": _number(shape),
        "whole": st.integers(int(shape.lowest or 0), int(shape.highest or 0)),
    }
    return kinds[shape.kind]


_ORDERED = (
    ("dew_point_c", "temperature_c"),
    ("wind_kt", "gust_kt"),
    ("last_inspection_at_h", "meter_h"),
    ("lowest_cloud_ft_agl", "ceiling_ft_agl"),
    ("hours_in_type_h", "total_helicopter_h"),
    ("hours_last_90_days_h", "total_helicopter_h"),
)


def _made_possible(data: dict[str, dict[str, Any]], minutes: int) -> dict[str, dict[str, Any]]:
    """Give what must not contradict each other an order."""
    for low, high in _ORDERED:
        entries = data[FIELD_PART[low]]
        if isinstance(entries.get(low), float) and isinstance(entries.get(high), float):
            entries[high] = max(entries[low], entries[high])
    weather, plan = data["weather"], data["plan"]
    if weather.get("lowest_cloud_ft_agl") == NONE and isinstance(weather.get("ceiling_ft_agl"), float):
        weather["lowest_cloud_ft_agl"] = weather["ceiling_ft_agl"]
    if NONE in {weather.get("wind_variable_from_deg"), weather.get("wind_variable_to_deg")}:
        weather["wind_variable_from_deg"] = weather["wind_variable_to_deg"] = NONE
    if plan.get("landing_at") is not None:
        plan["landing_at"] = (plan.get("take_off_at") or DECIDED_AT) + timedelta(minutes=minutes)
    return data


def _clock() -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({"true_at": _past() | st.none(), "typed_at": _past() | st.none()})


@st.composite
def plain_worksheets(draw: st.DrawFn, *, blanks: bool = True) -> dict[str, Any]:
    """The plain data of a possible worksheet, values still as python objects.

    Args:
        draw: Given by Hypothesis.
        blanks: Leave entries blank now and then; False fills every one.
    """
    data = {}
    for part, model in PARTS.items():
        entries = {}
        for name in model.model_fields:
            value = _value(model, name)
            entries[name] = draw(st.none() | value if blanks else value)
        data[part] = {name: value for name, value in entries.items() if value is not None}
    made: dict[str, Any] = dict(_made_possible(data, draw(st.integers(1, 12 * 60))))
    clocks = draw(st.dictionaries(st.sampled_from(sorted(FIELD_PART)), _clock(), max_size=3))
    return {**made, "clocks": clocks} if clocks else made


def worksheets(*, blanks: bool = True) -> st.SearchStrategy[Worksheet]:
    """Possible worksheets at :data:`DECIDED_AT`.

    Args:
        blanks: Leave entries blank now and then; False fills every one.
    """
    return plain_worksheets(blanks=blanks).map(read_worksheet)
