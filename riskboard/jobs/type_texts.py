"""The aircraft types of a school, read from the exact texts that its store keeps."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from riskboard.aircraft_types import AircraftType, TypeFileError, load_type
from riskboard.ledger.store import Store, TypeText

__all__ = ["TypeUnreadableError", "TypesKept", "newest_of", "read_type", "type_text", "types_of"]


class TypeUnreadableError(ValueError):
    """A stored type text that this program cannot read."""


@dataclass(frozen=True)
class TypesKept:
    """The types in force.

    Attributes:
        by_title: Each type by what worksheets call it.
        texts: What each was read from, oldest first.
        unreadable: Titles of types in force whose text this program cannot read, with the reason. They count as not on
            file: nothing is known about an aircraft of such a type.
    """

    by_title: Mapping[str, AircraftType]
    texts: tuple[TypeText, ...]
    unreadable: Mapping[str, str]


@lru_cache(maxsize=64)
def _read(text: str, digest: str) -> AircraftType:
    called = f"aircraft type {digest[:12]}"
    try:
        found = load_type(text, name=called)
    except TypeFileError as error:
        raise TypeUnreadableError(f"The {called} is refused by this program: {error.problems[0]}.") from error
    if found.digest != digest:
        raise TypeUnreadableError(f"The stored text of the {called} does not match its digest.")
    return found


def read_type(kept: TypeText) -> AircraftType:
    """The type of a text.

    Raises:
        TypeUnreadableError: The text cannot be read.
    """
    return _read(kept.text, kept.digest)


def type_text(store: Store, digest: str) -> TypeText:
    """The text of one digest, whether or not it is in force.

    Raises:
        KeyError: None of that digest was published here.
    """
    kept = store.get_type(digest)
    if kept is None:
        raise KeyError(f"no published aircraft type has the digest {digest[:12]}")
    return kept


def newest_of(store: Store, at: datetime | None = None) -> dict[str, TypeText]:
    """The newest text of each type id; of those published by ``at``, or else the first one, where a time is given."""
    found: dict[str, TypeText] = {}
    for kept in store.list_types():  # by id and version
        if kept.type_id not in found or at is None or kept.published_at <= at:
            found[kept.type_id] = kept
    return found


def types_of(store: Store, at: datetime | None = None) -> TypesKept:
    """The types in force: the newest text of each.

    Args:
        store: The school's store.
        at: A past moment; None for now. A type that was not published by then counts as in its first version: the
            aircraft was the same before its manual was typed in.
    """
    by_title: dict[str, AircraftType] = {}
    texts: list[TypeText] = []
    unreadable: dict[str, str] = {}
    # A name that has gone from one type to another is, at a past moment, that of whoever had it first.
    for kept in sorted(newest_of(store, at).values(), key=lambda each: (each.published_at, each.type_id)):
        if kept.title in by_title or kept.title in unreadable:
            continue
        try:
            by_title[kept.title] = read_type(kept)
        except TypeUnreadableError as error:
            unreadable[kept.title] = str(error)
        else:
            texts.append(kept)
    return TypesKept(by_title, tuple(texts), unreadable)
