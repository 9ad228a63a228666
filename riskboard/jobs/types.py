"""The aircraft types that the school has filled in from its flight manuals: publishing one, and what is in force.

A published text is kept for ever, and every decision names the one it rests on. A newer text ends every yes to a flight
of that type that has not left yet.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from riskboard import __version__
from riskboard.aircraft_types import AircraftType, TypeFileError, load_type
from riskboard.jobs.entering import Caller, check_caller
from riskboard.jobs.flight_log import Picture
from riskboard.jobs.office import Office, documents
from riskboard.jobs.roles import roles_of
from riskboard.jobs.signing import NotSignedError, Signed, append_decided, signed_before
from riskboard.jobs.type_texts import newest_of, types_of
from riskboard.ledger import Intent, TypeText
from riskboard.people.authority import may_change_fact
from riskboard.shipped import aircraft_type_files
from riskboard.yaml_source import Problem

__all__ = [
    "NotPublishedError",
    "PublishedType",
    "example_type_text",
    "publish_type",
    "published_types",
    "read_type_text",
    "type_intent",
    "types_in_force",
]

KIND = "type_published"
_LONGEST_WHY = 500


class NotPublishedError(NotSignedError):
    """Nothing was published. ``problems`` says what to mend in the text, with line and column, if that is why."""

    def __init__(self, message: str, problems: tuple[Problem, ...] = ()) -> None:
        super().__init__(message)
        self.problems = problems


@dataclass(frozen=True)
class PublishedType:
    """One published text of an aircraft type.

    Attributes:
        kept: The text as kept.
        in_force: Whether it is the newest of its type.
        unreadable: Why this program cannot read it; "" where it can. Nothing is known about such a type.
        aircraft: Registrations of the school's aircraft that are of it, by their type name.
    """

    kept: TypeText
    in_force: bool
    unreadable: str
    aircraft: tuple[str, ...]


def types_in_force(office: Office) -> Mapping[str, AircraftType]:
    """The newest published text of each aircraft type, by title. One that cannot be read counts as not on file."""
    return types_of(office.store).by_title


def published_types(office: Office) -> tuple[PublishedType, ...]:
    """Every published text: by id, the newest first."""
    newest = {kept.digest for kept in newest_of(office.store).values()}
    unreadable = types_of(office.store).unreadable
    fleet = [found.get("aircraft", {}) for found in documents(office, "aircraft")]
    of_type: dict[str, list[str]] = {}
    for facts in fleet:
        of_type.setdefault(str(facts.get("type_name", "")), []).append(str(facts.get("registration", "")))
    found = [
        PublishedType(
            kept,
            kept.digest in newest,
            unreadable.get(kept.title, "") if kept.digest in newest else "",
            tuple(sorted(of_type.get(kept.title, []))) if kept.digest in newest else (),
        )
        for kept in office.store.list_types()
    ]
    return tuple(sorted(found, key=lambda each: (each.kept.type_id, -each.kept.version)))


def publish_type(office: Office, caller: Caller, text: str, *, why: str, event_id: str, at: datetime) -> Signed:
    """Publish an aircraft type. It is in force from then on, for every aircraft whose type name is its title.

    Args:
        office: The school.
        caller: Who publishes it.
        text: The YAML, kept for ever exactly as it is.
        why: Where the figures come from, or what has changed, in a few words.
        event_id: Made when the page was drawn; a double tap or a retry finds the first record.
        at: Now.

    Returns:
        The record, durable, with its receipt.

    Raises:
        NotLetInError: The session has ended.
        NotPublishedError: No right to, no reason, a text that is refused, or one that a published one stands against.
        LedgerError: It could not be written.
    """
    check_caller(office, caller, at=at)
    found = read_type_text(text)
    subject = f"aircraft_type {found.id}"
    before = signed_before(office, event_id, actor=caller.person_id, kind=KIND, subject=subject)
    if before is not None:
        return before
    kept = TypeText(found.digest, found.id, found.version, found.title, text, at)

    def decide_on(_: Picture) -> Intent:
        ruling = may_change_fact(roles_of(office, caller.person_id, at), "aircraft_type")
        if not ruling.allowed:
            raise NotPublishedError(" ".join(ruling.clauses))
        _check_why(why)
        _check_newer(office, kept)
        return type_intent(kept, why.strip(), event_id, caller.person_id, ruling.role or "", invented=found.invented)

    return append_decided(office, decide_on, types=(kept,))


def type_intent(kept: TypeText, why: str, event_id: str, actor: str, role: str, *, invented: bool) -> Intent:
    """The record of a published type."""
    return Intent(
        kind=KIND,
        event_id=event_id,
        at=kept.published_at,
        actor=actor,
        role=role,
        subject=f"aircraft_type {kept.type_id}",
        body={
            "text": kept.text, "why": why, "version": kept.version, "title": kept.title, "digest": kept.digest,
            "invented": invented,
        },
        engine_version=__version__,
    )  # fmt: skip


def read_type_text(text: str | bytes) -> AircraftType:
    """Read a text as it would be read to be published.

    Raises:
        NotPublishedError: It is refused, with every problem.
    """
    try:
        return load_type(text, name="aircraft type")
    except TypeFileError as error:
        count = len(error.problems)
        said = "1 thing" if count == 1 else f"{count} things"
        raise NotPublishedError(
            f"The text is refused; {said} to mend. Nothing was published.", error.problems
        ) from error


def example_type_text() -> tuple[str, str]:
    """(file name, text) of an invented type, filled in from end to end: something to begin one's own from."""
    return aircraft_type_files()[0]


def _check_why(why: str) -> None:
    if not why.strip():
        raise NotPublishedError(
            "Say in a few words where the figures come from or what has changed; the record needs it."
        )
    if len(why) > _LONGEST_WHY:
        raise NotPublishedError(f"The reason has {len(why)} characters; at most {_LONGEST_WHY} are kept.")


def _check_newer(office: Office, kept: TypeText) -> None:
    """A type's versions only go up, each has one text, and no two types in force have one name."""
    newest = newest_of(office.store)
    same = newest.get(kept.type_id)
    if same is not None and kept.digest == same.digest and kept.text == same.text:
        raise NotPublishedError(f"{same.title} version {same.version} is in force already, word for word.")
    if same is not None and kept.version <= same.version:
        raise NotPublishedError(
            f"{same.title} stands at version {same.version}; a changed text needs a higher one, for example "
            f"`version: {same.version + 1}`. Nothing was published."
        )
    other = next((each for each in newest.values() if each.title == kept.title and each.type_id != kept.type_id), None)
    if other is not None:
        raise NotPublishedError(
            f"The type {other.type_id} is called {kept.title} already; an aircraft of that name could be of either. "
            "Give one of them another title."
        )
