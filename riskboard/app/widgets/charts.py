"""Charts where looking beats reading. Draws rows from ``assessment.pictures``; works nothing out.

Every chart says its finding in words above it, is readable without colour (shapes, patterns of grey, labels), and has a
sentence that stands for it where it cannot be seen.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import altair as alt
import pandas as pd
import streamlit as st

from riskboard.assessment.pictures import (
    alertness_rows,
    day_rows,
    group_rows,
    icing_point,
    icing_rows,
    missing,
)
from riskboard.jobs import Briefing
from riskboard.worksheet import PARTS
from riskboard.worksheet.model import FIELD_PART, Worksheet

__all__ = ["draw_charts"]

INK, TEAL, PLUM = "#767676", "#0f6e84", "#a0568f"
"""Seen on light and on dark ground alike; INK is a grey that keeps more than 4:1 against both."""
_LIGHT_TONES = {"night": "#3a3f55", "twilight": "#8d93a8", "day": "#e9edf2", "moon up": "#b9a7c4", "flight": TEAL}
_ICING_TONES = ["#e3eaee", "#bccfd8", "#8fb0be", "#5d8798"]
_SLEEPY_KSS = 7


def draw_charts(briefing: Briefing, at: datetime) -> None:
    """Draw the four charts of a briefing.

    Args:
        briefing: The draft as read and assessed.
        at: Now, for the line that marks it.
    """
    if briefing.assessment is not None:
        _draw_groups(group_rows(briefing.assessment))
    _draw_icing(briefing.sheet)
    _draw_alertness(briefing.sheet, at)
    _draw_day(briefing.sheet)


def _needs(picture: str, sheet: Worksheet, title: str) -> bool:
    blank = missing(picture, sheet)
    if blank:
        labels = ", ".join(f"“{PARTS[FIELD_PART[field]].facts()[field].label}”" for field in blank)
        st.text(f"{title}: needs {labels}.")
    return bool(blank)


def _show(title: str, chart: Any, words: str) -> None:
    st.text(title)
    st.altair_chart(chart, width="stretch")
    st.text(words)


def _draw_groups(rows: Sequence[dict[str, Any]]) -> None:
    frame = pd.DataFrame(rows)
    y = alt.Y("group:N", sort=None, title=None, axis=alt.Axis(labelFontSize=13, labelOverlap=False))
    bars = alt.Chart(frame).mark_bar(color=TEAL, height=16).encode(x=alt.X("points:Q", title="points"), y=y)
    numbers = alt.Chart(frame).mark_text(align="left", dx=4, color=INK).encode(x="points:Q", y=y, text="points:Q")
    ceilings = frame.dropna(subset=["ceiling"])
    walls = alt.Chart(ceilings).mark_tick(color=INK, thickness=3, size=26).encode(x="ceiling:Q", y=y)
    top = max(rows, key=lambda row: row["points"])
    heading = "No group adds points" if not top["points"] else f"Most points: {top['group']}, {top['points']}"
    words = "; ".join(
        f"{r['group']} {r['points']}" + (f" of at most {r['ceiling']}" if r["ceiling"] is not None else "")
        for r in rows
    )
    _show(
        heading, (bars + numbers + walls).properties(height=140), f"Points by group (upright mark: ceiling). {words}."
    )


def _draw_icing(sheet: Worksheet) -> None:
    if _needs("icing", sheet, "Carburettor icing"):
        return
    point = icing_point(sheet)
    if point is None:
        return
    frame = pd.DataFrame(icing_rows())
    zones = list(dict.fromkeys(frame["zone"]))
    x = alt.X("temperature_c:Q", title="temperature °C", scale=alt.Scale(domain=[-15, 40]))
    tones = alt.Scale(domain=zones, range=_ICING_TONES)
    legend = alt.Legend(orient="bottom", columns=1, labelLimit=320)
    areas = (
        alt.Chart(frame)
        .mark_area(stroke=INK, strokeWidth=0.5)
        .encode(
            x=x,
            y=alt.Y("dew_point_low_c:Q", title="dew point °C", scale=alt.Scale(domain=[-20, 40])),
            y2="dew_point_high_c:Q",
            color=alt.Color("zone:N", sort=zones, title=None, scale=tones, legend=legend),
        )
    )
    today = pd.DataFrame([{"temperature_c": point.temperature_c, "dew_point_c": point.dew_point_c, "label": "now"}])
    mark = (
        alt.Chart(today)
        .mark_point(shape="diamond", size=180, filled=True, color=PLUM, stroke="white")
        .encode(x=x, y="dew_point_c:Q")
    )
    label = (
        alt.Chart(today).mark_text(dx=22, fontWeight="bold", color=INK).encode(x=x, y="dew_point_c:Q", text="label:N")
    )
    reading = f"{point.temperature_c:g} °C, dew point {point.dew_point_c:g} °C: {point.zone}"
    _show(
        f"Carburettor icing: {point.zone}",
        (areas + mark + label).properties(height=300),
        f"{reading}. The more cautious of two published charts, for carburettors only; the flight manual prevails.",
    )


def _local(rows: Sequence[dict[str, Any]], sheet: Worksheet, columns: Sequence[str]) -> pd.DataFrame:
    """Clock times of the place of departure, which the chart then shows as they stand."""
    zone = ZoneInfo(sheet.plan.time_zone or "UTC")
    frame = pd.DataFrame(rows)
    for column in columns:
        frame[column] = [moment.astimezone(zone).replace(tzinfo=None) for moment in frame[column]]
    return frame


def _draw_alertness(sheet: Worksheet, at: datetime) -> None:
    if _needs("alertness", sheet, "Sleepiness over the flight"):
        return
    rows = alertness_rows(sheet)
    flying = [row["sleepiness_kss"] for row in rows if row["flying"]]
    if not flying:
        st.text("Sleepiness over the flight: the model gives no value for these sleeps.")
        return
    frame = _local(rows, sheet, ["at"])
    x = alt.X("at:T", title=None, axis=alt.Axis(format="%H:%M"))
    y = alt.Y("sleepiness_kss:Q", title="sleepiness, 1 to 9", scale=alt.Scale(domain=[1, 9]))
    line = alt.Chart(frame).mark_line(color=TEAL, strokeWidth=2).encode(x=x, y=y)
    flight = alt.Chart(frame[frame["flying"]]).mark_line(color=PLUM, strokeWidth=6).encode(x=x, y=y)
    limit = alt.Chart(pd.DataFrame({"y": [_SLEEPY_KSS]})).mark_rule(color=INK, strokeDash=[5, 4]).encode(y="y:Q")
    now = _local([{"at": at}], sheet, ["at"])
    here = alt.Chart(now).mark_rule(color=INK, strokeDash=[2, 3]).encode(x="at:T")
    worst = max(flying)
    _show(
        f"Modelled sleepiness in flight: at worst {worst:.1f} of 9",
        (limit + here + line + flight).properties(height=200),
        "Thick: the flight. Dashed across: 7, sleepy. Dotted upright: now. A model of an average person, no proof.",
    )


def _draw_day(sheet: Worksheet) -> None:
    if _needs("day", sheet, "Daylight"):
        return
    rows = day_rows(sheet)
    frame = _local(rows, sheet, ["start", "end"])
    tones = alt.Scale(domain=list(_LIGHT_TONES), range=list(_LIGHT_TONES.values()))
    strip = (
        alt.Chart(frame)
        .mark_bar(stroke=INK, strokeWidth=0.4)
        .encode(
            x=alt.X("start:T", title=None, axis=alt.Axis(format="%H:%M")),
            x2="end:T",
            y=alt.Y(
                "strip:N",
                sort=["flight", "light", "moon"],
                title=None,
                axis=alt.Axis(labelFontSize=13, labelOverlap=False),
            ),
            color=alt.Color("what:N", title=None, scale=tones, legend=alt.Legend(orient="bottom", columns=3)),
        )
    )
    zone = sheet.plan.time_zone or "UTC"
    light = [row for row in rows if row["strip"] == "light" and row["what"] == "day"]
    clock = [
        row["start"].astimezone(ZoneInfo(zone)).strftime("%H:%M")
        + " to "
        + row["end"].astimezone(ZoneInfo(zone)).strftime("%H:%M")
        for row in light
    ]
    heading = f"Sun up {clock[0]} {zone}" if clock else "The sun does not both rise and set on this day"
    _show(
        heading,
        strip.properties(height=130),
        "Night runs from the end of evening to the beginning of morning civil twilight.",
    )
