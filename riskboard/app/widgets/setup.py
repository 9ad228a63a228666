"""The first screen of an empty store: open the invented school, or know what is missing."""

from datetime import datetime

import streamlit as st

from riskboard import demo, jobs
from riskboard.app import clock, session
from riskboard.app.widgets.text import draw_alert

__all__ = ["draw_demo_pin", "draw_setup"]


def draw_setup(office: jobs.Office, _at: datetime) -> None:
    """One button, and what it does; what went wrong with it stands above."""
    trouble = session.take_trouble()
    if trouble:
        draw_alert(trouble)
    st.title("Nothing here yet")
    st.text(
        "This store holds no school. You can look around in an invented one: its people, aircraft and airfields exist "
        f"nowhere, and every one of its people signs with the PIN {demo.DEMO_PIN}."
    )
    st.button(
        "Open the invented demo school",
        type="primary",
        on_click=lambda: session.attempt(lambda: jobs.load_demo_school(office, now=clock.now())),
    )


def draw_demo_pin(school: dict[str, object]) -> None:
    """Beside a PIN field of the invented school: the PIN."""
    if school.get("invented"):
        st.text(f"Invented school: everybody's PIN is {demo.DEMO_PIN}.")
