"""Beside a PIN field of the invented school: the PIN that everybody there has."""

import streamlit as st

from riskboard import demo

__all__ = ["draw_demo_pin"]


def draw_demo_pin(school: dict[str, object]) -> None:
    """Beside a PIN field of the invented school: the PIN."""
    if school.get("invented"):
        st.text(f"Invented school: everybody's PIN is {demo.DEMO_PIN}.")
