"""The debrief as a thumb fills it in: two taps and the meter where all went as planned; the rest opens on demand."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.aircraft_types import AircraftType
from riskboard.app import clock, session
from riskboard.app.acting import attempt, said_no
from riskboard.app.widgets.entry import Look, draw_value
from riskboard.app.widgets.entry_list import Lines, draw_lines
from riskboard.app.widgets.text import draw_alert, draw_html, words
from riskboard.jobs.debriefing import Debriefing, keep_debrief
from riskboard.words import Difference, ItemLeft, Units
from riskboard.worksheet.checks import WorksheetProblem
from riskboard.worksheet.debrief import SEVERITY, Condition, Debrief, Told, all_in_place
from riskboard.worksheet.entries import Defect
from riskboard.worksheet.fact import FactInfo
from riskboard.worksheet.names import entry_names
from riskboard.worksheet.shape import Shape, shape_of

__all__ = ["DebriefSheet", "draw_debrief", "is_metric"]

_AS_PLANNED, _DIFFERED = "Came back as planned", "Something differed"
_ALL, _NOT_ALL = "All in place", "Not all in place"
_KEPT = "debrief:keep"
_STATES = {"in_place": "in place", "out_of_place": "out of place", "not_fitted": "not fitted"}


@dataclass(frozen=True)
class DebriefSheet:
    """One flight's debrief on the page.

    Attributes:
        office: The school.
        caller: Who tells.
        seen: The debrief as typed so far.
        zone: Zone in which times are typed.
        metric: Whether fuel is entered in litres.
        asked: Whether what is missing is shown yet: not before the first try to close.
    """

    office: jobs.Office
    caller: jobs.Caller
    seen: Debriefing
    zone: ZoneInfo
    metric: bool
    asked: bool

    @property
    def flight_id(self) -> str:
        """Which flight."""
        return self.seen.flight.state.subject

    @property
    def types(self) -> Mapping[str, AircraftType]:
        """The aircraft types in force, by title."""
        return jobs.types_in_force(self.office)

    @property
    def problems(self) -> Sequence[WorksheetProblem]:
        """What has to be mended; what is merely not answered yet only once it was tried to close the flight."""
        if self.asked:
            return self.seen.problems
        return [problem for problem in self.seen.problems if self.typed(problem.field) not in (None, "", False)]

    def typed(self, field: str) -> Any:
        """An entry as typed."""
        return self.seen.data.get(field)

    def save(self, part: str, entries: Mapping[str, Any]) -> None:
        """Keep entries, as typed."""
        del part  # a debrief has one
        attempt(
            _KEPT,
            self.caller.person_id,
            lambda: keep_debrief(self.office, self.caller, self.flight_id, entries, at=clock.now()),
        )

    def info(self, field: str) -> FactInfo:
        """Label, unit and why of an entry."""
        return Debrief.facts()[field]


def draw_debrief(sheet: DebriefSheet) -> None:
    """Draw every entry."""
    no = said_no(_KEPT)
    if no:
        draw_alert(no)
    _draw_outcome(sheet)
    _draw_field(sheet, "meter_h", _meter_hint(sheet))
    _draw_condition(sheet)
    more = st.expander("Landing time, fuel, defects, anything else", key="d:more", expanded=_has_more(sheet))
    with more:
        _draw_field(sheet, "landed_at")
        _draw_fuel(sheet)
        _draw_defects(sheet)
        _draw_field(sheet, "note")


def _has_more(sheet: DebriefSheet) -> bool:
    told = sheet.seen.data
    named = ("landed_at", "fuel_left_gal", "fuel_left_l", "refuelled", "defects", "note")
    return any(told.get(name) not in (None, "") for name in named)


def _draw_problems(sheet: DebriefSheet, *fields: str) -> None:
    for problem in sheet.problems:
        if problem.field in fields:
            draw_alert(problem.message)


def _key(sheet: DebriefSheet, field: str) -> str:
    return f"d:{sheet.flight_id}:{field}"


def _draw_outcome(sheet: DebriefSheet) -> None:
    key = _key(sheet, "outcome")
    now = {True: _AS_PLANNED, False: _DIFFERED}.get(sheet.typed("as_planned"))
    session.hold(key, now)

    def keep() -> None:
        said = st.session_state[key]
        if said == _AS_PLANNED:
            sheet.save("", {"as_planned": True, "differed": None})
        else:
            sheet.save("", {"as_planned": None if said is None else False})

    st.pills("How did it go?", [_AS_PLANNED, _DIFFERED], key=key, help=sheet.info("as_planned").why, on_change=keep)
    if now == _DIFFERED:
        _draw_differences(sheet)
    _draw_problems(sheet, "as_planned", "differed")


def _draw_differences(sheet: DebriefSheet) -> None:
    key = _key(sheet, "differed")
    typed = sheet.typed("differed")
    lines = [line for line in typed if isinstance(line, dict)] if isinstance(typed, list) else []
    known = {str(word.value) for word in Difference}
    session.hold(key, [line["what"] for line in lines if line.get("what") in known])

    def keep() -> None:
        said = {line.get("what"): line for line in lines}
        chosen = st.session_state[key] or []
        sheet.save("", {"differed": [said.get(what, {"what": what}) for what in chosen] or None})

    by_weight = sorted(Difference, key=lambda word: SEVERITY[word])
    st.pills(
        sheet.info("differed").label,
        [str(word.value) for word in by_weight],
        format_func=words,
        selection_mode="multi",
        key=key,
        help=sheet.info("differed").why,
        on_change=keep,
    )


def _draw_field(sheet: DebriefSheet, field: str, hint: str = "") -> None:
    info = sheet.info(field)
    label = f"{info.label} ({info.unit})" if info.unit else info.label
    shape, look = shape_of(Told, field), Look(label, info.why, info.step)
    draw_value(sheet, _key(sheet, field), shape, look, sheet.typed(field), lambda value: sheet.save("", {field: value}))
    if hint:
        draw_html(f'<p class="rb-note">{hint}</p>')
    _draw_problems(sheet, field)


def _meter_hint(sheet: DebriefSheet) -> str:
    before = sheet.seen.known.meter_h
    said = "" if before is None else f"Before the flight: {before:g} h. "
    return f"{said}Left blank, the next pilot has to read it."


def _draw_fuel(sheet: DebriefSheet) -> None:
    info = sheet.info("fuel_left_gal")
    given, other = ("fuel_left_l", "fuel_left_gal") if sheet.metric else ("fuel_left_gal", "fuel_left_l")
    unit = entry_names(Told)["fuel_left_l"].unit_word if sheet.metric else info.unit
    look = Look(f"{info.label} ({unit})", info.why, 1 if sheet.metric else info.step)
    shape = Shape("number", 0, 2000) if sheet.metric else shape_of(Told, "fuel_left_gal")

    def keep(value: Any) -> None:
        sheet.save("", {given: value, other: None})

    draw_value(sheet, _key(sheet, given), shape, look, sheet.typed(given), keep)
    _draw_field(sheet, "refuelled")
    _draw_problems(sheet, "fuel_left_gal", "fuel_left_l")


def _draw_defects(sheet: DebriefSheet) -> None:
    info = sheet.info("defects")
    key = _key(sheet, "defects")
    draw_lines(sheet, Lines("defects", "", key, Defect, info.label, info.why, ("text", "effect")))
    _draw_problems(sheet, "defects")


def _draw_condition(sheet: DebriefSheet) -> None:
    typed = sheet.typed("condition")
    left = typed if isinstance(typed, dict) else {}
    whole = all_in_place(sheet.seen.not_fitted)
    key, opened = _key(sheet, "condition"), _key(sheet, "opened")
    if left == whole and not st.session_state.get(opened):
        now: str | None = _ALL
    else:
        now = _NOT_ALL if left or st.session_state.get(opened) else None
    session.hold(key, now)

    def keep() -> None:
        said = st.session_state[key]
        st.session_state[opened] = said == _NOT_ALL
        sheet.save("", {"condition": whole if said == _ALL else left if said == _NOT_ALL else None})

    lacking = [Condition.facts()[name].label.lower() for name in sheet.seen.not_fitted]
    said = f" Not fitted: {', '.join(lacking)}." if lacking else ""
    st.pills("The aircraft was left", [_ALL, _NOT_ALL], key=key, help=f"The next pilot sees it.{said}", on_change=keep)
    if now == _NOT_ALL:
        for name, info in Condition.facts().items():
            _draw_item(sheet, left, name, info)
    elif now is None:
        draw_html('<p class="rb-note">Left blank, the next pilot finds it unknown.</p>')
    _draw_problems(sheet, "condition", "the condition", *Condition.model_fields)


def _draw_item(sheet: DebriefSheet, left: dict[str, Any], name: str, info: FactInfo) -> None:
    key = _key(sheet, f"condition:{name}")
    states = [str(state.value) for state in ItemLeft]
    session.hold(key, left.get(name) if left.get(name) in states else None)

    def keep() -> None:
        sheet.save("", {"condition": {**left, name: st.session_state[key]}})

    st.pills(info.label, states, format_func=_STATES.__getitem__, key=key, help=info.why, on_change=keep)


def is_metric(school: Mapping[str, Any]) -> bool:
    """Whether a school enters fuel in litres."""
    return school.get("units") == Units.metric.value
