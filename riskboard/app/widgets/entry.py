"""One worksheet entry as a widget, made from what the entry's own type accepts. No label or unit is written here."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from html import escape
from typing import Any, Protocol
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.aircraft_types import AircraftType
from riskboard.app import clock, session
from riskboard.app.widgets.text import draw_alert, draw_html, info_of, label_of, words
from riskboard.jobs import Briefing
from riskboard.words import NONE
from riskboard.worksheet.checks import WorksheetProblem
from riskboard.worksheet.model import FIELD_PART, PARTS
from riskboard.worksheet.shape import Shape, shape_of
from riskboard.worksheet.typed_times import TypedTimeError, iso_utc, local_text, moment_from_text

__all__ = ["FILLED_HERE", "Desk", "Look", "Sheet", "draw_anchor", "draw_entry", "draw_value", "zone_of"]

FILLED_HERE = "flight:filled_here"
"""Session key of the entries that were filled in where they were missing."""

_FEW = 9
_AHEAD = frozenset({"take_off_at", "landing_at", "must_be_back_at"})
_FIRST_DAY = date(1920, 1, 1)
_LAST_DAY = date(2120, 12, 31)


class Sheet(Protocol):
    """What a widget needs of the sheet that it fills in: a flight's worksheet, a debrief, what the school keeps."""

    @property
    def zone(self) -> ZoneInfo:
        """Zone of the place, for times."""

    @property
    def types(self) -> Mapping[str, AircraftType]:
        """The aircraft types in force, by title."""

    @property
    def problems(self) -> Sequence[WorksheetProblem]:
        """What has to be mended."""

    def typed(self, field: str) -> Any:
        """An entry as typed, also an unsound one; None is blank."""

    def save(self, part: str, entries: Mapping[str, Any]) -> None:
        """Keep entries, as typed."""


@dataclass(frozen=True)
class Desk:
    """What a widget needs to know: which draft it writes to, when it is, and where."""

    office: jobs.Office
    briefing: Briefing
    at: datetime
    zone: ZoneInfo

    @property
    def types(self) -> Mapping[str, AircraftType]:
        """The aircraft types in force, by title."""
        return jobs.types_in_force(self.office)

    @property
    def problems(self) -> Sequence[WorksheetProblem]:
        """What has to be mended before anything is decided."""
        return self.briefing.problems

    def save(self, part: str, entries: Mapping[str, Any]) -> None:
        """Keep entries in the draft, as typed."""
        draft_id = self.briefing.draft_id
        session.attempt(lambda: jobs.save_entries(self.office, draft_id, part, entries, at=clock.now()))

    def typed(self, field: str) -> Any:
        """An entry as typed, also an unsound one."""
        return self.briefing.data.get(FIELD_PART[field], {}).get(field)


def zone_of(briefing: Briefing | None, school: Mapping[str, Any]) -> ZoneInfo:
    """The zone of the place of departure, or the school's."""
    named = None if briefing is None else briefing.sheet.plan.time_zone
    return ZoneInfo(named or school.get("time_zone") or "UTC")


def draw_anchor(*fields: str) -> None:
    """Where links to these entries lead."""
    draw_html("".join(f'<span class="rb-anchor" id="entry-{escape(field)}"></span>' for field in fields))


def draw_entry(desk: Sheet, field: str, where: str) -> None:
    """Draw the widget of one entry, with what must be mended under it.

    Args:
        desk: The draft, or another sheet that holds the same facts.
        field: Name of the entry.
        where: Place on the page; the same entry may stand in two places.
    """
    part = FIELD_PART[field]
    shape = shape_of(PARTS[part], field)
    if shape.kind == "list":
        _draw_lines(desk, field, where)
    else:
        info = info_of(field)

        def save(value: Any) -> None:
            if where == "main":
                st.session_state.setdefault(FILLED_HERE, set()).add(field)
            desk.save(part, {field: value})

        look = Look(label_of(field), info.why, info.step, ahead=field in _AHEAD)
        draw_value(desk, f"e:{where}:{field}", shape, look, desk.typed(field), save)
    for problem in desk.problems:
        if problem.field == field:
            draw_alert(problem.message)


def _draw_lines(desk: Sheet, field: str, where: str) -> None:
    """A list, by the places that the aircraft's type names where it is about those and a type is known."""
    from riskboard.app.widgets import entry_list, places  # noqa: PLC0415  - these draw entries, too

    named = {"station_loads": places.draw_loads, "equipment_fitted": places.draw_fitted}.get(field)
    if named is None or not named(desk, where):
        entry_list.draw_list(desk, field, where)


@dataclass(frozen=True)
class Look:
    """How an entry is shown.

    Attributes:
        label: What the person reads.
        why: Why it is asked.
        step: Practical resolution of a number.
        ahead: Whether a bare time lies ahead.
    """

    label: str
    why: str
    step: float | None = None
    ahead: bool = False


def draw_value(desk: Sheet, key: str, shape: Shape, look: Look, value: Any, save: Any) -> None:
    """Draw a widget for a value of one shape.

    Args:
        desk: The sheet.
        key: Key of the widget.
        shape: What is accepted.
        look: How it is shown.
        value: The value as typed; None is blank.
        save: Called with the new plain value.
    """
    few = shape.kind == "whole" and shape.highest is not None and shape.highest <= _FEW and shape.lowest
    if shape.kind in {"flag", "choice"} or few:
        _pills(key, shape, look, value, save)
        return
    answers = [NONE] * shape.none_answer + [word for word in shape.words if shape.kind in {"number", "whole"}]
    plain = None if value in answers else value
    {"number": _number, "whole": _number, "day": _day, "instant": _instant}.get(shape.kind, _text)(
        desk, key, shape, look, plain, save
    )
    if answers:
        _answers(f"{key}:a", answers, look, value, save)


def _pills(key: str, shape: Shape, look: Look, value: Any, save: Any) -> None:
    options: list[Any]
    if shape.kind == "flag":
        options = [True, False]
    elif shape.kind == "choice":
        options = list(shape.words) + [NONE] * (shape.none_answer and NONE not in shape.words)
        if shape.vocabulary is not None:  # in the order of the vocabulary, where "none" is the best
            options = [str(word.value) for word in shape.vocabulary]
    else:
        options = list(range(int(shape.lowest or 0), int(shape.highest or 0) + 1))
    session.hold(key, value if value in options and not (shape.kind == "whole" and value is True) else None)

    def shown(option: Any) -> str:
        return {True: "yes", False: "no"}[option] if isinstance(option, bool) else words(str(option))

    st.pills(
        look.label,
        options,
        format_func=shown,
        key=key,
        help=look.why,
        on_change=lambda: save(st.session_state[key]),
    )


def _answers(key: str, answers: list[str], look: Look, value: Any, save: Any) -> None:
    session.hold(key, value if value in answers else None)
    st.pills(
        f"{look.label}: or",
        answers,
        format_func=words,
        key=key,
        label_visibility="collapsed",
        on_change=lambda: save(st.session_state[key]),
    )


def _number(_desk: Sheet, key: str, shape: Shape, look: Look, value: Any, save: Any) -> None:
    whole = shape.kind == "whole"
    sound = isinstance(value, int | float) and not isinstance(value, bool)
    session.hold(key, (int(value) if whole else float(value)) if sound else None)
    step = look.step or 1
    st.number_input(
        look.label,
        value=None,
        step=int(step) if whole else float(step),
        format=None if whole else "%g",
        key=key,
        help=look.why,
        on_change=lambda: save(st.session_state[key]),
    )


def _day(_desk: Sheet, key: str, _shape: Shape, look: Look, value: Any, save: Any) -> None:
    try:
        session.hold(key, date.fromisoformat(value) if isinstance(value, str) else None)
    except ValueError:
        session.hold(key, None)

    def keep() -> None:
        chosen = st.session_state[key]
        save(None if chosen is None else chosen.isoformat())

    st.date_input(
        look.label,
        value=None,
        min_value=_FIRST_DAY,
        max_value=_LAST_DAY,
        format="YYYY-MM-DD",
        key=key,
        help=look.why,
        on_change=keep,
    )


def _instant(desk: Sheet, key: str, _shape: Shape, look: Look, value: Any, save: Any) -> None:
    session.hold(key, _instant_shown(value, desk.zone))

    def keep() -> None:
        typed = st.session_state[key].strip()
        try:
            moment = moment_from_text(typed, at=clock.now(), zone=desk.zone, ahead=look.ahead) if typed else None
        except TypedTimeError:
            save(typed)  # kept as typed; the worksheet's own check says what is wrong with it
            return
        save(None if moment is None else iso_utc(moment))

    st.text_input(
        look.label,
        key=key,
        help=f"{look.why} Local time: 14:30, or 2026-05-04 14:30.",
        placeholder="14:30",
        on_change=keep,
    )


def _instant_shown(value: Any, zone: ZoneInfo) -> str:
    if not isinstance(value, str):
        return ""
    try:
        return local_text(datetime.fromisoformat(value), zone)
    except ValueError:
        return value


def _text(_desk: Sheet, key: str, shape: Shape, look: Look, value: Any, save: Any) -> None:
    session.hold(key, "" if value is None else str(value))
    draw = st.text_area if shape.kind == "note" else st.text_input
    draw(look.label, key=key, help=look.why, on_change=lambda: save(st.session_state[key] or None))
