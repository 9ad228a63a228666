"""The first start: a store without anybody who runs it. A code on the console, or the invented school.

Only somebody who sees the console of the server knows the code, so whoever reaches the page first over the network
gains nothing. The same way leads back in when a school has lost its last administrator.
"""

import hashlib
import hmac
import json
import secrets
from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from riskboard import demo
from riskboard.aircraft_types import load_type
from riskboard.jobs.briefing import iso
from riskboard.jobs.entering import WAY_CODE, NotLetInError, open_session
from riskboard.jobs.office import Office, school
from riskboard.jobs.own_access import hash_of_new, hashed_pin
from riskboard.jobs.staff import administrators, forbidden_in_passphrase, new_person_id, tidy_name
from riskboard.jobs.staff_signing import NotDoneError
from riskboard.jobs.types import type_intent
from riskboard.ledger import AccountRecord, DocumentChange, Intent, OvertakenError, PinChange, TypeText
from riskboard.people import accounts
from riskboard.people.pin import set_pin
from riskboard.people.roles import SUBJECT
from riskboard.shipped import aircraft_type_files
from riskboard.words import Role

__all__ = ["first_start", "first_start_code", "load_demo_school", "needs_first_start"]

_CODE = ("setup", "first-start")
_ACTOR, _ROLE = "riskboard", "installer"
_WRONG = (
    "That is not the code that the server printed when it started. Look at its console; a restart prints a new one."
)
_INVENTED_SINCE = timedelta(days=365)


def needs_first_start(office: Office, at: datetime) -> bool:
    """Whether nobody runs this school: no open account is administrator without an end."""
    return not administrators(office, at)


def first_start_code(office: Office, *, at: datetime) -> str | None:
    """Make a new code for the console while nobody runs the school; None otherwise. An earlier code ends with it."""
    if not needs_first_start(office, at):
        return None
    code = accounts.made_code()
    office.store.put_document(*_CODE, json.dumps({"code_sha256": _digest(code), "made_at": iso(at)}), at=at)
    return code


def _digest(code: str) -> str:
    """About 98 random bits need no slow hash."""
    letters = "".join(character for character in code.upper() if character.isalnum())
    return hashlib.sha256(letters.encode()).hexdigest()


def first_start(
    office: Office,
    code: str,
    name: str,
    login_name: str,
    passphrase: str,
    pin: str,
    *,
    school_name: str = "",
    time_zone: str = "",
    at: datetime,
) -> str:
    """Make the administrator, and the school where there is none yet; returns a session's token.

    Where the login name is somebody's here already, that person becomes administrator, with this passphrase and PIN.

    Args:
        office: The school.
        code: From the console.
        name: Of the administrator.
        login_name: Theirs.
        passphrase: Theirs, new.
        pin: Theirs, new.
        school_name: Where there is no school yet.
        time_zone: IANA name, where there is no school yet.
        at: Now.

    Raises:
        NotLetInError: Somebody runs the school already, or the code is wrong.
        NotDoneError: A name, passphrase, PIN or zone that will not do.
        LedgerError: Not written.
    """
    stored = office.store.get_document(*_CODE)
    kept = "" if stored is None else str(json.loads(stored.text).get("code_sha256", ""))
    if not kept or not hmac.compare_digest(_digest(code), kept):
        raise NotLetInError(_WRONG)
    tidy = tidy_name(name)
    documents = [] if school(office) is not None else [_school_document(school_name, time_zone)]
    try:
        login = accounts.check_login_name(login_name)
    except accounts.LoginNameRefusedError as error:
        raise NotDoneError(str(error)) from error
    names = forbidden_in_passphrase(office, login, tidy) | {"the new school's name": school_name}
    hashed, pin_hash = hash_of_new(passphrase, names), hashed_pin(pin)
    head = office.store.head().size
    if not needs_first_start(office, at):
        raise NotLetInError("Somebody runs this school already. Ask them for an account.")
    known = office.store.find_account(login)
    person_id = new_person_id(office, tidy) if known is None else known.person_id
    if known is None:
        person = {"id": person_id, "name": tidy, "pilot": {}, "as_of": iso(at)}
        documents.append(DocumentChange("person", person_id, json.dumps(person, ensure_ascii=False), 0))
        account = AccountRecord(person_id, login, hashed, "", "", at)
    else:
        account = replace(known, passphrase_hash=hashed, closed_at=None)
    body = {
        "person": person_id,
        "role": Role.administrator.value,
        "from": iso(at),
        "until": None,
        "why": "First start: the code that the server printed on its console was typed in.",
    }
    intent = Intent(
        kind="role_given",
        event_id=f"first-start-{kept[:40]}",
        at=at,
        subject=f"{SUBJECT}{person_id}",
        body=body,
        timed={"mark": secrets.token_hex(8)},
        actor=_ACTOR,
        role=_ROLE,
    )
    try:
        office.store.append(intent, head=head, documents=documents, access=[account, PinChange(person_id, pin_hash)])
    except OvertakenError as error:
        raise NotDoneError("Something else was put on record at the same moment. Press again.") from error
    office.store.delete_document(*_CODE)
    office.store.end_sessions_of(person_id, at)
    return open_session(office, person_id, WAY_CODE, at)


def _school_document(name: str, time_zone: str) -> DocumentChange:
    tidy = tidy_name(name)
    try:
        ZoneInfo(time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise NotDoneError(
            f"{time_zone!r} is no time zone. Write one as Continent/City, for example Europe/Zagreb or America/Denver."
        ) from error
    return DocumentChange(
        "school",
        "school",
        json.dumps({"name": tidy, "time_zone": time_zone, "idle_min": 30}, ensure_ascii=False),
        0,
    )


def load_demo_school(office: Office, *, now: datetime) -> None:
    """Put the invented school into an empty store: its aircraft types, its facts, its people's roles and ways in.

    Every one of its people has the shown passphrase and PIN, hashed once.

    Raises:
        NotDoneError: There is a school already.
        LedgerError: Not written.
    """
    if school(office) is not None:
        raise NotDoneError("There is a school in this store already.")
    passphrase_hash, pin_hash = hash_of_new(demo.DEMO_PASSPHRASE, {}), set_pin(demo.DEMO_PIN)
    documents = [
        DocumentChange(kind, identity, json.dumps(facts, ensure_ascii=False))
        for kind, identity, facts in demo.school_documents(now)
    ]
    for name, text in aircraft_type_files():
        found = load_type(text, name=name)
        kept = TypeText(found.digest, found.id, found.version, found.title, text, now)
        event_id = f"invented-type-{found.digest[:32]}"
        intent = type_intent(kept, "The invented school.", event_id, _ACTOR, _ROLE, invented=found.invented)
        office.store.append(intent, types=[kept])
    given = [(person_id, role) for person_id, roles in demo.ROLES.items() for role in roles]
    # Each person's way in comes with their roles; all facts, the school's too, come with the last: a load that broke
    # off begins anew.
    for place, (person_id, role) in enumerate(given, 1):
        account = AccountRecord(person_id, demo.LOGIN_NAMES[person_id], passphrase_hash, "", "", now)
        office.store.append(
            _invented_role(person_id, Role(role), now),
            documents=documents if place == len(given) else (),
            access=[account, PinChange(person_id, pin_hash)],
        )


def _invented_role(person_id: str, role: Role, now: datetime) -> Intent:
    """Held since a year ago, so that the school has a past to look at."""
    return Intent(
        kind="role_given",
        event_id=f"invented-{person_id}-{role.value}",
        at=now,
        actor=_ACTOR,
        role=_ROLE,
        subject=f"{SUBJECT}{person_id}",
        body={"person": person_id, "role": role.value, "until": None, "why": "The invented school."},
        timed={"from": iso(now - _INVENTED_SINCE)},
    )
