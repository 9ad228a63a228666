"""What a page at the aircraft shows before and after a run-up: what is asked, what is right, what was read before."""

from dataclasses import dataclass
from datetime import datetime

from riskboard.aircraft_types import AircraftType
from riskboard.jobs.aircraft_log import Past
from riskboard.jobs.flight_log import Flight, Picture
from riskboard.jobs.flights import NotShownError, ask_about, void_of
from riskboard.jobs.office import Office
from riskboard.jobs.run_up import RunUpResult, no_type_sentence, result_of, type_of_flight
from riskboard.jobs.signing import Signed
from riskboard.ledger import Status
from riskboard.ledger.receipt import receipt_for
from riskboard.people.authority import Ruling, may_open_flight, may_run_up
from riskboard.run_up import Asked, asked_of
from riskboard.upkeep.drifts import FlightReading, ItemDrift, item_drifts
from riskboard.words import Decision

__all__ = ["RunUpItem", "RunUpSheet", "drifts_of", "run_up_sheet"]


@dataclass(frozen=True)
class RunUpItem:
    """One entry that the type asks for.

    Attributes:
        item: Entry of ``run_up.RunUpSeen``; label, unit and shape stand there.
        right: What is right, in words.
        at_least: Lowest value allowed; None for no bound, and for what is no number.
        at_most: Highest value allowed; None likewise.
        last: The newest readings of this aircraft, oldest first.
        drift: Their trend in words; "" for what is not watched.
        warns: Whether the trend moves toward the limit, or has passed it.
    """

    item: str
    right: str
    at_least: float | None
    at_most: float | None
    last: tuple[tuple[datetime, float], ...] = ()
    drift: str = ""
    warns: bool = False


@dataclass(frozen=True)
class RunUpSheet:
    """The run-up of one flight.

    Attributes:
        flight: The flight as the log has it.
        type_title: The type it is held against, "" where none is on file.
        invented: Whether that type comes from no flight manual; every screen says so.
        stated_in: Where the tolerances are stated.
        no_type: Why nothing can be judged, "" where it can.
        items: What is asked, in the order of the run-up; none without a type.
        difference: What is right of the two magneto drops, in words; "" where the type states nothing.
        fuel_gal: Usable fuel as briefed; None unknown.
        ran: The newest run-up on record for this release; None for none.
        void: Why the release does not hold, one sentence each; for a flight that is out before it left.
        ruling: Whether this person may enter a run-up, and why.
        open: Whether one may be entered now: released, and not left.
    """

    flight: Flight
    type_title: str
    invented: bool
    stated_in: str
    no_type: str
    items: tuple[RunUpItem, ...]
    difference: str
    fuel_gal: float | None
    ran: RunUpResult | None
    void: tuple[str, ...]
    ruling: Ruling
    open: bool


def run_up_sheet(office: Office, person_id: str, flight_id: str, *, at: datetime) -> RunUpSheet:
    """The run-up of one flight, as crew or whoever oversees flights may see it.

    Args:
        office: The school.
        person_id: Who looks.
        flight_id: The flight.
        at: Now.

    Raises:
        KeyError: Nothing is on record about the flight.
        NotShownError: It is not this person's to see.
    """
    picture = office.log.look()
    flight = picture.flights.get(flight_id)
    if flight is None:
        raise KeyError(f"nothing is on record about the flight {flight_id!r}")
    decision = Decision.no_go if flight.decision is None else flight.decision
    ask = ask_about(office, flight, person_id, at, decision=decision, level=flight.level, accepted_by=frozenset())
    ruling, seen = may_run_up(ask), may_open_flight(ask)
    if not ruling.allowed and not seen.allowed:
        raise NotShownError(" ".join(seen.clauses))
    kind, name = type_of_flight(office, flight)
    is_open = flight.state.status is Status.RELEASED
    return RunUpSheet(
        flight=flight,
        type_title="" if kind is None else kind.title,
        invented=kind is not None and kind.invented,
        stated_in="" if kind is None else kind.run_up.stated_in,
        no_type=no_type_sentence(name) if kind is None else "",
        items=() if kind is None else _items(kind, picture, flight),
        difference="" if kind is None else _difference(kind),
        fuel_gal=flight.fuel_gal,
        ran=_ran(office, flight, at),
        void=void_of(office, picture, flight, at) if is_open else (),
        ruling=ruling,
        open=is_open,
    )


def drifts_of(kind: AircraftType, past: Past) -> tuple[ItemDrift, ...]:
    """The drift of an aircraft's readings, from what the log says of it."""
    last = {read.flight_id: FlightReading(read.seq, read.at, read.seen) for read in past.run_ups}
    flights = [last.get(flight_id, FlightReading(seq, None, None)) for flight_id, seq in past.flights.items()]
    starts_over = {item: work.seq for work in past.worked for item in work.starts_over}
    return item_drifts(kind, sorted(flights, key=lambda each: each.seq), starts_over)


def _items(kind: AircraftType, picture: Picture, flight: Flight) -> tuple[RunUpItem, ...]:
    drifts = {each.item: each for each in drifts_of(kind, picture.past.get(flight.aircraft_id, Past()))}
    return tuple(_item(asked, drifts.get(asked.item)) for asked in asked_of(kind))


def _item(asked: Asked, drift: ItemDrift | None) -> RunUpItem:
    if drift is None:
        return RunUpItem(asked.item, asked.right, asked.at_least, asked.at_most)
    return RunUpItem(
        asked.item, asked.right, asked.at_least, asked.at_most, drift.readings, drift.sentence, drift.warns
    )


def _difference(kind: AircraftType) -> str:
    most = kind.run_up.magneto_difference_max_pct
    return "" if most is None else f"at most {most:g} % between the two drops"


def _ran(office: Office, flight: Flight, at: datetime) -> RunUpResult | None:
    if not flight.run_up_seq:
        return None
    entry = next(iter(office.store.entries(flight.run_up_seq, subject=flight.state.subject)), None)
    if entry is None or entry.body is None:
        return None
    return result_of(office, Signed(entry, receipt_for(entry)), at)
