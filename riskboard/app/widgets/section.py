"""One section of the worksheet: its state in a word, its quick controls, what else is still blank, and everything."""

from collections.abc import Callable, Sequence
from html import escape

import streamlit as st

from riskboard.app.widgets.entry import FILLED_HERE, Desk, draw_anchor, draw_entry
from riskboard.app.widgets.text import draw_html, fact_rows
from riskboard.worksheet.model import PARTS
from riskboard.worksheet.quick import QUICK_SETS, quick_set_of

__all__ = ["LOADING", "blank_entries", "draw_section", "draw_title"]

LOADING = ("station_loads", "equipment_fitted")
"""What the section for loading takes in; the rest of a load is aircraft, fuel and weather."""
_APART = {"prepared": QUICK_SETS["prepared"].fields, "loading": LOADING}
"""Sections of their own, with entries out of several parts."""


def section_fields(part: str) -> list[str]:
    """The entries that count toward a section, in reading order."""
    if part in _APART:
        return list(_APART[part])
    elsewhere = {field for fields in _APART.values() for field in fields}
    return [field for field in PARTS[part].model_fields if field not in elsewhere]


def blank_entries(desk: Desk, part: str) -> list[str]:
    """Entries of a section whose absence leaves a clause in force unknown, in reading order."""
    assessment = desk.briefing.assessment
    if assessment is None:
        return []
    needed = {field for line in assessment.unknown for field in line.blank}
    return [field for field in section_fields(part) if field in needed]


def _state(desk: Desk, part: str) -> tuple[str, str]:
    broken = [problem for problem in desk.briefing.problems if problem.field in section_fields(part)]
    if broken:
        return f"{len(broken)} to mend", "mend"
    if desk.briefing.assessment is None:
        return "waits", "missing"
    blank = len(blank_entries(desk, part))
    return (f"{blank} missing", "missing") if blank else ("complete", "complete")


def draw_title(title: str, anchor: str, state: tuple[str, str] | None = None) -> None:
    """Heading of a section, with its state as a word."""
    word = "" if state is None else f'<span class="rb-state {state[1]}">{escape(state[0])}</span>'
    draw_html(f'<div class="rb-section" id="{escape(anchor)}"><h2>{escape(title)}</h2>{word}</div>')


def draw_section(
    desk: Desk,
    part: str,
    title: str,
    *,
    quick: Callable[[], None],
    shown: Sequence[str] = (),
    own: Sequence[str] = (),
    note: str = "",
) -> None:
    """Draw one section.

    Args:
        desk: The draft.
        part: Which part of the worksheet, or "prepared" or "loading".
        title: Heading.
        quick: Draws the quick controls.
        shown: Entries with a widget of their own that always stands here.
        own: Entries that the quick controls themselves take in.
        note: Finished HTML under the heading.
    """
    draw_title(title, part, _state(desk, part))
    if note:
        draw_html(note)
    quick()
    for field in shown:
        draw_anchor(field)
        draw_entry(desk, field, "main")
    for field in _left_over(desk, part, [*shown, *own]):
        draw_anchor(field)
        draw_entry(desk, field, "main")
    if part in PARTS:
        _draw_all(desk, part)


def _draw_all(desk: Desk, part: str) -> None:
    known = sum(desk.typed(field) is not None for field in PARTS[part].model_fields)
    # Closed, it costs nothing: its widgets are drawn only while it is open.
    everything = st.expander(f"All entries here ({known} known)", key=f"s:all:{part}", on_change="rerun")
    if everything.open:
        with everything:
            draw_html(fact_rows(desk.briefing.sheet, list(PARTS[part].model_fields), desk.zone))
            st.text("Change any of them:")
            for field in PARTS[part].model_fields:
                draw_entry(desk, field, "all")


def _left_over(desk: Desk, part: str, shown: Sequence[str]) -> list[str]:
    """What is blank or broken and has no control of its own; what was filled in here stays under the thumb that did."""
    kept: set[str] = st.session_state.get(FILLED_HERE, set())
    wanted = {field for field in blank_entries(desk, part) if _has_no_control(desk, field)}
    wanted |= {problem.field for problem in desk.briefing.problems} | kept
    return [field for field in section_fields(part) if field in wanted and field not in shown]


def _has_no_control(desk: Desk, field: str) -> bool:
    """Whether nothing above asks for it: no quick set does, or the set was answered and left it to be told exactly."""
    asked = quick_set_of(field)
    return asked is None or asked.key in desk.briefing.said
