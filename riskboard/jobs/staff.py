"""The school's people: who is added, which role they hold from when to when, how they come in.

Whoever runs the school does these things, each signed with their own PIN and put on record in the same transaction as
the change itself. Nobody gives themselves a role. Nobody learns another person's passphrase or PIN: a person sets their
own, the first time with a one-time code. An administrator who misuses such a code leaves two records and locks the
person out; that cannot be prevented here, but it cannot be hidden.
"""

import json
import re
import unicodedata
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from riskboard.jobs.briefing import digest_of, iso
from riskboard.jobs.entering import Caller
from riskboard.jobs.office import Office, document, school
from riskboard.jobs.roles import roles_of, spells_of
from riskboard.jobs.staff_signing import Act, Acted, Decided, NewWayIn, NotDoneError, StaffSignature, sign_staff
from riskboard.ledger import AccountRecord, DocumentChange, PinChange
from riskboard.people import accounts
from riskboard.people.authority import may_manage_people
from riskboard.people.roles import SUBJECT
from riskboard.words import Role

if TYPE_CHECKING:
    from riskboard.ledger.canonical import Json

__all__ = [
    "add_person",
    "administrators",
    "close_account",
    "end_role",
    "forbidden_in_passphrase",
    "give_role",
    "link_identity",
    "new_person_id",
    "reopen_account",
    "reset_passphrase",
    "reset_pin",
    "tidy_name",
]

_MOST_NAME = 120
_MOST_IDENTITY = 500


def add_person(
    office: Office, caller: Caller, name: str, login_name: str, signature: StaffSignature, *, at: datetime
) -> NewWayIn:
    """Add somebody to the school: their facts (blank), an account, and a one-time code to set a passphrase with.

    Roles are given one by one with :func:`give_role`. The person's id follows from the name and stays.

    Raises:
        NotDoneError: No right, an unfit or taken name.
        NotLetInError: The caller is not in any more.
        NotSignedError: Wrong PIN.
        LedgerError: Not written.
    """
    tidy = tidy_name(name)
    try:
        login = accounts.check_login_name(login_name)
    except accounts.LoginNameRefusedError as error:
        raise NotDoneError(str(error)) from error
    person_id = _added_before(office, signature.event_id) or new_person_id(office, tidy)
    code = accounts.made_code()

    def decide() -> Decided:
        role = _allowed(office, caller, "", None, at)
        if office.store.find_account(login) is not None:
            raise NotDoneError(f"Somebody here has the login name {login!r}. Choose another.")
        person = {"id": person_id, "name": tidy, "pilot": {}, "as_of": iso(at)}
        return Decided(
            role,
            [DocumentChange("person", person_id, json.dumps(person, ensure_ascii=False), 0)],
            [AccountRecord(person_id, login, _code_hash(code, at), "", "", at)],
        )

    act = _access(person_id, "account opened", signature, name=tidy, login_name=login)
    acted, fresh = sign_staff(office, caller, signature, act, decide, at)
    return NewWayIn(acted.entry, acted.receipt, person_id, code if fresh else "")


def give_role(
    office: Office,
    caller: Caller,
    person_id: str,
    role: Role,
    signature: StaffSignature,
    *,
    starts: datetime | None = None,
    until: datetime | None = None,
    at: datetime,
) -> Acted:
    """Give somebody else a role, from now or a later moment on, until a moment or without end.

    A role never begins in the past: what somebody did without it stays done without it.

    Raises:
        NotDoneError: No right, oneself, dates that make no time, or a role that the person has in that time already.
        NotLetInError: The caller is not in any more.
        NotSignedError: Wrong PIN.
        LedgerError: Not written.
    """
    begins = at if starts is None else starts

    def decide() -> Decided:
        acting = _allowed(office, caller, person_id, role, at)
        person = _known(office, person_id)
        _check_account_open(office, person_id)
        _check_spell(role, begins, until, at)
        if any(spell.role is role and spell.overlaps(begins, until) for spell in spells_of(office, person_id)):
            said = role.value.replace("_", " ")
            raise NotDoneError(f"{person} is {said} in that time already; end that first, or choose other dates.")
        return Decided(acting)

    body: dict[str, Json] = {
        "person": person_id,
        "role": role.value,
        "until": None if until is None else iso(until),
        "why": signature.why,
    }
    act = _dated("role_given", person_id, body, "from", starts, at)
    return sign_staff(office, caller, signature, act, decide, at)[0]


def _check_spell(role: Role, begins: datetime, until: datetime | None, at: datetime) -> None:
    if role is Role.pilot:
        raise NotDoneError("Pilot in command is not a role that is given: it goes with a flight.")
    if begins < at:
        raise NotDoneError("A role begins now or later; it cannot be given for the past.")
    if until is not None and until <= begins:
        raise NotDoneError("A role ends after it begins; mend the dates.")


def end_role(
    office: Office,
    caller: Caller,
    person_id: str,
    role: Role,
    began: datetime,
    signature: StaffSignature,
    *,
    ended: datetime | None = None,
    at: datetime,
) -> Acted:
    """End a role now or at a later moment; it takes effect at that moment.

    Args:
        office: The school.
        caller: Who ends it.
        person_id: Whose role.
        role: Which.
        began: The first moment of the spell that is ended.
        signature: The caller's.
        ended: First moment at which it no longer holds; None for now. Never in the past.
        at: Now.

    Raises:
        NotDoneError: No right, no such role, a moment in the past, or nobody would be left who runs the school.
        NotLetInError: The caller is not in any more.
        NotSignedError: Wrong PIN.
        LedgerError: Not written.
    """
    ends = at if ended is None else ended

    def decide() -> Decided:
        acting = _allowed(office, caller, person_id, None, at)
        if ends < at:
            raise NotDoneError("A role ends now or later; what was done while it held stays valid.")
        held = [spell for spell in spells_of(office, person_id) if spell.role is role and spell.starts == began]
        if not any(spell.until is None or spell.until > ends for spell in held):
            raise NotDoneError("There is no such role to end then; it has ended, or never was given. Look again.")
        if role is Role.administrator:
            _somebody_stays(office, person_id, at)
        return Decided(acting)

    body: dict[str, Json] = {"person": person_id, "role": role.value, "from": iso(began), "why": signature.why}
    act = _dated("role_ended", person_id, body, "ended", ended, at)
    return sign_staff(office, caller, signature, act, decide, at)[0]


def _dated(kind: str, person_id: str, body: "dict[str, Json]", key: str, chosen: datetime | None, at: datetime) -> Act:
    """An act with a moment that was chosen, or that the clock gives."""
    if chosen is None:
        return Act(kind, person_id, body, {key: iso(at)})
    return Act(kind, person_id, body | {key: iso(chosen)})


def close_account(office: Office, caller: Caller, person_id: str, signature: StaffSignature, *, at: datetime) -> Acted:
    """Somebody has left: nobody comes in by their account any more, what is open ends, and their PIN is gone.

    Raises:
        NotDoneError: No right, oneself, closed already, or nobody would be left who runs the school.
        NotLetInError: The caller is not in any more.
        NotSignedError: Wrong PIN.
        LedgerError: Not written.
    """

    def decide() -> Decided:
        acting = _allowed(office, caller, person_id, None, at)
        if person_id == caller.person_id:
            raise NotDoneError("Somebody else closes your account.")
        account = _check_account_open(office, person_id)
        if person_id in administrators(office, at):
            _somebody_stays(office, person_id, at)
        return Decided(acting, access=[replace(account, closed_at=at), PinChange(person_id, None)])

    acted, _ = sign_staff(office, caller, signature, _access(person_id, "account closed", signature), decide, at)
    office.store.end_sessions_of(person_id, at)
    return acted


def reopen_account(
    office: Office, caller: Caller, person_id: str, signature: StaffSignature, *, at: datetime
) -> NewWayIn:
    """Somebody comes back: their account opens again, with a one-time code. Errors as in :func:`close_account`."""
    return _new_way(office, caller, person_id, signature, "account opened again", at)


def reset_passphrase(
    office: Office, caller: Caller, person_id: str, signature: StaffSignature, *, at: datetime
) -> NewWayIn:
    """Take somebody else's passphrase away, and make a one-time code for them to set a new one with.

    Raises:
        NotDoneError: No right, oneself, or a closed account.
        NotLetInError: The caller is not in any more.
        NotSignedError: Wrong PIN.
        LedgerError: Not written.
    """
    return _new_way(office, caller, person_id, signature, "one-time code made", at)


def _new_way(
    office: Office, caller: Caller, person_id: str, signature: StaffSignature, change: str, at: datetime
) -> NewWayIn:
    code = accounts.made_code()
    reopens = change == "account opened again"

    def decide() -> Decided:
        acting = _allowed(office, caller, person_id, None, at)
        if person_id == caller.person_id:
            raise NotDoneError("You change your own passphrase with your present one.")
        account = office.store.get_account(person_id)
        if account is None or (account.closed_at is not None) != reopens:
            raise NotDoneError("There is no closed account." if reopens else "There is no open account.")
        return Decided(acting, access=[replace(account, passphrase_hash=_code_hash(code, at), closed_at=None)])

    acted, fresh = sign_staff(office, caller, signature, _access(person_id, change, signature), decide, at)
    if fresh:
        office.store.end_sessions_of(person_id, at)
    return NewWayIn(acted.entry, acted.receipt, person_id, code if fresh else "")


def reset_pin(office: Office, caller: Caller, person_id: str, signature: StaffSignature, *, at: datetime) -> Acted:
    """Take somebody else's PIN away; they set a new one themselves. Errors as in :func:`reset_passphrase`."""

    def decide() -> Decided:
        acting = _allowed(office, caller, person_id, None, at)
        if person_id == caller.person_id:
            raise NotDoneError("You change your own PIN with your present one; if you forgot it, ask somebody else.")
        _check_account_open(office, person_id)
        return Decided(acting, access=[PinChange(person_id, None)])

    return sign_staff(office, caller, signature, _access(person_id, "PIN taken away", signature), decide, at)[0]


def link_identity(
    office: Office,
    caller: Caller,
    person_id: str,
    issuer: str,
    subject: str,
    signature: StaffSignature,
    *,
    at: datetime,
) -> Acted:
    """Let somebody come in by an identity of an outside provider, or no longer (both texts empty).

    Raises:
        NotDoneError: No right, one text without the other, a closed account, or another person's identity.
        NotLetInError: The caller is not in any more.
        NotSignedError: Wrong PIN.
        LedgerError: Not written.
    """
    issuer, subject = issuer.strip(), subject.strip()
    if bool(issuer) != bool(subject) or len(issuer) + len(subject) > _MOST_IDENTITY:
        raise NotDoneError("An outside identity needs its issuer and its subject, as shown to the person.")

    def decide() -> Decided:
        acting = _allowed(office, caller, person_id, None, at)
        account = _check_account_open(office, person_id)
        other = office.store.find_account_by_identity(issuer, subject)
        if other is not None and other.person_id != person_id:
            raise NotDoneError("Somebody else here comes in by that identity; unlink it there first.")
        return Decided(acting, access=[replace(account, issuer=issuer, subject=subject)])

    change = "outside identity linked" if issuer else "outside identity unlinked"
    # The record proves which identity it was without holding it: the record stays for ever, the identity need not.
    act = _access(person_id, change, signature, issuer=issuer, identity_digest=digest_of(f"{issuer} {subject}"))
    acted, _ = sign_staff(office, caller, signature, act, decide, at)
    if not issuer:
        office.store.end_sessions_of(person_id, at)
    return acted


def administrators(office: Office, at: datetime) -> tuple[str, ...]:
    """Ids of those with an open account who are administrator now, without an end to it."""
    found = []
    for account in office.store.list_accounts():
        spells = spells_of(office, account.person_id) if account.closed_at is None else ()
        if any(each.role is Role.administrator and each.until is None and each.holds_at(at) for each in spells):
            found.append(account.person_id)
    return tuple(found)


def _somebody_stays(office: Office, person_id: str, at: datetime) -> None:
    if not [each for each in administrators(office, at) if each != person_id]:
        raise NotDoneError(
            "Nobody would be left who is administrator without an end date. Make somebody else administrator first."
        )


def forbidden_in_passphrase(office: Office, login_name: str, name: str) -> dict[str, str]:
    """What must not stand in a person's passphrase, with what it is called."""
    own = str((school(office) or {}).get("name", ""))
    return {"the login name": login_name, "the person's name": name, "the school's name": own}


def new_person_id(office: Office, name: str) -> str:
    """An id for somebody new: their name in plain letters, and a number where that is taken."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60] or "person"
    taken = {found.document_id for found in office.store.list_documents("person")}
    taken |= {account.person_id for account in office.store.list_accounts()}
    candidates = (stem, *(f"{stem}-{number}" for number in range(2, len(taken) + 3)))
    return next(candidate for candidate in candidates if candidate not in taken)


def tidy_name(name: str) -> str:
    """A person's or school's name as it is kept.

    Raises:
        NotDoneError: It is empty, too long, or holds what cannot be seen.
    """
    tidy = " ".join(unicodedata.normalize("NFC", name).split())
    if not tidy or len(tidy) > _MOST_NAME:
        raise NotDoneError(f"A name has 1 to {_MOST_NAME} characters.")
    if any(unicodedata.category(character) in {"Cc", "Cf", "Cs"} for character in tidy):
        raise NotDoneError("The name holds a character that cannot be seen; type it anew.")
    return tidy


def _allowed(office: Office, caller: Caller, person_id: str, gives: Role | None, at: datetime) -> Role:
    """The role in which the caller may do this.

    Raises:
        NotDoneError: They may not.
    """
    roles = roles_of(office, caller.person_id, at)
    own = person_id == caller.person_id
    ruling = may_manage_people(roles, own=own, gives=gives)
    if not ruling.allowed or ruling.role is None:
        raise NotDoneError(" ".join(ruling.clauses))
    about_administrator = bool(person_id) and any(
        spell.role is Role.administrator and (spell.until is None or spell.until > at)
        for spell in spells_of(office, person_id)
    )
    if about_administrator and Role.administrator not in roles:
        # Otherwise whoever may hand out one-time codes could come in as an administrator.
        raise NotDoneError("Only an administrator changes what another administrator may do or how they come in.")
    return ruling.role


def _known(office: Office, person_id: str) -> str:
    try:
        return str(document(office, "person", person_id)["name"])
    except KeyError as error:
        raise NotDoneError("The school knows nobody of that id.") from error


def _check_account_open(office: Office, person_id: str) -> AccountRecord:
    account = office.store.get_account(person_id)
    if account is None:
        raise NotDoneError("That person has no account here.")
    if account.closed_at is not None:
        raise NotDoneError("That account is closed; open it again first.")
    return account


def _access(person_id: str, change: str, signature: StaffSignature, **more: "Json") -> Act:
    return Act("access_changed", person_id, {"person": person_id, "change": change, "why": signature.why, **more})


def _added_before(office: Office, event_id: str) -> str | None:
    found = office.store.find_by_event_id(event_id)
    return None if found is None else found[0].header.subject.removeprefix(SUBJECT)


def _code_hash(code: str, at: datetime) -> str:
    return accounts.code_hash(code, until=at + accounts.CODE_LASTS)
