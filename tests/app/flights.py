"""Flights put into a school's store without a page: filled in, asked for, accepted, under way."""

import itertools
import json
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from riskboard import demo, jobs
from riskboard.run_up import RunUpSeen
from riskboard.worksheet.quick import QUICK_SETS
from tests.jobs.school_day import caller_of
from tests.run_up.samples import RUN_UP

MARA, TOBIN, INES = "mara-oduya", "tobin-reyes-hall", "ines-vasko"
WENDELL, SIGRUN, NOOR = "wendell-achterberg", "sigrun-palo", "noor-farrant"
CIRCUITS, SOUTH, RIDGE = "larkfield-circuits", "south-area", "corbel-ridge"

_events = itertools.count(1)


def event() -> str:
    """An event of its own."""
    return f"put-by-hand-{next(_events)}"


def _iso(moment: datetime) -> str:
    return moment.isoformat().replace("+00:00", "Z")


def _report(at: datetime) -> str:
    seen = at - timedelta(minutes=10)
    day, next_day = f"{at:%d}", f"{at + timedelta(days=1):%d}"
    return (
        f"METAR XLKF {seen:%d%H%M}Z 17008KT 10SM FEW060 18/06 A3012 RMK AO2 T01830061\n"
        f"TAF XLKF {day}1130Z {day}12/{next_day}12 18008KT P6SM SCT060"
    )


def papers(office: jobs.Office, person_id: str, at: datetime) -> None:
    """Give somebody current instructor papers, so that their signature counts."""
    found = jobs.document(office, "person", person_id)
    found["pilot"] |= {"instructor_experience_on": "2026-01-15", "instructor_period_ends_on": "none"}
    office.store.put_document("person", person_id, json.dumps(found), at=at)


def fill_in(
    office: jobs.Office,
    flight_id: str,
    pilot_id: str,
    aircraft_id: str,
    route_id: str,
    at: datetime,
    *,
    leaves_in_min: int = 30,
    also: Mapping[str, Mapping[str, Any]] | None = None,
) -> jobs.Briefing:
    """A rested pilot, a calm report, everything answered."""
    jobs.choose(office, flight_id, jobs.Start(pilot_id=pilot_id, aircraft_id=aircraft_id, route_id=route_id), at=at)
    jobs.say(office, flight_id, "kind", ["rental"], at=at)
    jobs.plan_take_off(office, flight_id, at + timedelta(minutes=leaves_in_min), at=at)
    jobs.save_entries(office, flight_id, "aircraft", {"fuel_usable_gal": 30.0}, at=at)
    jobs.paste_report(office, flight_id, _report(at), at=at)
    jobs.say(office, flight_id, "beyond", [], at=at)
    woke = at - timedelta(hours=3)
    slept = [
        {"start_at": _iso(woke - timedelta(hours=h + 8)), "end_at": _iso(woke - timedelta(hours=h))} for h in (0, 24)
    ]
    jobs.save_entries(office, flight_id, "pilot", {"sleeps": slept, "sleepiness_rating": 3}, at=at)
    for key in ("fitness", "pressures"):
        jobs.say(office, flight_id, key, [], at=at)
    jobs.say(office, flight_id, "prepared", [each.key for each in QUICK_SETS["prepared"].statements], at=at)
    for part, entries in (also or {}).items():
        jobs.save_entries(office, flight_id, part, entries, at=at)
    return jobs.brief(office, flight_id, at=at)


def signature(office: jobs.Office, flight_id: str, at: datetime) -> jobs.Signature:
    """The pilot's, for what is on the screen now."""
    shown = jobs.brief(office, flight_id, at=at)
    return jobs.Signature(shown.pilot_id, demo.DEMO_PIN, event(), at, shown.digest)


def ask(office: jobs.Office, flight_id: str, at: datetime, note: str = "") -> None:
    """The pilot asks for a second person's signature."""
    jobs.request_sign_off(office, flight_id, signature(office, flight_id, at), note=note, at=at)


def sign(office: jobs.Office, flight_id: str, person_id: str, at: datetime, *conditions: str) -> None:
    """A second person opens it and signs."""
    seen = jobs.open_request(office, person_id, flight_id, event_id=event(), at=at)
    woke, began = at - timedelta(hours=4), at - timedelta(hours=2)
    signed = jobs.DeskSignature(
        demo.DEMO_PIN,
        event(),
        at,
        seen.shown_digest,
        entries_accurate=True,
        can_be_made_safely=True,
        awake_since=woke,
        on_duty_since=began,
    )
    jobs.sign_off(office, person_id, flight_id, signed, conditions=conditions, at=at)


def accept(office: jobs.Office, flight_id: str, at: datetime) -> None:
    """The pilot accepts a go."""
    jobs.accept(office, flight_id, signature(office, flight_id, at), at=at)


def released(office: jobs.Office, flight_id: str, pilot_id: str, aircraft_id: str, at: datetime) -> None:
    """Filled in, accepted, released."""
    fill_in(office, flight_id, pilot_id, aircraft_id, CIRCUITS, at)
    accept(office, flight_id, at)
    jobs.release(office, pilot_id, flight_id, event_id=event(), at=at)


def run_up(office: jobs.Office, flight_id: str, pilot_id: str, at: datetime, **changed: Any) -> jobs.RunUpResult:
    """A run-up as it should be, save what is changed."""
    seen = RunUpSeen(**{**RUN_UP, **changed})
    caller = caller_of(office, pilot_id, at)
    return jobs.run_up(office, caller, flight_id, seen, event_id=event(), at=at)


def leave(office: jobs.Office, flight_id: str, pilot_id: str, at: datetime) -> None:
    """Accepted, released, run up, gone."""
    accept(office, flight_id, at)
    jobs.release(office, pilot_id, flight_id, event_id=event(), at=at)
    run_up(office, flight_id, pilot_id, at)
    jobs.took_off(office, pilot_id, flight_id, event_id=event(), at=at)
