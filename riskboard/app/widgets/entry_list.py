"""A repeating entry (landings, inspections, defects, forecast lines): its lines, one to add, and the answer "none"."""

from typing import Any

import streamlit as st
from pydantic import BaseModel

from riskboard.app.widgets.entry import Desk, _Look, draw_value
from riskboard.app.widgets.text import draw_html, info_of, label_of, words
from riskboard.words import NONE
from riskboard.worksheet.model import FIELD_PART, PARTS
from riskboard.worksheet.shape import shape_of

__all__ = ["draw_list"]


def draw_list(desk: Desk, field: str, where: str) -> None:
    """Draw every line of a list with its own widgets."""
    model = shape_of(PARTS[FIELD_PART[field]], field).entry
    if model is None:
        raise TypeError(f"{field} is no list")
    typed = desk.typed(field)
    lines = list(typed) if isinstance(typed, list) else []
    st.text(label_of(field))
    key = f"e:{where}:{field}"
    for position, line in enumerate(lines):
        _draw_line(desk, field, f"{key}:{position}", model, lines, position, line if isinstance(line, dict) else {})
    with st.container(horizontal=True):
        _button(desk, field, f"{key}:add", "Add one", [*lines, {}])
        if typed not in (NONE, []):
            _button(desk, field, f"{key}:none", "There is none", NONE)
        else:
            draw_html('<p class="rb-note">none</p>')


def _draw_line(
    desk: Desk, field: str, key: str, model: type[BaseModel], lines: list[Any], position: int, line: dict[str, Any]
) -> None:
    with st.container(border=True):
        for name in model.model_fields:

            def save(value: Any, name: str = name) -> None:
                changed = dict(line) | {name: value}
                if value is None:
                    del changed[name]
                _save(desk, field, [*lines[:position], changed, *lines[position + 1 :]])

            look = _Look(words(name), info_of(field).why)
            draw_value(desk, f"{key}:{name}", shape_of(model, name), look, line.get(name), save)
        _button(desk, field, f"{key}:remove", "Remove", [*lines[:position], *lines[position + 1 :]] or None)


def _button(desk: Desk, field: str, key: str, label: str, value: Any) -> None:
    st.button(label, key=key, on_click=lambda: _save(desk, field, value))


def _save(desk: Desk, field: str, value: Any) -> None:
    desk.save(FIELD_PART[field], {field: value})
