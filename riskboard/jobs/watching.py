"""Looking again: what is overdue and what was done about it, and whether a flight moved since somebody looked.

Pages ask this every few seconds, so nothing here scores a worksheet unless an aircraft is missing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from riskboard.jobs.flights import ask_about, flight_card, overdue_min, overdue_steps, void_if_signed
from riskboard.jobs.office import Office, document
from riskboard.jobs.roles import roles_of
from riskboard.ledger import Entry
from riskboard.people.authority import Ruling, may_keep_watch, may_open_flight
from riskboard.words import Decision

__all__ = ["Alarm", "AlarmStep", "alarms", "flight_mark", "log_head", "may_open", "would_not_hold"]


@dataclass(frozen=True)
class AlarmStep:
    """One step for an overdue aircraft.

    Attributes:
        text: What to do, or what was done in somebody's own words.
        done_at: When it was put on record; None while it is still to do.
        done_by: Name of who did it.
        overdue_min: How many minutes overdue the aircraft was then; None while it is still to do.
    """

    text: str
    done_at: datetime | None = None
    done_by: str = ""
    overdue_min: int | None = None


@dataclass(frozen=True)
class Alarm:
    """An aircraft that has not come back.

    Attributes:
        flight_id: The flight.
        registration: As typed.
        pilot_name: Pilot in command.
        route: Usual flight or destination.
        landing_at: When it was planned back, UTC.
        took_off_at: When it left, if that is on record.
        overdue_min: Whole minutes past the planned landing and the policy's margin.
        steps: The steps of the policy it was decided under, in its order, each done or still to do.
        also: What else was done, in own words, in the order of the log.
    """

    flight_id: str
    registration: str
    pilot_name: str
    route: str
    landing_at: datetime | None
    took_off_at: datetime | None
    overdue_min: int
    steps: tuple[AlarmStep, ...]
    also: tuple[AlarmStep, ...]

    @property
    def done(self) -> int:
        """How many of the policy's steps were done."""
        return sum(step.done_at is not None for step in self.steps)


def alarms(office: Office, person_id: str, *, at: datetime) -> tuple[Alarm, ...]:
    """The overdue aircraft, longest overdue first; none for somebody who does not keep the watch.

    Args:
        office: The school.
        person_id: Who looks.
        at: Now.
    """
    if not may_keep_watch(roles_of(office, person_id, at)).allowed:
        return ()
    picture = office.log.look()
    late = [
        (minutes, flight_id)
        for flight_id in picture.open
        if (minutes := overdue_min(office, picture.flights[flight_id], at)) is not None
    ]
    return tuple(_alarm(office, flight_id, minutes, at) for minutes, flight_id in sorted(late, reverse=True))


def _alarm(office: Office, flight_id: str, minutes: int, at: datetime) -> Alarm:
    card = flight_card(office, flight_id, at=at)
    entries = [entry for entry in office.store.entries(subject=flight_id) if entry.header.kind == "overdue_step"]
    taken = [_taken(office, entry) for entry in entries]
    wanted = overdue_steps(office, flight_id)
    return Alarm(
        flight_id,
        card.registration,
        card.pilot_name,
        card.route,
        card.landing_at,
        card.took_off_at,
        minutes,
        tuple(_first(taken, text) or AlarmStep(text) for text in wanted),
        tuple(step for step in taken if step.text not in wanted),
    )


def _first(taken: Sequence[AlarmStep], text: str) -> AlarmStep | None:
    return next((step for step in taken if step.text == text), None)


def _taken(office: Office, entry: Entry) -> AlarmStep:
    body = {} if entry.body is None else entry.body.value
    try:
        name = str(document(office, "person", entry.header.actor)["name"])
    except KeyError:
        name = entry.header.actor
    return AlarmStep(str(body.get("step", "erased")), entry.header.at, name, body.get("overdue_min"))


def log_head(office: Office) -> int:
    """Number of the newest record; as long as it stays, nothing happened."""
    return office.log.look().head


def flight_mark(office: Office, flight_id: str) -> str:
    """A text that changes when somebody moves this flight, enters a run-up or waives a limit; "" for no record."""
    flight = office.log.look().flights.get(flight_id)
    return "" if flight is None else " ".join([str(flight.state.seq), str(flight.run_up_seq), *sorted(flight.waived)])


def would_not_hold(office: Office, flight_id: str, *, at: datetime) -> tuple[str, ...]:
    """Why a signature under this request would end as soon as it is given, one sentence each; none where it would hold.

    A newer observation, a changed fact or another policy since it was asked ends every yes to it.

    Raises:
        KeyError: Nothing is on record about it.
    """
    picture = office.log.look()
    flight = picture.flights[flight_id]
    return void_if_signed(office, picture, flight, at)


def may_open(office: Office, person_id: str, flight_id: str, *, at: datetime) -> Ruling:
    """Whether this person may see where one flight stands, its health answers left out.

    Raises:
        KeyError: Nothing is on record about it.
    """
    flight = office.log.look().flights.get(flight_id)
    if flight is None:
        raise KeyError(f"nothing is on record about the flight {flight_id!r}")
    decision = Decision.no_go if flight.decision is None else flight.decision
    ask = ask_about(office, flight, person_id, at, decision=decision, level=flight.level, accepted_by=frozenset())
    return may_open_flight(ask)
