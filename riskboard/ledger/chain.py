"""Verify a log: read every record once, in the order in which it stands, and say what is not as it should be.

Pure and streaming: bodies are hashed and let go; what stays in memory is one hash per record. The stored bytes are
hashed as they stand, nothing is encoded again.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

from riskboard.ledger.canonical import NotCanonicalError, parse_utc, utc_text
from riskboard.ledger.entry import (
    GENESIS_PREV,
    Body,
    Entry,
    Header,
    UnreadableError,
    header_digest,
    read_header_fields,
)
from riskboard.ledger.finding import Finding, FindingKind
from riskboard.ledger.kinds import ERASED, KINDS, OPENED
from riskboard.ledger.receipt import Receipt, check_receipt

__all__ = ["CLOCK_SLACK", "Authorised", "erased_numbers", "verify"]

Authorised = Callable[[Header, Body | None], str | None]
"""Returns None if the actor might make this entry then, else a sentence that says why not."""

CLOCK_SLACK = timedelta(minutes=2)
"""Several desks have several clocks, and a writer that waits for its turn took the time before it waited."""


def verify(
    entries: Iterable[Entry],
    receipt: Receipt | Sequence[Receipt] | None = None,
    *,
    authorised: Authorised | None = None,
    clock_slack: timedelta = CLOCK_SLACK,
) -> list[Finding]:
    """Check a whole log.

    Args:
        entries: Every record from the first on, in the order in which it stands; may be an iterator.
        receipt: One receipt or several, kept elsewhere. Without one, neither a cut tail nor a log that was rewritten
            as a whole can be seen.
        authorised: Called with header and body of each readable record, in order; returns a sentence if the actor
            was not allowed to make it at that time.
        clock_slack: How far a record's time may lie before the latest one so far.

    Returns:
        The findings, by record number; empty if nothing was found.
    """
    receipts = () if receipt is None else (receipt,) if isinstance(receipt, Receipt) else tuple(receipt)
    walk = _Walk(receipts, authorised, clock_slack)
    for entry in entries:
        walk.take(entry)
    return sorted(walk.finish(), key=lambda finding: finding.seq)


def erased_numbers(body: Body | None) -> tuple[int, ...]:
    """Return the record numbers that the body of an `erased` entry names; none if the body cannot be read."""
    if body is None:
        return ()
    try:
        named = body.value.get("erases")
    except UnreadableError:
        return ()
    return tuple(item for item in named if type(item) is int) if isinstance(named, list) else ()


class _Walk:
    """One pass over a log; what must be remembered from record to record."""

    def __init__(self, receipts: Sequence[Receipt], authorised: Authorised | None, clock_slack: timedelta) -> None:
        self.receipts = receipts
        self.authorised = authorised
        self.clock_slack = clock_slack
        self.findings: list[Finding] = []
        self.digests: dict[int, str] = {}
        self.suspects: set[int] = set()
        self.waiting: dict[int, str] = {}
        self.broken: set[int] = set()
        self.absent: dict[int, str] = {}
        self.erased_by: dict[int, int] = {}
        self.receipt_times: dict[int, datetime | None] = {item.size: None for item in receipts}
        self.origin = ""
        self.highest = 0
        self.latest = datetime.min.replace(tzinfo=UTC) + clock_slack

    def report(self, kind: FindingKind, seq: int, sentence: str) -> None:
        self.findings.append(Finding(kind, seq, sentence))

    def take(self, entry: Entry) -> None:
        """Look at one record."""
        computed = header_digest(entry.header_bytes)
        try:
            fields = read_header_fields(entry.header_bytes)
            at = parse_utc(fields["at"])
        except (UnreadableError, NotCanonicalError) as error:
            self.report(FindingKind.UNREADABLE, entry.seq, str(error))
            self.suspects.add(entry.seq)
            self.digests.setdefault(entry.seq, computed)
            self.highest = max(self.highest, entry.seq)
            return
        number: int = fields["seq"]
        if computed != entry.digest:
            number = entry.seq
            self.suspects.add(number)
            self.report(
                FindingKind.CHANGED_HEADER, number, f"The header of record {number} does not give the hash kept for it."
            )
        if self.register(entry.seq, number, computed):
            self.link(number, fields, computed)
        self.check_origin_and_clock(number, fields["origin"], at)
        self.check_body(number, fields, entry.body)
        if self.authorised is not None:
            complaint = self.authorised(entry.header, entry.body)
            if complaint is not None:
                self.report(FindingKind.NOT_AUTHORISED, number, complaint)

    def register(self, place: int, number: int, computed: str) -> bool:
        """Note where the record stands; return False if its number was taken before."""
        known = self.digests.get(number)
        if known is not None:
            if known == computed:
                self.report(FindingKind.REORDERED, number, f"Record {number} stands in the log twice.")
            else:
                self.report(
                    FindingKind.FORKED, number, f"Two different records carry the number {number}: the log was forked."
                )
            return False
        if place != number:
            self.report(FindingKind.REORDERED, number, f"Record {number} stands in the place of record {place}.")
        elif number < self.highest:
            self.report(FindingKind.REORDERED, number, f"Record {number} stands after record {self.highest}.")
        self.digests[number] = computed
        self.highest = max(self.highest, number)
        return True

    def link(self, number: int, fields: dict[str, Any], computed: str) -> None:
        """Compare the record's link with the record before it, and the one after it if that stood earlier."""
        prev: str = fields["prev"]
        if number == 1:
            if (prev != GENESIS_PREV or fields["kind"] != OPENED) and 1 not in self.suspects:
                self.suspects.add(1)
                self.report(FindingKind.CHANGED_HEADER, 1, "Record 1 is not the opening record of a log.")
        else:
            before = self.digests.get(number - 1)
            if before is None:
                self.waiting[number - 1] = prev
            elif before != prev:
                self.broken.add(number - 1)
        if self.waiting and self.waiting.pop(number, computed) != computed:
            self.broken.add(number)

    def check_origin_and_clock(self, number: int, origin: str, at: datetime) -> None:
        if origin != self.origin:
            if self.origin:
                self.report(FindingKind.FOREIGN, number, f"Record {number} carries the origin of another log.")
            else:
                self.origin = origin
        if at < self.latest - self.clock_slack:
            self.report(
                FindingKind.CLOCK_BACK,
                number,
                f"Record {number} says {utc_text(at)}, though a record before it says {utc_text(self.latest)}.",
            )
            # Measured from here on, so that one jump gives one finding.
            self.latest = at
        elif at > self.latest:
            self.latest = at
        if number in self.receipt_times:
            self.receipt_times[number] = at

    def check_body(self, number: int, fields: dict[str, Any], body: Body | None) -> None:
        if body is None:
            self.absent[number] = fields["kind"]
        elif body.digest != fields["body_digest"]:
            self.report(
                FindingKind.CHANGED_BODY, number, f"The body of record {number} is not the one its header was made for."
            )
        elif fields["kind"] == ERASED:
            for named in erased_numbers(body):
                if named < number:
                    self.erased_by.setdefault(named, number)

    def finish(self) -> list[Finding]:
        """Say what can only be said at the end, and return all findings."""
        self.report_links()
        self.report_gaps()
        self.report_bodies()
        for receipt in self.receipts:
            found = check_receipt(
                receipt,
                origin=self.origin,
                size=self.highest,
                digest=self.digests.get(receipt.size),
                at=self.receipt_times[receipt.size],
            )
            if found is not None:
                self.findings.append(found)
        return self.findings

    def report_links(self) -> None:
        """Name the changed record behind each broken link that no finding explains yet.

        A link from k to k+1 breaks if k was changed, or k+1's own link was. One lone broken link names k; in a row of
        broken links the later records explain all of them, and the first may be changed as well.
        """
        for run in _runs(sorted(self.broken)):
            for number in run if len(run) == 1 else run[1:]:
                if not self.suspects.isdisjoint((number, number + 1)):
                    continue
                also = f" Record {run[0]} may be changed as well." if len(run) > 1 and number == run[1] else ""
                self.report(
                    FindingKind.CHANGED_HEADER,
                    number,
                    f"Record {number + 1} carries another hash than the header of record {number} gives: record "
                    f"{number} was changed together with the hash kept for it.{also}",
                )

    def report_gaps(self) -> None:
        if not self.digests:
            self.report(FindingKind.MISSING, 1, "There is no record at all; even a new log has its opening record.")
        for before, after in pairwise((0, *sorted(self.digests))):
            if after - before > 1:
                first, last = before + 1, after - 1
                gone = f"Record {first} is" if first == last else f"Records {first} to {last} are"
                self.report(FindingKind.MISSING, first, f"{gone} missing before record {after}.")

    def report_bodies(self) -> None:
        for number, kind in self.absent.items():
            if number not in self.erased_by:
                self.report(
                    FindingKind.BODY_ABSENT, number, f"The body of record {number} is gone and no record erased it."
                )
            elif kind in KINDS and not KINDS[kind].erasable:
                self.report(
                    FindingKind.BODY_ABSENT,
                    number,
                    f"The body of record {number} is gone; record {self.erased_by[number]} names it, but the body of "
                    f"an entry of kind {kind!r} may never be erased.",
                )
        for number, by in self.erased_by.items():
            if number in self.digests and number not in self.absent:
                self.report(
                    FindingKind.BODY_STANDS, number, f"Record {by} erased the body of record {number}, yet it stands."
                )


def _runs(numbers: Sequence[int]) -> Iterator[list[int]]:
    """Split ascending numbers into runs of neighbours."""
    run: list[int] = []
    for number in numbers:
        if run and number != run[-1] + 1:
            yield run
            run = []
        run.append(number)
    if run:
        yield run
