"""A decision on record as it stood on a screen: band and reasons from its plain data, nothing worked out anew."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from html import escape
from typing import Any
from zoneinfo import ZoneInfo

from riskboard.app.widgets.gates import gate_source
from riskboard.assessment.phrases import clock_time, points_phrase
from riskboard.assessment.reasons import Standing
from riskboard.words import Decision

__all__ = ["band_of", "new_and_gone", "reasons_of"]

_LOOK = {Decision.go: "rb-go", Decision.go_with_sign_off: "rb-sign", Decision.no_go: "rb-no"}
_MARK = {"stop": "STOP", "unknown": "UNKNOWN", "floor": "FLOOR", "relief": "RELIEF"}


def band_of(data: Mapping[str, Any], zone: ZoneInfo, what: str) -> str:
    """The band of an assessment, HTML.

    Args:
        data: As ``Assessment.as_data`` gives it, health answers left out where they must be.
        zone: Of the school.
        what: Whose and of when, e.g. "Shown to the pilot".
    """
    decision = Decision[data["decision"]]
    said = [f"level {data['level']}", points_phrase(data["total"])]
    if decision is Decision.go_with_sign_off:
        said.append("may be signed by " + " or ".join(role.replace("_", " ") for role in data["accepted_by"]))
    if data.get("valid_until"):
        said.append(f"holds until {clock_time(datetime.fromisoformat(data['valid_until']), zone.key)}")
    at = clock_time(datetime.fromisoformat(data["decided_at"]), zone.key)
    policy = f"{data['policy']['id']} version {data['policy']['version']}"
    return (
        f'<div class="rb-band rb-shown {_LOOK[decision]}"><img src="{gate_source(decision)}" alt="">'
        f'<div class="what">{escape(decision.phrase)} <small>{escape(what)} at {escape(at)}</small></div>'
        f'<div class="why">{escape(", ".join(said))}</div><div class="how">Policy {escape(policy)}</div></div>'
    )


def reasons_of(reasons: Sequence[Mapping[str, Any]]) -> str:
    """Reasons as a list, worst first as they were shown, HTML."""
    if not reasons:
        return '<p class="rb-note">Nothing stopped, nothing was unknown, nothing added points.</p>'
    return f'<ol class="rb-reasons">{"".join(_item(reason) for reason in reasons)}</ol>'


def _item(reason: Mapping[str, Any]) -> str:
    standing = str(reason["standing"])
    mark = _MARK.get(standing, f"{reason['points']:+d}" if reason["points"] else "COUNTS")
    more = f'<div class="more">{escape(reason["margin"])}</div>' if reason["margin"] else ""
    says = ""
    if reason["why"]:
        source = f"<p>Source: {escape(reason['source'])} ({escape(reason['source_kind'])})</p>"
        says = f"<details><summary>Why, and says who</summary><p>{escape(reason['why'])}</p>{source}</details>"
    return (
        f'<li class="{escape(_class(standing))}"><span class="mark">{escape(mark)}</span><div>'
        f"<div>{escape(reason['sentence'])}</div>{more}{says}</div></li>"
    )


def _class(standing: str) -> str:
    return next((each.name for each in Standing if each.value == standing), "")


def new_and_gone(then: Mapping[str, Any], now: Mapping[str, Any]) -> tuple[list[str], list[str]]:
    """Sentences that speak now and did not then, and those that spoke then and do not now."""
    old = [str(reason["sentence"]) for reason in then["reasons"]]
    new = [str(reason["sentence"]) for reason in now["reasons"]]
    return [each for each in new if each not in old], [each for each in old if each not in new]
