"""The risk log: append-only, hash-chained, durable before anything says "signed".

What the log promises, and what it does not. "Shows" means that `verify` returns a finding that names the record.

=============================================  ======================================================================
Who could do what                              What would show it
=============================================  ======================================================================
Anyone on a page: change or delete an entry    Nothing to show: there is no such function.
A stray statement in a database tool           The database refuses it by trigger, before it happens.
The owner of the file takes the triggers away
  and changes a header or a body               `verify`, without a receipt.
  ... and recomputes the hash kept beside it   `verify`, by the next record's link; for the last record only with a
                                               receipt of it.
  removes a record from the middle, swaps      `verify`, without a receipt.
  two, inserts one, or adds a second branch
  cuts off the last records                    Only a receipt printed after those records were made.
  rewrites everything from some record on,     Only a receipt printed at or after that record: without one, a full
  with all hashes                              rewrite CANNOT be seen.
  removes a body                               `verify`, unless a signed `erased` entry names it.
  adds an `erased` entry and removes a body    Nothing is hidden: the entry says who ordered it, when and why.
Somebody signs with another person's PIN       Nothing in the log: it proves which account acted, not which hand.
A clock of a desk is set back                  `verify`, beyond two minutes.
Somebody who holds an erased record's hash     Nothing: the salt went with the body, so guesses cannot be tried.
guesses what the body said
The disk lies about having written             Nothing: "durable" is as true as the disk.
An owner restores yesterday's backup           Only a receipt printed since.
=============================================  ======================================================================

So: print receipts, keep them where the owner of the file cannot change them, and verify against them. On PostgreSQL
let riskboard work under a role that does not own the tables (`riskboard.ledger.migrations.postgres_grants`): then
the program itself cannot take the triggers away.

This package imports no database driver; the store stands in `riskboard.ledger.sql`.
"""

from riskboard.ledger.canonical import NotCanonicalError, canonical_json, parse_utc, utc_text
from riskboard.ledger.chain import verify
from riskboard.ledger.entry import Body, Entry, Header, Intent, UnreadableError
from riskboard.ledger.errors import AccountTakenError, LedgerError, NotWrittenError, OvertakenError, RefusedError
from riskboard.ledger.finding import Finding, FindingKind
from riskboard.ledger.jsonl import export, read_export
from riskboard.ledger.kinds import KINDS
from riskboard.ledger.receipt import Receipt, ReceiptCodeError
from riskboard.ledger.store import (
    AccountRecord,
    Document,
    DocumentChange,
    Draft,
    Erasure,
    PinChange,
    PinRecord,
    PolicyText,
    SessionRecord,
    Store,
    TypeText,
)
from riskboard.ledger.views import FlightState, Status, awaiting_sign_off, fold

__all__ = [
    "KINDS",
    "AccountRecord",
    "AccountTakenError",
    "Body",
    "Document",
    "DocumentChange",
    "Draft",
    "Entry",
    "Erasure",
    "Finding",
    "FindingKind",
    "FlightState",
    "Header",
    "Intent",
    "LedgerError",
    "NotCanonicalError",
    "NotWrittenError",
    "OvertakenError",
    "PinChange",
    "PinRecord",
    "PolicyText",
    "Receipt",
    "ReceiptCodeError",
    "RefusedError",
    "SessionRecord",
    "Status",
    "Store",
    "TypeText",
    "UnreadableError",
    "awaiting_sign_off",
    "canonical_json",
    "export",
    "fold",
    "parse_utc",
    "read_export",
    "utc_text",
    "verify",
]
