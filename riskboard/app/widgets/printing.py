"""Paper to take along: the release sheet and the kneeboard card of a flight on record, the blank worksheet."""

from collections.abc import Callable

import streamlit as st

from riskboard import jobs
from riskboard.app import clock
from riskboard.app.widgets.section import draw_title
from riskboard.app.widgets.text import draw_html, words

__all__ = ["draw_blank_sheets", "draw_printing"]

_PDF = "application/pdf"


def draw_printing(office: jobs.Office, person_id: str, flight_id: str) -> None:
    """Draw the downloads for a flight on record. Each is made when it is asked for, from the record of that moment.

    Args:
        office: The school.
        person_id: Who prints; the jobs ask what they may see.
        flight_id: The flight.
    """
    draw_title("Print it", "print")
    paper = _paper("print:paper")

    def made(make: Callable[..., tuple[str, bytes]]) -> Callable[[], bytes]:
        return lambda: make(office, person_id, flight_id, paper=paper, at=clock.now())[1]

    with st.container(horizontal=True):
        _download("Release sheet", f"release-{flight_id}-{paper}.pdf", made(jobs.release_sheet), "print:release")
        _download("Kneeboard card", f"kneeboard-{flight_id}-{paper}.pdf", made(jobs.kneeboard), "print:kneeboard")
    draw_html(
        '<p class="rb-note">Both carry the receipt code of the record. The card is one sheet in landscape: fold it '
        "down the middle, print outward. What you answered about your health is printed only for you.</p>"
    )


def draw_blank_sheets(office: jobs.Office) -> None:
    """Draw the downloads of the blank paper worksheets, one for each policy that can apply now."""
    paper = _paper("print:blank_paper")
    with st.container(horizontal=True):
        for policy_id in sorted({policy.id for policy in jobs.policy_book(office).policies}):

            def made(policy_id: str = policy_id) -> bytes:
                return jobs.blank_worksheet(office, policy_id=policy_id, paper=paper, at=clock.now())[1]

            name = f"worksheet-{policy_id}-{paper}.pdf"
            _download(f"Blank: {words(policy_id.replace('-', '_'))}", name, made, f"print:blank:{policy_id}")


def _paper(key: str) -> str:
    chosen = st.segmented_control(
        "Paper", list(jobs.PAPER_NAMES), format_func=jobs.PAPER_NAMES.__getitem__, default="letter", key=key
    )
    return chosen or "letter"


def _download(label: str, file_name: str, make: Callable[[], bytes], key: str) -> None:
    st.download_button(f"{label} (PDF)", make, file_name=file_name, mime=_PDF, on_click="ignore", key=key)
