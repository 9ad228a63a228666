"""Everybody's own passphrase and PIN: set with a one-time code, changed with the present one."""

import hashlib
import secrets
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from riskboard.jobs.entering import (
    WAY_CODE,
    WAY_IDENTITY,
    Caller,
    NotLetInError,
    check_caller,
    claim_passphrase,
    open_session,
)
from riskboard.jobs.office import Office, document
from riskboard.jobs.signing import check_pin_of
from riskboard.jobs.staff import forbidden_in_passphrase
from riskboard.jobs.staff_signing import Acted, NotDoneError
from riskboard.ledger import AccountRecord, Intent, PinChange
from riskboard.people import accounts
from riskboard.people.pin import PinRefusedError, set_pin
from riskboard.people.roles import SUBJECT

if TYPE_CHECKING:
    from riskboard.ledger.canonical import Json

__all__ = ["has_pin", "hash_of_new", "hashed_passphrase", "hashed_pin", "set_own_passphrase", "set_own_pin", "use_code"]

_SELF = "self"
_WRONG_CODE = "That name and code do not fit, or the code is no longer good. Ask an administrator for a new one."
_FRESH = timedelta(minutes=10)


def use_code(office: Office, login_name: str, code: str, passphrase: str, pin: str, *, at: datetime) -> str:
    """Set one's own passphrase with a one-time code, and a PIN where there is none yet; returns a session's token.

    A code never changes a PIN that is there: whoever got hold of a code still cannot sign.

    Args:
        office: The school.
        login_name: As typed.
        code: As typed; good once.
        passphrase: The new one.
        pin: The new one; "" to leave it for later, or where there is one.
        at: Now.

    Raises:
        NotLetInError: Wrong name or code, or too many tries.
        NotDoneError: The passphrase or PIN may not be chosen, or there is a PIN already.
        LedgerError: Not written.
    """
    account = office.store.find_account(accounts.tidy_login_name(login_name))
    if account is None:
        accounts.check_code(code, None, at)
        raise NotLetInError(_WRONG_CODE)
    claim_passphrase(office, account, at)
    if not accounts.check_code(code, account.passphrase_hash, at) or account.closed_at is not None:
        raise NotLetInError(_WRONG_CODE)
    office.store.clear_passphrase_failures(account.person_id)
    if pin and has_pin(office, account.person_id):
        raise NotDoneError("You have a PIN already; leave the new one blank. You change it once you are in.")
    access: list[AccountRecord | PinChange] = [
        replace(account, passphrase_hash=hashed_passphrase(office, account, passphrase))
    ]
    if pin:
        access.append(PinChange(account.person_id, hashed_pin(pin)))
    # Named after the kept hash of the code, so that of two presses one counts.
    event_id = f"code-{hashlib.sha256(account.passphrase_hash.encode()).hexdigest()[:40]}"
    change = "passphrase and PIN set with a one-time code" if pin else "passphrase set with a one-time code"
    mark = secrets.token_hex(8)
    intent = _intent(account.person_id, event_id, {"change": change}, at, timed={"mark": mark})
    entry, _ = office.store.append(intent, access=access)
    if entry.body is None or entry.body.value.get("mark") != mark:
        raise NotLetInError("That code was used already. Enter with the passphrase that you set.")
    return open_session(office, account.person_id, WAY_CODE, at)


def set_own_passphrase(office: Office, caller: Caller, present: str, new: str, *, event_id: str, at: datetime) -> Acted:
    """Change one's own passphrase. All one's sessions end, this one too.

    Raises:
        NotLetInError: The caller is not in any more, the present passphrase is wrong, or too many tries.
        NotDoneError: The new one may not be chosen.
        LedgerError: Not written.
    """
    check_caller(office, caller, at=at)
    account = _own_account(office, caller)
    _confirm_passphrase(office, account, present, at)
    changed = replace(account, passphrase_hash=hashed_passphrase(office, account, new))
    intent = _intent(caller.person_id, event_id, {"change": "passphrase changed"}, at)
    acted = Acted(*office.store.append(intent, access=[changed]))
    office.store.end_sessions_of(caller.person_id, at)
    return acted


def set_own_pin(office: Office, caller: Caller, proof: str, pin: str, *, event_id: str, at: datetime) -> Acted:
    """Set or change one's own PIN.

    Where there is a PIN, the present one proves who asks: a passphrase that somebody else got hold of is not enough to
    sign. Where there is none, the passphrase does; where there is none either, having just come in by an outside
    identity does.

    Args:
        office: The school.
        caller: Who.
        proof: The present PIN, else the passphrase, else "".
        pin: The new one.
        event_id: Made when the page was drawn.
        at: Now.

    Raises:
        NotLetInError: The caller is not in any more, the proof is wrong, or too many tries.
        NotSignedError: The present PIN is wrong.
        NotDoneError: The PIN may not be chosen.
        LedgerError: Not written.
    """
    session = check_caller(office, caller, at=at)
    account = _own_account(office, caller)
    if has_pin(office, caller.person_id):
        check_pin_of(office, caller.person_id, proof, at=at)
    elif account.passphrase_hash:
        _confirm_passphrase(office, account, proof, at)
    elif session.way != WAY_IDENTITY or at - session.opened_at > _FRESH:
        raise NotLetInError("Enter again by your outside identity, then set your PIN within ten minutes.")
    intent = _intent(caller.person_id, event_id, {"change": "PIN set"}, at)
    return Acted(*office.store.append(intent, access=[PinChange(caller.person_id, hashed_pin(pin))]))


def has_pin(office: Office, person_id: str) -> bool:
    """Whether a person can sign at all."""
    return office.store.get_pin(person_id) is not None


def hashed_passphrase(office: Office, account: AccountRecord, passphrase: str) -> str:
    """The hash of a newly chosen passphrase.

    Raises:
        NotDoneError: It may not be chosen.
    """
    try:
        name = str(document(office, "person", account.person_id)["name"])
    except KeyError:
        name = ""
    return hash_of_new(passphrase, forbidden_in_passphrase(office, account.login_name, name))


def hash_of_new(passphrase: str, names: Mapping[str, str]) -> str:
    """The hash of a newly chosen passphrase that must not hold some names; errors as in :func:`hashed_passphrase`."""
    try:
        return accounts.set_passphrase(passphrase, names)
    except accounts.PassphraseRefusedError as error:
        raise NotDoneError(str(error)) from error


def hashed_pin(pin: str) -> str:
    """The hash of a newly chosen PIN.

    Raises:
        NotDoneError: It may not be chosen.
    """
    try:
        return set_pin(pin)
    except PinRefusedError as error:
        raise NotDoneError(str(error)) from error


def _own_account(office: Office, caller: Caller) -> AccountRecord:
    account = office.store.get_account(caller.person_id)
    if account is None:
        raise NotLetInError("You have no account here.")
    return account


def _confirm_passphrase(office: Office, account: AccountRecord, typed: str, at: datetime) -> None:
    claim_passphrase(office, account, at)
    if not accounts.check_passphrase(typed, account.passphrase_hash):
        raise NotLetInError("That is not your present passphrase; nothing was changed.")
    office.store.clear_passphrase_failures(account.person_id)


def _intent(
    person_id: str,
    event_id: str,
    body: "Mapping[str, Json]",
    at: datetime,
    *,
    timed: "Mapping[str, Json] | None" = None,
) -> Intent:
    return Intent(
        kind="access_changed",
        event_id=event_id,
        at=at,
        actor=person_id,
        role=_SELF,
        subject=f"{SUBJECT}{person_id}",
        body={"person": person_id, **body},
        timed=timed or {},
    )
