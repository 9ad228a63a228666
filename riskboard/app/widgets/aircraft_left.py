"""How an aircraft was left: by whom, when, and what was out of place, for the next pilot to read before walking out."""

from datetime import datetime
from html import escape
from typing import Any
from urllib.parse import quote
from zoneinfo import ZoneInfo

from riskboard import jobs
from riskboard.app.looking import aircraft_now
from riskboard.app.widgets.aircraft_signs import stand_sign
from riskboard.app.widgets.aircraft_words import first_line
from riskboard.app.widgets.text import plain_rows
from riskboard.words import ItemLeft
from riskboard.worksheet.debrief import Condition

__all__ = ["left_rows"]

_SAID = {ItemLeft.out_of_place.value: "out of place", None: "not told"}


def left_rows(office: jobs.Office, aircraft_id: str | None, zone: ZoneInfo) -> str:
    """The gravest thing about the aircraft and what the last user told, HTML; what is not in place stands first."""
    return f"{_gravest(office, aircraft_id)}{_told(office, aircraft_id, zone)}" if aircraft_id else ""


def _gravest(office: jobs.Office, aircraft_id: str) -> str:
    """How it stands, why, and the way to all about it."""
    try:
        found = {each.aircraft_id: each for each in aircraft_now(office, office.acts_for)}
    except jobs.NotShownError:
        return ""
    status = found.get(aircraft_id)
    if status is None:
        return ""
    why = first_line(status)
    said = f"{stand_sign(status.stand).word}{f': {why}' if why else ''}"
    return (
        f'<p class="rb-note"><strong>{escape(said)}</strong> <a href="aircraft?aircraft={quote(aircraft_id)}" '
        f'target="_self">All about {escape(status.registration)}</a></p>'
    )


def _told(office: jobs.Office, aircraft_id: str, zone: ZoneInfo) -> str:
    try:
        left = jobs.document(office, "aircraft", aircraft_id).get("condition_left")
    except KeyError:
        return ""
    if not isinstance(left, dict):
        return '<p class="rb-note">Nobody has told how it was left.</p>'
    items: dict[str, Any] = left.get("items", {})
    labels = {name: info.label for name, info in Condition.facts().items()}
    wrong = {label: _SAID[items.get(name)] for name, label in labels.items() if items.get(name) in _SAID}
    told = "; ".join(f"{label}: {state}" for label, state in wrong.items())
    who = f"left by {_name(office, str(left.get('by', '')))} {_when(left.get('at'), zone)}"
    said = f"<strong>{escape(told)}</strong>, " if wrong else "All in place, "
    fuel = left.get("fuel_left_gal")
    rows = {} if fuel is None else {"Fuel left then": f"{fuel:g} US gal; see for yourself what is there now"}
    return f'<p class="rb-note">{said}{escape(who)}.</p>{plain_rows(rows) if rows else ""}'


def _name(office: jobs.Office, person_id: str) -> str:
    try:
        return jobs.person(office, person_id).name
    except KeyError:
        return person_id or "somebody"


def _when(at: object, zone: ZoneInfo) -> str:
    if not isinstance(at, str):
        return ""
    return f"{datetime.fromisoformat(at).astimezone(zone):%a %d %b %H:%M}"
