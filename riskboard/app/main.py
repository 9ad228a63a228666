"""The app's frame: pages by file, one style, the overdue watch, and what every screen says about school and clock."""

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.looking import by_itself
from riskboard.app.navigation import pages_for
from riskboard.app.nobody import draw_nobody
from riskboard.app.widgets.board_alarm import draw_alarms
from riskboard.app.widgets.board_style import apply_board_style
from riskboard.app.widgets.frame import draw_footer, draw_head
from riskboard.app.widgets.style import apply_style
from riskboard.app.widgets.text import draw_alert
from riskboard.ledger import LedgerError


def main() -> None:
    """Draw the page that the address names."""
    st.set_page_config(page_title="riskboard", layout="centered", initial_sidebar_state="collapsed")
    try:
        office = session.office()
    except LedgerError as error:
        draw_alert(str(error))
        return
    caller = session.arrive(by_itself=by_itself())
    if caller is None:
        draw_nobody(office)
        return
    office = session.office()
    page = st.navigation(pages_for(jobs.roles_of(office, caller.person_id, clock.now())), position="top")
    apply_style()
    apply_board_style()
    draw_head(office, clock.held(), caller.name)
    draw_alarms(opened=page.url_path == "board")
    session.watch()
    page.run()
    draw_footer()


main()
