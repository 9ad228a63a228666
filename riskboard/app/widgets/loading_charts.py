"""Both loading envelopes, drawn: outline, the flight's line, three shapes and the way to the nearest edge.

Readable without colour: conditions differ by shape and word, lines by thickness and dashes. Draws what
``assessment.envelope_pictures`` says and works nothing out.
"""

from collections.abc import Sequence
from copy import deepcopy
from functools import lru_cache
from html import escape
from typing import Any

import altair as alt
import pandas as pd
import streamlit as st

from riskboard.app.widgets.charts import INK, PLUM, TEAL
from riskboard.app.widgets.text import draw_html
from riskboard.assessment.envelope_pictures import EnvelopePicture
from riskboard.assessment.phrases import upper_first

__all__ = ["draw_envelopes"]

_SHAPES: dict[str, dict[str, Any]] = {
    "take-off": {"shape": "triangle-up", "size": 150, "filled": True, "stroke": "white"},
    "landing": {"shape": "triangle-down", "size": 150, "filled": True, "stroke": "white"},
    "zero fuel": {"shape": "square", "size": 260, "filled": False, "strokeWidth": 2},
}
"""The square is hollow: what lies within it stays in view."""
_LABEL_DY = {"take-off": -9, "landing": 0, "zero fuel": 13}
"""Apart from one another even where little fuel lies between."""
_DASHES = ([1, 0], [7, 4])
_KEY = (
    "Outline: the envelope. Thick line: take-off to landing; dotted: on to empty tanks. Thin dashes: way to the "
    "nearest edge. Triangle up: take-off; triangle down: landing; open square: no usable fuel."
)


def draw_envelopes(pictures: Sequence[EnvelopePicture], where: str) -> None:
    """Draw the two envelopes beside each other, on a phone below each other; each under its finding.

    Args:
        pictures: From ``envelope_pictures``.
        where: Place on the page, for the keys of the charts.
    """
    for column, picture in zip(st.columns(len(pictures)), pictures, strict=True):
        with column:
            side, finding = escape(upper_first(picture.side)), escape(picture.title)
            draw_html(f'<p class="rb-note"><strong>{side}:</strong> {finding}</p>')
            st.vega_lite_chart(deepcopy(_spec(picture)), width="stretch", key=f"{where}:{picture.side}")
    draw_html(f'<p class="rb-note">{_KEY}</p>')


@lru_cache(maxsize=64)
def _spec(picture: EnvelopePicture) -> dict[str, Any]:
    """The drawing as plain data: made once, since a page is drawn again at every tap."""
    found: dict[str, Any] = _chart(picture).to_dict()
    return found


def _chart(picture: EnvelopePicture) -> Any:
    x = alt.X("x:Q", title=picture.across, scale=alt.Scale(domain=list(picture.across_range), nice=False))
    y = alt.Y("y:Q", title=picture.up, scale=alt.Scale(domain=list(picture.up_range), nice=False))
    layers = [
        *_outlines(picture, x, y),
        _line(picture.rest, x, y, strokeWidth=2, strokeDash=[2, 3], color=PLUM),
        _line(picture.way, x, y, strokeWidth=5, color=PLUM),
        _line(picture.gap or (), x, y, strokeWidth=1.5, strokeDash=[5, 3], color=INK),
        *_spots(picture, x, y),
    ]
    words = f"{upper_first(picture.side)} envelope. {picture.title}."
    return alt.layer(*layers).properties(height=270, description=words)


def _line(points: Sequence[tuple[float, float]], x: alt.X, y: alt.Y, **look: Any) -> alt.Chart:
    rows = pd.DataFrame({"x": [p[0] for p in points], "y": [p[1] for p in points], "n": range(len(points))})
    chart: alt.Chart = alt.Chart(rows).mark_line(**look).encode(x=x, y=y, order="n:Q")
    return chart


def _outlines(picture: EnvelopePicture, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    found = []
    for outline, dashes in zip(picture.outlines, _DASHES, strict=False):
        look: dict[str, Any] = {"fill": TEAL, "fillOpacity": 0.1, "strokeWidth": 2, "strokeDash": dashes}
        found.append(_line(outline.corners, x, y, color=TEAL, **look))
        if outline.name:
            at = pd.DataFrame([{"x": outline.corners[0][0], "y": outline.corners[0][1], "said": outline.name}])
            dy = 12 if dashes is _DASHES[0] else -8
            text = alt.Chart(at).mark_text(align="left", dx=6, dy=dy, color=INK).encode(x=x, y=y, text="said:N")
            found.append(text)
    return found


def _spots(picture: EnvelopePicture, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    found = []
    for spot in picture.spots:
        said = spot.what if spot.inside else f"{spot.what} OUTSIDE"
        row = pd.DataFrame([{"x": spot.across, "y": spot.up, "said": said}])
        found.append(alt.Chart(row).mark_point(color=PLUM, opacity=1, **_SHAPES[spot.what]).encode(x=x, y=y))
        side: dict[str, Any] = {"align": "right", "dx": -12} if spot.right else {"align": "left", "dx": 12}
        word = alt.Chart(row).mark_text(dy=_LABEL_DY[spot.what], fontSize=12, fontWeight="bold", color=INK, **side)
        found.append(word.encode(x=x, y=y, text="said:N"))
    return found
