"""The board of the day: which flights are planned, out, back, or not flown, for everybody at the school."""

import streamlit as st

from riskboard.app.widgets.board_rows import draw_board
from riskboard.app.widgets.board_style import widen


def main() -> None:
    """Draw the page."""
    widen()
    st.title("Board")
    draw_board()


main()
