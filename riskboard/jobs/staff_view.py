"""Who works and flies here, as the page of the people shows it to whoever may see it."""

from dataclasses import dataclass
from datetime import datetime

from riskboard.jobs.entering import Caller, check_caller
from riskboard.jobs.flights import NotShownError
from riskboard.jobs.office import Office, people
from riskboard.jobs.own_access import has_pin
from riskboard.jobs.roles import roles_of, spells_of
from riskboard.ledger import AccountRecord
from riskboard.people.accounts import awaits_code
from riskboard.people.authority import may_manage_people, may_see_people
from riskboard.people.roles import RoleSpell

__all__ = ["PersonRow", "keeps_people", "own_row", "staff_list"]


@dataclass(frozen=True)
class PersonRow:
    """One person.

    Attributes:
        person_id: Who.
        name: Their name.
        spells: Every role with its dates, in the order given.
        login_name: "" where whoever looks does not keep people.
        way_in: How they come in now, in words; "" likewise.
        closed: Whether their account is closed.
        outside: Issuer of their outside identity, "" for none.
        has_pin: Whether they can sign.
    """

    person_id: str
    name: str
    spells: tuple[RoleSpell, ...]
    login_name: str = ""
    way_in: str = ""
    closed: bool = False
    outside: str = ""
    has_pin: bool = False


def keeps_people(office: Office, caller: Caller, *, at: datetime) -> bool:
    """Whether the caller may change who works here."""
    return may_manage_people(roles_of(office, caller.person_id, at), own=False).allowed


def own_row(office: Office, caller: Caller, *, at: datetime) -> PersonRow:
    """The caller's own roles and way in.

    Raises:
        NotLetInError: The caller is not in any more.
    """
    check_caller(office, caller, at=at)
    return _row(office, caller.person_id, caller.name, office.store.get_account(caller.person_id))


def staff_list(office: Office, caller: Caller, *, at: datetime) -> tuple[PersonRow, ...]:
    """Everybody known to the school, by name; how they come in only for whoever keeps people.

    Raises:
        NotLetInError: The caller is not in any more.
        NotShownError: The caller may not see who holds which role.
    """
    check_caller(office, caller, at=at)
    roles = roles_of(office, caller.person_id, at)
    ruling = may_see_people(roles)
    if not ruling.allowed:
        raise NotShownError(" ".join(ruling.clauses))
    known = people(office)
    if not may_manage_people(roles, own=False).allowed:
        rows = [PersonRow(each.person_id, each.name, spells_of(office, each.person_id)) for each in known]
    else:
        accounts = {each.person_id: each for each in office.store.list_accounts()}
        rows = [_row(office, each.person_id, each.name, accounts.get(each.person_id)) for each in known]
    return tuple(sorted(rows, key=lambda row: (row.name.casefold(), row.person_id)))


def _row(office: Office, person_id: str, name: str, account: AccountRecord | None) -> PersonRow:
    spells = spells_of(office, person_id)
    if account is None:
        return PersonRow(person_id, name, spells, way_in="has no account", closed=True)
    return PersonRow(
        person_id,
        name,
        spells,
        account.login_name,
        _way_in(account),
        account.closed_at is not None,
        account.issuer,
        has_pin(office, person_id),
    )


def _way_in(account: AccountRecord) -> str:
    if account.closed_at is not None:
        return "account closed"
    if awaits_code(account.passphrase_hash):
        return "has not used their one-time code yet"
    ways = [
        name
        for name, there in (("passphrase", account.passphrase_hash), ("outside identity", account.subject))
        if there
    ]
    return " or ".join(ways) or "no way in yet"
