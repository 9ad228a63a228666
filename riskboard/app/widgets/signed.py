"""After signing: where the flight stands, what was signed, the proof, and the way on."""

from datetime import datetime
from html import escape
from typing import Any
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import session
from riskboard.app.widgets.band import draw_signed_band
from riskboard.app.widgets.section import draw_title
from riskboard.app.widgets.signing import CHANGING
from riskboard.app.widgets.text import draw_html, plain_rows
from riskboard.assessment.phrases import clock_time
from riskboard.ledger import Status
from riskboard.ledger.views import FlightState
from riskboard.words import Decision
from riskboard.worksheet.read import WorksheetError, read_worksheet
from riskboard.worksheet.write import worksheet_yaml

__all__ = ["draw_signed"]

_SAID = {
    Status.ACCEPTED: "Accepted",
    Status.LAPSED: "The acceptance has run out",
    Status.SIGN_OFF_REQUESTED: "Sign-off asked for, not given",
    Status.SENT_BACK: "Sent back with a question",
    Status.SIGNED: "Signed by a second person, not yet taken by the pilot",
    Status.DECLINED: "Declined",
    Status.REFUSED: "Refused",
    Status.RELEASED: "Released",
    Status.AIRBORNE: "Airborne",
    Status.CANCELLED: "Called off",
    Status.DEBRIEFED: "Debriefed",
    Status.BRIEFED: "Briefed",
}
_MEANS = {
    Status.ACCEPTED: "The risk has an owner. Anything that changes before take-off needs a new briefing.",
    Status.LAPSED: "Brief it again before the flight.",
    Status.SIGN_OFF_REQUESTED: "Do not fly before somebody else has signed.",
    Status.DECLINED: "This flight does not go as planned.",
}


def draw_signed(office: jobs.Office, state: FlightState, at: datetime, zone: ZoneInfo) -> None:
    """Draw the state of a flight on record."""
    records = jobs.signed_records(office, state.subject)
    signed = next(record for record in reversed(records) if record.entry.seq == state.seq)
    body = signed.entry.body.value if signed.entry.body is not None else {}
    status = state.status_at(at)
    assessment = body.get("assessment") or {}
    decision = Decision[assessment["decision"]] if assessment else None
    until = state.accepted_until
    how = f"Signed {clock_time(signed.entry.header.at, zone.key)}"
    if status in {Status.ACCEPTED, Status.LAPSED} and until is not None:
        how += f", {'held' if status is Status.LAPSED else 'holds'} until {clock_time(until, zone.key)}"
    with st.container(key="band"):
        holds = decision if status is Status.ACCEPTED else None
        what = _SAID[status] if holds is None else f"{_SAID[status]}: {holds.phrase.lower()}"
        draw_signed_band(holds, what, _MEANS.get(status, ""), how)
    _draw_what(office, signed, body, assessment, zone)
    if body.get("worksheet"):
        _draw_worksheet(state.subject, body)
    with st.container(horizontal=True):
        st.button("Start the next flight", type="primary", on_click=session.start_next_flight)
        st.button("Change this flight and brief it again", on_click=_change)


def _change() -> None:
    st.session_state[CHANGING] = True


def _draw_what(
    office: jobs.Office, signed: jobs.Signed, body: dict[str, Any], assessment: dict[str, Any], zone: ZoneInfo
) -> None:
    draw_title("What you signed", "signed")
    header = signed.entry.header
    rows = {
        "Who": f"{jobs.person(office, header.actor).name}, as {header.role}",
        "When": f"{header.at.astimezone(zone):%a %d %b %Y %H:%M:%S %Z}",
        "Words": body.get("words", "erased"),
    }
    if body.get("note"):
        rows["In their own words"] = body["note"]
    if assessment:
        phrase = Decision[assessment["decision"]].phrase
        rows["Decision"] = f"{phrase}, level {assessment['level']}, total {assessment['total']}"
        rows["Policy"] = f"{assessment['policy']['id']} version {assessment['policy']['version']}"
    rows["Record"] = str(signed.entry.seq)
    draw_html(plain_rows(rows))
    draw_html(
        f'<p class="rb-note">Receipt, to copy to paper:</p><p class="rb-receipt">{escape(signed.receipt.code)}</p>'
    )
    reasons = [reason["sentence"] for reason in assessment.get("reasons", [])]
    if reasons:
        items = "".join(f"<li>{escape(sentence)}</li>" for sentence in reasons)
        draw_html(
            f'<details class="rb-more"><summary>Reasons as shown ({len(reasons)})</summary><ul>{items}</ul></details>'
        )


def _draw_worksheet(subject: str, body: dict[str, Any]) -> None:
    name = f"flight-{subject}.yaml"
    try:
        sheet = read_worksheet(body["worksheet"])
    except WorksheetError as error:
        st.text(f"The worksheet on record cannot be read by this version: {error}")
        return
    text = worksheet_yaml(
        sheet,
        decided_at=datetime.fromisoformat(body["shown_at"]),
        comment=f"As signed. Reproduce the decision: riskboard assess {name}",
    )
    draw_title("Keep it, or check it elsewhere", "keep")
    st.download_button("Download the worksheet", text, file_name=name, mime="application/yaml", on_click="ignore")
    draw_html(
        '<p class="rb-note">The same decision from a command line, without this server:</p>'
        f'<p class="rb-receipt">riskboard assess {escape(name)}</p>'
    )
