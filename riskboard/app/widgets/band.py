"""The verdict, always in view: word, shape, colour; the reason; how far to the next level; until when it holds."""

from html import escape

import streamlit as st

from riskboard.app.widgets.gates import gate_source
from riskboard.assessment.assess import Assessment
from riskboard.assessment.phrases import clock_time, points_phrase
from riskboard.jobs import Briefing
from riskboard.words import Decision

__all__ = ["draw_band", "draw_hidden_band", "draw_open_band", "draw_signed_band"]

_LOOK = {Decision.go: "rb-go", Decision.go_with_sign_off: "rb-sign", Decision.no_go: "rb-no"}
_WAYS = (("change", "What would change it"), ("why", "Why"), ("sign", "Sign or decline"))
_MEANS = {
    Decision.go: "no listed reason to stop",
    Decision.go_with_sign_off: "only with somebody else's signature",
    Decision.no_go: "stay, or change what stops it",
}


def draw_band(briefing: Briefing, mend: str = "", better: str = "") -> None:
    """The band of a draft.

    Args:
        briefing: The draft.
        mend: What would bring weight, balance and hover inside; said where the decision is a no.
        better: When it is better, in a few words; said where the decision is no plain go.
    """
    if briefing.assessment is None:
        number = len(briefing.problems)
        first = briefing.problems[0].message if briefing.problems else ""
        count = "1 entry cannot be true" if number == 1 else f"{number} entries cannot be true"
        draw_open_band("Cannot decide: mend these first", first, count)
        return
    _band(briefing.assessment, briefing, mend, better)


def draw_hidden_band(briefing: Briefing) -> None:
    """The band before the pilot has said what presses on the flight: no decision, and how much is still blank."""
    blank = len(_blank(briefing))
    count = "1 entry still blank" if blank == 1 else f"{blank} entries still blank"
    where = '<a href="#pressures" target="_self">Pressures</a>'
    what, why = "Say what presses first", "The decision is shown once you have said what presses on this flight."
    _put("rb-open", None, what, "", why, [f"{escape(count)} · {where}"], links=False)


def _blank(briefing: Briefing) -> set[str]:
    unknown = () if briefing.assessment is None else briefing.assessment.unknown
    wanted = {field for line in unknown for field in line.blank}
    if briefing.sheet.aircraft.type_name is not None:
        wanted.discard("type_name")  # it is named where the type's own table says nothing: no entry is blank for that
    return wanted


def draw_open_band(what: str, why: str, how: str, *, links: bool = True) -> None:
    """A band without a decision."""
    _put("rb-open", None, what, "", why, [escape(how)], links=links)


def draw_signed_band(decision: Decision | None, what: str, means: str, how: str) -> None:
    """The band of a flight on record; without a yes that holds, or a no, no gate but the open one is shown."""
    _put("rb-open" if decision is None else _LOOK[decision], decision, what, "", means, [escape(how)], links=False)


def _band(assessment: Assessment, briefing: Briefing, mend: str, better: str) -> None:
    decision, zone = assessment.decision, briefing.sheet.plan.time_zone
    blank = len(_blank(briefing))
    said = [f"level {assessment.level}", points_phrase(assessment.total)]
    if blank:  # points of blanks are the worst that could be: they would only frighten, or be taken for a measure
        said = [f"level {assessment.level}", "1 entry still blank" if blank == 1 else f"{blank} entries still blank"]
    if decision is Decision.go and assessment.next_level_in is not None:
        said.append(f"{assessment.next_level_in} more to the next level")
    if decision is Decision.go_with_sign_off:
        said.append("signed by " + " or ".join(role.value.replace("_", " ") for role in assessment.accepted_by))
    if assessment.valid_until is not None:
        said.append(f"holds until {clock_time(assessment.valid_until, zone)}")
    first = assessment.reasons[0].sentence if assessment.reasons else "Nothing adds points."
    how = [escape(", ".join(said))]
    if decision is Decision.no_go and mend:
        how.append(f'<div class="fix">{escape(mend)}</div>')
    if decision is not Decision.go and better:
        how.append(f'<div class="fix">{escape(better)}</div>')
    _put(_LOOK[decision], decision, decision.phrase, _MEANS[decision], first, how)


def _put(
    look: str, decision: Decision | None, what: str, means: str, why: str, how: list[str], *, links: bool = True
) -> None:
    small = f" <small>{escape(means)}</small>" if means else ""
    ways = "".join(f'<a href="#{anchor}" target="_self">{text}</a>' for anchor, text in _WAYS) if links else ""
    st.html(
        f'<div class="rb-band {look}" role="status" aria-live="polite" aria-label="Decision">'
        f'<img src="{gate_source(decision)}" alt="">'
        f'<div class="what">{escape(what)}{small}</div>'
        f'<div class="why">{escape(why)}</div><div class="how">{"".join(how)}</div>'
        f'<div class="go-to">{ways}</div></div>'
    )
