import hashlib
import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from riskboard.ledger.entry import (
    GENESIS_PREV,
    MAX_BODY_BYTES,
    Header,
    UnreadableError,
    body_digest,
    header_digest,
    seal,
)
from riskboard.ledger.kinds import KINDS, UnknownKindError
from tests.ledger.made_logs import NOON, ORIGIN, intent, sound_log

SALT = bytes(range(32))


def test_the_hashes_are_those_that_the_description_says() -> None:
    # Recomputed with the standard library from the words in riskboard/ledger/jsonl.py, not through our functions.
    entry = seal(intent(), origin=ORIGIN, seq=1, prev=GENESIS_PREV, salt=SALT)
    assert entry.body is not None
    body = hashlib.sha256(b"riskboard-log/1 body\n" + SALT + entry.body.data).hexdigest()
    header = hashlib.sha256(b"riskboard-log/1 header\n" + entry.header_bytes).hexdigest()
    assert json.loads(entry.header_bytes)["body_digest"] == body
    assert entry.digest == header


def test_the_header_has_the_fields_of_the_format_and_no_others() -> None:
    entry = seal(intent(), origin=ORIGIN, seq=3, prev="f" * 64, salt=SALT)
    assert json.loads(entry.header_bytes) == {
        "format": "riskboard-log/1",
        "origin": ORIGIN,
        "seq": 3,
        "prev": "f" * 64,
        "kind": "briefed",
        "event_id": "event-1",
        "at": "2026-03-01T12:01:00Z",
        "actor": "Wren Adair",
        "role": "pilot",
        "subject": "flight-1",
        "body_digest": entry.body.digest if entry.body else "",
        "engine_version": "0.1.0",
        "policy_digest": "ab" * 32,
    }


def test_a_body_can_never_pass_for_a_header() -> None:
    data = b"the same bytes"
    assert header_digest(data) != body_digest(b"", data)


def test_the_salt_hides_equal_bodies() -> None:
    first, second = (seal(intent(), origin=ORIGIN, seq=1, prev=GENESIS_PREV, salt=salt) for salt in (SALT, SALT[::-1]))
    assert first.header.body_digest != second.header.body_digest


def test_a_header_reads_back_as_it_was_written() -> None:
    header = seal(intent(), origin=ORIGIN, seq=9, prev="a" * 64, salt=SALT).header
    assert Header.parse(header.to_bytes()) == header
    assert header.at == NOON + timedelta(minutes=1)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (b"riskboard-log/1", b"riskboard-log/2", "riskboard-log/2"),
        (b'"seq":1', b'"seq":"1"', "wrong type"),
        (b'"seq":1', b'"seq":true', "wrong type"),
        (b'"role":"pilot"', b'"role":7', "wrong type"),
        (b'"role":"pilot",', b"", "role"),
        (b'"role"', b'"rank"', "rank, role"),
        (b"2026-03-01T12:01:00Z", b"yesterday", "yesterday"),
        (b"{", b"", "not JSON"),
        (b'"pilot"', b'"\xff"', "not JSON"),
    ],
)
def test_a_header_of_another_shape_is_unreadable_and_says_why(old: bytes, new: bytes, said: str) -> None:
    data = seal(intent(), origin=ORIGIN, seq=1, prev=GENESIS_PREV, salt=SALT).header_bytes
    assert old in data
    with pytest.raises(UnreadableError, match=said):
        Header.parse(data.replace(old, new, 1))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"kind": "acepted"}, "Did you mean 'accepted'"),
        ({"event_id": ""}, "event_id is empty"),
        ({"actor": "  "}, "actor is empty"),
        ({"role": ""}, "role is empty"),
        ({"subject": "x" * 201}, "201 characters"),
        ({"actor": "Wren\nAdair"}, "control character"),
        ({"actor": "Wren\x00"}, "control character"),
        ({"actor": "Wren\ud800"}, "control character"),
        ({"at": datetime(2026, 3, 1)}, "no time zone"),  # noqa: DTZ001 - the naive time is the point
        ({"at": datetime(2242, 1, 1, tzinfo=UTC)}, "set the clock right"),
        ({"at": datetime(1969, 12, 31, 23, 59, tzinfo=UTC)}, "set the clock right"),
        ({"timed": {"note": 1}}, "note stand"),
    ],
)
def test_an_intent_that_cannot_be_recorded_is_refused_when_it_is_made(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        intent(**changes)


def test_a_body_beyond_the_limit_is_refused_with_both_numbers() -> None:
    with pytest.raises(ValueError, match=str(MAX_BODY_BYTES)):
        intent(body={"x": "y" * MAX_BODY_BYTES}).body_bytes()


def test_a_wrong_salt_is_refused() -> None:
    with pytest.raises(ValueError, match="must have 32"):
        seal(intent(), origin=ORIGIN, seq=1, prev=GENESIS_PREV, salt=b"short")


def test_the_same_intent_a_second_later_says_the_same() -> None:
    first = intent(timed={"valid_until": NOON})
    entry = seal(first, origin=ORIGIN, seq=1, prev=GENESIS_PREV, salt=SALT)
    later = intent(at=datetime(2026, 3, 1, 13, tzinfo=UTC), timed={"valid_until": NOON + timedelta(seconds=1)})
    assert later.says_the_same_as(entry)
    assert not intent(body={"sleep_last_24h_h": 4}, timed={"valid_until": NOON}).says_the_same_as(entry)
    assert not intent(timed={}).says_the_same_as(entry)
    assert not intent(role="dispatcher", timed={"valid_until": NOON}).says_the_same_as(entry)


def test_every_kind_has_a_sentence_and_unknown_ones_are_refused() -> None:
    assert all(kind.sentence.endswith(".") for kind in KINDS.values())
    with pytest.raises(UnknownKindError, match="Allowed: opened"):
        intent(kind="zzz")


def test_a_body_that_is_no_mapping_is_unreadable() -> None:
    body = sound_log(2)[1].body
    assert body is not None
    assert body.value["note"] == "note 1"
    for data in (b"[]", b"{", b'{"a":NaN}'):
        with pytest.raises(UnreadableError):
            _ = type(body)(body.salt, data).value
