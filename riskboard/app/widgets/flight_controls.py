"""The controls that take several entries in one answer: kind of flight, take-off, sleep."""

from collections.abc import Callable
from datetime import datetime
from html import escape

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.widgets.entry import Desk, draw_anchor
from riskboard.app.widgets.quick_control import draw_quick
from riskboard.app.widgets.start import draw_instructor
from riskboard.app.widgets.text import draw_alert, draw_html, info_of, label_of, shown_value
from riskboard.words import NONE
from riskboard.worksheet.typed_times import TypedTimeError, iso_utc, quarter_hours, sleeps_from_text

__all__ = ["draw_flight", "draw_sleep", "flight_own"]

_CHOICES = 10


def draw_flight(desk: Desk) -> None:
    """Kind of flight, who teaches, and when it starts."""
    draw_quick(desk, "kind")
    draw_instructor(desk.office, desk.briefing)
    draw_anchor("take_off_at", "landing_at")
    options = [iso_utc(moment) for moment in quarter_hours(desk.at, desk.zone, _CHOICES)]
    plan = desk.briefing.sheet.plan
    chosen = None if plan.take_off_at is None else iso_utc(plan.take_off_at)
    if chosen is not None and chosen not in options:
        options = [chosen, *options]
    session.hold("q:take_off", chosen)
    st.pills(
        label_of("take_off_at"),
        options,
        format_func=lambda text: f"{datetime.fromisoformat(text).astimezone(desk.zone):%H:%M}",
        key="q:take_off",
        help=info_of("take_off_at").why,
        on_change=_keep_take_off(desk),
    )
    if plan.take_off_at is not None and plan.landing_at is not None:
        leaves, lands = (shown_value(moment, desk.zone) for moment in (plan.take_off_at, plan.landing_at))
        draw_html(f'<p class="rb-note">{escape(f"Take-off {leaves}, landing {lands} ({desk.zone.key})")}</p>')


def flight_own(desk: Desk) -> list[str]:
    """What these controls take in: the landing too, as long as there is no take-off to reckon it from."""
    waits = desk.briefing.sheet.plan.take_off_at is None
    return ["take_off_at", "landing_at"] if waits else ["take_off_at"]


def _keep_take_off(desk: Desk) -> Callable[[], None]:
    def keep() -> None:
        text = st.session_state["q:take_off"]
        moment = None if text is None else datetime.fromisoformat(text)
        draft_id = desk.briefing.draft_id
        session.attempt(lambda: jobs.plan_take_off(desk.office, draft_id, moment, at=clock.now()))

    return keep


def draw_sleep(desk: Desk) -> None:
    """Both nights in one line, read back as days and hours."""
    draw_anchor("sleeps")
    session.hold("q:sleep", _sleep_shown(desk))
    info = info_of("sleeps")
    st.text_input(
        label_of("sleeps"),
        key="q:sleep",
        placeholder="22:30-06:30, 23:00-07:00",
        help=f"{info.why} Latest sleep first, local time; 'none' if you had none.",
        on_change=_keep_sleep(desk),
    )
    typed = desk.typed("sleeps")
    if isinstance(typed, str) and typed != NONE:
        try:
            sleeps_from_text(typed, at=desk.at, zone=desk.zone)
        except TypedTimeError as error:
            draw_alert(str(error))
        return
    for span in desk.briefing.sheet.pilot.sleeps or ():
        begins, ends = shown_value(span.start_at, desk.zone), shown_value(span.end_at, desk.zone)
        draw_html(f'<p class="rb-note">{escape(f"Asleep {begins} to {ends}")}</p>')


def _sleep_shown(desk: Desk) -> str:
    typed = desk.typed("sleeps")
    if isinstance(typed, str):
        return typed
    if typed == []:
        return NONE
    spans = desk.briefing.sheet.pilot.sleeps or ()
    local = [(span.start_at.astimezone(desk.zone), span.end_at.astimezone(desk.zone)) for span in spans]
    return ", ".join(f"{begin:%H:%M}-{end:%H:%M}" for begin, end in local)


def _keep_sleep(desk: Desk) -> Callable[[], None]:
    def keep() -> None:
        typed = st.session_state["q:sleep"].strip()
        try:
            spans = sleeps_from_text(typed, at=clock.now(), zone=desk.zone) if typed else None
        except TypedTimeError:
            desk.save("pilot", {"sleeps": typed})  # kept as typed; the worksheet's own check refuses it
            return
        desk.save("pilot", {"sleeps": spans})

    return keep
