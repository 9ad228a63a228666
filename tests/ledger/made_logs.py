"""Logs made for tests, in memory: invented people, invented flights."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from riskboard.ledger.entry import GENESIS_PREV, Body, Entry, Intent, header_digest, seal

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
ORIGIN = "0123456789abcdef0123456789abcdef"


def intent(number: int = 1, **changes: Any) -> Intent:
    """An assessment that was shown to a pilot, `number` minutes after noon."""
    fields: dict[str, Any] = {
        "kind": "briefed",
        "event_id": f"event-{number}",
        "at": NOON + timedelta(minutes=number),
        "actor": "Wren Adair",
        "role": "pilot",
        "subject": f"flight-{number}",
        "body": {"sleep_last_24h_h": 7.5, "note": f"note {number}"},
        "engine_version": "0.1.0",
        "policy_digest": "ab" * 32,
    }
    return Intent(**{**fields, **changes})


def made_log(*intents: Intent, origin: str = ORIGIN) -> list[Entry]:
    """A sound log: the opening record, then one record for each intent."""
    opening = intent(0, kind="opened", event_id="opening", subject="log", body={})
    log: list[Entry] = []
    for number, each in enumerate((opening, *intents), 1):
        prev = log[-1].digest if log else GENESIS_PREV
        log.append(seal(each, origin=origin, seq=number, prev=prev, salt=bytes([number % 256]) * 32))
    return log


def sound_log(length: int = 8) -> list[Entry]:
    """A sound log of some length, the opening record counted."""
    return made_log(*(intent(number) for number in range(1, length)))


def with_header(entry: Entry, old: bytes, new: bytes, *, rehash: bool) -> Entry:
    """The entry with some bytes of its header changed; with the hash kept beside it changed too, or not."""
    assert old in entry.header_bytes
    data = entry.header_bytes.replace(old, new)
    return Entry(entry.seq, header_digest(data) if rehash else entry.digest, data, entry.body)


def with_body(entry: Entry, data: bytes) -> Entry:
    assert entry.body is not None
    return replace(entry, body=Body(entry.body.salt, data))


def without_body(entry: Entry) -> Entry:
    return replace(entry, body=None)
