"""Random tampering with the file of a log, by somebody who owns it; then the verifier must name the record."""

import random
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from riskboard.ledger.entry import header_digest
from riskboard.ledger.finding import Finding
from riskboard.ledger.receipt import Receipt
from riskboard.ledger.sql import open_store
from tests.ledger.made_logs import NOON

__all__ = ["Missed", "tamper_at_random"]


@dataclass(frozen=True)
class Missed:
    """A tampering that the verifier did not name."""

    what: str
    numbers: frozenset[int]
    found: tuple[str, ...]


Hand = Callable[[sqlite3.Connection, random.Random, int], tuple[str, set[int]]]
"""Changes the file; returns what was done, and the numbers of which one must be named."""


def _changed_byte(data: bytes, chance: random.Random) -> bytes:
    place = chance.randrange(len(data))
    return data[:place] + bytes([data[place] ^ chance.randrange(1, 256)]) + data[place + 1 :]


def _blob(table: str, column: str) -> Hand:
    def change(bare: sqlite3.Connection, chance: random.Random, size: int) -> tuple[str, set[int]]:
        number = chance.randrange(1, size + 1)
        ((data,),) = bare.execute(f"SELECT {column} FROM {table} WHERE seq = ?", (number,))  # noqa: S608
        bare.execute(f"UPDATE {table} SET {column} = ? WHERE seq = ?", (_changed_byte(data, chance), number))  # noqa: S608
        return f"a byte of the {column} of record {number}", {number}

    return change


def _text(column: str) -> Hand:
    def change(bare: sqlite3.Connection, chance: random.Random, size: int) -> tuple[str, set[int]]:
        number = chance.randrange(1, size + 1)
        ((text,),) = bare.execute(f"SELECT {column} FROM entry WHERE seq = ?", (number,))  # noqa: S608
        place = chance.randrange(len(text))
        other = chance.choice([letter for letter in "0123456789abcdef" if letter != text[place]])
        changed = text[:place] + other + text[place + 1 :]
        bare.execute(f"UPDATE entry SET {column} = ? WHERE seq = ?", (changed, number))  # noqa: S608
        return f"a character of the {column} beside record {number}", {number}

    return change


def _header_with_its_hash(bare: sqlite3.Connection, chance: random.Random, size: int) -> tuple[str, set[int]]:
    """A skilled owner: the hash beside the header fits again, the link of the next record does not."""
    number = chance.randrange(1, size)
    ((data,),) = bare.execute("SELECT header FROM entry WHERE seq = ?", (number,))
    changed = _changed_byte(data, chance)
    bare.execute("UPDATE entry SET header = ?, digest = ? WHERE seq = ?", (changed, header_digest(changed), number))
    return f"a byte of the header of record {number}, with its hash", {number, number + 1}


def _removed(bare: sqlite3.Connection, chance: random.Random, size: int) -> tuple[str, set[int]]:
    number = chance.randrange(1, size)
    bare.execute("DELETE FROM entry_body WHERE seq = ?", (number,))
    bare.execute("DELETE FROM entry WHERE seq = ?", (number,))
    return f"record {number} removed", {number}


def _body_removed(bare: sqlite3.Connection, chance: random.Random, size: int) -> tuple[str, set[int]]:
    number = chance.randrange(1, size + 1)
    bare.execute("DELETE FROM entry_body WHERE seq = ?", (number,))
    return f"the body of record {number} removed", {number}


def _swapped(bare: sqlite3.Connection, chance: random.Random, size: int) -> tuple[str, set[int]]:
    one, other = chance.sample(range(1, size + 1), 2)
    for table in ("entry", "entry_body"):
        for old, new in ((one, -1), (other, one), (-1, other)):
            bare.execute(f"UPDATE {table} SET seq = ? WHERE seq = ?", (new, old))  # noqa: S608
    return f"records {one} and {other} swapped", {one, other}


def _cut(bare: sqlite3.Connection, chance: random.Random, size: int) -> tuple[str, set[int]]:
    first = chance.randrange(max(2, size - 50), size + 1)
    bare.execute("DELETE FROM entry_body WHERE seq >= ?", (first,))
    bare.execute("DELETE FROM entry WHERE seq >= ?", (first,))
    return f"cut off from record {first} on", {first}


HANDS: tuple[Hand, ...] = (
    _blob("entry", "header"),
    _blob("entry_body", "content"),
    _blob("entry_body", "salt"),
    _text("digest"),
    _text("prev"),
    _text("subject"),
    _header_with_its_hash,
    _removed,
    _body_removed,
    _swapped,
    _cut,
)


def tamper_at_random(file: Path, count: int, chance: random.Random) -> list[Missed]:
    """Tamper so often with fresh copies of a sound log; return what was not named.

    Only the cut tail is verified against a receipt: everything else must show without one.
    """
    with closing(open_store(file, now=NOON)) as store:
        receipt = store.head()
        assert store.verify(receipt) == []
    _without_triggers(file)
    missed = []
    copy = file.with_name(f"{file.name}-tampered")
    for turn in range(count):
        hand = HANDS[turn % len(HANDS)]
        shutil.copy(file, copy)
        with closing(sqlite3.connect(copy)) as bare:
            bare.execute("PRAGMA ignore_check_constraints = ON")
            what, numbers = hand(bare, chance, receipt.size)
            bare.commit()
        found = _verified(copy, receipt if hand is _cut else None)
        if numbers.isdisjoint(finding.seq for finding in found):
            missed.append(Missed(what, frozenset(numbers), tuple(map(str, found))))
    return missed


def _without_triggers(file: Path) -> None:
    with closing(sqlite3.connect(file)) as bare:
        for (name,) in bare.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            bare.execute(f"DROP TRIGGER {name}")
        bare.commit()
        bare.execute("PRAGMA journal_mode = DELETE")  # one file to copy


def _verified(copy: Path, receipt: Receipt | None) -> list[Finding]:
    with closing(open_store(copy, now=NOON)) as store:
        return store.verify(receipt)
