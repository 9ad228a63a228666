"""Coming in and going out: passphrase, outside identity, one-time code; who is here, and which roles they hold now.

A session says who somebody is, never what they may do: every job asks the log for the roles of the moment, and the
rule of authority for the right. A job that takes a ``Caller`` begins with :func:`check_caller`: a page that was drawn
an hour ago, or a program that made a caller up, gets no further.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from riskboard.jobs.office import Office, document, school
from riskboard.ledger import AccountRecord, SessionRecord
from riskboard.people import accounts
from riskboard.people.sessions import SessionRule, looks_like_token, made_token, token_hash

__all__ = [
    "Caller",
    "NotLetInError",
    "caller",
    "carry_over",
    "check_caller",
    "claim_passphrase",
    "enter_by_identity",
    "open_session",
    "session_rule",
    "sign_in",
    "sign_out",
]

WAY_PASSPHRASE = "passphrase"  # noqa: S105  - the name of a way in
WAY_IDENTITY = "identity"
WAY_CODE = "code"
_WAY_TICKET = "ticket"
_TICKET_LASTS = timedelta(minutes=2)

_WRONG = "That name and passphrase do not fit. Nobody was let in."
_OVER = "You are not signed in any more. Enter again; what you typed is kept."


class NotLetInError(Exception):
    """Nobody was let in, or nobody is in any more. The message says why and what to do now."""


@dataclass(frozen=True)
class Caller:
    """Who acts, and in which session. Carries no roles: every job asks the log for them.

    Attributes:
        person_id: Who.
        name: Their name.
        token_hash: SHA-256 of the token of their session.
    """

    person_id: str
    name: str
    token_hash: str


def sign_in(office: Office, login_name: str, passphrase: str, *, at: datetime) -> str:
    """Let somebody in by passphrase; returns the token that their browser keeps.

    An unknown name costs the same work and gives the same answer as a wrong passphrase. After some wrong ones each
    further try has to wait, a right one too.

    Raises:
        NotLetInError: Wrong name or passphrase, too many tries, or a closed account.
        LedgerError: The store cannot be used.
    """
    account = office.store.find_account(accounts.tidy_login_name(login_name))
    if account is None:
        accounts.check_passphrase(passphrase, None)
        raise NotLetInError(_WRONG)
    claim_passphrase(office, account, at)
    if not accounts.check_passphrase(passphrase, account.passphrase_hash):
        raise NotLetInError(_WRONG)
    _check_open(account)
    office.store.clear_passphrase_failures(account.person_id)
    return open_session(office, account.person_id, WAY_PASSPHRASE, at)


def claim_passphrase(office: Office, account: AccountRecord, at: datetime) -> None:
    """Count one attempt at a passphrase or code before it is made.

    Raises:
        NotLetInError: There were too many wrong ones.
    """
    if office.store.claim_passphrase_attempt(account.person_id, at=at, may_try=accounts.may_try):
        return
    known = office.store.get_account(account.person_id) or account
    wait = accounts.wait_after(known.failures, known.last_failure_at, at)
    raise NotLetInError(f"Too many wrong tries for this name. Wait {_seconds(wait)} s, then try again.")


def _seconds(wait: timedelta) -> int:
    return int(wait.total_seconds()) + 1


def _check_open(account: AccountRecord) -> None:
    if account.closed_at is not None:
        raise NotLetInError("This account is closed. Ask an administrator of your school.")


def open_session(office: Office, person_id: str, way: str, at: datetime) -> str:
    """Begin a session of a person whose identity was just proved; returns its token."""
    token = made_token()
    office.store.open_session(SessionRecord(token_hash(token), person_id, way, at, at))
    return token


def enter_by_identity(office: Office, issuer: str, subject: str, *, at: datetime) -> str:
    """Let somebody in whom an outside provider has named; returns a ticket for :func:`carry_over`, good for 2 minutes.

    The caller must have verified the provider's answer. Nobody is created: an administrator linked the identity before.

    Raises:
        NotLetInError: No account has this identity, or it is closed.
        LedgerError: The store cannot be used.
    """
    account = office.store.find_account_by_identity(issuer, subject)
    if account is None:
        raise NotLetInError("This school knows nobody by that identity. Give it to an administrator, who can link it.")
    _check_open(account)
    return open_session(office, account.person_id, _WAY_TICKET, at)


def carry_over(office: Office, ticket: str, *, at: datetime) -> str:
    """Turn a ticket into a session, once; returns the session's token.

    Raises:
        NotLetInError: It is no ticket, too old, or used.
        LedgerError: The store cannot be used.
    """
    found = office.store.get_session(token_hash(ticket)) if looks_like_token(ticket) else None
    if found is None or found.way != _WAY_TICKET or found.ended_at is not None:
        raise NotLetInError("That way in was used already or never was one. Enter again.")
    office.store.end_session(found.token_hash, at)
    if not timedelta() <= at - found.opened_at <= _TICKET_LASTS:
        raise NotLetInError("That took too long. Enter again.")
    account = office.store.get_account(found.person_id)
    if account is None:
        raise NotLetInError(_WRONG)
    _check_open(account)
    return open_session(office, found.person_id, WAY_IDENTITY, at)


def sign_out(office: Office, token: str, *, at: datetime) -> None:
    """End a session; nothing happens if there is none."""
    if looks_like_token(token):
        office.store.end_session(token_hash(token), at)


def session_rule(office: Office) -> SessionRule:
    """How long sessions last at this school."""
    return SessionRule.of_school((school(office) or {}).get("idle_min"))


def caller(office: Office, token: str, *, at: datetime, touch: bool = True) -> Caller | None:
    """Who is in, by the token of their browser; None for unknown, ended, idle too long, or a closed account.

    Args:
        office: The school.
        token: As the browser sent it.
        at: Now.
        touch: Whether the person did something. What a page does by itself is no activity.

    Raises:
        LedgerError: The store cannot be used.
    """
    if not looks_like_token(token):
        return None
    found = _live_session(office, token_hash(token), at)
    if found is None:
        return None
    if touch and session_rule(office).worth_marking(found.seen_at, at):
        office.store.touch_session(found.token_hash, at)
    try:
        name = str(document(office, "person", found.person_id)["name"])
    except KeyError:
        return None
    return Caller(found.person_id, name, found.token_hash)


def check_caller(office: Office, caller: Caller, *, at: datetime) -> SessionRecord:
    """Make sure that a caller is who they say and still in. The first line of every job that takes one.

    Raises:
        NotLetInError: There is no such session, it has ended, or it is another person's.
    """
    found = _live_session(office, caller.token_hash, at)
    if found is None or found.person_id != caller.person_id:
        raise NotLetInError(_OVER)
    return found


def _live_session(office: Office, hashed: str, at: datetime) -> SessionRecord | None:
    found = office.store.get_session(hashed)
    if found is None or found.way == _WAY_TICKET or found.ended_at is not None:
        return None
    if not session_rule(office).is_live(found.opened_at, found.seen_at, found.ended_at, at):
        office.store.end_session(hashed, at)  # for good: a clock that is set back later revives nothing
        return None
    account = office.store.get_account(found.person_id)
    if account is None or account.closed_at is not None:
        return None
    return found
