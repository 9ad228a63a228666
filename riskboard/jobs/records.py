"""Reading the log: verify, show, export, and recheck every past decision under its own stored policy."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TextIO

from riskboard.jobs.briefing import decide
from riskboard.jobs.office import Office, prepared_policy
from riskboard.jobs.proof import authorised_by
from riskboard.jobs.signing import Signed
from riskboard.jobs.type_texts import TypeUnreadableError, read_type
from riskboard.ledger import Entry, Finding, Receipt, export, fold
from riskboard.ledger.receipt import receipt_for
from riskboard.ledger.views import FlightState
from riskboard.policy import PolicyError, load_policy
from riskboard.worksheet.read import WorksheetError, read_worksheet

__all__ = [
    "RecheckFinding",
    "Rechecked",
    "export_log",
    "flight_state",
    "log_entries",
    "recheck",
    "signed_records",
    "verify_log",
]


@dataclass(frozen=True)
class RecheckFinding:
    """One past decision that the present engine does not reproduce."""

    seq: int
    message: str


@dataclass(frozen=True)
class Rechecked:
    """What came of scoring past records again.

    Attributes:
        decisions: How many records held a decision and were scored again.
        without: How many hold none to score: other kinds, declined before a decision, or erased.
        findings: Decisions that came out differently, or could not be scored.
        policies: Published policies that could not be published today, each as a sentence. They count as they were
            published; whoever keeps the policy should know.
        types: Published aircraft types that cannot be read today, each as a sentence. Nothing is known about an
            aircraft of such a type until a text that can be read is published.
    """

    decisions: int
    without: int
    findings: tuple[RecheckFinding, ...]
    policies: tuple[str, ...] = ()
    types: tuple[str, ...] = ()


def log_entries(office: Office, from_seq: int = 1) -> Iterator[Entry]:
    """The records in order."""
    return office.store.entries(from_seq)


def verify_log(office: Office, receipt_code: str | None = None) -> list[Finding]:
    """Verify the whole log, against a printed receipt if one is given, and every signer's right at the time.

    Raises:
        ReceiptCodeError: The code was mistyped.
    """
    receipt = None if receipt_code is None else Receipt.from_code(receipt_code)
    return office.store.verify(receipt, authorised=authorised_by(office))


def export_log(office: Office, out: TextIO) -> int:
    """Write the log as JSON Lines; returns the number of records."""
    return export(office.store.entries(), out)


def signed_records(office: Office, draft_id: str) -> list[Signed]:
    """Everything on record about one flight, oldest first, each with its receipt."""
    return [Signed(entry, receipt_for(entry)) for entry in office.store.entries(subject=draft_id)]


def flight_state(office: Office, draft_id: str) -> FlightState | None:
    """Where one flight stands, or None when nothing was signed about it."""
    return fold(office.store.entries(subject=draft_id)).get(draft_id)


def recheck(office: Office) -> Rechecked:
    """Score every past record under its own stored policy, at its own moment, and compare.

    Run on every upgrade: a change of the engine that moves a past decision shows here.
    """
    decisions, without, findings = 0, 0, []
    for entry in office.store.entries():
        body = entry.body.value if entry.body is not None else {}
        if not isinstance(body.get("assessment"), dict):
            without += 1
            continue
        decisions += 1
        message = _differs(office, body, entry.header.policy_digest)
        if message:
            findings.append(RecheckFinding(entry.seq, message))
    return Rechecked(
        decisions, without, tuple(findings), tuple(_refused_today(office)), tuple(_unreadable_types(office))
    )


def _refused_today(office: Office) -> Iterator[str]:
    """Published policies load for ever; what today's proofs would say to them is said here."""
    for stored in office.store.list_policies():
        called = f"{stored.policy_id} version {stored.version}"
        try:
            load_policy(stored.text, name=called)
        except PolicyError as refusal:
            yield f"{called} counts as it was published, but could not be published today: {refusal.problems[0]}"


def _unreadable_types(office: Office) -> Iterator[str]:
    for kept in office.store.list_types():
        try:
            read_type(kept)
        except TypeUnreadableError as refusal:
            yield f"{kept.title} version {kept.version} is not known any more: {refusal}"


def _differs(office: Office, body: dict[str, Any], policy_digest: str) -> str | None:
    stored = body["assessment"]
    try:
        sheet = read_worksheet(body["worksheet"])
        rested_on = str(stored.get("type_digest", ""))
        prepared = prepared_policy(office, policy_digest, type_digest=rested_on)
        decided_at, waived = datetime.fromisoformat(stored["decided_at"]), frozenset(body.get("waived", ()))
        again, problems = decide(prepared, sheet, decided_at, waived=waived)
    except (KeyError, ValueError, PolicyError, WorksheetError) as error:
        return f"cannot be scored again: {error}"
    if again is None:
        return f"cannot be scored again: {problems[0].field}: {problems[0].message}"
    if again.type_digest != rested_on:
        return f"the aircraft type was {rested_on[:12] or 'none'}, is now {again.type_digest[:12] or 'none'}"
    for name in ("decision", "level", "total"):
        found = again.as_data()[name]
        if found != stored[name]:
            return f"{name} was {stored[name]!r}, is now {found!r}"
    return None
