"""The desk: who waits for a signature; one request opened, with everything a signature rests on beside the answers."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.acting import event_of, said_no
from riskboard.app.looking import look_again
from riskboard.app.widgets.board_rows import row
from riskboard.app.widgets.board_style import widen
from riskboard.app.widgets.desk_answers import draw_answers
from riskboard.app.widgets.desk_queue import draw_queue
from riskboard.app.widgets.desk_review import draw_review
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.jobs.watching import flight_mark, would_not_hold
from riskboard.ledger import LedgerError

_LOOK_S = 3
_FRESH_FOR = timedelta(minutes=3)
"""A screen is drawn again before it is too old to be signed."""
_ANSWERS = ("signed", "sent_back", "refused")


def main() -> None:
    """Draw the page."""
    widen()
    flight_id = st.query_params.get("flight", "")
    if not flight_id:
        st.title("Desk")
        draw_queue()
        return
    st.button("Back to the queue", on_click=st.query_params.clear)
    caller = session.caller()
    _draw_request(session.office(), caller.person_id, flight_id)


def _draw_request(office: jobs.Office, person_id: str, flight_id: str) -> None:
    at, zone = clock.now(), ZoneInfo(jobs.school_zone(office))
    mark = flight_mark(office, flight_id)
    try:
        event_id = event_of(f"desk:{flight_id}:viewed:{person_id}:{mark}")  # asked anew, it is opened anew
        review = jobs.open_request(office, person_id, flight_id, event_id=event_id, at=at)
    except jobs.NotSignedError as error:
        _draw_answered(office, flight_id, str(error), zone)
        _watch(office, flight_id, mark, None)
        return
    except (jobs.NotShownError, LedgerError) as error:
        draw_alert(str(error))
        return
    facts, answers = st.columns([3, 2], gap="large")
    with facts:
        draw_review(office, review, zone, would_not_hold(office, flight_id, at=at))
    with answers:
        draw_answers(office, person_id, review, zone)
    _watch(office, flight_id, mark, at)


def _draw_answered(office: jobs.Office, flight_id: str, why: str, zone: ZoneInfo) -> None:
    """The request waits no longer: what became of it, and why this person's own answer came to nothing, if it did."""
    for kind in _ANSWERS:
        refused = said_no(f"desk:{flight_id}:{kind}")
        if refused:
            draw_alert(refused)
    try:
        card = jobs.flight_card(office, flight_id, at=clock.now())
    except KeyError:
        draw_alert(why)
        return
    draw_html(row(card, zone))
    st.text(why)


@st.fragment(run_every=_LOOK_S)
def _watch(office: jobs.Office, flight_id: str, mark: str, drawn_at: datetime | None) -> None:
    """When somebody else answers, or the screen grows old, draw the page again; what was typed stays."""
    old = drawn_at is not None and clock.now() - drawn_at > _FRESH_FOR
    if old or flight_mark(office, flight_id) != mark:
        look_again()


main()
