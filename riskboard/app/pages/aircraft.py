"""The aircraft: all of them at one glance, or one with its readings, work, burn and history; report, and sign work."""

from datetime import datetime
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.looking import look_again
from riskboard.app.widgets.aircraft_board import CAUTION, draw_rail
from riskboard.app.widgets.aircraft_facts import draw_burn, draw_drifts, draw_history, draw_must_know, draw_work
from riskboard.app.widgets.aircraft_report import draw_report
from riskboard.app.widgets.aircraft_sign import draw_sign
from riskboard.app.widgets.aircraft_style import apply_aircraft_style
from riskboard.app.widgets.board_style import widen
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.jobs.watching import log_head

_LOOK_S = 5


def main() -> None:
    """Draw the page."""
    apply_aircraft_style()
    aircraft_id = st.query_params.get("aircraft", "")
    if not aircraft_id:
        widen()
        st.title("Aircraft")
        draw_rail()
        return
    st.button("All aircraft", on_click=st.query_params.clear)
    _draw_one(session.office(), session.caller(), aircraft_id)


def _draw_one(office: jobs.Office, caller: jobs.Caller, aircraft_id: str) -> None:
    at, zone, head = clock.now(), ZoneInfo(jobs.school_zone(office)), log_head(office)
    try:
        status = jobs.one_aircraft(office, caller.person_id, aircraft_id, at=at)
        lines = jobs.aircraft_history(office, caller.person_id, aircraft_id, at=at)
    except jobs.NotShownError as error:
        draw_alert(str(error))
        return
    except KeyError as error:
        draw_alert(str(error.args[0]))
        return
    draw_must_know(status, zone)
    if status.may_sign.allowed:
        draw_sign(office, caller, status, at.astimezone(zone).date())
    draw_report(office, caller, status)
    draw_drifts(status)
    draw_work(status)
    draw_burn(status)
    draw_history(lines, zone)
    if not status.may_sign.allowed:
        draw_sign(office, caller, status, at.astimezone(zone).date())
    draw_html(f'<p class="rb-note">{CAUTION}</p>')
    _watch(office, head, at)


@st.fragment(run_every=_LOOK_S)
def _watch(office: jobs.Office, head: int, _drawn_at: datetime) -> None:
    """When anything goes on record the page is drawn again; what was typed stays."""
    if log_head(office) != head:
        look_again()


main()
