"""The pasted report, field by field beside the group each value came from. It counts once the pilot has compared it."""

from html import escape

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.widgets.entry import Desk, draw_entry
from riskboard.app.widgets.quick_control import draw_quick
from riskboard.app.widgets.text import draw_html, info_of, shown_value
from riskboard.worksheet.quick import MISREAD
from riskboard.worksheet.report import MAX_REPORT_CHARACTERS, DecodedReport

__all__ = ["draw_weather_quick"]

_KEPT_ONLY = frozenset({"pasted_report", "pasted_forecast"})


def draw_weather_quick(desk: Desk) -> None:
    """Draw the box to paste into, what was read, and the question that takes it over."""
    session.hold("e:paste", desk.briefing.pasted.get("text", ""))
    st.text_area(
        "Report and forecast, pasted (METAR, TAF)",
        key="e:paste",
        height=110,
        max_chars=MAX_REPORT_CHARACTERS,
        placeholder="Paste here, then tap outside the box. Or type the values below.",
        on_change=lambda: session.attempt(
            lambda: jobs.paste_report(desk.office, desk.briefing.draft_id, st.session_state["e:paste"], at=clock.now())
        ),
    )
    report = jobs.decoded(desk.briefing.pasted)
    if report is not None:
        used = bool(desk.briefing.pasted["used"])
        draw_html(_reading(desk, report, used=used))
    draw_quick(desk, "beyond", leave_out=() if report is not None else (MISREAD,))
    _draw_forecast(desk)


def _draw_forecast(desk: Desk) -> None:
    """The forecast line by line, for whoever has one on paper or on the telephone."""
    # One and the same label however many lines there are: another one would shut it under the thumb that adds one.
    by_hand = st.expander("Forecast typed by hand, line by line", key="s:forecast", on_change="rerun")
    if by_hand.open:
        with by_hand:
            draw_html(
                '<p class="rb-note">Each line from and to when: what prevails then, or a change or a temporary turn '
                "within it. What no line says is unknown.</p>"
            )
            draw_entry(desk, "forecast_lines", "hand")


def _reading(desk: Desk, report: DecodedReport, *, used: bool) -> str:
    rows = []
    for proposal in report.fields:
        if proposal.field in _KEPT_ONLY:
            continue
        info = info_of(proposal.field)
        if isinstance(proposal.value, tuple):
            value = "; ".join(shown_value(line, desk.zone) for line in proposal.value)
            group = ""
        else:
            unit = f" {info.unit}" if info.unit and isinstance(proposal.value, int | float) else ""
            value, group = shown_value(proposal.value, desk.zone) + unit, proposal.from_group
        rows.append(f"<tr><td>{escape(info.label)}</td><td>{escape(value)}</td><td>{escape(group)}</td></tr>")
    state = "In use." if used else "Not in use yet: compare, then answer below."
    problems = "".join(f"<li>{escape(problem)}</li>" for problem in report.problems)
    unread = f"<p class='rb-note'>Not read: {escape(' '.join(report.unread))}</p>" if report.unread else ""
    return (
        f'<p class="rb-note"><strong>{escape(state)}</strong></p>'
        f'<details class="rb-more" {"" if used else "open"}><summary>What was read ({len(rows)} values)</summary>'
        f'<div class="rb-scroll" tabindex="0" role="region" aria-label="What was read"><table class="rb-table rb-read">'
        f'<thead><tr><th scope="col">Entry</th><th scope="col">Value</th><th scope="col">From</th></tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div></details>{unread}"
        + (f'<ul class="rb-note">{problems}</ul>' if problems else "")
    )
