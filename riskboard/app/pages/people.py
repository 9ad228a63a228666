"""People: one's own roles and way in; who works here; and, for whoever runs the school, the keeping of all that."""

from html import escape

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.widgets.entry import zone_of
from riskboard.app.widgets.own_access import draw_own_access
from riskboard.app.widgets.spells import held_said, spell_rows
from riskboard.app.widgets.staff_forms import StaffForms, draw_code
from riskboard.app.widgets.text import draw_html
from riskboard.jobs.staff_view import PersonRow, keeps_people, own_row, staff_list

_WHO = "people:who"


def main() -> None:
    """Draw the page."""
    office, caller, at = session.office(), session.caller(), clock.now()
    zone = zone_of(None, jobs.school(office) or {})
    st.title("People")
    draw_own_access(office, caller, own_row(office, caller, at=at), zone)
    try:
        rows = staff_list(office, caller, at=at)
    except jobs.NotShownError:
        return
    st.header("Everybody")
    for row in rows:
        draw_html(_line(row))
    if keeps_people(office, caller, at=at):
        _draw_keeping(StaffForms(office, caller, zone), rows)


def _line(row: PersonRow) -> str:
    said = [f"<strong>{escape(row.name)}</strong>", escape(held_said(row.spells, clock.now()))]
    if row.login_name:
        said.append(f"login name {escape(row.login_name)}")
    if row.way_in:
        said.append(escape(row.way_in))
    if row.way_in and not row.closed and not row.has_pin:
        said.append("no PIN")
    return f'<p class="rb-note">{" · ".join(said)}</p>'


def _draw_keeping(forms: StaffForms, rows: tuple[PersonRow, ...]) -> None:
    st.header("Keep people")
    draw_code()
    with st.expander("Add somebody"):
        forms.draw_add()
    known = {row.person_id: row for row in rows}
    chosen = st.selectbox(
        "Whose roles and way in",
        list(known),
        index=None,
        format_func=lambda person_id: known[person_id].name,
        key=_WHO,
        placeholder="Choose",
    )
    if chosen is not None:
        row = known[chosen]
        draw_html(spell_rows(row.spells, clock.now(), forms.zone))
        forms.draw_person(row)


main()
