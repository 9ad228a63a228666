"""What a scoring policy says, as frozen data. The loader builds it from YAML; the engine compiles it to arrays."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Literal

from riskboard.policy.schema import FRAGILE_BELOW_PCT, OVERDUE_MARGIN_MIN
from riskboard.words import Decision, Group, Guard, Role

__all__ = [
    "Alternatives",
    "Band",
    "Ceiling",
    "Combination",
    "CombinationPart",
    "EntryError",
    "Factor",
    "IfUnknown",
    "Level",
    "Limit",
    "Mitigation",
    "Policy",
    "PolicyTest",
    "Source",
    "WayCost",
    "When",
    "WhenNo",
]

IfUnknown = Literal["no_go", "sign_off"]
When = Mapping[Guard, bool]
Case = tuple[float | None, int | str]
"""(value, expected): points for a factor, "pass" or "stop" for a limit; for an unknown (None) its ``if_unknown``."""


@dataclass(frozen=True)
class Source:
    """Where a clause comes from."""

    text: str
    kind: str
    checked_on: date


@dataclass(frozen=True)
class Level:
    """One level of risk, best first. The last has no upper bound.

    Attributes:
        name: School's word.
        up_to: Highest total that still is this level; None for the last.
        decision: What follows from it.
        accepted_by: Roles that may accept a flight at this level; empty for no-go.
        valid_min: How long an acceptance holds, in minutes; None for no-go.
    """

    name: str
    up_to: int | None
    decision: Decision
    accepted_by: tuple[Role, ...] = ()
    valid_min: int | None = None


@dataclass(frozen=True)
class Band:
    """One band of a factor: bound (inclusive on the better side; None for the last), points, floor for the level."""

    bound: float | None
    points: int
    floor: str | None = None


@dataclass(frozen=True)
class Factor:
    """Turns one measure into points through ordered bands, best first."""

    name: str
    group: Group
    measure: str
    bands: tuple[Band, ...]
    if_unknown: IfUnknown
    when: When
    why: str
    source: Source
    cases: tuple[Case, ...]
    ascending: bool = True
    """True when the bounds are written ``up_to`` (the better side is below), False for ``at_least``."""
    non_monotone: str | None = None
    line: int = 0


@dataclass(frozen=True)
class Limit:
    """By itself means no-go unless known and within. Exactly one of ``up_to`` and ``at_least`` is set."""

    name: str
    measure: str
    up_to: float | None
    at_least: float | None
    waiver: tuple[Role, ...]
    when: When
    why: str
    source: Source
    cases: tuple[Case, ...]
    line: int = 0


@dataclass(frozen=True)
class CombinationPart:
    """Holds when the measure is strictly beyond ``beyond`` in its worse direction; an unknown counts as met."""

    measure: str
    beyond: float


@dataclass(frozen=True)
class Combination:
    """Hazards that compound. With no parts it holds whenever its guards are not surely false."""

    name: str
    group: Group
    all_of: tuple[CombinationPart, ...]
    points: int
    floor: str | None
    if_unknown: IfUnknown
    when: When
    why: str
    source: Source
    line: int = 0


@dataclass(frozen=True)
class Mitigation:
    """Takes at most ``at_most`` points off the named factors, from the total only, when all its needs are sure."""

    name: str
    off: tuple[str, ...]
    at_most: int
    needs: When
    why: str
    source: Source
    line: int = 0


@dataclass(frozen=True)
class Ceiling:
    """When the points of a group exceed ``up_to`` the level is at least ``floor``."""

    group: Group
    up_to: int
    floor: str


@dataclass(frozen=True)
class PolicyTest:
    """A named example with its expected outcome.

    Attributes:
        name: Reads as a sentence.
        worksheet: Name in the policy's ``worksheets``.
        but: Entries replaced in it (None blanks one).
        decision: Expected decision.
        because: Clauses that must be among the reasons (points, limit hit, or unknown).
        level: Expected level, if stated.
        accepted_by: If stated, exactly the roles that may accept the level that comes out.
        waived_by: If stated, exactly the roles that may waive every limit among the reasons.
    """

    name: str
    worksheet: str
    but: Mapping[str, Any]
    decision: Decision
    because: tuple[str, ...] = ()
    level: str | None = None
    accepted_by: tuple[Role, ...] | None = None
    waived_by: tuple[Role, ...] | None = None
    line: int = 0


@dataclass(frozen=True)
class EntryError:
    """How far a hand-entered value may be from the truth.

    Attributes:
        name: The input, one of ``schema.ERROR_INPUTS``.
        size: In the unit of the input, or in percent of its value.
        relative: Whether it is in percent.
        why: The policy's reason.
        source: Its source.
    """

    name: str
    size: float
    relative: bool
    why: str
    source: Source

    @property
    def key(self) -> str:
        """The word it is written with."""
        return "pct" if self.relative else "size"


@dataclass(frozen=True)
class WayCost:
    """What a kind of way out costs the pilot, in the school's own points; the cheapest is shown first."""

    name: str
    cost: int
    why: str
    source: Source


@dataclass(frozen=True)
class WhenNo:
    """Words for somebody who has to say no.

    Attributes:
        tell_customer: What a pilot can tell whoever waits, in a sentence or two.
        call: Whom to call: a role, and where its number hangs.
        why: The policy's reason.
        source: Its source.
    """

    tell_customer: str
    call: str
    why: str
    source: Source


@dataclass(frozen=True)
class Alternatives:
    """What a policy says beside its decisions; none of it touches one.

    Attributes:
        fragile_below_pct: A go that holds in a smaller share of its copies is called fragile.
        errors: Errors stated; the usual ones where an input is not among them.
        ways_out: Costs by kind; the usual ones where none is stated, and otherwise a kind that is missing is not
            offered.
        when_no: Words for a no, if any.
    """

    fragile_below_pct: int = FRAGILE_BELOW_PCT
    errors: tuple[EntryError, ...] = ()
    ways_out: tuple[WayCost, ...] = ()
    when_no: WhenNo | None = None


@dataclass(frozen=True)
class Policy:
    """One flat, checked policy. ``digest`` is the SHA-256 of ``text``, which holds the whole flat policy."""

    id: str
    version: int
    title: str
    effective_from: datetime
    review_by: date
    weather_age_max_min: int
    levels: tuple[Level, ...]
    group_ceilings: tuple[Ceiling, ...]
    factors: tuple[Factor, ...]
    limits: tuple[Limit, ...]
    combinations: tuple[Combination, ...]
    mitigations: tuple[Mitigation, ...]
    worksheets: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    """Base worksheets of the tests: plain data as in a worksheet file, with ``decided_at``."""
    tests: tuple[PolicyTest, ...] = ()
    overdue_margin_min: int = OVERDUE_MARGIN_MIN
    """Minutes after the planned landing, and no word, from when a flight is overdue."""
    overdue_steps: tuple[str, ...] = ()
    """What the desk does when a flight is overdue, in this order."""
    alternatives: Alternatives = field(default_factory=Alternatives)
    text: str = ""
    digest: str = ""

    def level_index(self, name: str) -> int:
        """Position of a level, best first.

        Raises:
            KeyError: No such level.
        """
        for position, level in enumerate(self.levels):
            if level.name == name:
                return position
        raise KeyError(name)

    @property
    def sign_off_floor(self) -> int:
        """The first level that is not a plain go: where an unknown, or a waiver, puts the floor."""
        return next(i for i, level in enumerate(self.levels) if level.decision is not Decision.go)

    @property
    def no_go_floor(self) -> int:
        """The first level whose decision is no-go."""
        return next(i for i, level in enumerate(self.levels) if level.decision is Decision.no_go)
