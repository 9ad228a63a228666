"""What a check of the log can find, one sentence each."""

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Finding", "FindingKind"]


class FindingKind(StrEnum):
    """The kinds of finding; the value is how it is named on screen."""

    CHANGED_HEADER = "changed header"
    CHANGED_BODY = "changed body"
    MISSING = "missing"
    REORDERED = "reordered"
    FORKED = "forked"
    CUT = "cut"
    REWRITTEN = "rewritten"
    FOREIGN = "from another log"
    BODY_ABSENT = "body absent without erasure"
    BODY_STANDS = "erased body still there"
    CLOCK_BACK = "clock went back"
    UNREADABLE = "unreadable"
    NOT_AUTHORISED = "signer not authorised at the time"
    INDEX_DIFFERS = "index differs from header"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is not as it should be.

    Attributes:
        kind: What sort of thing.
        seq: The number of the record concerned.
        sentence: What was found, in a plain sentence.
    """

    kind: FindingKind
    seq: int
    sentence: str

    def __str__(self) -> str:
        return f"record {self.seq}: {self.kind}: {self.sentence}"
