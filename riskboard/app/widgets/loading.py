"""The section for loading and hover: loads by place, what is fitted, both envelopes, margins, what would help."""

from datetime import datetime
from html import escape

import streamlit as st

from riskboard import jobs
from riskboard.app.widgets.entry import Desk, draw_anchor, draw_entry
from riskboard.app.widgets.loading_said import apply_loading_style, fixes_of, lines_of
from riskboard.app.widgets.section import LOADING
from riskboard.app.widgets.text import draw_html
from riskboard.assessment.airframe_pictures import AirframePicture
from riskboard.jobs import Briefing

__all__ = ["draw_loading", "draw_picture", "loading_of"]


def loading_of(office: jobs.Office, briefing: Briefing, at: datetime) -> AirframePicture | None:
    """Loading and performance of a draft; None without a type on file, or where the entries cannot be of one."""
    guards = {} if briefing.assessment is None else briefing.assessment.guards
    return jobs.loading_shown(office, briefing.sheet, guards, at=at)


def draw_loading(desk: Desk) -> None:
    """Draw what is entered, and what comes of it."""
    apply_loading_style()
    draw_anchor(*LOADING)
    kind = desk.types.get(desk.typed("type_name") or "")
    if kind is None:
        named = desk.typed("type_name")
        if named is None:
            draw_html('<p class="rb-note">Weight, balance and hover wait for an aircraft with a type.</p>')
            return
        draw_html(
            f'<p class="rb-note">{escape(str(named))}: no aircraft type of this name is on file, so weight, balance '
            "and hover are unknown. The chief instructor or maintenance publishes types on the school page.</p>"
        )
        return
    with st.container(key="loads"):
        draw_entry(desk, "station_loads", "main")
    _draw_fitted(desk)
    picture = loading_of(desk.office, desk.briefing, desk.at)
    if picture is not None:
        draw_picture(picture, "brief")


def _draw_fitted(desk: Desk) -> None:
    """What is fitted, in one line; every piece to change where one is unknown, or on a tap."""
    kind = desk.types[desk.typed("type_name")]
    if not kind.equipment:
        return
    known = {each.name: each.fitted for each in desk.briefing.sheet.aircraft.equipment_fitted or ()}
    said = {word: [piece.label for piece in kind.equipment if known.get(piece.name) is word] for word in (True, False)}
    parts = [("Fitted", said[True]), ("Not fitted", said[False])]
    line = " ".join(f"{name}: {', '.join(labels)}." for name, labels in parts if labels)
    draw_html(f'<p class="rb-note">{escape(line)}</p>')
    if sum(len(labels) for labels in said.values()) < len(kind.equipment):
        draw_entry(desk, "equipment_fitted", "main")
        return
    change = st.expander("Change what is fitted", key="s:fitted", on_change="rerun")
    if change.open:
        with change:
            draw_entry(desk, "equipment_fitted", "main")


def draw_picture(picture: AirframePicture, where: str) -> None:
    """Lines, what would help, and charts; while weight and balance are unknown, only what they wait for."""
    if not picture.envelopes:
        waits = ", ".join(picture.needs)
        note = f'<p class="rb-invented">{escape(picture.note)}</p>' if picture.note else ""
        draw_html(f'{note}<p class="rb-note">Weight, balance and hover are unknown without: {escape(waits)}.</p>')
        return
    draw_html(lines_of(picture), fixes_of(picture))
    from riskboard.app.widgets.loading_charts import draw_envelopes  # noqa: PLC0415  - charts load when there is one

    draw_envelopes(picture.envelopes, where)
