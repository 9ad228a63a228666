"""Where each flight of the school stands: the board of the day, and whether a yes still holds."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from riskboard.assessment.validity import ChangedFact, Ground, News, if_left_now, void_reasons
from riskboard.jobs.briefing import decide
from riskboard.jobs.flight_log import Flight, Picture
from riskboard.jobs.office import (
    Office,
    choose_policy,
    document,
    documents,
    policy_book,
    policy_of_digest,
    prepared_policy,
    school_zone,
)
from riskboard.jobs.roles import roles_of
from riskboard.jobs.standing import not_named
from riskboard.jobs.type_texts import TypeUnreadableError, newest_of, types_of
from riskboard.ledger import Entry, Status
from riskboard.ledger.views import Answer
from riskboard.measures.currency import instructor_valid_until
from riskboard.people.authority import Ask, may_see_board
from riskboard.policy.book import NoPolicyError
from riskboard.words import Decision, Role
from riskboard.worksheet.read import WorksheetError, read_worksheet

__all__ = [
    "CLOSED_SHOWN_FOR",
    "FlightCard",
    "NotShownError",
    "ask_about",
    "asked_entry",
    "board",
    "flight_card",
    "lapsed_roles",
    "overdue_min",
    "overdue_steps",
    "void_if_signed",
    "void_of",
]

CLOSED_SHOWN_FOR = timedelta(hours=18)
"""How long a flight that has ended stays on the board."""
_STALE = timedelta(hours=18)
"""How long after its planned landing a flight that never left stays on the board."""

_MAY_BE_OVERDUE = frozenset({Status.RELEASED, Status.AIRBORNE})
_RESTS_ON_A_YES = frozenset({Status.SIGNED, Status.ACCEPTED, Status.RELEASED})
_INSTRUCTING = frozenset({Role.instructor, Role.chief_instructor})


class NotShownError(PermissionError):
    """This person may not see this; the message says who may."""


@dataclass(frozen=True)
class FlightCard:
    """One flight as the board shows it. Holds no health answer and no reason.

    Attributes:
        flight_id: Its name, as in the URL.
        pilot_id: Pilot in command.
        pilot_name: Their name.
        instructor_id: Instructor chosen, or None.
        aircraft_id: Stored aircraft, "" if none.
        registration: As typed.
        route: Usual flight or destination.
        take_off_at: Planned, UTC.
        landing_at: Planned, UTC.
        status: Where it stands now; a yes that has ended or was overtaken is ``lapsed``, save that a released aircraft
            stays ``released``: it is gone from the desk, and ``void`` says that the release no longer holds.
        since: Since when, by the log.
        seq: Number of the record that left it so.
        decision: Decision put before somebody last.
        level: Its level.
        valid_until: Until when the yes holds by itself; None without a yes.
        signed_by: Names and roles of who said yes, with the time.
        refused_by: Names of who said no.
        question: The question it was sent back with, "" if none.
        conditions: Conditions of the signature.
        void: Why the yes holds no longer, one sentence each.
        took_off_at: When it left.
        overdue_min: Whole minutes past the planned landing and the policy's margin, 0 or more; None while not overdue.
        steps_taken: Steps taken since, in order.
        run_up: How the run-up for this release stands, or stood when it left: "good", "not good" or "none on record";
            "" where there is none to expect, or the record is older than run-ups.
        left_void: Why the release held no longer when it left all the same, one sentence each.
    """

    flight_id: str
    pilot_id: str
    pilot_name: str
    instructor_id: str | None
    aircraft_id: str
    registration: str
    route: str
    take_off_at: datetime | None
    landing_at: datetime | None
    status: Status
    since: datetime
    seq: int
    decision: Decision | None
    level: str
    valid_until: datetime | None
    signed_by: tuple[tuple[str, str, datetime], ...]
    refused_by: tuple[str, ...]
    question: str
    conditions: tuple[str, ...]
    void: tuple[str, ...]
    took_off_at: datetime | None
    overdue_min: int | None
    steps_taken: tuple[str, ...]
    run_up: str = ""
    left_void: tuple[str, ...] = ()


def board(office: Office, person_id: str, *, at: datetime) -> tuple[FlightCard, ...]:
    """Every flight of which something is expected, and those that ended lately.

    Overdue ones come first, the longest overdue at the top; then by planned take-off.

    Args:
        office: The school.
        person_id: Who looks.
        at: Now.

    Raises:
        NotShownError: They hold no role at the school.
    """
    ruling = may_see_board(roles_of(office, person_id, at))
    if not ruling.allowed:
        raise NotShownError(" ".join(ruling.clauses))
    picture = office.log.look()
    wanted = [picture.flights[flight_id] for flight_id in picture.open]
    for ended_at, flight_id in reversed(picture.ended):
        if at - ended_at > CLOSED_SHOWN_FOR:
            break
        wanted.append(picture.flights[flight_id])
    names = {found["id"]: found.get("name", found["id"]) for found in documents(office, "person")}
    cards = [_card(office, picture, flight, names, at) for flight in wanted if _shown(flight, at)]
    unique = {card.flight_id: card for card in cards}
    return tuple(sorted(unique.values(), key=_order))


def _order(card: FlightCard) -> tuple[int, int, str]:
    planned = card.take_off_at or card.since
    return (0 if card.overdue_min is not None else 1, -(card.overdue_min or 0), planned.isoformat() + card.flight_id)


def _shown(flight: Flight, at: datetime) -> bool:
    status = flight.state.status
    if status is Status.BRIEFED:
        return False
    if status.closed or status in _MAY_BE_OVERDUE:
        return True
    return at - (flight.landing_at or flight.state.since) <= _STALE


def flight_card(office: Office, flight_id: str, *, at: datetime) -> FlightCard:
    """One flight.

    Raises:
        KeyError: Nothing is on record about it.
    """
    picture = office.log.look()
    if flight_id not in picture.flights:
        raise KeyError(f"nothing is on record about the flight {flight_id!r}")
    flight = picture.flights[flight_id]
    names = {found["id"]: found.get("name", found["id"]) for found in documents(office, "person")}
    return _card(office, picture, flight, names, at)


def _card(office: Office, picture: Picture, flight: Flight, names: Mapping[str, str], at: datetime) -> FlightCard:
    state = flight.state
    void = void_of(office, picture, flight, at) if state.status in _RESTS_ON_A_YES else ()
    status = state.status
    if void and status in {Status.SIGNED, Status.ACCEPTED}:
        status = Status.LAPSED
    return FlightCard(
        flight_id=state.subject,
        pilot_id=flight.pilot_id,
        pilot_name=names.get(flight.pilot_id, flight.pilot_id),
        instructor_id=flight.instructor_id or None,
        aircraft_id=flight.aircraft_id,
        registration=flight.registration,
        route=_route_name(office, flight),
        take_off_at=flight.take_off_at,
        landing_at=flight.landing_at,
        status=status,
        since=state.since,
        seq=state.seq,
        decision=flight.decision,
        level=flight.level,
        valid_until=state.accepted_until,
        signed_by=tuple((names.get(yes.actor, yes.actor), yes.role, yes.at) for yes in state.yes),
        refused_by=tuple(names.get(no.actor, no.actor) for no in state.no),
        question=flight.question if state.status is Status.SENT_BACK else "",
        conditions=flight.conditions,
        void=void,
        took_off_at=flight.took_off_at,
        overdue_min=overdue_min(office, flight, at),
        steps_taken=flight.steps,
        run_up=flight.run_up_said if state.status is Status.RELEASED else flight.left_run_up,
        left_void=flight.left_void,
    )


def _route_name(office: Office, flight: Flight) -> str:
    if flight.route_id:
        try:
            return str(document(office, "route", flight.route_id)["name"])
        except KeyError:
            pass  # taken out of the school since; what was typed stays
    return flight.where


def overdue_min(office: Office, flight: Flight, at: datetime) -> int | None:
    """Whole minutes past planned landing and the policy's margin; None while the flight is not overdue."""
    if flight.state.status not in _MAY_BE_OVERDUE:
        return None
    # Without a readable plan the worst is assumed: a released aircraft is due back when its yes was given.
    due = flight.landing_at or flight.asked_at or flight.state.since
    if flight.took_off_at is not None and flight.take_off_at is not None and flight.took_off_at > flight.take_off_at:
        due += flight.took_off_at - flight.take_off_at  # left late, back late
    late = at - due - timedelta(minutes=_policy_overdue(office, flight)[0])
    return None if late <= timedelta() else int(late.total_seconds() // 60)


def _policy_overdue(office: Office, flight: Flight) -> tuple[int, tuple[str, ...]]:
    try:
        policy = policy_of_digest(office, flight.state.policy_digest)
    except KeyError:
        return 0, ()
    return policy.overdue_margin_min, policy.overdue_steps


def overdue_steps(office: Office, flight_id: str) -> tuple[str, ...]:
    """What the school's policy says to do when this flight is overdue, in order."""
    flight = office.log.look().flights.get(flight_id)
    return () if flight is None else _policy_overdue(office, flight)[1]


def asked_entry(office: Office, flight: Flight) -> Entry | None:
    """The record that put the assessment before somebody last."""
    if not flight.state.asked_seq:
        return None
    found = next(iter(office.store.entries(flight.state.asked_seq)), None)
    return found if found is not None and found.seq == flight.state.asked_seq else None


def void_of(office: Office, picture: Picture, flight: Flight, at: datetime) -> tuple[str, ...]:
    """Why the yes to a flight holds no longer; empty while it holds."""
    zone = school_zone(office)
    entry = asked_entry(office, flight)
    body = {} if entry is None or entry.body is None else entry.body.value
    assessment = body.get("assessment")
    if not isinstance(assessment, dict):
        return ("What was signed is no longer on record, so it does not hold.",)
    ground = Ground(
        flight.state.accepted_until,
        Decision[assessment["decision"]],
        assessment["level"],
        flight.state.policy_digest,
        flight.observed_at,
    )
    if flight.waived:  # what was signed is the flight with its waivers, so that is what it is compared with
        ground = _with_waivers(office, ground, body, flight, at=entry.header.at if entry else at)
    found_at_aircraft = tuple(f"At the run-up: {sentence}" for sentence in flight.run_up_stops)
    standing = not_named(office, flight.aircraft_id, flight.registration, body.get("worksheet"))
    return (*found_at_aircraft, *standing, *void_reasons(ground, _news(office, picture, flight, body, at), at, zone))


def void_if_signed(office: Office, picture: Picture, flight: Flight, at: datetime) -> tuple[str, ...]:
    """Why a signature given now would end at once, one sentence each; none where it would hold.

    A newer observation, a changed fact, another policy or a worse level since it was asked ends every yes to it.
    """
    signed = Answer(picture.head, "signed", "", "", at, at + timedelta(minutes=1))
    return void_of(office, picture, replace(flight, state=replace(flight.state, yes=(signed,))), at)


def _with_waivers(office: Office, ground: Ground, body: Mapping[str, Any], flight: Flight, *, at: datetime) -> Ground:
    try:
        sheet = read_worksheet(body["worksheet"])
        then_type = str(body["assessment"].get("type_digest", ""))
        prepared = prepared_policy(office, ground.policy_digest, type_digest=then_type)
    except (KeyError, WorksheetError, TypeUnreadableError):
        return ground
    then, _ = decide(prepared, sheet, at, waived=flight.waived)
    if then is None:
        return ground
    return Ground(ground.valid_until, then.decision, then.level, ground.policy_digest, ground.observed_at)


def _news(office: Office, picture: Picture, flight: Flight, body: Mapping[str, Any], at: datetime) -> News:
    newest = picture.observed.get(flight.site_id)
    observed = newest[0] if newest is not None and newest[1] > flight.state.asked_seq else None
    changed = [*_changed(office, picture, flight), *_type_changed(office, flight, body)]
    try:
        sheet = if_left_now(read_worksheet(body["worksheet"]), at)
        policy = choose_policy(policy_book(office), sheet, at)
    except (KeyError, ValueError) as error:  # a worksheet error is a value error
        return News(changed, observed, None, None, "", f"The worksheet on record cannot be read: {error}")
    except NoPolicyError as error:
        return News(changed, observed, None, None, "", str(error))
    again, problems = decide(prepared_policy(office, policy.digest), sheet, at, waived=flight.waived)
    if again is None:
        # A plan in the past is what a flight under way looks like; its end by time is said already.
        return News(changed, observed, policy.digest, None, "", problems[0].message)
    return News(changed, observed, policy.digest, again.decision, again.level)


def _type_changed(office: Office, flight: Flight, body: Mapping[str, Any]) -> list[ChangedFact]:
    """The aircraft type, where another text of it is in force than the one that was signed on, or none."""
    signed = str(body["assessment"].get("type_digest", ""))
    title = _type_name(body)
    now = next((text for text in types_of(office.store).texts if text.title == title), None)
    if (now.digest if now is not None else "") == signed:
        return []
    if now is None:  # called otherwise since, or unreadable
        before = office.store.get_type(signed)
        now = None if before is None else newest_of(office.store).get(before.type_id)
    since = flight.asked_at or flight.state.since if now is None else now.published_at
    return [ChangedFact(f"The aircraft type {title}", since)]


def _type_name(body: Mapping[str, Any]) -> str:
    worksheet = body.get("worksheet")
    part = worksheet.get("aircraft") if isinstance(worksheet, Mapping) else None
    return str(part.get("type_name") or "") if isinstance(part, Mapping) else ""


def _changed(office: Office, picture: Picture, flight: Flight) -> list[ChangedFact]:
    rests_on = [
        ("aircraft", flight.aircraft_id),
        ("person", flight.pilot_id),
        ("person", flight.instructor_id),
        ("site", flight.site_id),
        ("route", flight.route_id),
    ]
    found = []
    for kind, identity in dict.fromkeys(rests_on):
        if not identity:
            continue
        for change in picture.changes.get((kind, identity), []):
            if change.seq > flight.state.asked_seq and change.flight_id != flight.state.subject:
                what = ", ".join(key.replace("_", " ") for key in change.keys)
                name = _document_name(office, kind, identity)
                found.append(ChangedFact(f"{name}: {what}" if what else name, change.at))
    return found


def _document_name(office: Office, kind: str, identity: str) -> str:
    try:
        found = document(office, kind, identity)
    except KeyError:
        return f"{kind} {identity}"
    registration = found.get("aircraft", {}).get("registration") if kind == "aircraft" else None
    return f"{kind.capitalize()} {registration or found.get('name', identity)}"


def lapsed_roles(office: Office, person_id: str, at: datetime) -> dict[Role, str]:
    """Roles that do not count now because the papers behind them have lapsed or are not on file, with the sentence why.

    An instructor's signature needs current instructor papers: 24 calendar months (14 CFR 61.197).
    """
    try:
        facts = document(office, "person", person_id).get("pilot", {})
    except KeyError:
        return dict.fromkeys(_INSTRUCTING, "The school has no papers of this person on file.")
    met = _day(facts.get("instructor_experience_on"))
    if met is None:
        return dict.fromkeys(_INSTRUCTING, "No current instructor papers are on file, so this role does not sign.")
    until = instructor_valid_until(met, _day(facts.get("instructor_period_ends_on")))
    today = at.astimezone(ZoneInfo(school_zone(office))).date()
    if until is None or today > until:
        return dict.fromkeys(
            _INSTRUCTING, f"The instructor papers on file ended on {until}, so this role does not sign."
        )
    return {}


def _day(found: object) -> date | None:
    if not isinstance(found, str):
        return None
    try:
        return date.fromisoformat(found)
    except ValueError:
        return None


def ask_about(
    office: Office,
    flight: Flight,
    person_id: str,
    at: datetime,
    *,
    decision: Decision,
    level: str,
    accepted_by: frozenset[Role],
    waivable: bool = False,
) -> Ask:
    """The question to the authority rule: this person, this flight, these roles at this moment."""
    return Ask(
        person_id=person_id,
        roles=roles_of(office, person_id, at),
        pilot_id=flight.pilot_id,
        decision=decision,
        accepted_by=accepted_by,
        level=level,
        crew=flight.crew,
        lapsed=lapsed_roles(office, person_id, at),
        waivable=waivable,
    )
