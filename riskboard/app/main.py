"""The app's frame: pages by file, one style, and what every screen says about this school and this clock."""

from pathlib import Path

import streamlit as st

from riskboard.app import clock, session
from riskboard.app.widgets.frame import draw_footer, draw_head
from riskboard.app.widgets.style import apply_style
from riskboard.app.widgets.text import draw_alert
from riskboard.ledger import LedgerError

PAGES = Path(__file__).resolve().parent / "pages"


def main() -> None:
    """Draw the page that the address names."""
    st.set_page_config(page_title="riskboard", layout="centered", initial_sidebar_state="collapsed")
    page = st.navigation(
        [
            st.Page(PAGES / "brief.py", title="Brief a flight", default=True),
            st.Page(PAGES / "record.py", title="Record", url_path="record"),
        ],
        position="top",
    )
    apply_style()
    try:
        office = session.office()
    except LedgerError as error:
        draw_alert(str(error))
        return
    draw_head(office, clock.held())
    page.run()
    draw_footer()


main()
