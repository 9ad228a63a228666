"""What happened to an aircraft, read from the log: run-ups, flights, defects, work signed, facts changed."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from riskboard.jobs.aircraft_log import ABOUT_AIRCRAFT, Past
from riskboard.jobs.flights import NotShownError
from riskboard.jobs.office import Office, document, documents
from riskboard.jobs.roles import roles_of
from riskboard.ledger import Entry
from riskboard.ledger.entry import UnreadableError
from riskboard.people.authority import may_see_board
from riskboard.upkeep.defects import id_of, listed
from riskboard.words import DefectEffect

__all__ = ["HistoryLine", "aircraft_history", "said_of"]

_MOST = 100


@dataclass(frozen=True)
class HistoryLine:
    """One thing that happened.

    Attributes:
        seq: Number of the record.
        at: When it went on record.
        kind: Kind of the record.
        who: Who, by name.
        said: What, in sentences.
        stops: Whether it kept the aircraft from flying.
        flight_id: Flight it belongs to, "" for none.
    """

    seq: int
    at: datetime
    kind: str
    who: str
    said: tuple[str, ...]
    stops: bool
    flight_id: str


def aircraft_history(
    office: Office, person_id: str, aircraft_id: str, *, at: datetime, most: int = _MOST
) -> tuple[HistoryLine, ...]:
    """What is on record about an aircraft, newest first. Holds no health answer and no reason of a decision.

    Args:
        office: The school.
        person_id: Who looks: anybody with a role at the school.
        aircraft_id: The aircraft.
        at: Now.
        most: How many lines at most.

    Raises:
        NotShownError: They hold no role at the school.
        KeyError: The school has no such aircraft.
    """
    ruling = may_see_board(roles_of(office, person_id, at))
    if not ruling.allowed:
        raise NotShownError(" ".join(ruling.clauses))
    document(office, "aircraft", aircraft_id)
    picture = office.log.look()
    names = {found["id"]: str(found.get("name", found["id"])) for found in documents(office, "person")}
    found = _entries(office, picture.past.get(aircraft_id, Past()).records[-most:])
    return tuple(_line(entry, names, picture.flights.keys()) for entry in found)[::-1]


def _entries(office: Office, records: Sequence[tuple[int, str]]) -> list[Entry]:
    """The records of these numbers, oldest first. Asked by subject, so that none but them is read."""
    wanted: set[int] = set()
    first: dict[str, int] = {}
    for seq, subject in records:
        wanted.add(seq)
        first.setdefault(subject, seq)
    found = [
        entry
        for subject, seq in first.items()
        for entry in office.store.entries(seq, subject=subject, kinds=ABOUT_AIRCRAFT)
        if entry.seq in wanted
    ]
    return sorted(found, key=lambda entry: entry.seq)


def _line(entry: Entry, names: Mapping[str, str], flights: Any) -> HistoryLine:
    header, body = entry.header, _body(entry)
    said, stops = _said(header.kind, body) if body else (["What it said was erased."], False)
    flight_id = header.subject if header.subject in flights else ""
    who = names.get(header.actor, header.actor)
    return HistoryLine(entry.seq, header.at, header.kind, who, tuple(said), stops, flight_id)


def said_of(kind: str, body: Mapping[str, Any]) -> list[str]:
    """What a record about an aircraft says, in sentences."""
    return _said(kind, body)[0]


def _said(  # noqa: PLR0911 - one return a kind
    kind: str, body: Mapping[str, Any]
) -> tuple[list[str], bool]:
    if kind == "run_up":
        return _run_up(body), body.get("good") is not True
    if kind == "took_off":
        return _took_off(body)
    if kind == "debriefed":
        return _debriefed(body), False
    if kind == "cancelled":
        return ["Flight called off before it left."], False
    if kind == "defect_reported":
        defect = _mapping(body.get("defect"))
        return [f"Defect opened: {defect.get('text', '')} ({_effect(defect)})."], defect.get("effect") == "grounding"
    if kind == "maintenance_signed":
        return list(_maintenance(body)), False
    return _changed(body), False


def _run_up(body: Mapping[str, Any]) -> list[str]:
    seen = _mapping(body.get("seen"))
    drops = [
        f"{side} {seen[name]:g} %"
        for side, name in (("left", "magneto_left_drop_pct"), ("right", "magneto_right_drop_pct"))
        if isinstance(seen.get(name), int | float)
    ]
    read = f" Magneto drops: {', '.join(drops)}." if drops else ""
    if body.get("good") is True:
        return [f"Run-up good.{read}"]
    findings = [str(_mapping(each).get("sentence", "")) for each in body.get("findings") or []]
    return [f"Run-up not good.{read}", *findings, *([str(body["unjudged"])] if body.get("unjudged") else [])]


def _took_off(body: Mapping[str, Any]) -> tuple[list[str], bool]:
    run_up = str(body.get("run_up", ""))
    said = ["Left."]
    if run_up == "none on record":
        said = ["Left without a run-up on record."]
    elif run_up == "not good":
        said = ["Left after a run-up that was not good."]
    if body.get("void"):
        said.append("The release held no longer.")
    return said, len(said) > 1 or run_up in {"none on record", "not good"}


def _debriefed(body: Mapping[str, Any]) -> list[str]:
    told = _mapping(body.get("debrief"))
    hours = body.get("flown_h")
    flown = f" after {hours:g} h" if isinstance(hours, int | float) else ""
    left = told.get("fuel_left_gal")
    fuel = f" Fuel left: {left:g} gal." if isinstance(left, int | float) else ""
    said = [f"Back{flown}.{fuel}"]
    if body.get("run_up") in {"none on record", "not good"}:
        said.append(f"Its departure was not noted; run-up for the release: {body['run_up']}.")
    said += [
        f"Defect opened: {_mapping(each).get('text', '')} ({_effect(_mapping(each))})."
        for each in listed(told.get("defects")) or []
    ]
    if told.get("note"):
        said.append(str(told["note"]))
    return said


def _maintenance(body: Mapping[str, Any]) -> Iterator[str]:
    act = _mapping(body.get("act"))
    texts = {id_of(each): str(each.get("text", "")) for each in map(_mapping, body.get("defects") or [])}
    for each in map(_mapping, act.get("closes") or []):
        text = texts.get(str(each.get("defect")), "as named in the record")
        yield f"Defect closed: {text} Done: {each.get('done', '')}"
    for each in map(_mapping, act.get("defers") or []):
        text = texts.get(str(each.get("defect")), "a defect as named in the record")
        yield f"Defect deferred until {each.get('until')} ({_effect(each)}), under {each.get('reference')}: {text}"
    for each in map(_mapping, act.get("inspections") or []):
        name = str(each.get("key", "")).partition(":")[2] or str(each.get("key", "")).replace("_", "-")
        yield f"Done on {each.get('done_on')}: {name}."
    if act.get("major_done"):
        yield "Major maintenance done."
    if act.get("starts_over"):
        yield f"Run-up readings begin anew: {', '.join(str(each).replace('_', ' ') for each in act['starts_over'])}."
    if act.get("note"):
        yield str(act["note"])


def _changed(body: Mapping[str, Any]) -> list[str]:
    after = _mapping(body.get("after"))
    names = ", ".join(str(name).replace("_", " ") for name in after)
    return [f"Facts changed: {names}. {body.get('why', '')}".strip()]


def _effect(defect: Mapping[str, Any]) -> str:
    found = defect.get("effect")
    return DefectEffect(found).value.replace("_", " ") if found in set(DefectEffect) else "effect not said"


def _body(entry: Entry) -> Mapping[str, Any]:
    try:
        return {} if entry.body is None else entry.body.value
    except UnreadableError:
        return {}


def _mapping(found: object) -> Mapping[str, Any]:
    return found if isinstance(found, Mapping) else {}
