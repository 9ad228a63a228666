"""The record: who said what and when, in plain words; proof that nothing was changed; a copy to take away."""

from html import escape

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.widgets.entry import zone_of
from riskboard.app.widgets.log_lines import log_line
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.ledger import LedgerError, ReceiptCodeError
from riskboard.sheets.csv_safe import csv_text

_MOST = 100


def main() -> None:
    """Draw the page."""
    office = session.office()
    school = jobs.school(office) or {}
    zone = zone_of(None, school)
    st.title("Record")
    st.text("Append-only. Newest first.")
    names = {person.person_id: person.name for person in jobs.people(office)}
    person_id, at = session.caller().person_id, clock.now()
    try:
        records = jobs.read_records(office, person_id, most=_MOST, at=at)
    except jobs.NotShownError as error:
        draw_alert(str(error))
        return
    lines = "".join(f"<li>{escape(log_line(record, names, zone))}</li>" for record in records)
    draw_html(f'<ol class="rb-log">{lines}</ol>')
    if len(records) == _MOST:
        st.text(f"The newest {_MOST} are shown.")
    _draw_verify(office)
    if jobs.may_take_copy(office, person_id, at=at):
        st.text(
            "The table holds who decided what and when, and no answer that anybody gave. The whole record, health "
            "answers too, is exported on the server by whoever keeps its store: riskboard log export."
        )
        st.download_button(
            "Download the record as a table (CSV)",
            lambda: csv_text(jobs.copy_of_record(office, person_id, at=clock.now())),
            file_name=f"riskboard-record-{at:%Y%m%d-%H%M}.csv",
            mime="text/csv",
            on_click="ignore",
        )


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
