"""From paper: the blank worksheet for the day the computer is down, and typing one in when it is back."""

import re
import secrets
from datetime import datetime
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.acting import attempt, event_of, said_no
from riskboard.app.widgets.band import draw_open_band, draw_signed_band
from riskboard.app.widgets.entry import draw_anchor, draw_entry
from riskboard.app.widgets.paper_facts import PaperSheet, draw_paper, draw_paper_signatures
from riskboard.app.widgets.printing import draw_blank_sheets
from riskboard.app.widgets.section import draw_title
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.assessment.phrases import clock_time
from riskboard.policy.book import NoPolicyError
from riskboard.worksheet.model import PARTS

_NAMED = "paper"
_NAME = re.compile(r"[a-z0-9]{8,40}")
_TITLES = {
    "pilot": "Pilot",
    "aircraft": "Aircraft",
    "weather": "Weather",
    "plan": "Plan",
    "pressures": "Pressures",
}


def main() -> None:
    """Draw the page."""
    office, caller = session.office(), session.caller()
    st.title("From paper")
    trouble = session.take_trouble()
    if trouble:
        draw_alert(trouble)
    with st.expander("Blank worksheets, to print for the day the computer is down"):
        draw_blank_sheets(office)
    named = str(st.query_params.get(_NAMED, ""))
    if not _NAME.fullmatch(named):
        _draw_begin(office, caller.person_id)
        return
    at = clock.now()
    try:
        briefing, paper = jobs.typed_paper(office, caller.person_id, named, at=at)
    except (jobs.NotShownError, NoPolicyError) as error:
        draw_alert(str(error))
        _draw_begin(office, caller.person_id)
        return
    except KeyError:
        _draw_done(office, named)
        _draw_begin(office, caller.person_id)
        return
    _draw_sheet(PaperSheet(office, caller.person_id, briefing, paper, ZoneInfo(jobs.school_zone(office))), at)


def _draw_begin(office: jobs.Office, person_id: str) -> None:
    draw_html(
        '<p class="rb-note">A worksheet that somebody else filled in on paper. It is assessed as of the moment on the '
        "paper, under the policy of that moment, and goes on record as typed in from paper: neither a yes nor a "
        "release.</p>"
    )
    refused = said_no("paper:begin")
    if refused:
        draw_alert(refused)

    def begin() -> None:
        draft_id = secrets.token_hex(8)
        if attempt(
            "paper:begin", person_id, lambda: jobs.begin_typed_paper(office, person_id, draft_id, at=clock.now())
        ):
            _forget()
            st.query_params[_NAMED] = draft_id

    st.button("Type one in", type="primary", key="paper:begin", on_click=begin)


def _forget() -> None:
    for key in [key for key in st.session_state if str(key).startswith(("paper:", "e:paper"))]:
        del st.session_state[key]


def _draw_done(office: jobs.Office, named: str) -> None:
    """The draft is gone: it is on record, or it never was."""
    state = jobs.flight_state(office, named)
    if state is None:
        draw_alert("There is nothing typed in under this address.")
        return
    said = f"On record as record {state.seq}, typed in from paper. It is neither a yes nor a release."
    draw_html(f'<p class="rb-note" role="status"><strong>{said}</strong></p>')


def _draw_sheet(sheet: PaperSheet, at: datetime) -> None:
    moment = sheet.paper.filled_at or at
    with st.container(key="band"):
        _draw_band(sheet)
    draw_html(
        f'<p class="rb-note">As of {clock_time(moment, sheet.zone.key)}, {moment.astimezone(sheet.zone):%d %b %Y}. '
        "Leave blank what cannot be read: blank is unknown. Write times with their date.</p>"
    )
    draw_paper(sheet)
    draw_title("Its entries", "entries")
    for problem in sheet.problems:
        draw_alert(problem.message)
    for part, model in PARTS.items():
        everything = st.expander(_TITLES[part], key=f"paper:part:{part}", on_change="rerun")
        if everything.open:
            with everything:
                for field in model.model_fields:
                    draw_anchor(field)
                    draw_entry(sheet, field, "paper")
    draw_paper_signatures(sheet)
    _draw_record(sheet)


def _draw_band(sheet: PaperSheet) -> None:
    found = sheet.briefing.assessment
    if found is None:
        draw_open_band(
            "Cannot decide: mend these first", sheet.problems[0].message, "Nothing is on record.", links=False
        )
        return
    said = found.reasons[0].sentence if found.reasons else "Nothing adds points."
    blank = len({field for line in found.unknown for field in line.blank})
    how = f"level {found.level}, under {found.policy_id} version {found.policy_version}"
    how += f", {blank} entries still blank" if blank else ""
    draw_signed_band(found.decision, f"As of then: {found.decision.phrase.lower()}", said, how)


def _draw_record(sheet: PaperSheet) -> None:
    draw_title("Put it on record", "record-it")
    refused = said_no("paper:record")
    if refused:
        draw_alert(refused)
    event_id = event_of("paper:record")
    draft_id = sheet.briefing.draft_id

    def record() -> None:
        attempt(
            "paper:record",
            sheet.person_id,
            lambda: jobs.transcribe(sheet.office, sheet.person_id, draft_id, event_id=event_id, at=clock.now()),
        )

    st.text("I typed this in from a paper worksheet, as it stands there.")
    st.button("Put on record as typed in from paper", type="primary", key="paper:record", on_click=record)


main()
