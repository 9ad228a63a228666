"""Who waits for a signature, by departure: enough to know which one to open first."""

from html import escape
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import session
from riskboard.app.looking import queue_now
from riskboard.app.widgets.board_rows import times_said
from riskboard.app.widgets.gates import gate_source
from riskboard.app.widgets.text import draw_alert, draw_html, plain_label
from riskboard.jobs import QueueItem
from riskboard.words import Decision

__all__ = ["draw_queue", "span_said"]

_LOOK_S = 4
_HOUR_MIN = 60
_TONE = {Decision.go: "go", Decision.go_with_sign_off: "sign", Decision.no_go: "no"}


@st.fragment(run_every=_LOOK_S)
def draw_queue() -> None:
    """Draw the queue of this moment; draws itself again every few seconds."""
    caller = session.caller()
    office = session.office()
    try:
        items = queue_now(office, caller.person_id)
    except jobs.NotShownError as error:
        draw_alert(str(error))
        return
    zone = ZoneInfo(jobs.school_zone(office))
    waiting = "Nobody waits." if not items else "1 waits" if len(items) == 1 else f"{len(items)} wait"
    draw_html(f'<div class="rb-group"><h2>Waiting for a signature</h2><span>{waiting}</span></div>')
    if not items:
        draw_html(
            '<p class="rb-line">No request waits for a signature. A new one shows here by itself within seconds.</p>'
        )
    for item in items:
        with st.container(horizontal=True, vertical_alignment="center"):
            draw_html(_row(item, zone))
            label = f"Open {plain_label(item.card.registration or item.card.pilot_name)}"
            # A link from a page to itself would not change its address, and the next press would lose the flight.
            if st.button(label, key=f"desk:open:{item.card.flight_id}"):
                st.query_params["flight"] = item.card.flight_id
                st.rerun()


def span_said(minutes: int) -> str:
    """A number of minutes as people say it."""
    if minutes < _HOUR_MIN:
        return f"{minutes} min"
    return f"{minutes // _HOUR_MIN} h {minutes % _HOUR_MIN:02d} min"


def _left(item: QueueItem) -> str:
    if item.minutes_left is None:
        return "no departure planned"
    if item.minutes_left < 0:
        return f"departure passed {span_said(-item.minutes_left)} ago"
    return f"leaves in {span_said(item.minutes_left)}"


def _row(item: QueueItem, zone: ZoneInfo) -> str:
    card = item.card
    decision = Decision.no_go if card.decision is None else card.decision
    reasons = "".join(f"<li>{escape(sentence)}</li>" for sentence in item.reasons)
    note = f'<div class="wide small">Pilot says: {escape(item.note)}</div>' if item.note else ""
    sign = "You may sign it." if item.may_sign.allowed else f"Not yours to sign: {' '.join(item.may_sign.clauses)}"
    if decision is Decision.no_go:
        sign = "Stopped by a limit that somebody may waive; open it to see which, and who."
    seen = " You have opened it." if item.viewed else ""
    return (
        f'<div class="rb-flight rb-tone-{_TONE[decision]}">'
        f'<span class="sign"><img src="{gate_source(decision)}" alt=""></span>'
        f'<div><div class="name">{escape(card.registration or "no aircraft")}</div>'
        f"<div>{escape(card.pilot_name)}</div></div>"
        f'<div><div class="state">{escape(decision.phrase)}, level {escape(card.level)}</div>'
        f'<div class="small">waits {escape(span_said(item.waiting_min))}</div></div>'
        f"<div><div><strong>{escape(_left(item))}</strong></div>"
        f'<div class="small">{escape(times_said(card.take_off_at, card.landing_at, zone))}, {escape(card.route)}</div>'
        f'</div><ol class="wide">{reasons}</ol>{note}<div class="wide small">{escape(sign + seen)}</div></div>'
    )
