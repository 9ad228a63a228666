"""One record as one sentence."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from riskboard.ledger import KINDS, Entry
from riskboard.words import Decision

__all__ = ["log_line"]

_VERBS = {
    "accepted": "accepted",
    "declined": "declined",
    "sign_off_requested": "asked for a sign-off of",
    "signed": "signed off",
    "refused": "refused",
    "waived": "waived a limit for",
    "released": "released",
    "debriefed": "debriefed",
    "briefed": "was shown an assessment of",
}


def log_line(entry: Entry, names: Mapping[str, str], zone: ZoneInfo) -> str:
    """Number, time, who, what, and how it stood."""
    header = entry.header
    when = f"{header.at.astimezone(zone):%a %d %b %Y %H:%M}"
    who = names.get(header.actor, header.actor)
    verb = _VERBS.get(header.kind)
    if verb is None:
        kind = KINDS.get(header.kind)
        return f"{header.seq}. {when}: {header.subject}. {kind.sentence if kind else header.kind}"
    role = header.role.replace("_", " ")
    return f"{header.seq}. {when}: {who} ({role}) {verb} flight {header.subject}{_how(entry, zone)}"


def _how(entry: Entry, zone: ZoneInfo) -> str:
    if entry.body is None:
        return ". What it said was erased."
    body: Mapping[str, Any] = entry.body.value
    said = ""
    assessment = body.get("assessment")
    if isinstance(assessment, dict):
        said += f": {Decision[assessment['decision']].phrase}, level {assessment['level']}"
    until = body.get("valid_until")
    if isinstance(until, str):
        said += f", until {datetime.fromisoformat(until).astimezone(zone):%H:%M}"
    note = body.get("note")
    return f"{said}. {note}" if note else f"{said}."
