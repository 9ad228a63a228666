"""Loads by seat and baggage place, and what is fitted, by the names that the aircraft's type gives them."""

from typing import Any

import streamlit as st

from riskboard.aircraft_types import AircraftType
from riskboard.aircraft_types.model import Station
from riskboard.app import session
from riskboard.app.widgets.entry import Sheet
from riskboard.app.widgets.text import draw_html, info_of, label_of, plain_label
from riskboard.worksheet.model import FIELD_PART

__all__ = ["draw_fitted", "draw_loads"]

_LOADS, _FITTED = "station_loads", "equipment_fitted"
_STEP_LB = 1.0


def draw_loads(desk: Sheet, where: str) -> bool:
    """Draw a number for each place of the type; False where no type is known and the places have no names.

    A usual flight is of no type: it has the places of every type in force.
    """
    found = _types_of(desk)
    places = {(station.name, station.label): (kind, station) for kind in found for station in kind.stations}
    if not places:
        return False
    lines = _lines(desk, _LOADS)
    loads = {str(line.get("station", "")): line.get("load_lb") for line in lines}
    st.text(label_of(_LOADS))
    draw_html(f'<p class="rb-note">{info_of(_LOADS).why} Filled in from weights on file and the usual flight.</p>')
    several = len(found) > 1
    for kind, station in places.values():
        called = f"{station.label}, {kind.title}" if several else station.label
        _draw_load(desk, where, station, _said(kind, station, called), loads.get(station.name), lines)
    _draw_strangers(desk, where, _LOADS, "station", {name for name, _ in places}, lines)
    return True


def _said(kind: AircraftType, station: Station, called: str) -> tuple[str, str]:
    """Label and help of a place."""
    pilot = ", pilot" if station.name == kind.pilot_station else ""
    least = f", at least {station.min_lb:g} lb" if station.min_lb else ""
    return f"{plain_label(called)}{pilot} (lb)", f"At most {station.max_lb:g} lb{least}. 0 is empty, blank is unknown."


def _draw_load(
    desk: Sheet, where: str, station: Station, said: tuple[str, str], value: Any, lines: list[dict[str, Any]]
) -> None:
    key = f"e:{where}:{_LOADS}:{station.name}"
    sound = isinstance(value, int | float) and not isinstance(value, bool)
    session.hold(key, float(value) if sound else None)

    def keep() -> None:
        typed = st.session_state[key]
        new = None if typed is None else {"station": station.name, "load_lb": typed}
        _save(desk, _LOADS, _with(lines, "station", station.name, new))

    st.number_input(said[0], value=None, step=_STEP_LB, format="%g", key=key, help=said[1], on_change=keep)


def draw_fitted(desk: Sheet, where: str) -> bool:
    """Draw yes or no for each piece of the type's optional equipment; False where no type is known."""
    found = [kind for kind in _types_of(desk) if kind.title == desk.typed("type_name")]
    if not found or not found[0].equipment:
        return False
    lines = _lines(desk, _FITTED)
    fitted = {str(line.get("name", "")): line.get("fitted") for line in lines}
    st.text(label_of(_FITTED))
    for piece in found[0].equipment:
        key = f"e:{where}:{_FITTED}:{piece.name}"
        value = fitted.get(piece.name)
        session.hold(key, value if isinstance(value, bool) else None)

        def keep(name: str = piece.name, key: str = key) -> None:
            chosen = st.session_state[key]
            new = None if chosen is None else {"name": name, "fitted": chosen}
            _save(desk, _FITTED, _with(lines, "name", name, new))

        st.pills(
            f"{plain_label(piece.label)} fitted",
            [True, False],
            format_func=lambda yes: "yes" if yes else "no",
            key=key,
            help=f"{piece.weight_lb:g} lb. {'Part' if piece.in_empty_weight else 'No part'} of the weighing.",
            on_change=keep,
        )
    _draw_strangers(desk, where, _FITTED, "name", {piece.name for piece in found[0].equipment}, lines)
    return True


def _types_of(desk: Sheet) -> list[AircraftType]:
    types, title = desk.types, desk.typed("type_name")
    if title is None:
        return list(types.values())
    return [types[title]] if title in types else []


def _lines(desk: Sheet, field: str) -> list[dict[str, Any]]:
    typed = desk.typed(field)
    return [dict(line) for line in typed if isinstance(line, dict)] if isinstance(typed, list) else []


def _with(lines: list[dict[str, Any]], by: str, name: str, new: dict[str, Any] | None) -> list[dict[str, Any]]:
    """The lines with one place changed, taken out, or put at the end."""
    changed = [new if line.get(by) == name else line for line in lines]
    there = any(line.get(by) == name for line in lines)
    return [line for line in (changed if there else [*lines, new]) if line is not None]


def _draw_strangers(desk: Sheet, where: str, field: str, by: str, known: set[str], lines: list[dict[str, Any]]) -> None:
    """What was typed for a place that the type has not: said, and taken out on a press."""
    strangers = [line for line in lines if str(line.get(by, "")) not in known]
    if not strangers:
        return
    names = ", ".join(str(line.get(by, "?")) for line in strangers)
    rest = [line for line in lines if line not in strangers]
    st.button(
        plain_label(f"Take out what no such aircraft has: {names}"),
        key=f"e:{where}:{field}:strangers",
        on_click=lambda: _save(desk, field, rest),
    )


def _save(desk: Sheet, field: str, lines: list[dict[str, Any]]) -> None:
    desk.save(FIELD_PART[field], {field: lines or None})
