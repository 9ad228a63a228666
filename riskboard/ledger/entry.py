"""What one record of the log is: intent, header, body and entry, and how they are hashed.

Header and body are hashed apart. The header carries the digest of the body, and the body's digest is taken over a
random salt and the exact bytes: once salt and body are gone, nobody can guess the body from the digest that stays.
The two hashes start with different words, so that no body can ever pass for a header.
"""

import hashlib
import json
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cached_property
from typing import Any

from riskboard.ledger.canonical import Json, NotCanonicalError, canonical_json, parse_json, parse_utc, utc_text
from riskboard.ledger.kinds import check_kind

__all__ = [
    "FORMAT",
    "GENESIS_PREV",
    "MAX_BODY_BYTES",
    "SALT_BYTES",
    "Body",
    "Entry",
    "Header",
    "Intent",
    "UnreadableError",
    "body_digest",
    "header_digest",
    "seal",
]

FORMAT = "riskboard-log/1"
GENESIS_PREV = "0" * 64
"""What stands in `prev` of record 1, which follows nothing."""
SALT_BYTES = 32
MAX_BODY_BYTES = 1_048_576
MAX_NAME_LENGTH = 200
_EARLIEST, _LATEST = datetime(1970, 1, 1, tzinfo=UTC), datetime(2242, 1, 1, tzinfo=UTC)
"""A record outside of this could be made and then never be told of: its receipt has no room for the time."""

_HEADER_PREFIX = b"riskboard-log/1 header\n"
_BODY_PREFIX = b"riskboard-log/1 body\n"
_TEXT_FIELDS = (
    "format",
    "origin",
    "prev",
    "kind",
    "event_id",
    "at",
    "actor",
    "role",
    "subject",
    "body_digest",
    "engine_version",
    "policy_digest",
)
_FIELDS = frozenset((*_TEXT_FIELDS, "seq"))
_ALL_TEXT = [str] * len(_TEXT_FIELDS)
_WRITTEN_ORDER = tuple(sorted(_FIELDS))
_WRITTEN_TYPES = [int if name == "seq" else str for name in _WRITTEN_ORDER]
_decode_at_start = json.JSONDecoder().raw_decode


class UnreadableError(ValueError):
    """Stored bytes that are not a header or body of this format; the message says what is wrong with them."""


def header_digest(data: bytes) -> str:
    """Return the SHA-256 of exact header bytes, under the header's own prefix, as 64 hex digits."""
    return hashlib.sha256(_HEADER_PREFIX + data).hexdigest()


def body_digest(salt: bytes, data: bytes) -> str:
    """Return the SHA-256 of salt and exact body bytes, under the body's own prefix, as 64 hex digits."""
    taken = hashlib.sha256(_BODY_PREFIX + salt)
    taken.update(data)
    return taken.hexdigest()


@dataclass(frozen=True, slots=True)
class Header:
    """Who did what, when, to what, and after which record.

    Attributes:
        origin: Random id of this log, the same in every record.
        seq: Number of the record, from 1.
        prev: Digest of the header before, 64 hex digits; zeros in record 1.
        kind: One of `riskboard.ledger.kinds.KINDS`.
        event_id: Made when the page was drawn; the same intent never gets two records.
        at: When it was done, UTC.
        actor: Who did it.
        role: In which role.
        subject: What it is about, usually the id of an assessment.
        body_digest: SHA-256 over the body's salt and exact bytes.
        engine_version: Which engine computed the body.
        policy_digest: Which policy it was computed under; may be empty.
    """

    origin: str
    seq: int
    prev: str
    kind: str
    event_id: str
    at: datetime
    actor: str
    role: str
    subject: str
    body_digest: str
    engine_version: str
    policy_digest: str

    def to_bytes(self) -> bytes:
        """Return the canonical JSON text that is stored and hashed."""
        return canonical_json(
            {
                "actor": self.actor,
                "at": self.at,
                "body_digest": self.body_digest,
                "engine_version": self.engine_version,
                "event_id": self.event_id,
                "format": FORMAT,
                "kind": self.kind,
                "origin": self.origin,
                "policy_digest": self.policy_digest,
                "prev": self.prev,
                "role": self.role,
                "seq": self.seq,
                "subject": self.subject,
            }
        )

    @classmethod
    def parse(cls, data: bytes) -> "Header":
        """Read exact stored bytes.

        Raises:
            UnreadableError: If they are not a header of this format.
        """
        found = read_header_fields(data)
        try:
            at = parse_utc(found["at"])
        except NotCanonicalError as error:
            raise UnreadableError(f"The header's time cannot be read: {error}") from error
        del found["format"]
        found["at"] = at
        return cls(**found)


def read_header_fields(data: bytes) -> dict[str, Any]:
    """Return the header's fields as stored, with their types checked, without making a Header.

    Raises:
        UnreadableError: If the bytes are not a header of this format.
    """
    # Headers as this program writes them, at half the cost; whatever looks different is judged below.
    try:
        text = data.decode("utf-8")
        written, end = _decode_at_start(text)
        if (
            end == len(text)
            and type(written) is dict
            and tuple(written) == _WRITTEN_ORDER
            and list(map(type, written.values())) == _WRITTEN_TYPES
            and written["format"] == FORMAT
        ):
            return written
    except (ValueError, RecursionError):
        pass
    return _read_odd_header_fields(data)


def _read_odd_header_fields(data: bytes) -> dict[str, Any]:
    try:
        found: Any = json.loads(data.decode("utf-8"))
    except (ValueError, RecursionError) as error:
        raise UnreadableError(f"The header is not JSON: {error}.") from error
    if type(found) is not dict:
        raise UnreadableError("The header is not a JSON mapping.")
    stated = found.get("format")
    if stated != FORMAT:
        raise UnreadableError(f"The header's format is {stated!r}; this program reads {FORMAT!r}.")
    if found.keys() != _FIELDS:
        odd = ", ".join(sorted(found.keys() ^ _FIELDS))
        raise UnreadableError(f"The header has missing or unknown fields: {odd}.")
    if type(found["seq"]) is not int or [type(found[name]) for name in _TEXT_FIELDS] != _ALL_TEXT:
        raise UnreadableError("A field of the header has the wrong type; seq is a whole number, all others are text.")
    return found


@dataclass(frozen=True, slots=True)
class Body:
    """What was typed, computed, shown and signed, as exact bytes with its salt."""

    salt: bytes
    data: bytes

    @property
    def digest(self) -> str:
        """SHA-256 over salt and bytes, to be compared with the header's `body_digest`."""
        return body_digest(self.salt, self.data)

    @property
    def value(self) -> dict[str, Any]:
        """The body as plain Python data.

        Raises:
            UnreadableError: If the bytes are not a JSON mapping.
        """
        try:
            found = parse_json(self.data)
        except NotCanonicalError as error:
            raise UnreadableError(f"The body cannot be read: {error}") from error
        if not isinstance(found, dict):
            raise UnreadableError("The body is not a JSON mapping.")
        return found


@dataclass(frozen=True)
class Entry:
    """One record as it stands in a store or an export; nothing in it is trusted until verified.

    Attributes:
        seq: The place where the record was found.
        digest: The hash stored beside the header.
        header_bytes: The exact stored header.
        body: The body, or None when it is not there.
    """

    seq: int
    digest: str
    header_bytes: bytes
    body: Body | None

    @cached_property
    def header(self) -> Header:
        """The header as read from its bytes.

        Raises:
            UnreadableError: If the bytes are not a header of this format.
        """
        return Header.parse(self.header_bytes)


@dataclass(frozen=True, slots=True)
class Intent:
    """What a person means to put on record; the store adds number, link and salt.

    Attributes:
        kind: One of `riskboard.ledger.kinds.KINDS`.
        event_id: Made when the page was drawn. A second append with the same one finds the first record.
        at: When it was done; timezone-aware.
        actor: Who did it; not empty.
        role: In which role; not empty.
        subject: What it is about; not empty.
        body: What was typed, shown and signed: the same on a retry.
        timed: The part of the body that the clock decides (`valid_until` and the like): stored in the same body, but
            not compared when the same event comes twice, so that a double tap one second later is no contradiction.
        engine_version: Which engine computed the body; may be empty.
        policy_digest: Which policy it was computed under; may be empty.

    Raises:
        ValueError: If a field is empty, too long or holds control characters, if the time has no zone or lies outside
            1970 to 2241, if the kind is unknown, or if `timed` and `body` share a key.
    """

    kind: str
    event_id: str
    at: datetime
    actor: str
    role: str
    subject: str
    body: Mapping[str, Json]
    timed: Mapping[str, Json] = field(default_factory=dict)
    engine_version: str = ""
    policy_digest: str = ""

    def __post_init__(self) -> None:
        check_kind(self.kind)
        utc_text(self.at)
        if not _EARLIEST <= self.at < _LATEST:
            raise ValueError(
                f"at {self.at.isoformat()} is not a time that a receipt can carry (1970 to 2242); set the clock right."
            )
        for name in ("event_id", "actor", "role", "subject"):
            _check_name(name, getattr(self, name), may_be_empty=False)
        for name in ("engine_version", "policy_digest"):
            _check_name(name, getattr(self, name), may_be_empty=True)
        both = sorted(self.body.keys() & self.timed.keys())
        if both:
            raise ValueError(f"{', '.join(both)} stand(s) in body and in timed; keep each key in one of them.")

    def body_bytes(self) -> bytes:
        """Return the canonical text of the whole body.

        Raises:
            NotCanonicalError: If the body holds what JSON cannot carry.
            ValueError: If the text is longer than 1 MiB.
        """
        data = canonical_json({**self.body, **self.timed})
        if len(data) > MAX_BODY_BYTES:
            raise ValueError(f"The body has {len(data)} bytes; at most {MAX_BODY_BYTES} can be put on record.")
        return data

    def says_the_same_as(self, entry: Entry) -> bool:
        """Tell whether a stored entry is this same intent, whatever the clock said.

        An erased body cannot be compared any more; then the header decides.
        """
        stored = entry.header
        names = ("kind", "event_id", "actor", "role", "subject", "engine_version", "policy_digest")
        if any(getattr(self, name) != getattr(stored, name) for name in names):
            return False
        if entry.body is None:
            return True
        kept = {key: value for key, value in entry.body.value.items() if key not in self.timed}
        return canonical_json(kept) == canonical_json(self.body)


def seal(intent: Intent, *, origin: str, seq: int, prev: str, salt: bytes, data: bytes | None = None) -> Entry:
    """Make the record of an intent at its place in the chain. Pure: place and salt are given.

    Args:
        intent: What is put on record.
        origin: The log's random id.
        seq: The number of the record, from 1.
        prev: Digest of the header before; GENESIS_PREV for record 1.
        salt: 32 fresh random bytes.
        data: The intent's `body_bytes()`, if they have been made already.

    Raises:
        ValueError: If the salt has another length, or the body cannot be written.
    """
    if len(salt) != SALT_BYTES:
        raise ValueError(f"The salt has {len(salt)} bytes; it must have {SALT_BYTES}.")
    body = Body(salt, intent.body_bytes() if data is None else data)
    header = Header(
        origin=origin,
        seq=seq,
        prev=prev,
        kind=intent.kind,
        event_id=intent.event_id,
        at=intent.at.astimezone(UTC),
        actor=intent.actor,
        role=intent.role,
        subject=intent.subject,
        body_digest=body.digest,
        engine_version=intent.engine_version,
        policy_digest=intent.policy_digest,
    )
    header_bytes = header.to_bytes()
    entry = Entry(seq, header_digest(header_bytes), header_bytes, body)
    entry.__dict__["header"] = header  # what reading the bytes would give
    return entry


def _check_name(name: str, value: str, *, may_be_empty: bool) -> None:
    if not value.strip() and not may_be_empty:
        raise ValueError(f"{name} is empty; an entry needs one.")
    if len(value) > MAX_NAME_LENGTH:
        raise ValueError(f"{name} has {len(value)} characters; at most {MAX_NAME_LENGTH} are allowed.")
    # Control characters and half surrogates would read differently on paper, in a terminal and in a database.
    if any(unicodedata.category(character) in {"Cc", "Cs"} for character in value):
        raise ValueError(f"{name} holds a control character: {value!r}; use printable text.")
