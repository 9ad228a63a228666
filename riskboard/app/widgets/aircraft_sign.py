"""What maintenance signs at one aircraft: defects closed or deferred, work done, one PIN for all of it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import streamlit as st

from riskboard import jobs
from riskboard.app import clock
from riskboard.app.acting import attempt, event_of, said_no
from riskboard.app.widgets.aircraft_words import EFFECT_SAID, defect_said
from riskboard.app.widgets.section import draw_title
from riskboard.app.widgets.setup import draw_demo_pin
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.jobs import MAINTENANCE_WORDS, AircraftStatus
from riskboard.measures.dates import same_day_months_later
from riskboard.upkeep.acts import Closed, Deferred, Inspected, MaintenanceAct
from riskboard.upkeep.drifts import DRIFTING
from riskboard.upkeep.state import OpenDefect, WorkDue
from riskboard.words import DefectEffect

__all__ = ["draw_sign"]

_STAYS, _CLOSED, _DEFERRED = "stays open", "is put right", "is deferred"
_EFFECTS = [effect for effect in DefectEffect if effect is not DefectEffect.grounding]
_BY_RULE = frozenset({"annual", "transponder", "locator"})


@dataclass(frozen=True)
class _Sheet:
    """The form of one aircraft as it is being filled in."""

    status: AircraftStatus
    today: date

    def key(self, *names: str) -> str:
        return ":".join(("aircraft:sign", self.status.aircraft_id, *names))

    def value(self, *names: str) -> Any:
        return st.session_state.get(self.key(*names))


def draw_sign(office: jobs.Office, caller: jobs.Caller, status: AircraftStatus, today: date) -> None:
    """Draw the form for whoever may sign; nothing for anybody else but why."""
    draw_title("Work on it, signed by maintenance", "sign")
    if not status.may_sign.allowed:
        draw_html(f'<p class="rb-note">{" ".join(status.may_sign.clauses)}</p>')
        return
    sheet = _Sheet(status, today)
    for defect in status.defects or ():
        _draw_defect(sheet, defect)
    _draw_works(sheet)
    st.toggle("Major maintenance was done: hours since then begin anew", key=sheet.key("major"))
    st.multiselect(
        "Run-up readings that begin anew, because the part was changed or adjusted",
        list(DRIFTING),
        format_func=lambda item: DRIFTING[item].label,
        key=sheet.key("anew"),
    )
    st.text_area("What the next person should know (may stay empty)", key=sheet.key("note"), height=80)
    _draw_signature(office, caller, sheet)


def _draw_defect(sheet: _Sheet, defect: OpenDefect) -> None:
    with st.container(border=True):
        st.text(defect_said(defect))
        ways = [_STAYS, _CLOSED, _DEFERRED]
        way = st.segmented_control(
            "This defect", ways, default=_STAYS, key=sheet.key(defect.defect_id, "way"), width="stretch"
        )
        if way == _CLOSED:
            st.text_input("What was done", key=sheet.key(defect.defect_id, "done"))
        elif way == _DEFERRED:
            st.pills(
                "What it forbids meanwhile",
                [effect.value for effect in _EFFECTS],
                format_func=lambda value: EFFECT_SAID[DefectEffect(value)],
                key=sheet.key(defect.defect_id, "effect"),
            )
            st.date_input(
                "Last day on which it may fly so",
                value=None,
                min_value=sheet.today,
                key=sheet.key(defect.defect_id, "until"),
            )
            st.text_input("Entry in the aircraft's papers", key=sheet.key(defect.defect_id, "reference"))


def _draw_works(sheet: _Sheet) -> None:
    works = {work.item.key: work for work in sheet.status.work}
    chosen = st.multiselect(
        "Inspections, checks and parts done",
        list(works),
        format_func=lambda key: works[key].item.label,
        key=sheet.key("works"),
    )
    for key in chosen:
        _draw_work(sheet, works[key])


def _draw_work(sheet: _Sheet, work: WorkDue) -> None:
    item, meter = work.item, sheet.status.meter_h
    with st.container(border=True):
        st.text(item.label)
        done_on = st.date_input(
            "Done on", value=sheet.today, max_value=sheet.today, key=sheet.key("work", item.key, "on")
        )
        if item.key in _BY_RULE:
            return
        by_hours = item.every_h is not None or item.due_at_h is not None
        by_day = item.every_months is not None or item.due_on is not None
        if by_hours:
            st.number_input(
                "Meter then (h)",
                value=meter,
                min_value=0.0,
                step=0.1,
                format="%.1f",
                key=sheet.key("work", item.key, "at"),
            )
            due = None if meter is None or item.every_h is None else meter + item.every_h
            st.number_input(
                "Due next at (h)",
                value=due,
                min_value=0.0,
                step=0.1,
                format="%.1f",
                key=sheet.key("work", item.key, "at_h"),
            )
        if by_day or not by_hours:
            following = None
            if item.every_months is not None and isinstance(done_on, date):
                following = _months_later(done_on, item.every_months)
            st.date_input(
                "Due next on",
                value=following,
                min_value=sheet.today,
                max_value=sheet.today + timedelta(days=36_500),
                key=sheet.key("work", item.key, "next"),
            )


def _months_later(day: date, months: int) -> date:
    return date(1970, 1, 1) + timedelta(days=int(same_day_months_later((day - date(1970, 1, 1)).days, months)))


def _act(sheet: _Sheet) -> MaintenanceAct:
    """What is filled in; what lacks a day or an effect is caught as a sentence."""
    closes, defers = [], []
    for defect in sheet.status.defects or ():
        way, identity = sheet.value(defect.defect_id, "way"), defect.defect_id
        if way == _CLOSED:
            closes.append(Closed(identity, str(sheet.value(identity, "done") or "")))
        elif way == _DEFERRED:
            effect, until = sheet.value(identity, "effect"), sheet.value(identity, "until")
            if not effect or not isinstance(until, date):
                raise jobs.NotSignedError(
                    "Say what each deferred defect forbids meanwhile, and until when. Nothing was signed."
                )
            defers.append(
                Deferred(identity, DefectEffect(effect), until, str(sheet.value(identity, "reference") or ""))
            )
    return MaintenanceAct(
        closes=tuple(closes),
        defers=tuple(defers),
        inspections=tuple(_inspected(sheet, key) for key in sheet.value("works") or ()),
        major_done=bool(sheet.value("major")),
        starts_over=frozenset(sheet.value("anew") or ()),
        note=str(sheet.value("note") or ""),
    )


def _inspected(sheet: _Sheet, key: str) -> Inspected:
    done_on, following = sheet.value("work", key, "on"), sheet.value("work", key, "next")
    if not isinstance(done_on, date):
        raise jobs.NotSignedError("Say on which day each piece of work was done. Nothing was signed.")
    at_h = sheet.value("work", key, "at")
    next_on = following if isinstance(following, date) else None
    return Inspected(key, done_on, at_h, next_on, sheet.value("work", key, "at_h"))


def _draw_signature(office: jobs.Office, caller: jobs.Caller, sheet: _Sheet) -> None:
    name = sheet.key("signature")
    event_id = event_of(name)

    def press() -> None:
        pin = str(st.session_state.get(f"{name}:pin") or "")
        st.session_state[f"{name}:pin"] = ""
        done = attempt(name, caller.person_id, _signing(office, caller, sheet, pin, event_id))
        if done:
            for key in [key for key in st.session_state if str(key).startswith(sheet.key())]:
                if key != f"{name}:pin":  # forgotten here, the browser would go on showing it
                    del st.session_state[key]

    refused = said_no(name)
    with st.form(f"{name}:form"):
        if refused:
            draw_alert(refused)
        st.text(MAINTENANCE_WORDS)
        draw_demo_pin(jobs.school(office) or {})
        st.text_input("PIN", key=f"{name}:pin", type="password", autocomplete="off")
        st.form_submit_button("Sign the work", type="primary", width="stretch", key=f"{name}:do", on_click=press)


def _signing(office: jobs.Office, caller: jobs.Caller, sheet: _Sheet, pin: str, event_id: str) -> Callable[[], object]:
    return lambda: jobs.sign_maintenance(
        office, caller, sheet.status.aircraft_id, _act(sheet), pin, event_id=event_id, at=clock.now()
    )
