"""One aircraft: what the next pilot must know first, then its readings, its work, what it burns, and its history."""

from collections.abc import Sequence
from html import escape
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard.app.widgets.aircraft_signs import stand_sign
from riskboard.app.widgets.aircraft_words import due_said, must_know, where_said
from riskboard.app.widgets.board_signs import sign_source
from riskboard.app.widgets.section import draw_title
from riskboard.app.widgets.text import draw_html
from riskboard.jobs import AircraftStatus, HistoryLine
from riskboard.upkeep.drifts import ItemDrift

__all__ = ["draw_burn", "draw_drifts", "draw_history", "draw_must_know", "draw_work", "drift_piece", "know_piece"]

_SHOWN = 20
_HEAVY = frozenset({"Grounds it", "Overdue", "Not known", "Not in place", "Effect not said"})
_KINDS = {
    "run_up": "Run-up",
    "took_off": "Left",
    "debriefed": "Back",
    "cancelled": "Called off",
    "defect_reported": "Defect",
    "maintenance_signed": "Maintenance",
    "fact_changed": "Facts",
}


def draw_must_know(status: AircraftStatus, zone: ZoneInfo) -> None:
    """Draw what the next pilot must know."""
    draw_html(know_piece(status, zone))


def know_piece(status: AircraftStatus, zone: ZoneInfo) -> str:
    """The same as HTML."""
    sign = stand_sign(status.stand)
    lines = "".join(
        f'<li class="{"heavy" if word in _HEAVY else ""}"><span class="word">{escape(word)}</span>'
        f"<span>{escape(said)}</span></li>"
        for word, said in must_know(status)
    )
    meter = "Meter not known" if status.meter_h is None else f"Meter {status.meter_h:,.1f} h"
    major = "" if status.since_major_h is None else f", {status.since_major_h:,.1f} h since major maintenance"
    kind = status.type_title or "type not known"
    return (
        f'<section class="rb-know rb-tone-{sign.tone}" aria-label="{escape(f"{status.registration}: {sign.word}")}">'
        f'<div class="head"><img src="{sign_source(sign)}" alt="">'
        f'<h1 class="what">{escape(status.registration)}: {escape(sign.word)}</h1>'
        f'<div class="how">{escape(where_said(status, zone))}</div></div><ul>{lines}'
        f'<li><span class="word">State</span><span>{escape(f"{meter}{major}. {kind}.")}</span></li></ul></section>'
    )


def draw_drifts(status: AircraftStatus) -> None:
    """Draw the run-up readings over the aircraft's flights."""
    draw_title("Run-up readings, flight by flight", "readings")
    if not status.drifts:
        draw_html('<p class="rb-note">Without its type on file no tolerance is known, so nothing is drawn.</p>')
        return
    shown = [each for each in status.drifts if each.readings]
    if not shown:
        draw_html('<p class="rb-note">No run-up of this aircraft is on record since its parts were changed last.</p>')
        return
    warned = sorted(shown, key=lambda each: not each.warns)
    draw_html(f'<div class="rb-drifts">{"".join(map(drift_piece, warned))}</div>')
    if status.invented:
        draw_html('<p class="rb-note">The tolerances are of an invented type and stand in no flight manual.</p>')


def drift_piece(drift: ItemDrift) -> str:
    """One reading as pickets: each flight one, the bar is the limit."""
    values = [value for _, value in drift.readings]
    top = max(*values, drift.limit, 1e-9) * 1.15
    pickets = "".join(f'<i style="height:{max(value, 0.0) / top * 100:.1f}%"></i>' for value in values)
    limit = f"{'at least' if drift.falls else 'at most'} {drift.limit:g} {drift.unit}"
    read = ", ".join(f"{value:g}" for value in values)
    alt = f"{drift.label}, oldest to newest: {read} {drift.unit}; {limit} is right."
    bar = f'<span class="bar" style="bottom:{drift.limit / top * 100:.1f}%"></span>'
    return (
        f'<div class="rb-drift {"warns" if drift.warns else ""}"><div class="label">{escape(drift.label)}: '
        f"{escape(f'{values[-1]:g} {drift.unit}')} <span>({escape(limit)})</span></div>"
        f'<div class="pickets" role="img" aria-label="{escape(alt)}">{pickets}{bar}</div>'
        f'<div class="said">{escape(drift.sentence)}</div></div>'
    )


def draw_work(status: AircraftStatus) -> None:
    """Draw everything that falls due."""
    draw_title("Work that falls due", "due")
    rows = "".join(
        f"<tr><td><strong>{escape(_state(each.state.value))}</strong></td><td>{escape(each.item.label)}</td>"
        f"<td>{escape(due_said(each))}</td></tr>"
        for each in status.work
    )
    draw_html(
        '<table class="rb-table rb-due"><thead><tr><th>How near</th><th>What</th><th>When</th></tr></thead>'
        f"<tbody>{rows}</tbody></table>"
    )
    draw_html(f'<p class="rb-note">{escape(status.rate.sentence)}</p>')


def _state(state: str) -> str:
    return {"over": "OVER", "unknown": "NOT KNOWN", "soon": "SOON", "later": "later"}[state]


def draw_burn(status: AircraftStatus) -> None:
    """Draw what it burns, beside what its type says."""
    draw_title("Fuel burn", "burn")
    if status.burn is None:
        draw_html('<p class="rb-note">Without its type on file there is nothing to compare with.</p>')
        return
    burn = status.burn
    kept = "nothing is kept" if burn.kept_gal_h is None else f"the school keeps {burn.kept_gal_h:.1f} gal/h"
    plan = f"{kept[:1].upper()}{kept[1:]}; the next plan begins with {burn.planned_gal_h:.1f} gal/h."
    draw_html(f'<p class="rb-note">{escape(burn.sentence)}</p><p class="rb-note">{escape(plan)}</p>')


def draw_history(lines: Sequence[HistoryLine], zone: ZoneInfo) -> None:
    """Draw what is on record, newest first."""
    draw_title("History, from the record", "history")
    if not lines:
        draw_html('<p class="rb-note">Nothing is on record about this aircraft yet.</p>')
        return
    back = {each.flight_id for each in lines if each.kind == "debriefed"}
    lines = [each for each in lines if each.kind != "took_off" or each.stops or each.flight_id not in back]
    new, old = lines[:_SHOWN], lines[_SHOWN:]
    draw_html(f'<ol class="rb-past">{"".join(_line(each, zone) for each in new)}</ol>')
    if old:
        with st.expander(f"Older: {len(old)} more"):
            draw_html(f'<ol class="rb-past">{"".join(_line(each, zone) for each in old)}</ol>')


def _line(line: HistoryLine, zone: ZoneInfo) -> str:
    local = line.at.astimezone(zone)
    said = "".join(f"<p>{escape(each)}</p>" for each in line.said)
    word = _KINDS.get(line.kind, line.kind)
    when = f"{local:%a} {local.day} {local:%b %Y %H:%M}, {line.who}, no. {line.seq}"
    return (
        f'<li><div><span class="word">{escape(word)}</span></div><div class="{"stops" if line.stops else ""}">{said}'
        f'</div><div class="when">{escape(when)}</div></li>'
    )
