"""A repeating entry (landings, inspections, defects, forecast lines): its lines, one to add, and the answer "none"."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import streamlit as st
from pydantic import BaseModel

from riskboard.app.widgets.entry import Look, Sheet, draw_value
from riskboard.app.widgets.text import draw_html, info_of, label_of, words
from riskboard.words import NONE
from riskboard.worksheet.model import FIELD_PART, PARTS
from riskboard.worksheet.shape import shape_of

__all__ = ["Lines", "draw_lines", "draw_list"]


_FORECAST = {
    "start_at": "From",
    "end_at": "To",
    "kind": "From then on, or for a while",
    "wind_kt": "Wind (kt)",
    "gust_kt": "Gusts to (kt)",
    "visibility_sm": "Visibility (SM)",
    "ceiling_ft_agl": "Ceiling (ft above ground)",
    "thunderstorm": "Thunderstorm",
    "wind_from_deg": "Wind from (°)",
    "lowest_cloud_ft_agl": "Lowest cloud (ft above ground)",
    "temperature_c": "Temperature (°C)",
    "dew_point_c": "Dew point (°C)",
    "precipitation": "Precipitation",
}
"""What a line of a forecast says; a bare time of one lies ahead."""


@dataclass(frozen=True)
class Lines:
    """Which list is drawn, and where.

    Attributes:
        field: Name of the entry.
        part: Part of the sheet that holds it.
        key: Begins the keys of its widgets.
        model: Model of one line.
        label: What the person reads above it.
        why: Why it is asked.
        names: What is asked of each line.
    """

    field: str
    part: str
    key: str
    model: type[BaseModel]
    label: str
    why: str
    names: tuple[str, ...]


def draw_list(desk: Sheet, field: str, where: str) -> None:
    """Draw every line of one of the worksheet's lists with its own widgets."""
    part = FIELD_PART[field]
    model = shape_of(PARTS[part], field).entry
    if model is None:
        raise TypeError(f"{field} is no list")
    label, why = label_of(field), info_of(field).why
    draw_lines(desk, Lines(field, part, f"e:{where}:{field}", model, label, why, tuple(model.model_fields)))


def draw_lines(desk: Sheet, shown: Lines) -> None:
    """Draw every line of a list, and how to add one or to say that there is none."""
    typed = desk.typed(shown.field)
    lines = list(typed) if isinstance(typed, list) else []
    st.text(shown.label)
    for position, line in enumerate(lines):
        _draw_line(desk, shown, lines, position, line if isinstance(line, dict) else {})
    with st.container(horizontal=True):
        _button(desk, shown, "add", "Add one", lambda: [*lines, {}])
        if typed not in (NONE, []):
            _button(desk, shown, "none", "There is none", lambda: NONE)
        else:
            draw_html('<p class="rb-note">none</p>')


def _draw_line(desk: Sheet, shown: Lines, lines: list[Any], position: int, line: dict[str, Any]) -> None:
    with st.container(border=True):
        for name in shown.names:

            def save(value: Any, name: str = name) -> None:
                # Two answers may arrive together: the second builds on the first, not on what was drawn.
                before = lines[position]
                changed = dict(before if isinstance(before, dict) else {}) | {name: value}
                if value is None:
                    del changed[name]
                lines[position] = changed
                _save(desk, shown, list(lines))

            key = f"{shown.key}:{position}:{name}"
            said, ahead = (_FORECAST[name], True) if shown.field == "forecast_lines" else (words(name), False)
            look = Look(said, shown.why, ahead=ahead)
            draw_value(desk, key, shape_of(shown.model, name), look, line.get(name), save)

        def rest() -> list[Any] | None:
            return [*lines[:position], *lines[position + 1 :]] or None

        _button(desk, shown, f"{position}:remove", "Remove", rest)


def _button(desk: Sheet, shown: Lines, name: str, label: str, value: Callable[[], Any]) -> None:
    st.button(label, key=f"{shown.key}:{name}", on_click=lambda: _save(desk, shown, value()))


def _save(desk: Sheet, shown: Lines, value: Any) -> None:
    desk.save(shown.part, {shown.field: value})
