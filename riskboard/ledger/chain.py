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
    body_digest,
    header_digest,
    read_header_fields,
)
from riskboard.ledger.finding import Finding, FindingKind
from riskboard.ledger.kinds import ERASED, KINDS, OPENED
from riskboard.ledger.receipt import Receipt, check_receipt

__all__ = ["CLOCK_SLACK", "Authorised", "Walk", "erased_numbers", "verify"]

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
    walk = Walk(receipts, authorised, clock_slack)
    for entry in entries:
        salt, content = (None, None) if entry.body is None else (entry.body.salt, entry.body.data)
        walk.take(entry.seq, entry.digest, entry.header_bytes, salt, content)
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


class Walk:
    """One pass over a log; what must be remembered from record to record.

    Args:
        receipts: Receipts kept elsewhere.
        authorised: See `verify`.
        clock_slack: How far a record's time may lie before the latest one so far.
    """

    def __init__(
        self, receipts: Sequence[Receipt], authorised: Authorised | None, clock_slack: timedelta = CLOCK_SLACK
    ) -> None:
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
        self.earliest_allowed = self.latest - clock_slack

    def report(self, kind: FindingKind, seq: int, sentence: str) -> None:
        """Note a finding."""
        self.findings.append(Finding(kind, seq, sentence))

    def take(
        self, place: int, digest: str, header_bytes: bytes, salt: bytes | None, content: bytes | None
    ) -> dict[str, Any] | None:
        """Look at one record, in the bare parts in which a store keeps it: a million of them come by here.

        Args:
            place: The number under which it stands.
            digest: The hash kept beside it.
            header_bytes: Its exact header.
            salt: Salt of its body; None if the body is gone.
            content: Exact bytes of its body; None if the body is gone.

        Returns:
            The header's fields; None if it cannot be read.
        """
        computed = header_digest(header_bytes)
        try:
            fields = read_header_fields(header_bytes)
            at = parse_utc(fields["at"])
        except (UnreadableError, NotCanonicalError) as error:
            self.report(FindingKind.UNREADABLE, place, str(error))
            self.suspects.add(place)
            self.digests.setdefault(place, computed)
            self.highest = max(self.highest, place)
            return None
        number: int = fields["seq"]
        if computed != digest:
            number = place
            self.suspects.add(number)
            self.report(
                FindingKind.CHANGED_HEADER, number, f"The header of record {number} does not give the hash kept for it."
            )
        if not self.follows(place, number, fields["prev"], computed) and self.register(place, number, computed):
            self.link(number, fields, computed)
        if fields["origin"] != self.origin:
            self.note_origin(number, fields["origin"])
        if at > self.latest:
            self.latest, self.earliest_allowed = at, at - self.clock_slack
        elif at < self.earliest_allowed:
            self.report_clock(number, at)
        if number in self.receipt_times:
            self.receipt_times[number] = at
        self.check_body(number, fields, salt, content)
        if self.authorised is not None:
            self.ask_authority(number, header_bytes, salt, content)
        return fields

    def follows(self, place: int, number: int, prev: str, computed: str) -> bool:
        """Take a record that stands just after the last one and links to it: the usual case, and the quick one."""
        last = self.highest
        if place != number or number != last + 1 or number == 1 or self.waiting or self.digests.get(last) != prev:
            return False
        self.digests[number] = computed
        self.highest = number
        return True

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

    def note_origin(self, number: int, origin: str) -> None:
        """Remember whose log this is, or report a record of another one."""
        if self.origin:
            self.report(FindingKind.FOREIGN, number, f"Record {number} carries the origin of another log.")
        else:
            self.origin = origin

    def report_clock(self, number: int, at: datetime) -> None:
        """Report a clock that went back; measured from here on, so that one jump gives one finding."""
        self.report(
            FindingKind.CLOCK_BACK,
            number,
            f"Record {number} says {utc_text(at)}, though a record before it says {utc_text(self.latest)}.",
        )
        self.latest = at
        self.earliest_allowed = at - self.clock_slack

    def check_body(self, number: int, fields: dict[str, Any], salt: bytes | None, content: bytes | None) -> None:
        """Compare the body with the digest in the header."""
        if salt is None or content is None:
            self.absent[number] = fields["kind"]
        elif body_digest(salt, content) != fields["body_digest"]:
            self.report(
                FindingKind.CHANGED_BODY, number, f"The body of record {number} is not the one its header was made for."
            )
        elif fields["kind"] == ERASED:
            self.note_erasure(number, Body(salt, content))

    def note_erasure(self, number: int, body: Body) -> None:
        """Remember which bodies an `erased` record took away."""
        for named in erased_numbers(body):
            if named < number:
                self.erased_by.setdefault(named, number)

    def ask_authority(self, number: int, header_bytes: bytes, salt: bytes | None, content: bytes | None) -> None:
        """Report a record whose actor was not allowed to make it."""
        body = None if salt is None or content is None else Body(salt, content)
        complaint = None if self.authorised is None else self.authorised(Header.parse(header_bytes), body)
        if complaint is not None:
            self.report(FindingKind.NOT_AUTHORISED, number, complaint)

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
        """Name the numbers that no record carries."""
        if not self.digests:
            self.report(FindingKind.MISSING, 1, "There is no record at all; even a new log has its opening record.")
        for before, after in pairwise((0, *sorted(self.digests))):
            if after - before > 1:
                first, last = before + 1, after - 1
                gone = f"Record {first} is" if first == last else f"Records {first} to {last} are"
                self.report(FindingKind.MISSING, first, f"{gone} missing before record {after}.")

    def report_bodies(self) -> None:
        """Name the bodies that are gone without an erasure, and those that stand in spite of one."""
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
