"""What the run-up page shows, read from the school's log through the jobs."""

from datetime import datetime

from riskboard import jobs
from riskboard.app.line.asker import Asker
from riskboard.app.line.run_up_page import Entry, Ran, RunUpView
from riskboard.app.widgets.debrief_sheet import is_metric
from riskboard.jobs import FlightCard, RunUpItem, RunUpResult, RunUpSheet
from riskboard.ledger import Status
from riskboard.run_up import RunUpSeen
from riskboard.units import convert_rounded

__all__ = ["run_up_view", "said_fuel"]

_LAST_SHOWN = 3


def run_up_view(asker: Asker) -> RunUpView:
    """Everything that the page shows about one flight.

    Raises:
        KeyError: Nothing is on record about the flight.
        NotShownError: It is not this person's to see.
        LedgerError: The store cannot be used.
    """
    sheet = jobs.run_up_sheet(asker.office, asker.caller.person_id, asker.flight_id, at=asker.at)
    card = jobs.flight_card(asker.office, asker.flight_id, at=asker.at)
    return RunUpView(
        school=asker.school(),
        name=asker.caller.name,
        flight_id=asker.flight_id,
        registration=card.registration or card.aircraft_id,
        facts=asker.facts(card),
        stated_in=_stated(sheet),
        entries=[_entry(asker, item) for item in sheet.items],
        difference=f"Right: {sheet.difference}" if sheet.difference else "",
        no_type=sheet.no_type,
        void=sheet.void,
        ran=None if sheet.ran is None else _ran(asker, sheet.ran),
        closed=_closed(asker, sheet, card),
        left=sheet.flight.state.status in {Status.AIRBORNE, Status.DEBRIEFED},
        fuel=said_fuel("Briefed", sheet.fuel_gal, metric=is_metric(jobs.school(asker.office) or {})),
    )


def _stated(sheet: RunUpSheet) -> str:
    if not sheet.type_title:
        return ""
    invented = " Its figures come from no flight manual." if sheet.invented else ""
    return f"{sheet.type_title}: {sheet.stated_in}.{invented}"


def said_fuel(word: str, fuel_gal: float | None, *, metric: bool) -> str:
    """Fuel in the school's unit; "" where it is not known."""
    if fuel_gal is None:
        return ""
    if metric:
        return f"{word}: {convert_rounded(fuel_gal, 'gal', 'l', 1):g} L."
    return f"{word}: {fuel_gal:g} US gal."


def _entry(asker: Asker, item: RunUpItem) -> Entry:
    before = ""
    if item.last:
        unit, newest = RunUpSeen.facts()[item.item].unit, item.last[-1][0]
        read = ", ".join(f"{value:g}" for _, value in reversed(item.last[-_LAST_SHOWN:]))
        before = f"Read before: {read} {unit}, last {_day(asker, newest)}"
    return Entry(item.item, item.right, before, item.drift if item.warns else "")


def _day(asker: Asker, moment: datetime) -> str:
    local = moment.astimezone(asker.zone())
    return f"{local:%H:%M}" if local.date() == asker.at.astimezone(asker.zone()).date() else f"{local.day} {local:%b}"


def _closed(asker: Asker, sheet: RunUpSheet, card: FlightCard) -> str:
    """Why no run-up is entered now; "" where one is."""
    status = sheet.flight.state.status
    if card.took_off_at is not None:
        return f"{card.registration} left at {asker.clock(card.took_off_at)}."
    if not sheet.open:
        said = status.value.replace("_", " ")
        return f"This flight is {said}, not released: a run-up belongs to a released flight that has not left."
    return "" if sheet.ruling.allowed else " ".join(sheet.ruling.clauses)


def _ran(asker: Asker, ran: RunUpResult) -> Ran:
    header = ran.signed.entry.header
    try:
        who = jobs.person(asker.office, header.actor).name
    except KeyError:
        who = header.actor
    return Ran(
        decision=ran.decision,
        number=ran.signed.entry.seq,
        said=f"entered by {who} at {asker.clock(header.at)}",
        findings=ran.findings,
        unjudged=ran.unjudged,
        grounded=ran.grounded,
        seen=ran.seen,
        receipt=ran.receipt.code,
    )
