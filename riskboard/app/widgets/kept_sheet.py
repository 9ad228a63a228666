"""A form over what the school keeps of one thing or person, made from the worksheet's own entries; nothing is lost."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.aircraft_types import AircraftType
from riskboard.app import session
from riskboard.app.widgets.entry import Look, draw_entry, draw_value
from riskboard.app.widgets.text import draw_alert, shown_value, words
from riskboard.worksheet.checks import WorksheetProblem
from riskboard.worksheet.kept import KEPT, KeptKind
from riskboard.worksheet.shape import shape_of

__all__ = ["KeptSheet", "draw_form", "shown_plain"]

_TYPED, _MEND = "school:typed:", "school:mend:"


@dataclass(frozen=True)
class KeptSheet:
    """One document on the page, with what was typed and is not saved yet.

    Attributes:
        office: The school.
        kind: Kind of document.
        identity: Its id; "" for a new one.
        stored: Fact -> value as saved.
        revision: The save that the form began with.
        zone: Zone in which times are typed.
    """

    office: jobs.Office
    kind: str
    identity: str
    stored: Mapping[str, Any]
    revision: int
    zone: ZoneInfo

    @property
    def _name(self) -> str:
        return f"{self.kind}:{self.identity}"

    @property
    def kept(self) -> KeptKind:
        """What is kept of this kind."""
        return KEPT[self.kind]

    @property
    def where(self) -> str:
        """Place on the page, for the keys of the widgets."""
        return f"school:{self._name}"

    @property
    def changes(self) -> dict[str, Any]:
        """What was typed and differs from what is saved; it stays until it is saved or dropped."""
        typed: dict[str, Any] = st.session_state.get(f"{_TYPED}{self._name}", {})
        return {name: value for name, value in typed.items() if value != self.stored.get(name)}

    @property
    def types(self) -> Mapping[str, AircraftType]:
        """The aircraft types in force, by title."""
        return jobs.types_in_force(self.office)

    @property
    def problems(self) -> Sequence[WorksheetProblem]:
        """What the last try to save was refused for."""
        found: Sequence[WorksheetProblem] = st.session_state.get(f"{_MEND}{self._name}", ())
        return found

    def typed(self, field: str) -> Any:
        """An entry as typed, else as saved."""
        return {**self.stored, **self.changes}.get(field)

    def save(self, part: str, entries: Mapping[str, Any]) -> None:
        """Keep what was typed on the page; it becomes a fact when the form is saved."""
        del part  # a document keeps each name once
        known = st.session_state.setdefault(f"{_TYPED}{self._name}", {})
        st.session_state[f"{_TYPED}{self._name}"] = {**known, **entries}

    def mend(self, problems: Sequence[WorksheetProblem]) -> None:
        """Show beside their entries why nothing was saved."""
        st.session_state[f"{_MEND}{self._name}"] = tuple(problems)

    def drop(self) -> None:
        """Forget what was typed."""
        for key in (f"{_TYPED}{self._name}", f"{_MEND}{self._name}", f"{self.where}:pick"):
            st.session_state.pop(key, None)


def draw_form(sheet: KeptSheet) -> None:
    """Draw the facts of one document with their widgets: of a new one all, else those that are picked or typed."""
    for name in sheet.kept.names if not sheet.identity else _picked(sheet):
        if name in sheet.kept.sheet.model_fields:
            _draw_own(sheet, name)
        else:
            draw_entry(sheet, name, sheet.where)
    known = set(sheet.kept.names)
    for problem in sheet.problems:
        if problem.field not in known:
            draw_alert(problem.message)


def _picked(sheet: KeptSheet) -> list[str]:
    """The facts that somebody wants to change; what was typed stays open until it is saved or dropped."""
    names = list(sheet.kept.names)
    key = f"{sheet.where}:pick"
    open_now = {*(st.session_state.get(key) or ()), *sheet.changes, *(problem.field for problem in sheet.problems)}
    session.hold(key, [name for name in names if name in open_now])
    st.pills(
        "What changes?",
        names,
        format_func=lambda name: sheet.kept.info(name).label,
        selection_mode="multi",
        key=key,
    )
    return [name for name in names if name in open_now]


def _draw_own(sheet: KeptSheet, name: str) -> None:
    info = sheet.kept.info(name)
    label = f"{info.label} ({info.unit})" if info.unit else info.label
    key = f"e:{sheet.where}:{name}"

    def save(value: Any) -> None:
        sheet.save("", {name: value})

    if (sheet.kind, name) == ("route", "site"):
        _draw_site(sheet, key, label, info.why)
    else:
        look = Look(label, info.why, info.step)
        draw_value(sheet, key, shape_of(sheet.kept.sheet, name), look, sheet.typed(name), save)
    for problem in sheet.problems:
        if problem.field == name:
            draw_alert(problem.message)


def _draw_site(sheet: KeptSheet, key: str, label: str, why: str) -> None:
    sites = {each["id"]: each["name"] for each in jobs.documents(sheet.office, "site")}
    now = sheet.typed("site")
    session.hold(key, now if now in sites else None)
    st.selectbox(
        label,
        list(sites),
        index=None,
        format_func=sites.__getitem__,
        key=key,
        help=why,
        placeholder="Choose",
        on_change=lambda: sheet.save("", {"site": st.session_state[key]}),
    )


def shown_plain(value: Any, zone: ZoneInfo) -> str:
    """A kept value as people read it."""
    if isinstance(value, list):
        return "; ".join(shown_plain(each, zone) for each in value) or "none"
    if isinstance(value, dict):
        return ", ".join(_shown_line(value, zone))
    if isinstance(value, str):
        return _shown_text(value, zone)
    return shown_value(value, zone)


def _shown_line(line: Mapping[str, Any], zone: ZoneInfo) -> Iterator[str]:
    """One line of a list: what it is first, and nothing said that goes without saying."""
    for name in ("name", "text"):
        if name in line:
            yield str(line[name])
    for name, value in line.items():
        if name in {"effect", "state"}:
            yield shown_plain(value, zone)
        elif name not in {"name", "text"} and (name, value) != ("required", True):
            yield f"{words(name)} {shown_plain(value, zone)}"


def _shown_text(value: str, zone: ZoneInfo) -> str:
    """A day and a moment as such; a word of the vocabulary without its underscores; any other text as it is."""
    try:
        return shown_value(date.fromisoformat(value), zone)
    except ValueError:
        pass
    try:
        moment = datetime.fromisoformat(value)
    except ValueError:
        return words(value) if value.replace("_", "").isalpha() and value.islower() else value
    return shown_value(moment if moment.tzinfo is not None else moment.replace(tzinfo=zone), zone)
