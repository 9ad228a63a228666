"""Every aircraft of the school on one rail, a tag each: how it stands, why, what is next, where it is."""

from html import escape
from urllib.parse import quote
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import session
from riskboard.app.looking import aircraft_now
from riskboard.app.widgets.aircraft_signs import stand_sign
from riskboard.app.widgets.aircraft_words import due_short, first_line, where_said
from riskboard.app.widgets.board_signs import sign_source
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.jobs import AircraftStatus
from riskboard.upkeep.state import DueState

__all__ = ["CAUTION", "draw_rail", "tag"]

_LOOK_S = 10
CAUTION = (
    "This board lists what is on record. That nothing stands open does not make an aircraft airworthy: maintenance and "
    "the pilot in command decide that."
)


@st.fragment(run_every=_LOOK_S)
def draw_rail() -> None:
    """Draw the tags of this moment; draws itself again every few seconds."""
    caller = session.caller()
    office = session.office()
    try:
        found = aircraft_now(office, caller.person_id)
    except jobs.NotShownError as error:
        draw_alert(str(error))
        return
    zone = ZoneInfo(jobs.school_zone(office))
    if not found:
        draw_html('<p class="rb-line">The school has no aircraft on file yet.</p>')
        return
    draw_html(f'<div class="rb-rail">{"".join(tag(each, zone) for each in found)}</div>')
    draw_html(f'<p class="rb-note">{escape(CAUTION)}</p>')


def tag(status: AircraftStatus, zone: ZoneInfo) -> str:
    """One aircraft as HTML, with the way to its page."""
    sign = stand_sign(status.stand)
    most = first_line(status)
    lines = [f'<span class="most">{escape(most)}</span>' if most else ""]
    lines.append(f'<span class="line">{escape(where_said(status, zone, short=True))}</span>')
    if status.work:
        work = status.work[0]
        near = "" if work.state is DueState.later else " near"
        said = f"Next: {work.item.label}, {due_short(work)}."
        lines.append(f'<span class="line next{near}">{escape(said)}</span>')
    return (
        f'<a class="rb-tag rb-tone-{sign.tone}" href="aircraft?aircraft={quote(status.aircraft_id)}" target="_self">'
        f'<span class="sign"><img src="{sign_source(sign)}" alt=""></span>'
        f'<span class="top"><span class="name">{escape(status.registration)}</span>'
        f'<span class="stand">{escape(sign.word)}</span></span>'
        f'<span class="body">{"".join(lines)}</span></a>'
    )
