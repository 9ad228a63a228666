"""One record as one sentence."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from riskboard.app.widgets.log_people import PEOPLE_KINDS, people_line
from riskboard.jobs import ReadRecord
from riskboard.jobs.aircraft_history import said_of
from riskboard.ledger import KINDS
from riskboard.words import Decision

__all__ = ["log_line"]

_VERBS = {
    "accepted": "accepted",
    "declined": "declined",
    "sign_off_requested": "asked for a sign-off of",
    "signed": "signed off",
    "refused": "refused",
    "waived": "waived a limit for",
    "sent_back": "sent back with a question",
    "viewed": "opened the facts of",
    "released": "released",
    "run_up": "entered the run-up for",
    "took_off": "noted the departure of",
    "cancelled": "called off",
    "overdue_step": "acted on the overdue",
    "debriefed": "debriefed",
    "briefed": "was shown an assessment of",
}

_ABOUT_AIRCRAFT = {"defect_reported": "opened a defect of", "maintenance_signed": "signed work on"}


def log_line(record: ReadRecord, names: Mapping[str, str], zone: ZoneInfo) -> str:
    """Number, time, who, what, and how it stood, as far as the reader may see it."""
    header = record.header
    when = f"{header.at.astimezone(zone):%a %d %b %Y %H:%M}"
    who = names.get(header.actor, header.actor)
    verb = "typed in from paper the" if "transcribed" in record.body else _VERBS.get(header.kind)
    if header.kind == "fact_changed":
        return f"{header.seq}. {when}: {who} changed {header.subject}{_changed(record)}"
    if header.kind == "type_published":
        title, version = (record.body.get(name, "") for name in ("title", "version"))
        why = record.body.get("why", "")
        return f"{header.seq}. {when}: {who} published the aircraft type {title}, version {version}. {why}"
    if header.kind in _ABOUT_AIRCRAFT:
        said = " ".join(said_of(header.kind, record.body)) if not record.erased else "What it said was erased."
        return f"{header.seq}. {when}: {who} {_ABOUT_AIRCRAFT[header.kind]} {header.subject}. {said}"
    if header.kind in PEOPLE_KINDS:
        said = people_line(header.kind, header.actor, header.subject, record.body, names, zone)
        return f"{header.seq}. {when}: {said}"
    if verb is None:
        kind = KINDS.get(header.kind)
        return f"{header.seq}. {when}: {header.subject}. {kind.sentence if kind else header.kind}"
    role = header.role.replace("_", " ")
    return f"{header.seq}. {when}: {who} ({role}) {verb} flight {header.subject}{_how(record, zone)}"


def _changed(record: ReadRecord) -> str:
    """What was changed, by name, and why; the values stand in the record itself."""
    if record.erased:
        return ". What was changed was erased."
    after = record.body.get("after")
    names = ", ".join(str(name).replace("_", " ") for name in after) if isinstance(after, Mapping) else ""
    why = record.body.get("why")
    return (f": {names}" if names else "") + (f". {why}" if why else ".")


def _how(record: ReadRecord, zone: ZoneInfo) -> str:
    if record.erased:
        return ". What it said was erased."
    body: Mapping[str, Any] = record.body
    said = ""
    assessment = body.get("assessment")
    if isinstance(assessment, Mapping):
        said += f": {Decision[assessment['decision']].phrase}, level {assessment['level']}"
    if "good" in body:
        said += ": good" if body["good"] is True else ": not good"
    until = body.get("valid_until")
    if isinstance(until, str):
        said += f", until {datetime.fromisoformat(until).astimezone(zone):%H:%M}"
    words = [str(body[name]) for name in ("note", "question", "reason", "step") if body.get(name)]
    words += [str(each) for each in body.get("conditions", ())]
    return f"{said}. {'; '.join(words)}" if words else f"{said}."
