"""A flight on record: where it stands now, what its pilot may do next, what was signed, and the proof."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from html import escape
from typing import Any
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.looking import look_again
from riskboard.app.widgets.band import draw_signed_band
from riskboard.app.widgets.board_rows import times_said
from riskboard.app.widgets.printing import draw_printing
from riskboard.app.widgets.section import draw_title
from riskboard.app.widgets.signed_steps import draw_steps
from riskboard.app.widgets.text import draw_alert, draw_html, plain_rows
from riskboard.assessment.phrases import clock_time
from riskboard.jobs import FlightCard
from riskboard.jobs.signing import ATTESTATION
from riskboard.jobs.watching import flight_mark
from riskboard.ledger import Status
from riskboard.words import Decision
from riskboard.worksheet.read import WorksheetError, read_worksheet
from riskboard.worksheet.write import worksheet_yaml

__all__ = ["draw_signed"]

_LOOK_S = 3
_HOLDS = frozenset({Status.SIGNED, Status.ACCEPTED, Status.RELEASED})
_NO = frozenset({Status.REFUSED, Status.DECLINED})
_SAID = {
    Status.ACCEPTED: "Accepted",
    Status.LAPSED: "The yes holds no longer",
    Status.SIGN_OFF_REQUESTED: "Sign-off asked for, not given",
    Status.SENT_BACK: "Sent back with a question",
    Status.SIGNED: "Signed, not yet taken",
    Status.DECLINED: "Declined",
    Status.REFUSED: "Refused",
    Status.RELEASED: "Released",
    Status.AIRBORNE: "Airborne",
    Status.CANCELLED: "Called off",
    Status.DEBRIEFED: "Back and closed",
    Status.BRIEFED: "Briefed",
}
_MEANS = {
    Status.ACCEPTED: "The risk has an owner. Anything that changes before take-off needs a new briefing.",
    Status.LAPSED: "Brief it again before the flight.",
    Status.SIGN_OFF_REQUESTED: "Do not fly before somebody else has signed. The answer shows here by itself.",
    Status.SENT_BACK: "Neither a yes nor a no: answer the question, then ask again.",
    Status.SIGNED: "Read the conditions, then take it or call it off.",
    Status.DECLINED: "This flight does not go as planned.",
    Status.REFUSED: "Somebody else said no. This flight does not go as planned.",
    Status.RELEASED: "The aircraft is handed over.",
    Status.AIRBORNE: "Close it when you are back; until then somebody watches the time.",
    Status.CANCELLED: "This flight does not go.",
}


@dataclass(frozen=True)
class _Last:
    """The last record that tells why a flight stands where it stands."""

    entry: Any
    body: dict[str, Any]


def draw_signed(office: jobs.Office, person_id: str, flight_id: str, at: datetime, zone: ZoneInfo) -> None:
    """Draw a flight on record for its pilot, its crew, or whoever oversees flights.

    Args:
        office: The school.
        person_id: Who looks.
        flight_id: The flight.
        at: Now.
        zone: Of the place of departure.
    """
    mark = flight_mark(office, flight_id)
    card = jobs.flight_card(office, flight_id, at=at)
    records = jobs.signed_records(office, flight_id)
    with st.container(key="band"):
        _draw_band(card, zone)
    if card.overdue_min is not None:
        draw_alert(f"This flight is overdue by {card.overdue_min} min. If it is back, close it with a debrief now.")
    _draw_flight(card, zone)
    _draw_answer(office, card, records, zone)
    draw_steps(office, card, person_id, at, zone)
    draw_printing(office, person_id, flight_id)
    if person_id == card.pilot_id:
        own = [record for record in records if record.entry.header.kind in ATTESTATION]
        if own:
            _draw_own(office, own, zone)
        with st.container(horizontal=True):
            st.button("Start the next flight", type="primary", on_click=session.start_next_flight)
    _watch(office, flight_id, mark, at)


def _draw_band(card: FlightCard, zone: ZoneInfo) -> None:
    status = card.status
    shown = card.decision if status in _HOLDS and not card.void else Decision.no_go if status in _NO else None
    what = _SAID[status]
    if shown is not None and status is not Status.RELEASED and status not in _NO:
        what = f"{what}: {shown.phrase.lower()}"
    how = f"Since {clock_time(card.since, zone.key)}"
    if status in {Status.SIGNED, Status.ACCEPTED, Status.LAPSED} and card.valid_until is not None:
        how += f", {'held' if status is Status.LAPSED else 'holds'} until {clock_time(card.valid_until, zone.key)}"
    means = "The release holds no longer: do not leave." if card.void and status is Status.RELEASED else None
    draw_signed_band(shown, what, means or _MEANS.get(status, ""), how)


def _draw_flight(card: FlightCard, zone: ZoneInfo) -> None:
    times = times_said(card.take_off_at, card.landing_at, zone)
    said = f"{card.registration or 'no aircraft'}, {card.pilot_name}, {card.route}, {times}"
    draw_html(f'<p class="rb-note">{escape(said)}</p>')


def _draw_answer(office: jobs.Office, card: FlightCard, records: list[jobs.Signed], zone: ZoneInfo) -> None:
    """Who said what, as far as it still counts: signatures, conditions, question, reasons of a no, what voids a yes."""
    for name, role, given_at in card.signed_by:
        said = f"Yes by {name}, {role.replace('_', ' ')}, {clock_time(given_at, zone.key)}."
        draw_html(f'<p class="rb-note">{escape(said)}</p>')
    if card.conditions:
        items = "".join(f"<li>{escape(each)}</li>" for each in card.conditions)
        draw_html(f'<div class="rb-conditions"><strong>Conditions</strong><ol>{items}</ol></div>')
    if card.void:
        draw_alert("The yes holds no longer. " + " ".join(card.void))
    last = _last(records, card.seq)
    if last is None:
        return
    who = _name(office, last.entry.header.actor)
    when = clock_time(last.entry.header.at, zone.key)
    if card.status is Status.SENT_BACK:
        draw_html(
            f'<div class="rb-conditions" role="status"><strong>{escape(who)} asks</strong> ({escape(when)}):<br>'
            f"{escape(card.question)}</div>"
        )
    elif card.status is Status.SIGN_OFF_REQUESTED:
        named = [role.replace("_", " ") for role in (last.body.get("assessment") or {}).get("accepted_by", [])]
        if named:
            draw_html(f'<p class="rb-note">May be signed by: {escape(", ".join(named))}.</p>')
    elif card.status in {Status.REFUSED, Status.CANCELLED}:
        did = "refused" if card.status is Status.REFUSED else "called it off"
        reason = str(last.body.get("reason", "erased"))
        draw_html(
            f'<div class="rb-conditions" role="status"><strong>{escape(who)} {did}</strong> ({escape(when)}):<br>'
            f"{escape(reason)}</div>"
        )


def _last(records: list[jobs.Signed], seq: int) -> _Last | None:
    found = next((record.entry for record in records if record.entry.seq == seq), None)
    return None if found is None else _Last(found, {} if found.body is None else found.body.value)


def _name(office: jobs.Office, person_id: str) -> str:
    try:
        return jobs.person(office, person_id).name
    except KeyError:
        return person_id


def _draw_own(office: jobs.Office, own: list[jobs.Signed], zone: ZoneInfo) -> None:
    """What the pilot signed last, and the sheet it rests on: only the pilot sees it, for the health answers in it."""
    signed = own[-1]
    body = signed.entry.body.value if signed.entry.body is not None else {}
    sheets = [each for each in own if each.entry.body is not None and each.entry.body.value.get("worksheet")]
    asked = sheets[-1].entry.body.value if sheets and sheets[-1].entry.body is not None else {}
    assessment = asked.get("assessment") or {}
    draw_title("What you signed", "signed")
    header = signed.entry.header
    rows = {
        "Who": f"{_name(office, header.actor)}, as {header.role}",
        "When": f"{header.at.astimezone(zone):%a %d %b %Y %H:%M:%S %Z}",
        "Words": body.get("words", "erased"),
    }
    if asked.get("note"):
        rows["In your own words"] = asked["note"]
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
    if asked:
        _draw_worksheet(header.subject, asked)


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


@st.fragment(run_every=_LOOK_S)
def _watch(office: jobs.Office, flight_id: str, mark: str, drawn_at: datetime) -> None:
    """What somebody else does about this flight shows here by itself; so does the end of a yes, within a minute."""
    if flight_mark(office, flight_id) != mark or clock.now() - drawn_at >= timedelta(minutes=1):
        look_again()
