"""The receipt: a short code on paper that holds the log to what it said.

The code is 48 characters in twelve groups of four, without I, L, O and U; case, spaces and hyphens do not matter. It
carries 32 bits of the log's origin, the number of records (34 bits), the whole second of the last one (33 bits, until
the year 2242), 128 bits of the last header's hash and a check number (two characters, modulo the prime 1021), which
shows every single mistyped character and every swap of two neighbours, and all but about one in 1021 other slips.

A receipt proves something only while it is kept where a person who can change the log cannot change it too.
"""

from dataclasses import dataclass
from datetime import UTC, datetime

from riskboard.ledger.canonical import utc_text
from riskboard.ledger.entry import Entry
from riskboard.ledger.finding import Finding, FindingKind

__all__ = ["Receipt", "ReceiptCodeError", "check_receipt", "receipt_for"]

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_VALUES = {**{character: index for index, character in enumerate(ALPHABET)}, "O": 0, "I": 1, "L": 1}
_VERSION = 1
_VERSION_BITS, _ORIGIN_BITS, _SIZE_BITS, _AT_BITS, _HEAD_BITS = 3, 32, 34, 33, 128
_DATA_LENGTH = 46
_CODE_LENGTH = 48
_GROUP = 4
_CHECK_PRIME = 1021
_DASHES = "-\u2010\u2011\u2012\u2013\u2014"
_ORIGIN_DIGITS = _ORIGIN_BITS // 4
_HEAD_DIGITS = _HEAD_BITS // 4
_HEX = frozenset("0123456789abcdef")
_FIRST = datetime.fromtimestamp(0, UTC)
_END = datetime.fromtimestamp(2**_AT_BITS, UTC)


class ReceiptCodeError(ValueError):
    """A typed code that is no receipt; the message says what to look at."""


@dataclass(frozen=True, slots=True)
class Receipt:
    """What the log stood at after one record.

    Attributes:
        origin: First 8 hex digits of the log's id.
        size: How many records the log had.
        head: First 32 hex digits (128 bits) of the last header's hash.
        at: When the last record was made, UTC, whole seconds.

    Raises:
        ValueError: If a field is out of range.
    """

    origin: str
    size: int
    head: str
    at: datetime

    def __post_init__(self) -> None:
        if len(self.origin) != _ORIGIN_DIGITS or not _HEX.issuperset(self.origin):
            raise ValueError(f"origin {self.origin!r} must be {_ORIGIN_DIGITS} lower-case hex digits.")
        if len(self.head) != _HEAD_DIGITS or not _HEX.issuperset(self.head):
            raise ValueError(f"head {self.head!r} must be {_HEAD_DIGITS} lower-case hex digits.")
        if not 1 <= self.size < 2**_SIZE_BITS:
            raise ValueError(f"size {self.size} must be from 1 to {2**_SIZE_BITS - 1}.")
        if self.at.tzinfo is None or self.at.microsecond or not _FIRST <= self.at < _END:
            raise ValueError(f"at {self.at.isoformat()} must be a whole second in UTC from 1970 to 2242.")

    @property
    def code(self) -> str:
        """The code for paper: twelve groups of four characters."""
        number = _VERSION
        for bits, part in (
            (_ORIGIN_BITS, int(self.origin, 16)),
            (_SIZE_BITS, self.size),
            (_AT_BITS, int(self.at.timestamp())),
            (_HEAD_BITS, int(self.head, 16)),
        ):
            number = number << bits | part
        whole = number << 10 | number % _CHECK_PRIME
        text = "".join(ALPHABET[whole >> 5 * place & 31] for place in reversed(range(_CODE_LENGTH)))
        return "-".join(text[start : start + _GROUP] for start in range(0, _CODE_LENGTH, _GROUP))

    @classmethod
    def from_code(cls, typed: str) -> "Receipt":
        """Read a code as somebody typed it.

        Raises:
            ReceiptCodeError: If the code is mistyped, too short, too long or of a newer kind.
        """
        number = _checked_number(typed)
        number, head = divmod(number, 2**_HEAD_BITS)
        number, at = divmod(number, 2**_AT_BITS)
        number, size = divmod(number, 2**_SIZE_BITS)
        version, origin = divmod(number, 2**_ORIGIN_BITS)
        if version != _VERSION:
            raise ReceiptCodeError(
                f"The code is of kind {version}; this program reads kind {_VERSION}. Use the program that printed it."
            )
        if size == 0:
            raise ReceiptCodeError("The code states a log without records, which no receipt can. Check it once more.")
        moment = datetime.fromtimestamp(at, UTC)
        return cls(f"{origin:0{_ORIGIN_DIGITS}x}", size, f"{head:0{_HEAD_DIGITS}x}", moment)


def receipt_for(entry: Entry) -> Receipt:
    """Return the receipt of the log as it stood just after this entry; the same entry always gives the same one."""
    header = entry.header
    return Receipt(
        origin=header.origin[:_ORIGIN_DIGITS],
        size=header.seq,
        head=entry.digest[:_HEAD_DIGITS],
        at=header.at.astimezone(UTC).replace(microsecond=0),
    )


def check_receipt(
    receipt: Receipt, *, origin: str, size: int, digest: str | None, at: datetime | None
) -> Finding | None:
    """Compare a receipt with what a log says now. Pure: the caller has read the log.

    Args:
        receipt: The receipt, as printed.
        origin: The log's origin now; empty if it has no record left that states one.
        size: How many records it has now.
        digest: Hash of the header bytes now at record `receipt.size`, or None if there is no such record.
        at: The time in that header, or None if it cannot be read.

    Returns:
        What was found, or None if the log still says what the receipt says.
    """
    number = receipt.size
    when = utc_text(receipt.at)
    if origin and not origin.startswith(receipt.origin):
        return Finding(
            FindingKind.FOREIGN,
            number,
            f"The receipt belongs to the log {receipt.origin}..., this is the log {origin[:_ORIGIN_DIGITS]}...",
        )
    if number > size:
        first = size + 1
        gone = f"record {first} is" if first == number else f"records {first} to {number} are"
        return Finding(
            FindingKind.CUT,
            first,
            f"The receipt of {when} shows that the log had {number} records, now it ends after {size}: {gone} cut off.",
        )
    if digest is None:
        return Finding(FindingKind.MISSING, number, f"The receipt of {when} names record {number}, which is not there.")
    if not digest.startswith(receipt.head):
        return Finding(
            FindingKind.REWRITTEN,
            number,
            f"Record {number} is not the one that the receipt of {when} was printed for: "
            "the log was rewritten after that.",
        )
    if at is None or at.astimezone(UTC).replace(microsecond=0) != receipt.at:
        return Finding(
            FindingKind.FOREIGN, number, f"The receipt states {when} for record {number}, the record states another."
        )
    return None


def _checked_number(typed: str) -> int:
    characters = [character for character in typed.upper() if not character.isspace() and character not in _DASHES]
    for place, character in enumerate(characters, 1):
        if character not in _VALUES:
            raise ReceiptCodeError(
                f"{character!r}, character {place} of the code, is never used in a receipt. Check it against the paper."
            )
    if len(characters) != _CODE_LENGTH:
        raise ReceiptCodeError(
            f"The code has {len(characters)} characters; a receipt has {_CODE_LENGTH}, in twelve groups of four."
        )
    whole = 0
    for character in characters:
        whole = whole << 5 | _VALUES[character]
    number, check = divmod(whole, 1024)
    if number % _CHECK_PRIME != check:
        raise ReceiptCodeError(
            "The code does not fit its check characters: a character is mistyped. Compare it with the paper."
        )
    return number
