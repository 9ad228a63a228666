"""One's own way in: roles as they stand, a new passphrase, a new PIN."""

from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import clock
from riskboard.app.acting import attempt, event_of, said_no
from riskboard.app.widgets.spells import spell_rows
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.jobs.staff_view import PersonRow

__all__ = ["draw_own_access"]

_PASSPHRASE, _PIN, _DONE = "people:own:passphrase", "people:own:pin", "people:own:done"


def draw_own_access(office: jobs.Office, caller: jobs.Caller, row: PersonRow, zone: ZoneInfo) -> None:
    """Draw what everybody sees of themselves, and may change of it."""
    st.header("Yours")
    draw_html(spell_rows(row.spells, clock.now(), zone))
    done = st.session_state.pop(_DONE, "")
    if done:
        draw_html(f'<p class="rb-note" role="status"><strong>{done}</strong></p>')
    with st.expander("Change your PIN" if row.has_pin else "Set your PIN for signing", expanded=not row.has_pin):
        _draw_pin(office, caller, row)
    with st.expander("Change your passphrase"):
        _draw_passphrase(office, caller)


def _draw_pin(office: jobs.Office, caller: jobs.Caller, row: PersonRow) -> None:
    proof = "Present PIN" if row.has_pin else "Passphrase"
    with st.form(_PIN, clear_on_submit=True):
        st.text_input(proof, type="password", autocomplete="off", key=f"{_PIN}:proof")
        st.text_input("New PIN, 4 to 8 digits", type="password", autocomplete="off", key=f"{_PIN}:new")
        event_id = event_of(_PIN)
        said = said_no(_PIN)
        if said:
            draw_alert(said)

        def act() -> None:
            given = st.session_state[f"{_PIN}:proof"], st.session_state[f"{_PIN}:new"].strip()
            if attempt(
                _PIN,
                caller.person_id,
                lambda: jobs.set_own_pin(office, caller, *given, event_id=event_id, at=clock.now()),
            ):
                st.session_state[_DONE] = "Your PIN is set."

        st.form_submit_button("Set the PIN", on_click=act, key=f"{_PIN}:do")


def _draw_passphrase(office: jobs.Office, caller: jobs.Caller) -> None:
    with st.form(_PASSPHRASE, clear_on_submit=True):
        st.text("You enter again afterwards, here and everywhere else.")
        st.text_input("Present passphrase", type="password", autocomplete="current-password", key=f"{_PASSPHRASE}:now")
        st.text_input(
            "New passphrase, at least 12 characters",
            type="password",
            autocomplete="new-password",
            key=f"{_PASSPHRASE}:new",
        )
        event_id = event_of(_PASSPHRASE)
        said = said_no(_PASSPHRASE)
        if said:
            draw_alert(said)

        def act() -> None:
            given = st.session_state[f"{_PASSPHRASE}:now"], st.session_state[f"{_PASSPHRASE}:new"]
            attempt(
                _PASSPHRASE,
                caller.person_id,
                lambda: jobs.set_own_passphrase(office, caller, *given, event_id=event_id, at=clock.now()),
            )

        st.form_submit_button("Change the passphrase", on_click=act, key=f"{_PASSPHRASE}:do")
