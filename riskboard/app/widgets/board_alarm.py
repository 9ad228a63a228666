"""The overdue watch, at the top of every page of whoever keeps it: an aircraft that has not come back is an alarm."""

from collections.abc import Callable
from functools import partial
from html import escape
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.acting import attempt, event_of, said_no
from riskboard.app.looking import alarms_now
from riskboard.app.navigation import file_of
from riskboard.app.widgets.board_signs import OVERDUE, sign_source
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.assessment.phrases import clock_time
from riskboard.jobs.watching import Alarm, AlarmStep

__all__ = ["draw_alarms"]

_LOOK_S = 5
_HOUR_MIN = 60


@st.fragment(run_every=_LOOK_S)
def draw_alarms(*, opened: bool) -> None:
    """Draw every overdue aircraft; nothing while there is none.

    Args:
        opened: Whether the steps for the longest overdue one stand open from the start.
    """
    caller = session.caller()
    office = session.office()
    zone = ZoneInfo(jobs.school_zone(office))
    for place, alarm in enumerate(alarms_now(office, caller.person_id)):
        _draw_head(alarm, zone)
        _draw_steps(office, caller.person_id, alarm, zone, opened=opened and place == 0)


def _draw_head(alarm: Alarm, zone: ZoneInfo) -> None:
    due = "no planned landing" if alarm.landing_at is None else f"planned back {clock_time(alarm.landing_at, zone.key)}"
    left = "departure not on record"
    if alarm.took_off_at is not None:
        left = f"left {clock_time(alarm.took_off_at, zone.key)}"
    # What changes each minute is a piece of its own, so that the alarm is not read out again each minute.
    with st.container(gap=None):
        draw_html(
            f'<section class="rb-alarm" aria-label="{escape(f"Overdue: {alarm.registration}")}">'
            f'<img src="{sign_source(OVERDUE)}" alt="">'
            f'<div class="what" role="alert">OVERDUE: {escape(alarm.registration)}, {escape(alarm.pilot_name)}, '
            f"{escape(alarm.route)}</div>"
            f"<div>{escape(due[:1].upper() + due[1:])}, {escape(left)}. It has not come back.</div></section>"
        )
        late = f"{_minutes(alarm.overdue_min)} past the planned return and its margin"
        draw_html(f'<div class="rb-late">{escape(late)}</div>')


def _minutes(minutes: int) -> str:
    if minutes < _HOUR_MIN:
        return f"{minutes} min"
    return f"{minutes // _HOUR_MIN} h {minutes % _HOUR_MIN:02d} min"


def _draw_steps(office: jobs.Office, person_id: str, alarm: Alarm, zone: ZoneInfo, *, opened: bool) -> None:
    name = f"watch:{alarm.flight_id}"
    box = st.expander(f"What to do now: {alarm.done} of {len(alarm.steps)} done", expanded=opened, key=f"{name}:steps")
    with box:
        refused = said_no(name)
        if refused:
            draw_alert(refused)
        for position, step in enumerate(alarm.steps, 1):
            if step.done_at is None:
                _draw_open(office, person_id, alarm, position, step)
            else:
                draw_html(_done(f"{position}. ", step, zone))
        for step in alarm.also:
            draw_html(_done("", step, zone))
        _draw_own(office, person_id, alarm)
        st.page_link(file_of("brief"), label="This flight", query_params={"flight": alarm.flight_id})


def _draw_open(office: jobs.Office, person_id: str, alarm: Alarm, position: int, step: AlarmStep) -> None:
    with st.container(horizontal=True, vertical_alignment="center"):
        draw_html(f'<div class="rb-step">{position}. {escape(step.text)}</div>')
        st.button(
            f"Done: step {position}",
            key=f"watch:{alarm.flight_id}:{position}",
            on_click=_take(office, person_id, alarm, f"watch:{alarm.flight_id}:{position}", lambda: step.text),
        )


def _done(number: str, step: AlarmStep, zone: ZoneInfo) -> str:
    when = "" if step.done_at is None else clock_time(step.done_at, zone.key)
    late = "" if step.overdue_min is None else f", {_minutes(step.overdue_min)} overdue"
    return (
        f'<div class="rb-step done">{number}{escape(step.text)} <span class="word">DONE</span> '
        f"{escape(f'{when}, {step.done_by}{late}')}</div>"
    )


def _draw_own(office: jobs.Office, person_id: str, alarm: Alarm) -> None:
    name = f"watch:{alarm.flight_id}:own"
    with st.form(f"{name}:form"):
        st.text_input("Something else was done", key=f"{name}:text", placeholder="What, in a few words")
        st.form_submit_button(
            "Put it on record",
            key=f"{name}:do",
            on_click=_take(office, person_id, alarm, name, partial(_typed, f"{name}:text"), f"{name}:text"),
        )


def _typed(key: str) -> str:
    return str(st.session_state.get(key) or "")


def _take(
    office: jobs.Office, person_id: str, alarm: Alarm, name: str, text: Callable[[], str], clear: str = ""
) -> Callable[[], None]:
    event_id = event_of(name)

    def take() -> None:
        done = attempt(
            f"watch:{alarm.flight_id}",
            person_id,
            lambda: jobs.overdue_step(
                office, person_id, alarm.flight_id, event_id=event_id, step=text(), at=clock.now()
            ),
            event=name,
        )
        if done and clear:
            st.session_state[clear] = ""

    return take
