"""What is done on the shut-down page: draw it, and close the flight."""

from collections.abc import Iterator
from datetime import datetime
from http import HTTPStatus
from typing import Any

from riskboard import jobs
from riskboard.aircraft_types.model import AircraftType
from riskboard.app.line.answer import Answer, Outcome
from riskboard.app.line.asker import Asker
from riskboard.app.line.reading import Typed, debrief_from, problems_by_entry, typed_debrief
from riskboard.app.line.run_up_view import said_fuel
from riskboard.app.line.shut_down_page import Closed, ShutDownView, WaitFor, shut_down_page
from riskboard.app.told import closed_words
from riskboard.app.widgets.debrief_sheet import is_metric
from riskboard.jobs.debriefing import Debriefing
from riskboard.jobs.run_up import type_of_flight
from riskboard.ledger import Status
from riskboard.worksheet.debrief import Condition, Debrief, Told, debrief_data, partial_debrief

__all__ = ["draw_shut_down", "save_shut_down"]

_MEND = "Not closed yet: mend what is named below, then press again."
_OTHER_ENTRIES = (
    "The flight was closed with what you had sent before. What you changed since is not in it; correct it as a fact of "
    "the aircraft."
)
_OUT = frozenset({Status.RELEASED, Status.AIRBORNE})


def draw_shut_down(asker: Asker, typed: Typed | None = None, *, alert: str = "") -> Answer:
    """The page as it stands, with what was typed elsewhere for this flight.

    Raises:
        KeyError: Nothing is on record about the flight.
        NotShownError: It is not this person's to see.
        LedgerError: The store cannot be used.
    """
    seen = _opened(asker)
    if typed is None:
        typed = typed_debrief(seen.data, seen.not_fitted, asker.zone())
    return Answer(Outcome.page, _drawn(asker, seen, typed, alert=alert))


def _opened(asker: Asker) -> Debriefing:
    return jobs.open_debrief(asker.office, asker.caller.person_id, asker.flight_id, at=asker.at)


def _drawn(
    asker: Asker,
    seen: Debriefing,
    typed: Typed,
    *,
    alert: str = "",
    problems: Typed | None = None,
    closed: Closed | None = None,
) -> str:
    kept = asker.form(f"/shut-down/{asker.flight_id}", typed, problems or {})
    return shut_down_page(_view(asker, seen, closed), kept, alert=alert)


def _view(asker: Asker, seen: Debriefing, closed: Closed | None) -> ShutDownView:
    card = jobs.flight_card(asker.office, asker.flight_id, at=asker.at)
    kind, _ = type_of_flight(asker.office, seen.flight)
    metric = is_metric(jobs.school(asker.office) or {})
    out = seen.flight.state.status in _OUT
    return ShutDownView(
        school=asker.school(),
        name=asker.caller.name,
        flight_id=asker.flight_id,
        registration=card.registration,
        facts=asker.facts(card, until=False),
        waits=() if kind is None else tuple(_waits(kind, seen.not_fitted)),
        no_waits="The school has no waits on file for this type; the flight manual names them." if kind is None else "",
        meter="" if seen.known.meter_h is None else f"Before the flight: {seen.known.meter_h:g} h.",
        fuel=said_fuel("Aboard at the start", seen.known.fuel_gal, metric=metric),
        metric=metric,
        not_fitted=[Condition.facts()[name].label for name in seen.not_fitted],
        open=out and seen.ruling.allowed,
        why_not=" ".join(seen.ruling.clauses) if out else _not_out(seen.flight.state.status),
        closed=closed,
    )


def _not_out(status: Status) -> str:
    if status is Status.DEBRIEFED:
        return "This flight is closed already. What was wrong in what was told is corrected as a fact of the aircraft."
    return f"This flight is not out, it is {status.value.replace('_', ' ')}; only a flight that is out is closed."


def _waits(kind: AircraftType, not_fitted: tuple[str, ...]) -> Iterator[WaitFor]:
    waits = kind.shut_down
    low, high = waits.idle_rpm_pct
    yield WaitFor("cool_down", f"Cool down at idle, {low:g} to {high:g} %", waits.cool_down_at_idle_s, "Cooled down.")
    if waits.before_mixture_off_s is not None:
        yield WaitFor("mixture", "Before mixture off", waits.before_mixture_off_s, "Mixture may be pulled.")
    if waits.before_rotor_brake_s is not None and "rotor_brake" not in not_fitted:
        yield WaitFor(
            "rotor_brake", "Before the rotor brake", waits.before_rotor_brake_s, "The rotor brake may be set."
        )


def save_shut_down(asker: Asker, typed: Typed, event_id: str) -> Answer:
    """Close the flight.

    Raises:
        NotLetInError, NotShownError, KeyError, LedgerError: As the jobs do.
    """
    seen = _opened(asker)
    told, problems = _told(asker, typed, seen, asker.at)
    if problems:
        return _to_mend(asker, seen, typed, problems)
    try:
        signed = jobs.debrief(asker.office, asker.caller, asker.flight_id, told, event_id=event_id, at=asker.at)
    except jobs.NotDebriefedError as error:
        if error.problems:
            return _to_mend(asker, seen, typed, error.problems)
        return Answer(Outcome.refused, _drawn(asker, _opened(asker), typed, alert=str(error)), HTTPStatus.CONFLICT)
    body = signed.entry.body
    same = body is not None and body.value.get("debrief") == debrief_data(told)
    name = seen.flight.registration or seen.flight.aircraft_id
    html = _drawn(
        asker, seen, {}, alert="" if same else _OTHER_ENTRIES, closed=Closed(*closed_words(name, told, signed))
    )
    return Answer(Outcome.saved, html)


def _told(asker: Asker, typed: Typed, seen: Debriefing, at: datetime) -> tuple[Debrief, tuple[Any, ...]]:
    data, problems = debrief_from(typed, at=at, zone=asker.zone(), not_fitted=seen.not_fitted)
    told, more = partial_debrief(data)
    return told, (*problems, *more)


def _to_mend(asker: Asker, seen: Debriefing, typed: Typed, problems: tuple[Any, ...]) -> Answer:
    by_entry, rest = problems_by_entry(problems, Told)
    if "fuel_left_gal" in by_entry and is_metric(jobs.school(asker.office) or {}):
        by_entry["fuel_left_l"] = by_entry.pop("fuel_left_gal")
    alert = " ".join([_MEND, *rest])
    return Answer(
        Outcome.mend, _drawn(asker, seen, typed, alert=alert, problems=by_entry), HTTPStatus.UNPROCESSABLE_ENTITY
    )
