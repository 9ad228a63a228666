"""The figures behind the charts: plain rows, worked out here so that a page only draws.

Every function takes a worksheet or an assessment and returns rows; an empty list means that what the picture needs is
blank, and ``missing`` says which entry.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from riskboard.assessment.assess import Assessment
from riskboard.measures.daylight import SunEvents, sun_events
from riskboard.measures.fatigue import FIRST_WAKING_DAY_H, three_process_alertness
from riskboard.measures.icing import carb_icing_zone
from riskboard.measures.moon import moon_elevation_deg
from riskboard.measures.three_process import steady_start_s
from riskboard.worksheet.model import Worksheet

__all__ = ["Point", "alertness_rows", "day_rows", "group_rows", "icing_point", "icing_rows", "missing"]

Row = dict[str, Any]

_STEP = timedelta(minutes=10)
_USUAL_NIGHT_H = 8.0
_ZONE_WORDS = {1: "light", 2: "serious, descent power", 3: "moderate cruise, serious descent", 4: "serious, any power"}

NEEDS = {
    "icing": ("temperature_c", "dew_point_c"),
    "alertness": ("sleeps", "take_off_at", "landing_at", "time_zone"),
    "day": ("departure_latitude_deg", "departure_longitude_deg", "take_off_at", "landing_at", "time_zone"),
}


def missing(picture: str, sheet: Worksheet) -> tuple[str, ...]:
    """Blank entries that a picture ("icing", "alertness" or "day") needs."""
    return tuple(field for field in NEEDS[picture] if sheet.value(field) is None)


def group_rows(assessment: Assessment) -> list[Row]:
    """Points by PAVE group beside the group's ceiling (None where the policy has none)."""
    return [
        {"group": group.value, "points": points, "ceiling": assessment.ceilings.get(group)}
        for group, points in assessment.groups.items()
    ]


@dataclass(frozen=True)
class Point:
    """Today's temperature and dew point on the icing chart."""

    temperature_c: float
    dew_point_c: float
    zone: str


def icing_point(sheet: Worksheet) -> Point | None:
    """Where the weather entered lies on the chart, or None when it is not known."""
    temperature_c, dew_point_c = sheet.weather.temperature_c, sheet.weather.dew_point_c
    if temperature_c is None or dew_point_c is None:
        return None
    return Point(temperature_c, dew_point_c, _ZONE_WORDS.get(int(carb_icing_zone(temperature_c, dew_point_c)), "none"))


def icing_rows() -> list[Row]:
    """The most cautious icing zones as bands: for each temperature, the dew points between which a zone holds."""
    temperatures_c = np.arange(-15.0, 40.0, 1.0)
    dew_points_c = np.arange(-25.0, 40.0, 0.5)
    grid_t, grid_d = np.meshgrid(temperatures_c, dew_points_c, indexing="ij")
    possible = grid_d <= grid_t
    codes = np.full(grid_t.shape, 0)
    codes[possible] = carb_icing_zone(grid_t[possible], grid_d[possible])
    rows = []
    for code, word in _ZONE_WORDS.items():
        for i, temperature_c in enumerate(temperatures_c):
            inside = dew_points_c[codes[i] >= code]
            if inside.size:
                ends = {"dew_point_low_c": float(inside[0]), "dew_point_high_c": float(inside[-1])}
                rows.append({"zone": word, "code": code, "temperature_c": float(temperature_c)} | ends)
    return rows


def alertness_rows(sheet: Worksheet) -> list[Row]:
    """Modelled sleepiness from the last waking to an hour after landing, every ten minutes.

    The same model and assumptions as the measure ``modelled_sleepiness_kss``.
    """
    pilot, plan = sheet.pilot, sheet.plan
    if not pilot.sleeps or plan.take_off_at is None or plan.landing_at is None or plan.time_zone is None:
        return []
    zone = ZoneInfo(plan.time_zone)
    # A fixed offset: the body clock does not jump when the wall clock does.
    offset = plan.take_off_at.astimezone(zone).utcoffset() or timedelta()
    sleeps = sorted((span.start_at, span.end_at) for span in pilot.sleeps)
    body = [(_body(start, offset), _body(end, offset)) for start, end in sleeps]
    start = body[0][0] - timedelta(hours=FIRST_WAKING_DAY_H)
    woke, until = sleeps[-1][1], plan.landing_at + timedelta(hours=1)
    moments = [woke + _STEP * i for i in range(int((until - woke) / _STEP) + 1)]
    if not moments:
        return []
    kss = three_process_alertness(
        start, float(steady_start_s(_USUAL_NIGHT_H)), body, [_body(m, offset) for m in moments]
    ).kss
    return [
        {"at": moment, "sleepiness_kss": float(value), "flying": plan.take_off_at <= moment <= plan.landing_at}
        for moment, value in zip(moments, np.asarray(kss), strict=True)
        if not np.isnan(value)
    ]


def _body(moment: datetime, offset: timedelta) -> datetime:
    return moment.astimezone(UTC).replace(tzinfo=None) + offset


def day_rows(sheet: Worksheet) -> list[Row]:
    """The day of take-off in spans of night, twilight, day and flight, and when the moon is up; UTC instants.

    Nautical and deeper night are one: "night" here is the logging night (14 CFR 1.1), from the end of evening to the
    beginning of morning civil twilight.
    """
    plan = sheet.plan
    if missing("day", sheet) or plan.take_off_at is None or plan.landing_at is None or plan.time_zone is None:
        return []
    latitude, longitude = plan.departure_latitude_deg, plan.departure_longitude_deg
    if latitude is None or longitude is None:
        return []
    zone = ZoneInfo(plan.time_zone)
    midnight = plan.take_off_at.astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
    first, last = midnight.astimezone(UTC), (midnight + timedelta(days=1)).astimezone(UTC)
    events = sun_events(latitude, longitude, midnight.date())
    rows = [{"strip": "light", **span} for span in _light_spans(events, first, last)]
    rows += [
        {"strip": "moon", "what": "moon up", "start": a, "end": b}
        for a, b in _moon_spans(latitude, longitude, first, last)
    ]
    rows.append({"strip": "flight", "what": "flight", "start": plan.take_off_at, "end": plan.landing_at})
    return rows


def _light_spans(events: SunEvents, first: datetime, last: datetime) -> list[Row]:
    """Spans between the events that occur; where one is missing its span is left out rather than guessed."""
    edges = [
        ("night", first, events.civil_dawn),
        ("twilight", events.civil_dawn, events.sunrise),
        ("day", events.sunrise, events.sunset),
        ("twilight", events.sunset, events.civil_dusk),
        ("night", events.civil_dusk, last),
    ]
    return [
        {"what": what, "start": start, "end": end}
        for what, start, end in edges
        if start is not None and end is not None and start < end
    ]


def _moon_spans(
    latitude_deg: float, longitude_deg: float, first: datetime, last: datetime
) -> list[tuple[datetime, datetime]]:
    moments = [first + _STEP * i for i in range(int((last - first) / _STEP) + 1)]
    up = np.asarray(moon_elevation_deg(latitude_deg, longitude_deg, [m.timestamp() for m in moments])) > 0
    spans: list[tuple[datetime, datetime]] = []
    for moment, shines in zip(moments, up, strict=True):
        if not shines:
            continue
        if spans and spans[-1][1] == moment - _STEP:
            spans[-1] = (spans[-1][0], moment)
        else:
            spans.append((moment, moment))
    return spans
