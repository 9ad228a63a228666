"""What was changed to get there: each answer that replaced another one, and what the decision was before and after."""

from collections.abc import Sequence
from datetime import datetime
from html import escape
from typing import Any
from zoneinfo import ZoneInfo

from riskboard.app.widgets.text import info_of, words
from riskboard.assessment.edits import Edit, Verdict
from riskboard.assessment.phrases import clock_time
from riskboard.jobs import Review
from riskboard.worksheet.model import FIELD_PART

__all__ = ["edits_said", "plain_value"]

_ABOUT_THE_PAST = frozenset(
    {
        "sleeps",
        "last_drink_at",
        "last_meal_at",
        "duty_started_at",
        "flights_today",
        "days_in_row",
        "medicines",
        "hours_last_90_days_h",
        "recent_landings",
        "last_flight_in_type_on",
        "last_night_flight_on",
        "exercise_last_flown_on",
        "total_helicopter_h",
        "hours_in_type_h",
    }
)
"""Entries that were so or were not, whatever the forecast does: of themselves they do not change within an hour."""


def edits_said(review: Review, zone: ZoneInfo) -> str:
    """The edits as a list, HTML."""
    if not review.edits and not review.edits_dropped:
        return '<p class="rb-note">No answer was changed after it was first given.</p>'
    eased = sum(edit.eased for edit in review.edits)
    number = len(review.edits)
    lead = [f"{number} answer was changed" if number == 1 else f"{number} answers were changed"]
    lead.append(f"{eased} of them eased the decision" if eased else "none of them eased the decision")
    if review.edits_dropped:
        lead.append(f"{review.edits_dropped} more in between were not kept")
    items = "".join(_item(edit, zone) for edit in review.edits)
    return f'<p class="rb-note">{escape("; ".join(lead))}.</p>{_past(review.edits)}<ol class="rb-edits">{items}</ol>'


def _past(edits: Sequence[Edit]) -> str:
    labels = list(dict.fromkeys(edit.label for edit in edits if edit.field in _ABOUT_THE_PAST and edit.was is not None))
    if not labels:
        return ""
    return (
        '<p class="rb-line">Changed after a decision was on the screen, and about something that had happened already: '
        f"{escape('; '.join(labels))}. There may be a plain reason, such as a slip or a thing remembered; ask.</p>"
    )


def _item(edit: Edit, zone: ZoneInfo) -> str:
    before, after = plain_value(edit.field, edit.before, zone), plain_value(edit.field, edit.after, zone)
    said = [f"<div>{escape(clock_time(edit.at, zone.key))} <strong>{escape(edit.label)}</strong>: "]
    said.append(f"{escape(before)} \N{RIGHTWARDS ARROW} {escape(after)}</div>")
    judged = _judged(edit.was, edit.became)
    ease = ' <span class="word">EASED</span>' if edit.eased else ""
    times = f" Changed {edit.times} times in all." if edit.times > 1 else ""
    said.append(f"<div>{escape(judged)}{ease}{escape(times)}</div>")
    return f"<li>{''.join(said)}</li>"


def _judged(was: Verdict | None, became: Verdict | None) -> str:
    if was is None and became is None:
        return "No decision stood before or after."
    before = "no decision yet" if was is None else _verdict(was)
    after = "no decision" if became is None else _verdict(became)
    return f"Stayed {after}." if before == after else f"{before[:1].upper()}{before[1:]} became {after}."


def _verdict(verdict: Verdict) -> str:
    return f"{verdict.decision.phrase.lower()}, level {verdict.level}"


def plain_value(field: str, value: Any, zone: ZoneInfo) -> str:
    """A value as it was typed into a draft, as people read it."""
    if value is None or value == "":
        return "blank"
    if isinstance(value, list):
        return "; ".join(plain_value("", each, zone) for each in value) or "none"
    if isinstance(value, dict):
        return _line(value, zone)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        unit = info_of(field).unit if field in FIELD_PART else ""
        return f"{value:g} {unit}".strip()
    moment = _moment(str(value))
    return words(str(value)) if moment is None else f"{moment.astimezone(zone):%a %d %b %H:%M}"


def _line(entry: dict[str, Any], zone: ZoneInfo) -> str:
    """One line of a repeating entry."""
    said = {name: plain_value("", each, zone) for name, each in entry.items()}
    if said.keys() == {"start_at", "end_at"}:
        return f"{said['start_at']} to {said['end_at']}"
    return ", ".join(f"{words(name)} {each}" for name, each in said.items())


def _moment(text: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.tzinfo is not None else None
