"""What the school knows, and changing it: read by the worksheet's own rules, one record for each change.

The document and the record of its change are written in one step, or neither is. Health answers are never among these
facts: a pilot gives them afresh for each flight, and they stay with that flight.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from riskboard import __version__
from riskboard.jobs.aircraft_left import changes_between
from riskboard.jobs.briefing import iso
from riskboard.jobs.entering import Caller, check_caller
from riskboard.jobs.flights import NotShownError
from riskboard.jobs.office import Office
from riskboard.jobs.roles import roles_of
from riskboard.jobs.signing import NotSignedError, Signed, signed_before
from riskboard.ledger import Intent
from riskboard.ledger.errors import OvertakenError, RevisionError
from riskboard.ledger.store import Document, DocumentChange
from riskboard.people.authority import Ruling, may_change_fact
from riskboard.upkeep.defects import lightened
from riskboard.worksheet.checks import WorksheetProblem, clock_contradictions
from riskboard.worksheet.kept import HEALTH, KEPT, TODAY_ONLY, KeptKind
from riskboard.worksheet.kinds import shown
from riskboard.worksheet.model import FIELD_PART, PARTS
from riskboard.worksheet.names import entry_names
from riskboard.worksheet.read import partial_facts, partial_worksheet
from riskboard.worksheet.write import entry_data, worksheet_data

__all__ = ["KeptFacts", "NotChangedError", "add_fact", "change_fact", "identity_for", "kept_facts"]

_TRIES = 8
_IDENTITY = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9-]{0,38}[A-Za-z0-9])?")
_NOT_IDENTITY = re.compile(r"[^A-Za-z0-9]+")
_ADDED = frozenset({"aircraft", "site", "route"})
_LONGEST_WHY = 500


class NotChangedError(NotSignedError):
    """Nothing was changed. ``problems`` holds what to mend, if that is why."""

    def __init__(self, message: str, problems: tuple[WorksheetProblem, ...] = ()) -> None:
        super().__init__(message)
        self.problems = problems


@dataclass(frozen=True)
class KeptFacts:
    """One document as a person may see it.

    Attributes:
        kind: Kind of document.
        identity: Its id.
        values: Fact -> plain value; blanks are absent.
        true_at: Fact -> since when it is known to be true (ISO 8601).
        revision: Which save this is; a change starts from it.
        ruling: Whether this person may change it, and why.
    """

    kind: str
    identity: str
    values: Mapping[str, Any]
    true_at: Mapping[str, str]
    revision: int
    ruling: Ruling


def _kept(kind: str) -> KeptKind:
    if kind not in KEPT:
        raise NotChangedError(f"The school keeps no facts of a {shown(kind)}; it keeps: {', '.join(KEPT)}.")
    return KEPT[kind]


def _ruling(office: Office, person_id: str, kind: str, identity: str, at: datetime) -> Ruling:
    return may_change_fact(roles_of(office, person_id, at), kind, own=kind == "person" and identity == person_id)


def kept_facts(office: Office, person_id: str, kind: str, identity: str, *, at: datetime) -> KeptFacts:
    """What the school keeps of a person, an aircraft, a site, a usual flight, or of itself.

    Args:
        office: The school.
        person_id: Who looks.
        kind: Kind of document.
        identity: Its id.
        at: Now.

    Raises:
        KeyError: The school has none of that kind and id.
        NotShownError: A person's dates are seen by that person and by whoever keeps them.
    """
    stored = office.store.get_document(kind, identity)
    if stored is None or kind not in KEPT:
        raise KeyError(f"the school has no {kind} called {shown(identity)}")
    ruling = _ruling(office, person_id, kind, identity, at)
    if kind == "person" and identity != person_id and not ruling.allowed:
        raise NotShownError(f"A person's dates are seen by that person. {' '.join(ruling.clauses)}")
    document, kept = json.loads(stored.text), KEPT[kind]
    values = {name: _value(document, kept, name) for name in kept.names}
    clocks = document.get("clocks", {})
    since = {name: clocks.get(name, {}).get("true_at") or document.get("as_of", "") for name in values}
    known = {name: value for name, value in values.items() if value is not None}
    return KeptFacts(kind, identity, known, {name: since[name] for name in known}, stored.revision, ruling)


def _value(document: Mapping[str, Any], kept: KeptKind, name: str) -> Any:
    place = document if name in kept.sheet.model_fields else document.get(kept.part, {})
    return place.get(name)


def change_fact(
    office: Office,
    caller: Caller,
    kind: str,
    identity: str,
    changes: Mapping[str, Any],
    *,
    why: str,
    event_id: str,
    revision: int,
    at: datetime,
    true_at: datetime | None = None,
) -> Signed:
    """Change facts of one document.

    Args:
        office: The school.
        caller: Who changes them.
        kind: "person", "aircraft", "site", "route" or "school".
        identity: Id of the document.
        changes: Fact -> plain value, also under a name with another unit; None blanks it.
        why: The reason, in a few words.
        event_id: Made when the page was drawn; a double tap or a retry finds the first record.
        revision: The save that the person saw.
        at: Now.
        true_at: Since when the new values are true; now if not given.

    Returns:
        The record, durable, with its receipt.

    Raises:
        NotLetInError: The session has ended.
        NotChangedError: No right to, overtaken by somebody, something to mend, or nothing to change.
        LedgerError: It could not be written.
    """
    return _write(office, caller, kind, identity, changes, (why, event_id, revision, at, true_at or at))


def add_fact(
    office: Office,
    caller: Caller,
    kind: str,
    identity: str,
    facts: Mapping[str, Any],
    *,
    why: str,
    event_id: str,
    at: datetime,
) -> Signed:
    """Add an aircraft, a site or a usual flight; arguments and errors as in :func:`change_fact`.

    People are added with their way in, not here.
    """
    if kind not in _ADDED:
        raise NotChangedError(f"A {shown(kind)} is not added here; what is: {', '.join(sorted(_ADDED))}.")
    if not _IDENTITY.fullmatch(identity):
        raise NotChangedError(f"{shown(identity)} is no id; write letters, digits and hyphens, at most 40 of them.")
    return _write(office, caller, kind, identity, facts, (why, event_id, 0, at, at))


def identity_for(kind: str, facts: Mapping[str, Any]) -> str:
    """An id made from the name or registration of something new; "" where neither has a letter or digit to use."""
    name = str(facts.get("registration" if kind == "aircraft" else "name") or "")
    made = _NOT_IDENTITY.sub("-", name.strip())[:40].strip("-")
    return made if kind == "aircraft" else made.lower()


_Order = tuple[str, str, int, datetime, datetime]
"""Why, event, revision, now, since when it is true."""


def _write(
    office: Office, caller: Caller, kind: str, identity: str, changes: Mapping[str, Any], order: _Order
) -> Signed:
    why, event_id, revision, at, _ = order
    subject = f"{kind} {identity}"
    check_caller(office, caller, at=at)
    for last in (*[False] * (_TRIES - 1), True):
        before = signed_before(office, event_id, actor=caller.person_id, kind="fact_changed", subject=subject)
        if before is not None:
            return before
        head = office.log.look().head
        ruling = _check_right(office, caller.person_id, kind, identity, why, at)
        stored = _stored(office, kind, identity, revision)
        intent, text = _decided(caller.person_id, ruling, kind, identity, stored, changes, order)
        change = DocumentChange(kind, identity, text, revision)
        try:
            return Signed(*office.store.append(intent, head=head, documents=[change]))
        except OvertakenError:
            if last:
                raise
        except RevisionError as error:
            raise NotChangedError(_overtaken(office, subject)) from error
    raise AssertionError("the last try returns or raises")


def _check_right(office: Office, person_id: str, kind: str, identity: str, why: str, at: datetime) -> Ruling:
    _kept(kind)
    ruling = _ruling(office, person_id, kind, identity, at)
    if not ruling.allowed:
        raise NotChangedError(" ".join(ruling.clauses))
    if not why.strip():
        raise NotChangedError("Say in a few words why, or where the new value comes from; the record needs it.")
    if len(why) > _LONGEST_WHY:
        raise NotChangedError(f"The reason has {len(why)} characters; at most {_LONGEST_WHY} are kept.")
    return ruling


def _stored(office: Office, kind: str, identity: str, revision: int) -> Document | None:
    stored = office.store.get_document(kind, identity)
    if stored is None and revision:
        raise NotChangedError(f"The school has no {kind} called {shown(identity)}.")
    if stored is not None and not revision:
        raise NotChangedError(f"The school knows the {kind} {shown(identity)} already; change that one.")
    if stored is not None and stored.revision != revision:
        raise NotChangedError(_overtaken(office, f"{kind} {identity}"))
    if stored is None and kind == "school" and identity != "school":
        raise NotChangedError("There is one school here; its id is 'school'.")
    return stored


def _overtaken(office: Office, subject: str) -> str:
    last = None
    for entry in office.store.entries(subject=subject):
        last = entry
    who = "Somebody" if last is None else last.header.actor
    when = "" if last is None else f" at {last.header.at:%Y-%m-%d %H:%MZ}"
    return f"{who} changed this first{when}; nothing was changed. Look at it again, then change it."


def _decided(
    person_id: str,
    ruling: Ruling,
    kind: str,
    identity: str,
    stored: Document | None,
    changes: Mapping[str, Any],
    order: _Order,
) -> tuple[Intent, str]:
    why, event_id, _, at, true_at = order
    before = {} if stored is None else json.loads(stored.text)
    after = _changed(KEPT[kind], before, changes, at, true_at)
    if stored is None:
        after = {"id": identity, "as_of": iso(true_at)} | after if kind != "school" else after
    was, becomes = changes_between(before, after)
    if kind == "aircraft" and "open_defects" in becomes:
        _only_adds(was.get("open_defects"), becomes["open_defects"])
    if not becomes:
        raise NotChangedError("Nothing is different from what stands there; nothing was recorded.")
    intent = Intent(
        kind="fact_changed",
        event_id=event_id,
        at=at,
        actor=person_id,
        role="" if ruling.role is None else ruling.role.value,
        subject=f"{kind} {identity}",
        body={
            "kind": kind, "id": identity, "before": was, "after": becomes, "why": why.strip(), "as_of": iso(true_at),
        },
        engine_version=__version__,
    )  # fmt: skip
    return intent, json.dumps(after, ensure_ascii=False)


def _only_adds(before: object, after: object) -> None:
    """A defect goes, or gets lighter, by the signature of maintenance alone, whoever changes the facts."""
    lost = lightened(before, after)
    if lost:
        raise NotChangedError(
            f"{' '.join(lost)} A defect is closed, deferred or made lighter by maintenance alone, who signs for it on "
            "the aircraft's page; here one may only be added, or be made to ground the aircraft. Nothing was changed."
        )


def _changed(
    kept: KeptKind, before: Mapping[str, Any], changes: Mapping[str, Any], at: datetime, true_at: datetime
) -> dict[str, Any]:
    """The document with the changes in it.

    Raises:
        NotChangedError: Something must be mended first; all of it is named.
    """
    own, part, problems = _sorted(kept, changes)
    if true_at > at:
        problems.append(WorksheetProblem("as_of", f"{iso(true_at)} is in the future; say since when it has been true"))
    sound, wrong = partial_facts(kept.sheet, {**_of_sheet(kept, before), **own}, f"the {kept.kind}")
    problems += wrong
    after = {name: value for name, value in before.items() if name not in kept.sheet.model_fields}
    after |= {name: entry_data(value) for name, value in sound.items()}
    if kept.part:
        after[kept.part], found = _part_after(kept.part, before.get(kept.part, {}), part, at, true_at)
        problems += found
        moment = {"true_at": iso(true_at), "typed_at": iso(at)}
        was = before.get(kept.part, {})
        news = [name for name in kept.fields if was.get(name) != after[kept.part].get(name)]
        after["clocks"] = {**before.get("clocks", {}), **dict.fromkeys(news, moment)}
    problems += _lacking(kept, after)
    if problems:
        raise NotChangedError(" ".join(f"{problem.message}." for problem in problems), tuple(problems))
    return after


def _of_sheet(kept: KeptKind, before: Mapping[str, Any]) -> dict[str, Any]:
    return {name: before[name] for name in kept.sheet.model_fields if name in before}


def _sorted(
    kept: KeptKind, changes: Mapping[str, Any]
) -> tuple[dict[str, Any], dict[str, Any], list[WorksheetProblem]]:
    """Changes of the document's own facts, changes of its part, and names that are neither."""
    own: dict[str, Any] = {}
    part: dict[str, Any] = {}
    problems = []
    own_names = entry_names(kept.sheet)
    part_names = entry_names(PARTS[kept.part]) if kept.part else {}
    for name, value in changes.items():
        meaning = part_names.get(name)
        if name in own_names:
            own[name] = value
        elif meaning is not None and meaning.field in kept.fields:
            part[name] = value
        else:
            problems.append(WorksheetProblem(name, _not_kept(kept, name, None if meaning is None else meaning.field)))
    return own, part, problems


def _not_kept(kept: KeptKind, name: str, field: str | None) -> str:
    known = field or (name if name in FIELD_PART else None)
    if known in HEALTH:
        return (
            f"{shown(name)} is a health answer; the pilot gives it afresh for each flight, and it is kept nowhere else"
        )
    if known in TODAY_ONLY:
        return f"{shown(name)} is answered afresh for each flight; it is not kept"
    return f"the school keeps no {shown(name)} of a {kept.kind}; it keeps: {', '.join(kept.names)}"


def _part_after(
    part: str, before: Mapping[str, Any], changes: Mapping[str, Any], at: datetime, true_at: datetime
) -> tuple[dict[str, Any], list[WorksheetProblem]]:
    names = entry_names(PARTS[part])
    changed = {names[name].field for name in changes}
    merged = {name: value for name, value in before.items() if name not in changed} | dict(changes)
    if part == "aircraft" and "meter_h" in changed and "meter_read_at" not in changed:
        merged["meter_read_at"] = iso(true_at)
        changed.add("meter_read_at")
    sheet, problems = partial_worksheet({part: merged})
    found = list(problems) or list(clock_contradictions(sheet, at))
    written = worksheet_data(sheet).get(part, {})
    kept = {name: value for name, value in before.items() if name not in changed and value is not None}
    return kept | {name: written[name] for name in written if name in changed}, found


def _lacking(kept: KeptKind, after: Mapping[str, Any]) -> list[WorksheetProblem]:
    return [
        WorksheetProblem(name, f"{kept.info(name).label} is missing; without it the {kept.kind} is of no use")
        for name in kept.needed
        if _value(after, kept, name) in (None, "")
    ]
