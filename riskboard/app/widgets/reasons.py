"""Why: the reasons worst first, every clause in a table, and what is known, for a second pair of eyes."""

from collections.abc import Sequence
from html import escape

import streamlit as st

from riskboard.app.widgets.text import draw_html, label_of
from riskboard.assessment.assess import Assessment
from riskboard.assessment.phrases import amount, points_phrase, upper_first
from riskboard.assessment.reasons import Line, Standing
from riskboard.measures.registry import MEASURES

__all__ = ["draw_reasons", "line_mark"]

_MARK = {
    Standing.stop: "STOP",
    Standing.unknown: "UNKNOWN",
    Standing.floor: "FLOOR",
    Standing.relief: "RELIEF",
    Standing.clear: "clear",
    Standing.not_in_force: "not here",
}
_NAMED = 6
_FIRST = 8
"""Reasons in view at once; the rest opens with a tap, so that a half-filled page stays short enough for a thumb."""


def line_mark(line: Line) -> str:
    """The word beside a reason."""
    return f"{line.points:+d}" if line.standing is Standing.points else _MARK[line.standing]


def draw_reasons(assessment: Assessment) -> None:
    """Draw the reasons, and on request every clause and every known measure."""
    speaking = assessment.reasons
    if speaking:
        draw_html(_list(speaking[:_FIRST]))
        if speaking[_FIRST:]:
            rest = f"<summary>{len(speaking[_FIRST:])} more reasons</summary>{_list(speaking[_FIRST:])}"
            draw_html(f'<details class="rb-more">{rest}</details>')
    else:
        draw_html('<p class="rb-note">Nothing stops, nothing is unknown, nothing adds points.</p>')
    policy = f"{assessment.policy_id} version {assessment.policy_version}"
    everything = st.expander(
        f"Every clause of the policy ({len(assessment.lines)})", key="s:clauses", on_change="rerun"
    )
    if everything.open:
        with everything:
            draw_html(f'<p class="rb-note">Policy {escape(policy)}, {escape(assessment.policy_digest[:12])}</p>')
            draw_html(_table(assessment.lines))
    known = st.expander("What is known", key="s:known", on_change="rerun")
    if known.open:
        with known:
            draw_html(_measures(assessment))


def _list(lines: Sequence[Line]) -> str:
    return f'<ol class="rb-reasons">{"".join(_item(line) for line in lines)}</ol>'


def _item(line: Line) -> str:
    more = [f"<p>{escape(line.why)}</p>", f"<p>Source: {escape(line.source)} ({escape(line.source_kind)})</p>"]
    said = []
    if line.points and line.standing is not Standing.points and line.standing is not Standing.relief:
        said.append(escape(points_phrase(line.points)))
    if line.margin:
        said.append(escape(line.margin))
    links = "".join(_link(field) for field in line.blank[:_NAMED])
    extra = f'<div class="more">{" · ".join(said)}</div>' if said else ""
    return (
        f'<li class="{line.standing.name}"><span class="mark">{escape(line_mark(line))}</span><div>'
        f"<div>{escape(line.sentence)}</div>{extra}{links}"
        f"<details><summary>Why, and says who</summary>{''.join(more)}</details></div></li>"
    )


def _link(field: str) -> str:
    if field == "type_name":  # comes with the aircraft; what its type does or does not say is told where loading is
        return '<a href="#loading" target="_self">See: loading and hover</a> '
    return f'<a href="#entry-{escape(field)}" target="_self">Fill in: {escape(label_of(field))}</a> '


def _table(lines: Sequence[Line]) -> str:
    rows = "".join(
        f"<tr><td>{escape(line_mark(line))}</td><td>{escape(line.clause.replace('_', ' '))}</td>"
        f"<td>{escape(line.sentence)}</td><td>{line.points}</td><td>{escape(line.margin)}</td></tr>"
        for line in lines
    )
    head = "".join(f'<th scope="col">{name}</th>' for name in ("How it stands", "Clause", "Reads", "Points", "Margin"))
    table = f'<table class="rb-table"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'
    return f'<div class="rb-scroll" tabindex="0" role="region" aria-label="Every clause">{table}</div>'


def _measures(assessment: Assessment) -> str:
    rows = "".join(
        f"<dt>{escape(upper_first(MEASURES[name].label))}</dt><dd>{escape(amount(name, value))}</dd>"
        for name, value in assessment.measures.items()
    )
    return f'<dl class="rb-facts">{rows}</dl>'
