"""The record: who said what and when, in plain words; proof that nothing was changed; a copy to take away."""

import io
from html import escape

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.widgets.entry import zone_of
from riskboard.app.widgets.log_lines import log_line
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.ledger import LedgerError, ReceiptCodeError

_MOST = 100


def main() -> None:
    """Draw the page."""
    office = session.office()
    school = jobs.school(office) or {}
    zone = zone_of(None, school)
    st.title("Record")
    st.text("Append-only. Newest first.")
    names = {person.person_id: person.name for person in jobs.people(office)}
    entries = jobs.latest_entries(office, _MOST)
    lines = "".join(f"<li>{escape(log_line(entry, names, zone))}</li>" for entry in entries)
    draw_html(f'<ol class="rb-log">{lines}</ol>')
    if len(entries) == _MOST:
        st.text(f"The newest {_MOST} are shown; the copy below holds all.")
    _draw_verify(office)
    st.download_button(
        "Download the whole record (JSON Lines)",
        lambda: _copy(office),
        file_name=f"riskboard-record-{clock.now():%Y%m%d-%H%M}.jsonl",
        mime="application/jsonl",
        on_click="ignore",
    )


def _copy(office: jobs.Office) -> str:
    out = io.StringIO()
    jobs.export_log(office, out)
    return out.getvalue()


def _draw_verify(office: jobs.Office) -> None:
    st.subheader("Has anything been changed?")
    st.text(
        "The chain shows changes inside it. A cut-off end, or a record rewritten from some point on, shows only "
        "against a receipt kept on paper: type one here if you have it."
    )
    with st.form("verify"):
        code = st.text_input("Receipt code (may be left empty)", key="receipt_code")
        asked = st.form_submit_button("Verify the record")
    if not asked:
        return
    try:
        findings = jobs.verify_log(office, code.strip() or None)
    except (ReceiptCodeError, LedgerError) as error:
        draw_alert(str(error))
        return
    if not findings:
        against = "the receipt agrees with it" if code.strip() else "without a receipt a cut-off end would not show"
        draw_html(f'<p class="rb-note" role="status"><strong>Nothing found</strong>: the chain holds; {against}.</p>')
    for finding in findings:
        draw_alert(str(finding))


main()
