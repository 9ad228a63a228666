"""Opening a defect: what is wrong, in a few words, and what it forbids as far as one can say."""

import streamlit as st

from riskboard import jobs
from riskboard.app import clock
from riskboard.app.acting import attempt, event_of, said_no
from riskboard.app.widgets.aircraft_words import EFFECT_SAID
from riskboard.app.widgets.section import draw_title
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.jobs import AircraftStatus
from riskboard.words import DefectEffect

__all__ = ["draw_report"]


def draw_report(office: jobs.Office, caller: jobs.Caller, status: AircraftStatus) -> None:
    """Draw the form."""
    draw_title("Something is wrong with it", "report")
    if not status.may_report.allowed:
        draw_html('<p class="rb-note">Only people with a role at the school open a defect.</p>')
        return
    name = f"aircraft:report:{status.aircraft_id}"
    event_id = event_of(name)

    def press() -> None:
        text = str(st.session_state.get(f"{name}:text") or "")
        chosen = st.session_state.get(f"{name}:effect")
        effect = DefectEffect(chosen) if chosen else None
        done = attempt(
            name,
            caller.person_id,
            lambda: jobs.report_defect(
                office, caller, status.aircraft_id, text, effect=effect, event_id=event_id, at=clock.now()
            ),
        )
        if done:
            st.session_state[f"{name}:text"], st.session_state[f"{name}:effect"] = "", None

    refused = said_no(name)
    with st.form(f"{name}:form"):
        if refused:
            draw_alert(refused)
        st.text_area("What is wrong, in a few words", key=f"{name}:text", height=80)
        st.pills(
            "What it forbids, if you can say; maintenance decides",
            [effect.value for effect in DefectEffect],
            format_func=lambda value: EFFECT_SAID[DefectEffect(value)],
            key=f"{name}:effect",
        )
        st.form_submit_button("Open the defect", type="primary", width="stretch", key=f"{name}:do", on_click=press)
    draw_html(
        '<p class="rb-note">It goes on record at once. A yes to a flight of this aircraft that has not left ends with '
        "it, and only maintenance closes it.</p>"
    )
