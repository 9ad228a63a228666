"""Worksheets and policies from files, without a store: the same choice of policy, the same engine."""

from collections.abc import Iterable, Iterator
from datetime import datetime
from itertools import chain
from pathlib import Path

from riskboard import yaml_source
from riskboard.aircraft_types import AircraftType, load_type
from riskboard.aircraft_types.shipped import shipped_types
from riskboard.assessment.assess import Assessment, assess
from riskboard.assessment.facts import prepare
from riskboard.jobs.office import Office, choose_policy, policy_book, policy_finder, shipped_policies
from riskboard.jobs.type_texts import types_of
from riskboard.policy import load_policy
from riskboard.policy.book import NoPolicyError, PolicyBook
from riskboard.policy.model import Policy
from riskboard.worksheet.model import Worksheet

__all__ = ["assess_worksheet", "read_policy_file", "read_type_file", "shipped_book"]


def shipped_book() -> PolicyBook:
    """The policies that come with riskboard."""
    return PolicyBook(shipped_policies())


def read_policy_file(path: Path, *, bases: Iterable[Path] = ()) -> Policy:
    """Read, check and flatten a policy file.

    Args:
        path: The file.
        bases: Files of policies that it may extend, a base before those that extend it. The shipped ones are known.

    Raises:
        PolicyError: The file, or one of its bases, is refused; every problem says where it stands.
        OSError: A file cannot be read.
    """
    given: list[Policy] = []

    def find(policy_id: str, version: int) -> Policy:
        # The newest first, the shipped ones last and only when asked for: a base that is given wins over one of those.
        return policy_finder(chain(given, _shipped()))(policy_id, version)

    for file in (*bases, path):
        given.insert(0, load_policy(_text(file), name=file.name, resolve=find))
    return given[0]


def _shipped() -> Iterator[Policy]:
    yield from shipped_policies()


def _text(path: Path) -> bytes:
    with path.open("rb") as stream:
        return stream.read(yaml_source.MAX_BYTES + 1)  # one more than is accepted: enough to refuse, never a huge file


def assess_worksheet(
    sheet: Worksheet,
    at: datetime,
    *,
    policy: Policy | None = None,
    policy_id: str | None = None,
    office: Office | None = None,
    types: Iterable[AircraftType] = (),
) -> Assessment:
    """Assess a worksheet that is in no store.

    Args:
        sheet: The worksheet.
        at: The moment of decision, aware.
        policy: The policy to use.
        policy_id: Id of the policy to use, among the school's published ones or the shipped ones; the version in force
            at the moment of decision. With neither, the flight decides, as everywhere.
        office: The school whose published policies and aircraft types count; None for the shipped ones.
        types: Aircraft types that count besides, and before one of the same title.

    Raises:
        CannotAssessError: The worksheet cannot be true at that moment.
        NoPolicyError: No such policy was in force then.
    """
    if policy is None:
        book = shipped_book() if office is None else policy_book(office)
        policy = choose_policy(book, sheet, at) if policy_id is None else _named(book, policy_id, at)
    known = {each.title: each for each in shipped_types()} if office is None else types_of(office.store).by_title
    by_title = {**known, **{each.title: each for each in types}}
    return assess(sheet, prepare(policy, by_title.values()), at)


def read_type_file(path: Path) -> AircraftType:
    """Read and check the file of an aircraft type.

    Args:
        path: The file.

    Raises:
        TypeFileError: The file is refused; every problem says where it stands.
        OSError: The file cannot be read.
    """
    return load_type(_text(path), name=path.name)


def _named(book: PolicyBook, policy_id: str, at: datetime) -> Policy:
    known = sorted({policy.id for policy in book.policies})
    if policy_id not in known:
        raise NoPolicyError(f"there is no file and no policy called {policy_id!r}; known policies: {', '.join(known)}")
    return book.in_force(policy_id, at)
