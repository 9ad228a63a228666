"""The day's flights, a row each, in the order in which somebody has to think of them. No reason, no health answer."""

from collections.abc import Iterable
from datetime import datetime
from html import escape
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.looking import board_now
from riskboard.app.navigation import file_of
from riskboard.app.widgets.board_signs import sign_of, sign_source
from riskboard.app.widgets.text import draw_alert, draw_html, plain_label
from riskboard.assessment.phrases import clock_time
from riskboard.jobs import FlightCard
from riskboard.ledger import Status
from riskboard.words import Role

__all__ = ["draw_board", "row", "times_said"]

_LOOK_S = 5
_OUT = frozenset({Status.RELEASED, Status.AIRBORNE})
_OVERSEES = frozenset({Role.dispatcher, Role.instructor, Role.chief_instructor, Role.safety_officer})
_HAS_LEVEL = frozenset({Status.SIGN_OFF_REQUESTED, Status.SIGNED, Status.ACCEPTED, Status.RELEASED})


def _group(card: FlightCard) -> int:
    if card.overdue_min is not None:
        return 0
    if card.status in _OUT:
        return 1
    if not card.status.closed:
        return 2
    return 3 if card.status is Status.DEBRIEFED else 4


_GROUPS = (
    ("Overdue", "not back by the planned time and its margin"),
    ("Out", "released or airborne"),
    ("To come", "planned, by departure"),
    ("Back", "closed by a debrief"),
    ("Not flown", "called off, declined or refused"),
)


@st.fragment(run_every=_LOOK_S)
def draw_board() -> None:
    """Draw the board of this moment; draws itself again every few seconds."""
    caller = session.caller()
    office = session.office()
    try:
        cards = board_now(office, caller.person_id)
    except jobs.NotShownError as error:
        draw_alert(str(error))
        return
    zone = ZoneInfo(jobs.school_zone(office))
    oversees = bool(_OVERSEES & jobs.roles_of(office, caller.person_id, clock.now()))
    if not cards:
        draw_html(
            '<p class="rb-line">No flights today yet. A flight stands here once its pilot has signed or asked.</p>'
        )
    for place, (title, meaning) in enumerate(_GROUPS):
        found = [card for card in cards if _group(card) == place]
        if found:
            _draw_group(title, meaning, found, zone, caller.person_id, oversees=oversees)


def _draw_group(
    title: str, meaning: str, cards: Iterable[FlightCard], zone: ZoneInfo, person_id: str, *, oversees: bool
) -> None:
    found = list(cards)
    flights = "1 flight" if len(found) == 1 else f"{len(found)} flights"
    draw_html(f'<div class="rb-group"><h2>{title}</h2><span>{flights}, {meaning}</span></div>')
    for card in found:
        with st.container(horizontal=True, vertical_alignment="center"):
            draw_html(row(card, zone))
            if oversees or person_id in {card.pilot_id, card.instructor_id}:
                _draw_link(card, person_id, oversees=oversees)


def _draw_link(card: FlightCard, person_id: str, *, oversees: bool) -> None:
    waits = card.status is Status.SIGN_OFF_REQUESTED and oversees and person_id != card.pilot_id
    page = file_of("desk" if waits else "brief")
    label = f"Open {plain_label(card.registration or card.pilot_name)}"
    st.page_link(page, label=label, query_params={"flight": card.flight_id})


def row(card: FlightCard, zone: ZoneInfo) -> str:
    """One flight as HTML."""
    sign = sign_of(card)
    level = ""
    if card.status in _HAS_LEVEL and card.decision is not None and not card.void:
        level = f"{card.decision.phrase}, level {card.level}"
    late = "" if card.overdue_min is None else f" by {card.overdue_min} min"
    said = [level, *_also(card, zone)]
    small = " · ".join(escape(each) for each in said if each)
    small += "".join(f' <span class="word">{escape(each)}</span>' for each in _missing(card))
    return (
        f'<div class="rb-flight rb-tone-{sign.tone}"><span class="sign"><img src="{sign_source(sign)}" alt=""></span>'
        f'<div><div class="name">{escape(card.registration or "no aircraft")}</div>'
        f"<div>{escape(card.pilot_name)}</div></div>"
        f'<div><div class="state">{escape(sign.word + late)}</div><div class="small">{small}</div></div>'
        f"<div><div>{escape(times_said(card.take_off_at, card.landing_at, zone))}</div>"
        f'<div class="small">{escape(card.route)}</div></div></div>'
    )


def _also(card: FlightCard, zone: ZoneInfo) -> list[str]:
    if card.status is Status.AIRBORNE and card.took_off_at is not None:
        return [f"left {clock_time(card.took_off_at, zone.key)}"]
    if card.status in {Status.SIGNED, Status.ACCEPTED} and card.valid_until is not None:
        return [f"holds until {clock_time(card.valid_until, zone.key)}"]
    if card.status is Status.RELEASED:
        return ["the release holds no longer"] if card.void else [f"not yet left, run-up: {card.run_up}"]
    return [f"since {clock_time(card.since, zone.key)}"]


def _missing(card: FlightCard) -> list[str]:
    """What was missing when it left; it stands on the board as long as the flight does."""
    if card.status not in {Status.AIRBORNE, Status.DEBRIEFED}:
        return []
    said = []
    if card.run_up == "none on record":
        said.append("Left without a run-up on record")
    elif card.run_up == "not good":
        said.append("Left after a run-up that was not good")
    if card.left_void:
        said.append("Left on a release that held no longer")
    return said


def times_said(take_off_at: datetime | None, landing_at: datetime | None, zone: ZoneInfo) -> str:
    """Planned departure and return in the school's zone."""
    if take_off_at is None or landing_at is None:
        return "no planned times"
    leaves, lands = take_off_at.astimezone(zone), landing_at.astimezone(zone)
    return f"{leaves:%H:%M} to {clock_time(lands, zone.key)}"
