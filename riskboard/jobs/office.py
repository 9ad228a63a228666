"""A school's riskboard: its store, its published policies, and what the school already knows."""

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from riskboard import __version__
from riskboard.assessment.facts import PreparedPolicy, prepare
from riskboard.jobs.flight_log import FlightLog
from riskboard.jobs.type_texts import read_type, type_text, types_of
from riskboard.ledger import Intent, Store
from riskboard.ledger.store import PolicyText, TypeText
from riskboard.measures.registry import evaluate_guards, load_all
from riskboard.policy import Policy, load_policy
from riskboard.policy.book import PolicyBook
from riskboard.shipped import policy_files
from riskboard.words import Guard
from riskboard.worksheet.columns import to_columns
from riskboard.worksheet.model import Worksheet

__all__ = [
    "Office",
    "Person",
    "choose_policy",
    "document",
    "documents",
    "open_office",
    "people",
    "person",
    "policy_book",
    "policy_finder",
    "policy_for",
    "policy_of_digest",
    "prepared_policy",
    "school",
    "school_zone",
    "shipped_policies",
]


@dataclass(frozen=True)
class Office:
    """One school's riskboard. Nothing that matters lives outside its store.

    Attributes:
        store: The store.
        acts_for: Whose worksheets the jobs on drafts are held to; "" for nobody's. See ``jobs.own_drafts``.
        log: What the log says; a cache of the store.
    """

    store: Store
    acts_for: str = ""
    log: FlightLog = field(init=False, repr=False, compare=False)
    """What the log says about flights; a cache of the store, continued at each look."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "log", FlightLog(self.store))


@dataclass(frozen=True)
class Person:
    """Somebody known to the school, with the stored facts of their pilot part. What they may do stands in the log."""

    person_id: str
    name: str
    facts: Mapping[str, Any]
    as_of: str


def open_office(where: str | Path, *, now: datetime) -> Office:
    """Open a school's store, and publish the shipped policies into an empty one.

    Args:
        where: SQLite file or database URL.
        now: The time of opening.

    Raises:
        LedgerError: The store cannot be opened or made.
    """
    from riskboard.ledger.sql import open_store  # noqa: PLC0415  - the database driver loads only when a store is opened

    office = Office(open_store(where, now=now))
    if not office.store.list_policies():
        for policy in shipped_policies():
            _publish_shipped(office, policy, at=now)
    return office


@cache
def shipped_policies() -> tuple[Policy, ...]:
    """The policies that come with riskboard, a policy before those that extend it."""
    loaded: list[Policy] = []
    for name, text in policy_files():
        loaded.append(load_policy(text, name=name, resolve=policy_finder(loaded)))
    return tuple(loaded)


def policy_finder(known: Iterable[Policy]) -> Callable[[str, int], Policy]:
    """Finds the policy that another one extends, among those given at the time it is asked."""

    def find(policy_id: str, version: int) -> Policy:
        for policy in known:
            if (policy.id, policy.version) == (policy_id, version):
                return policy
        raise LookupError(f"{policy_id} version {version}")

    return find


def _publish_shipped(office: Office, policy: Policy, *, at: datetime) -> None:
    office.store.publish_policy(PolicyText(policy.digest, policy.id, policy.version, policy.text, at))
    office.store.append(
        Intent(
            kind="policy_published",
            event_id=f"shipped-{policy.digest[:32]}",
            at=at,
            actor="riskboard",
            role="installer",
            subject=f"policy {policy.id} {policy.version}",
            body={"text": policy.text, "why": "Shipped with riskboard."},
            engine_version=__version__,
            policy_digest=policy.digest,
        )
    )


@lru_cache(maxsize=32)
def _read(text: str, digest: str) -> Policy:
    policy = load_policy(text, name=f"policy {digest[:12]}", published=True)
    if policy.digest != digest:
        raise ValueError(f"the stored policy text does not match its digest {digest[:12]}")
    return policy


@lru_cache(maxsize=64)
def _prepared(text: str, digest: str, types: tuple[TypeText, ...] = ()) -> PreparedPolicy:
    """A policy with the types that it is to be asked about: one and the same while neither changes."""
    return prepare(_read(text, digest), [read_type(kept) for kept in types])


def policy_of_digest(office: Office, digest: str) -> Policy:
    """A published policy.

    Raises:
        KeyError: No policy of that digest was published here.
    """
    stored = office.store.get_policy(digest)
    if stored is None:
        raise KeyError(f"no published policy has the digest {digest[:12]}")
    return _read(stored.text, stored.digest)


def prepared_policy(office: Office, digest: str, *, type_digest: str | None = None) -> PreparedPolicy:
    """A published policy with the aircraft types, ready to score.

    Args:
        office: The school.
        digest: Of the policy.
        type_digest: Of the aircraft type that a past decision rested on, "" where it rested on none; if not given, all
            types in force now.

    Raises:
        KeyError: No such policy or type was published here.
        TypeUnreadableError: The text of the type that is named cannot be read.
    """
    policy = policy_of_digest(office, digest)
    if type_digest is None:
        types = types_of(office.store).texts
    else:
        types = (type_text(office.store, type_digest),) if type_digest else ()
    return _prepared(policy.text, policy.digest, types)


def policy_for(office: Office, sheet: Worksheet, at: datetime, *, types_at: datetime | None = None) -> PreparedPolicy:
    """The policy in force at ``at`` for this worksheet, with the aircraft types in force now, or at a past moment."""
    policy = choose_policy(policy_book(office), sheet, at)
    return _prepared(policy.text, policy.digest, types_of(office.store, types_at).texts)


def policy_book(office: Office) -> PolicyBook:
    """Every policy published at this school."""
    return PolicyBook(tuple(_read(stored.text, stored.digest) for stored in office.store.list_policies()))


def choose_policy(book: PolicyBook, sheet: Worksheet, at: datetime) -> Policy:
    """The policy of a book that applies to this worksheet at ``at``: the student-solo one also when that is not known.

    Raises:
        NoPolicyError: None was in force.
    """
    load_all()
    solo = float(evaluate_guards(to_columns([sheet], at), [Guard.student_solo])[Guard.student_solo][0])
    return book.for_flight(student_solo=None if solo not in {0.0, 1.0} else solo == 1, at=at)


def document(office: Office, kind: str, identity: str) -> dict[str, Any]:
    """One stored document.

    Raises:
        KeyError: The school has none of that kind and id.
    """
    stored = office.store.get_document(kind, identity)
    if stored is None:
        raise KeyError(f"the school has no {kind} called {identity!r}")
    found: dict[str, Any] = json.loads(stored.text)
    return found


def school(office: Office) -> dict[str, Any] | None:
    """The school's own facts (name, zone, whether it is invented), or None before it is set up."""
    stored = office.store.get_document("school", "school")
    return None if stored is None else json.loads(stored.text)


def documents(office: Office, kind: str) -> list[dict[str, Any]]:
    """Every stored document of a kind: "person", "aircraft", "site" or "route"."""
    return [json.loads(stored.text) for stored in office.store.list_documents(kind)]


def _person(found: Mapping[str, Any]) -> Person:
    return Person(found["id"], found["name"], found["pilot"], found["as_of"])


def people(office: Office) -> list[Person]:
    """Everybody known to the school."""
    return [_person(found) for found in documents(office, "person")]


def person(office: Office, person_id: str) -> Person:
    """One person.

    Raises:
        KeyError: The school knows nobody of that id.
    """
    return _person(document(office, "person", person_id))


def school_zone(office: Office) -> str:
    """The school's IANA time zone; UTC while no school is set up."""
    return str((school(office) or {}).get("time_zone") or "UTC")
