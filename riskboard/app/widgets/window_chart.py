"""The departure window, drawn: the decision as a skyline over the day, points below, no-go as hatched walls.

Readable without colour: what is worse stands higher, a no-go is hatched, and each stretch bears its word. Draws what
``jobs.what_if`` found and works nothing out.
"""

from copy import deepcopy
from functools import lru_cache
from typing import Any

import altair as alt
import pandas as pd
import streamlit as st

from riskboard.app.widgets.charts import INK, PLUM, TEAL
from riskboard.jobs import WhatIf
from riskboard.words import Decision

__all__ = ["draw_window_chart"]

_TONES = {Decision.go.phrase: TEAL, Decision.go_with_sign_off.phrase: PLUM, Decision.no_go.phrase: INK}
_HIGHEST = 3
_LEFT = 52
"""Room for the words of an axis, so that both charts have one scale of time."""
_MOST_POINTS = 60
"""Points above this say nothing more; unknowns add the worst that could be."""


def draw_window_chart(found: WhatIf) -> None:
    """Draw the charts of a window that has steps, one over the other on one scale of time."""
    for name, spec in zip(("skyline", "points"), _specs(found), strict=True):
        st.vega_lite_chart(deepcopy(spec), width="stretch", key=f"window:{name}")


@lru_cache(maxsize=32)
def _specs(found: WhatIf) -> tuple[dict[str, Any], ...]:
    """The drawings as plain data: made once, since a page is drawn again at every tap."""
    words = f"{found.title}. " + " ".join(each.said for each in found.stretches)
    points = "Points of each take-off; dotted: the highest of each level."
    drawn = (_skyline(found).properties(description=words), _points(found).properties(description=points))
    return tuple(chart.configure_view(strokeWidth=0).configure_axis(labelFontSize=12).to_dict() for chart in drawn)


def _times(found: WhatIf) -> alt.Scale:
    first, last = found.steps[0].at, found.steps[-1].until
    return alt.Scale(domain=[_plain(first), _plain(last)], nice=False)


def _plain(moment: Any) -> alt.DateTime:
    return alt.DateTime(year=moment.year, month=moment.month, date=moment.day, hours=moment.hour, minutes=moment.minute)


def _skyline(found: WhatIf) -> Any:
    blocks = pd.DataFrame(
        [
            {
                "at": each.at,
                "until": each.until,
                "middle": each.middle,
                "foot": 0,
                "height": each.height,
                "said": each.decision,
            }
            for each in found.stretches
        ]
    )
    x = alt.X("at:T", title=None, scale=_times(found), axis=None)
    words = alt.Axis(
        values=[1, 2, _HIGHEST],
        labelExpr="['', 'go', 'sign-off', 'no-go'][datum.value]",
        grid=False,
        minExtent=_LEFT,
        maxExtent=_LEFT,
    )
    y = alt.Y("height:Q", title=None, scale=alt.Scale(domain=[0, _HIGHEST]), axis=words)
    tones = alt.Scale(domain=list(_TONES), range=list(_TONES.values()))
    body = (
        alt.Chart(blocks)
        .mark_rect(stroke=INK, strokeWidth=1.5, fillOpacity=0.28)
        .encode(x=x, x2="until:T", y=y, y2="foot:Q", color=alt.Color("said:N", scale=tones, legend=None))
    )
    walls = pd.DataFrame(
        [
            {"at": step.at, "until": step.until, "foot": 0, "height": _HIGHEST}
            for step in found.steps
            if step.height == _HIGHEST
        ],
        columns=["at", "until", "foot", "height"],
    )
    hatch = (
        alt.Chart(walls)
        .mark_rule(color=INK, strokeWidth=1, opacity=0.6)
        .encode(x=x, x2="until:T", y=alt.Y("foot:Q", scale=alt.Scale(domain=[0, _HIGHEST])), y2="height:Q")
    )
    names = (
        alt.Chart(blocks)
        .mark_text(baseline="bottom", dy=-5, fontWeight="bold", fontSize=13, color=INK)
        .encode(x=alt.X("middle:T", scale=_times(found)), y=y, text="said:N")
    )
    layers = [body, hatch, names, *_planned(found)]
    return alt.layer(*layers).properties(height=175, padding={"top": 22, "left": 2, "right": 8, "bottom": 20})


def _planned(found: WhatIf) -> list[alt.Chart]:
    if found.planned is None:
        return []
    mark = pd.DataFrame([{"at": found.planned, "height": 0, "said": f"planned {found.planned:%H:%M}"}])
    x = alt.X("at:T", scale=_times(found))
    return [
        alt.Chart(mark).mark_rule(color=INK, strokeWidth=3, strokeDash=[5, 3]).encode(x=x),
        alt.Chart(mark)
        .mark_text(align="center", baseline="top", dy=4, fontWeight="bold", fontSize=12, color=INK)
        .encode(x=x, y=alt.Y("height:Q", scale=alt.Scale(domain=[0, _HIGHEST])), text="said:N"),
    ]


def _points(found: WhatIf) -> Any:
    rows = pd.DataFrame([{"at": step.at, "points": step.points} for step in found.steps])
    top = max(*(up_to for _, up_to in found.bounds), 1) if found.bounds else _MOST_POINTS
    y = alt.Y(
        "points:Q",
        title=None,
        scale=alt.Scale(domain=[0, top + top // 4], clamp=True),
        axis=alt.Axis(tickCount=3, grid=False, minExtent=_LEFT, maxExtent=_LEFT),
    )
    x = alt.X(
        "at:T",
        title="points of each take-off, local time",
        scale=_times(found),
        axis=alt.Axis(format="%H:%M", tickCount=6),
    )
    line = alt.Chart(rows).mark_line(interpolate="step-after", strokeWidth=2, color=PLUM, clip=True).encode(x=x, y=y)
    bounds = pd.DataFrame([{"points": up_to, "said": name} for name, up_to in found.bounds], columns=["points", "said"])
    rules = alt.Chart(bounds).mark_rule(color=INK, strokeDash=[2, 3]).encode(y=y)
    return alt.layer(rules, line).properties(height=100, padding={"top": 2, "left": 2, "right": 8, "bottom": 2})
