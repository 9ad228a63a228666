"""Filling in a draft: choosing whose flight it is, saying several things at once, taking over a pasted report.

A choice that changes what earlier answers were about takes those answers back: another aircraft has another fuel state,
another route has other wires.
"""

from collections.abc import Collection, Mapping
from dataclasses import asdict, fields
from datetime import datetime, timedelta
from typing import Any

from riskboard.jobs.briefing import (
    FROM_INSTRUCTOR,
    Start,
    begin_draft,
    change_draft,
    iso,
    put_entries,
    stored_facts,
)
from riskboard.jobs.office import Office, document
from riskboard.ledger.store import Draft
from riskboard.worksheet.model import FIELD_PART, Worksheet
from riskboard.worksheet.quick import MISREAD, QUICK_SETS, answer_entries
from riskboard.worksheet.read import partial_worksheet
from riskboard.worksheet.report import DecodedReport, decode_report
from riskboard.worksheet.weather import Weather
from riskboard.worksheet.write import worksheet_data

__all__ = ["choose", "decoded", "paste_report", "plan_take_off", "say", "unsay"]

_ABOUT_AIRCRAFT_AND_ROUTE = "prepared"
_WEATHER = "beyond"


def choose(office: Office, draft_id: str, start: Start, *, at: datetime) -> Draft:
    """Choose or change the pilot, aircraft, route, site or instructor; the draft begins with the first choice.

    Args:
        office: The school.
        draft_id: Name of the draft, made by the caller.
        start: What is chosen now; None leaves a choice as it is. A route brings its own site.
        at: Now.

    Raises:
        KeyError: The school has no such person, aircraft, route or site.
        DraftOwnerError: The worksheet belongs to another pilot.
        LedgerError: The draft cannot be saved.
    """
    if start.route_id and not start.site_id:
        start = Start(**asdict(start) | {"site_id": document(office, "route", start.route_id).get("site")})
    if office.store.load_draft(draft_id) is None:
        return begin_draft(office, draft_id, start, at=at)
    return change_draft(office, draft_id, lambda kept: _choose(office, kept, start), at=at)


def _choose(office: Office, kept: dict[str, Any], start: Start) -> None:
    before = Start(**kept.get("start", {}))
    chosen = {f.name: getattr(start, f.name) for f in fields(Start) if getattr(start, f.name) is not None}
    changed = {name: value for name, value in chosen.items() if value != getattr(before, name)}
    _take_back(office, kept, before, changed)
    for part, stored, clocks in stored_facts(office, Start(**changed)):
        kept["data"].setdefault(part, {}).update(stored)
        kept["data"].setdefault("clocks", {}).update(clocks)
    kept["start"] = asdict(before) | changed
    kept["pilot_id"] = kept["start"]["pilot_id"] or ""


def _take_back(office: Office, kept: dict[str, Any], before: Start, changed: Mapping[str, str]) -> None:
    """Blank what the earlier choice had filled in, and what was answered about it."""
    data = kept["data"]
    if "aircraft_id" in changed:
        if _type_of(office, changed["aircraft_id"]) != data.get("aircraft", {}).get("type_name"):
            _forget(data, ["station_loads"])  # another type has other places
            kept.pop("seated", None)
        _forget(data, data.get("aircraft", {}))
    if "route_id" in changed and before.route_id:
        # Its loads go by themselves, those of the people aboard stay.
        _forget(data, document(office, "route", before.route_id)["plan"].keys() - {"station_loads"})
    if "site_id" in changed and before.site_id:
        _forget(data, document(office, "site", before.site_id)["plan"])
    if "instructor_id" in changed:
        _forget(data, FROM_INSTRUCTOR)
    if {"aircraft_id", "route_id", "site_id"} & set(changed):
        _forget(data, QUICK_SETS[_ABOUT_AIRCRAFT_AND_ROUTE].fields)
        kept.get("said", {}).pop(_ABOUT_AIRCRAFT_AND_ROUTE, None)


def _type_of(office: Office, aircraft_id: str) -> object:
    return document(office, "aircraft", aircraft_id).get("aircraft", {}).get("type_name")


def _forget(data: dict[str, Any], names: Collection[str]) -> None:
    for name in tuple(names):
        data.get(FIELD_PART.get(name, ""), {}).pop(name, None)
        data.get("clocks", {}).pop(name, None)


def plan_take_off(office: Office, draft_id: str, take_off_at: datetime | None, *, at: datetime) -> Draft:
    """Set the take-off, and the landing by the usual length of the chosen route where it has one.

    Raises:
        KeyError: There is no such draft.
        LedgerError: The draft cannot be saved.
    """
    return change_draft(office, draft_id, lambda kept: _plan(office, kept, take_off_at, at), at=at)


def _plan(office: Office, kept: dict[str, Any], take_off_at: datetime | None, at: datetime) -> None:
    entries: dict[str, Any] = {"take_off_at": None if take_off_at is None else iso(take_off_at)}
    route_id = kept.get("start", {}).get("route_id")
    minutes = document(office, "route", route_id).get("duration_min") if route_id else None
    if take_off_at is None:
        entries["landing_at"] = None
    elif minutes is not None:
        entries["landing_at"] = iso(take_off_at + timedelta(minutes=minutes))
    put_entries(kept["data"], "plan", entries, at)


def say(office: Office, draft_id: str, key: str, ticked: Collection[str], *, at: datetime) -> Draft:
    """Answer a quick set; every entry behind it is filled in. Answering the weather set takes the pasted report over.

    Raises:
        KeyError: There is no such draft, set or statement.
        LedgerError: The draft cannot be saved.
    """

    def change(kept: dict[str, Any]) -> None:
        if key == _WEATHER:
            _use_report(kept, at, wanted=MISREAD not in ticked)
        sheet, _ = partial_worksheet(kept["data"])
        _spread(kept["data"], answer_entries(key, ticked, sheet, at), at)
        kept.setdefault("said", {})[key] = sorted(ticked)

    return change_draft(office, draft_id, change, at=at)


def unsay(office: Office, draft_id: str, key: str, *, at: datetime) -> Draft:
    """Take the answer to a quick set back: every entry behind it is blank again. Errors as in :func:`say`."""

    def change(kept: dict[str, Any]) -> None:
        if key == _WEATHER:
            _use_report(kept, at, wanted=False)
        _spread(kept["data"], dict.fromkeys(QUICK_SETS[key].fields), at)
        kept.get("said", {}).pop(key, None)

    return change_draft(office, draft_id, change, at=at)


def _spread(data: dict[str, Any], entries: Mapping[str, Any], at: datetime) -> None:
    for field, value in entries.items():
        put_entries(data, FIELD_PART[field], {field: value}, at)


def paste_report(office: Office, draft_id: str, text: str, *, at: datetime) -> Draft:
    """Keep a weather text as pasted. Nothing of it counts before the pilot has compared it and said so.

    What an earlier text had filled in is taken back: new weather is unknown until it is confirmed.

    Raises:
        KeyError: There is no such draft.
        LedgerError: The draft cannot be saved.
    """

    def change(kept: dict[str, Any]) -> None:
        _use_report(kept, at, wanted=False)
        _spread(kept["data"], dict.fromkeys(QUICK_SETS[_WEATHER].fields), at)
        kept.get("said", {}).pop(_WEATHER, None)
        kept["pasted"] = {"text": text, "seen_at": iso(at), "used": []} if text.strip() else {}

    return change_draft(office, draft_id, change, at=at)


def decoded(pasted: Mapping[str, Any]) -> DecodedReport | None:
    """What a draft's pasted text says, or None where nothing was pasted."""
    if not pasted:
        return None
    return decode_report(pasted["text"], seen_at=datetime.fromisoformat(pasted["seen_at"]))


def _use_report(kept: dict[str, Any], at: datetime, *, wanted: bool) -> None:
    """Fill the weather entries from the pasted text, or take them back."""
    pasted = kept.get("pasted", {})
    report = decoded(pasted)
    if report is None:
        return
    if not wanted:
        _forget(kept["data"], pasted["used"])
        pasted["used"] = []
        return
    if not pasted["used"]:
        sheet = Worksheet(weather=Weather(**report.entries()))
        entries = worksheet_data(sheet).get("weather", {})
        put_entries(kept["data"], "weather", entries, at)
        pasted["used"] = sorted(entries)
