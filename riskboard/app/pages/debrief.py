"""Debrief: close a flight. What happened, how the aircraft was left, and what the next pilot has to know of it."""

from html import escape
from urllib.parse import quote
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.acting import attempt, event_of, said_no
from riskboard.app.told import closed_words, left_untold
from riskboard.app.widgets.debrief_sheet import DebriefSheet, draw_debrief, is_metric
from riskboard.app.widgets.entry import zone_of
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.assessment.phrases import clock_time
from riskboard.jobs.debriefing import Debriefing, debrief, open_debrief, to_debrief
from riskboard.jobs.flight_log import Flight

_ASKED, _CHOSEN, _CLOSED = "d:asked", "d:flight", "d:closed"
_UNTOLD = "d:untold"
"""Flight and what was blank when it was tried to close it. A tap that was lost while the page was drawn, or a number
that never got here, would close the flight with less than the pilot told: so what is blank is said first, and closes on
the next press only."""


def main() -> None:
    """Draw the page."""
    office, at = session.office(), clock.now()
    caller = session.caller()
    school = jobs.school(office) or {}
    zone = zone_of(None, school)
    st.title("Debrief")
    closed = st.session_state.get(_CLOSED)
    if closed is not None:
        _draw_closed(closed)
    flights = to_debrief(office, caller.person_id, at=at)
    flight = _chosen(office, flights, caller.person_id, zone)
    if flight is None:
        if closed is None and not flights:
            st.text("No flight of yours is out. A flight can be closed once its aircraft was released.")
        return
    seen = open_debrief(office, caller.person_id, flight.state.subject, at=at)
    asked = st.session_state.get(_ASKED) == flight.state.subject
    sheet = DebriefSheet(office, caller, seen, zone, is_metric(school), asked)
    draw_html(f'<p class="rb-note"><strong>{escape(_title(office, flight, zone))}</strong></p>')
    if caller.person_id not in flight.crew:
        draw_html(f'<p class="rb-note">For its crew: {escape(_name(office, flight.pilot_id))}.</p>')
    else:
        way = f"/shut-down/{quote(flight.state.subject)}"
        draw_html(
            f'<p class="rb-note"><a href="{way}" target="_self">At the aircraft: waits, and one hand is enough</a></p>'
        )
    draw_debrief(sheet)
    _draw_close(sheet)


def _name(office: jobs.Office, person_id: str) -> str:
    try:
        return jobs.person(office, person_id).name
    except KeyError:
        return person_id


def _title(office: jobs.Office, flight: Flight, zone: ZoneInfo) -> str:
    card = jobs.flight_card(office, flight.state.subject, at=clock.now())
    left = "released" if flight.took_off_at is None else "left"
    since = clock_time(flight.took_off_at or flight.state.since, zone.key)
    due = "" if flight.landing_at is None else f", planned back {clock_time(flight.landing_at, zone.key)}"
    return f"{flight.registration or flight.aircraft_id} · {card.route} · {left} {since}{due}"


def _chosen(office: jobs.Office, flights: tuple[Flight, ...], person_id: str, zone: ZoneInfo) -> Flight | None:
    """The flight named in the address, else the one chosen, else the person's own that is due first."""
    by_id = {flight.state.subject: flight for flight in flights}
    if not by_id:
        return None
    own = [name for name, flight in by_id.items() if person_id in flight.crew]
    named = [st.query_params.get("flight", ""), st.session_state.get(_CHOSEN), *own[:1]]
    found = next((name for name in named if name in by_id), None)
    if len(by_id) > 1 or found is None:
        titles = {name: _title(office, flight, zone) for name, flight in by_id.items()}
        session.hold(_CHOSEN, found)
        st.selectbox(
            "Flight",
            list(titles),
            index=None,
            format_func=titles.__getitem__,
            key=_CHOSEN,
            placeholder="Choose",
            on_change=lambda: _name_in_address(st.session_state[_CHOSEN]),
        )
        found = st.session_state.get(_CHOSEN)
    if found is None:
        return None
    _name_in_address(found)
    return by_id.get(found)


def _name_in_address(flight_id: str | None) -> None:
    if flight_id is not None and st.query_params.get("flight") != flight_id:
        st.query_params["flight"] = flight_id


def _draw_close(sheet: DebriefSheet) -> None:
    no = said_no(f"debrief:{sheet.flight_id}")
    if no:
        draw_alert(no)
    event_id = event_of(f"debrief:{sheet.flight_id}")
    if sheet.asked and sheet.seen.problems:
        draw_alert("Not closed yet: mend what is named above.")
    untold = _untold(sheet)
    if untold:
        draw_alert(
            f"Not closed yet. Still blank: {untold}. The next pilot would find it unknown and may be stopped by it. "
            "Fill it in, or press again to close without it."
        )
    st.button(
        "Close without it" if untold else "Close the flight",
        key="d:close",
        type="primary",
        width="stretch",
        on_click=lambda: _close(sheet, event_id),
    )


def _untold(sheet: DebriefSheet) -> str:
    """What was blank at the last press and is blank still."""
    now = left_untold(sheet.seen.told)
    return now if now and st.session_state.get(_UNTOLD) == (sheet.flight_id, now) else ""


def _close(sheet: DebriefSheet, event_id: str) -> None:
    at = clock.now()
    st.session_state[_ASKED] = sheet.flight_id
    person_id = sheet.caller.person_id

    def act() -> None:
        # What stands in the store now, not what stood there when the page was drawn: the last tap may have come since.
        seen = open_debrief(sheet.office, person_id, sheet.flight_id, at=at)
        if seen.problems:
            return
        untold = (sheet.flight_id, left_untold(seen.told))
        if untold[1] and st.session_state.get(_UNTOLD) != untold:
            st.session_state[_UNTOLD] = untold
            return
        signed = debrief(sheet.office, sheet.caller, sheet.flight_id, seen.told, event_id=event_id, at=at)
        st.session_state[_CLOSED] = _said(seen, signed)

    if attempt(f"debrief:{sheet.flight_id}", person_id, act) and st.session_state.get(_CLOSED):
        st.session_state.pop(_CHOSEN, None)
        st.query_params.pop("flight", None)


def _said(seen: Debriefing, signed: jobs.Signed) -> tuple[str, str, str]:
    """What is told after the flight was closed."""
    return closed_words(seen.flight.registration or seen.flight.aircraft_id, seen.told, signed)


def _draw_closed(closed: tuple[str, str, str]) -> None:
    what, unknown, receipt = closed
    draw_html(
        f'<p class="rb-note" role="status"><strong>{escape(what)}</strong> {escape(unknown)}</p>'
        f'<p class="rb-note">Receipt, to copy to paper:</p><p class="rb-receipt">{escape(receipt)}</p>'
    )


main()
