"""What comes next for a flight on record: take a signature, ask again, release, leave, call off, close."""

from collections.abc import Callable
from datetime import datetime
from html import escape
from typing import Literal
from urllib.parse import quote
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import clock
from riskboard.app.acting import attempt, event_of, said_no
from riskboard.app.navigation import file_of, has_page
from riskboard.app.widgets.section import draw_title
from riskboard.app.widgets.setup import draw_demo_pin
from riskboard.app.widgets.signing import CHANGING
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.assessment.phrases import clock_time
from riskboard.jobs import FlightCard
from riskboard.jobs.releasing import TAKEN
from riskboard.ledger import Status
from riskboard.words import Role

__all__ = ["draw_steps"]

_DESK = frozenset({Role.dispatcher, Role.instructor, Role.chief_instructor})
_CALLS_OFF = _DESK | {Role.safety_officer, Role.maintenance}
_NOT_LEFT = frozenset(
    {
        Status.SIGN_OFF_REQUESTED,
        Status.SENT_BACK,
        Status.SIGNED,
        Status.ACCEPTED,
        Status.LAPSED,
        Status.RELEASED,
    }
)
_AGAIN = {
    Status.SENT_BACK: "Change the worksheet and ask again",
    Status.LAPSED: "Brief it again from this sheet",
    Status.REFUSED: "Change this flight and brief it again",
    Status.DECLINED: "Change this flight and brief it again",
    Status.CANCELLED: "Change this flight and brief it again",
    Status.ACCEPTED: "Change this flight and brief it again",
    Status.SIGNED: "Change this flight and brief it again",
    Status.SIGN_OFF_REQUESTED: "Change this flight and brief it again",
}


def draw_steps(office: jobs.Office, card: FlightCard, person_id: str, at: datetime, zone: ZoneInfo) -> None:
    """Draw the ways on that this person may go; the jobs decide again."""
    pilot = person_id == card.pilot_id
    crew = pilot or person_id == card.instructor_id
    roles = jobs.roles_of(office, person_id, at)
    hands_over = pilot or bool(roles & _DESK)
    step = _Step(office, person_id, card.flight_id)
    if card.status is Status.SIGNED and pilot:
        _draw_take(step, card, at, zone)
    if card.status is Status.ACCEPTED and hands_over:
        step.draw("release", "Release: take the aircraft" if pilot else "Release: hand the aircraft over", jobs.release)
    if card.status is Status.RELEASED:
        _draw_departure(step, card, crew=crew, hands_over=hands_over)
    if pilot and card.status in _AGAIN:
        st.button(_AGAIN[card.status], type=_weight(card.status), on_click=_change)
    if card.status in _NOT_LEFT and (crew or roles & _CALLS_OFF):
        _draw_call_off(step)
    if card.status is Status.AIRBORNE and crew:
        _draw_way("shut-down", card.flight_id, "Shut down and hand back, at the aircraft")
    if card.status in {Status.AIRBORNE, Status.RELEASED} and has_page("debrief") and (crew or roles & _DESK):
        st.page_link(file_of("debrief"), label="Back? Close the flight", query_params={"flight": card.flight_id})


def _weight(status: Status) -> Literal["primary", "secondary"]:
    return "primary" if status in {Status.SENT_BACK, Status.LAPSED} else "secondary"


def _change() -> None:
    st.session_state[CHANGING] = True


class _Step:
    """One press that goes on record without a PIN; why it came to nothing stands under it."""

    def __init__(self, office: jobs.Office, person_id: str, flight_id: str) -> None:
        self.office, self.person_id, self.flight_id = office, person_id, flight_id

    def name(self, kind: str) -> str:
        return f"flight:step:{kind}:{self.flight_id}"

    def draw(
        self,
        kind: str,
        label: str,
        act: Callable[..., jobs.Signed],
        *,
        weight: Literal["primary", "secondary"] = "primary",
    ) -> None:
        """One button."""
        name = self.name(kind)
        refused = said_no(name)
        if refused:
            draw_alert(refused)
        event_id = event_of(name)

        def press() -> None:
            attempt(
                name,
                self.person_id,
                lambda: act(self.office, self.person_id, self.flight_id, event_id=event_id, at=clock.now()),
            )

        st.button(label, type=weight, width="stretch", key=f"{name}:do", on_click=press)


def _draw_departure(step: _Step, card: FlightCard, *, crew: bool, hands_over: bool) -> None:
    """Crew leave after a good run-up; the desk may note what it saw, with what was missing."""
    good = card.run_up == "good"
    if crew:
        draw_html(f'<p class="rb-note"><strong>Run-up for this release: {escape(card.run_up)}.</strong></p>')
        _draw_way("run-up", card.flight_id, "Run-up at the aircraft")
    if not hands_over:
        return
    if good and not card.void:
        step.draw("took_off", "It leaves now", jobs.took_off)
    elif not crew:
        lacks = "The release holds no longer" if card.void else f"The run-up for this release is: {card.run_up}"
        draw_html(f'<p class="rb-note">{escape(lacks)}. If it has left all the same, put that on record.</p>')
        step.draw("took_off", "It has left all the same", jobs.took_off, weight="secondary")


def _draw_way(page: str, flight_id: str, label: str) -> None:
    """The way to a plain page at the aircraft, as wide as a thumb."""
    draw_html(f'<a class="rb-way" href="/{page}/{quote(flight_id)}" target="_self">{escape(label)}</a>')


def _draw_call_off(step: _Step) -> None:
    name = step.name("cancelled")
    event_id = event_of(name)

    def press() -> None:
        reason = str(st.session_state.get(f"{name}:text") or "")
        attempt(
            name,
            step.person_id,
            lambda: jobs.cancel(
                step.office, step.person_id, step.flight_id, event_id=event_id, reason=reason, at=clock.now()
            ),
        )

    refused = said_no(name)
    with st.form(f"{name}:form"):
        if refused:
            draw_alert(refused)
        st.text_input("Call it off: why, in a few words", key=f"{name}:text")
        st.form_submit_button("Call off", key=f"{name}:do", on_click=press)


def _draw_take(step: _Step, card: FlightCard, at: datetime, zone: ZoneInfo) -> None:
    """The pilot takes what a second person signed, on its conditions."""
    name = step.name("taken")
    event_id = event_of(name)
    shown = jobs.signed_digest(step.office, card.flight_id)
    until = "" if card.valid_until is None else f" until {clock_time(card.valid_until, zone.key)}"
    conditions = "No conditions were written." if not card.conditions else "The conditions above are part of it."
    draw_title("Take it, or call it off", "sign")
    draw_demo_pin(jobs.school(step.office) or {})

    def press() -> None:
        pin = str(st.session_state[f"{name}:pin"] or "")
        st.session_state[f"{name}:pin"] = ""
        signature = jobs.Signature(step.person_id, pin, event_id, at, shown)
        attempt(
            name, step.person_id, lambda: jobs.accept_signed(step.office, card.flight_id, signature, at=clock.now())
        )

    refused = said_no(name)
    with st.form(f"{name}:form"):
        if refused:
            draw_alert(refused)
        draw_html(f'<p class="rb-note">{escape(conditions)}</p>')
        st.text(TAKEN)
        st.text_input("PIN", key=f"{name}:pin", type="password", autocomplete="off")
        st.form_submit_button(f"Take it{until}", type="primary", width="stretch", key=f"{name}:do", on_click=press)
