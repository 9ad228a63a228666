"""What a check found: a place as a path of keys, and a sentence. The loader turns the path into a line and a column."""

from dataclasses import dataclass

from riskboard.policy.model import Policy

__all__ = ["Finding", "Path", "Scope"]

Path = tuple[str | int, ...]
"""For example ``("factors", "gust_spread", "bands", 2, "points")``; clauses of a list are named, not numbered."""


@dataclass(frozen=True)
class Finding:
    """One thing that does not hold.

    Attributes:
        path: Where, as keys; the nearest existing value is shown.
        message: What is wrong, and what would be right.
        found: The offending value.
        allowed: What is allowed.
        at_key: The key itself is wrong, not its value.
        case: True when a case does not give what it expects: the text is sound but contradicts itself.
    """

    path: Path
    message: str
    found: str = ""
    allowed: str = ""
    at_key: bool = False
    case: bool = False


@dataclass(frozen=True)
class Scope:
    """How much of a policy could be read: checks that need more are left for the next attempt.

    Attributes:
        levels: All levels were read.
        broken: Names of clauses that could not be read, and so are missing from the policy.
        inherited: The policy that is extended: the flights of its base worksheets and tests were proved with it.
    """

    levels: bool = True
    broken: frozenset[str] = frozenset()
    inherited: Policy | None = None
