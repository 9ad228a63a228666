"""One worksheet to a reasoned decision. Deterministic: the same worksheet, policy and moment give the same bytes."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import isnan
from typing import Any

from riskboard.assessment.airframe import airframe_problems
from riskboard.assessment.engine import Facts, score
from riskboard.assessment.facts import PreparedPolicy, facts_of, truth
from riskboard.assessment.reasons import Line, Standing, lines_of
from riskboard.policy.compiled import GROUPS
from riskboard.words import Decision, Group, Role
from riskboard.worksheet.checks import WorksheetProblem, clock_contradictions
from riskboard.worksheet.columns import weather_ages_min
from riskboard.worksheet.model import Worksheet

__all__ = ["CAUTION", "Assessment", "CannotAssessError", "assess", "assess_facts"]

CAUTION = (
    "Go means: no listed reason to stop. It does not mean safe. The pilot in command decides and stays responsible; "
    "the flight manual and local regulations prevail; licensed maintenance staff judge airworthiness."
)
"""Shown with every decision, on every screen and every sheet."""


class CannotAssessError(ValueError):
    """The worksheet contradicts itself or the clock; ``problems`` says what to mend. No decision is given."""

    def __init__(self, problems: tuple[WorksheetProblem, ...]) -> None:
        self.problems = problems
        super().__init__("; ".join(f"{p.field}: {p.message}" for p in problems))


@dataclass(frozen=True)
class Assessment:
    """A decision and everything behind it.

    Attributes:
        decision: Go, go with sign-off, or no-go.
        level: Name of the level of risk.
        accepted_by: Roles that may accept at this level.
        total: Points after mitigations.
        next_level_in: Points until the total alone would reach the next level; None at the last.
        groups: Points by PAVE group, before mitigations.
        ceilings: Group ceilings of the policy, where it has them.
        lines: One line for every clause, worst first.
        measures: Every measure used; None is unknown.
        guards: Every guard word used; None is unknown.
        expired: Weather entries too old to count.
        decided_at: Moment of decision, UTC.
        valid_until: Until when an acceptance of this would hold: the level's time, or the weather's age, whichever ends
            first; None for no-go.
        policy_id: Policy used, with version and digest beside it.
        type_digest: Digest of the aircraft type used; "" where none of that name is known.
    """

    decision: Decision
    level: str
    accepted_by: tuple[Role, ...]
    total: int
    next_level_in: int | None
    groups: Mapping[Group, int]
    ceilings: Mapping[Group, int]
    lines: tuple[Line, ...]
    measures: Mapping[str, float | None]
    guards: Mapping[str, bool | None]
    expired: tuple[str, ...]
    decided_at: datetime
    valid_until: datetime | None
    policy_id: str
    policy_version: int
    policy_digest: str
    type_digest: str = ""

    @property
    def reasons(self) -> tuple[Line, ...]:
        """The lines that speak: everything that stops, is unknown, puts a floor, adds or takes points."""
        return tuple(line for line in self.lines if line.standing not in {Standing.clear, Standing.not_in_force})

    @property
    def unknown(self) -> tuple[Line, ...]:
        """The lines whose measure is unknown."""
        return tuple(line for line in self.lines if line.standing is Standing.unknown)

    def as_data(self) -> dict[str, Any]:
        """Plain data for the log, JSON and exports. Keys and order are fixed."""
        return {
            "decision": self.decision.name,
            "level": self.level,
            "accepted_by": [role.value for role in self.accepted_by],
            "total": self.total,
            "next_level_in": self.next_level_in,
            "groups": {group.value: points for group, points in self.groups.items()},
            "decided_at": _iso(self.decided_at),
            "valid_until": None if self.valid_until is None else _iso(self.valid_until),
            "policy": {"id": self.policy_id, "version": self.policy_version, "digest": self.policy_digest},
            "type_digest": self.type_digest,
            "reasons": [_line_data(line) for line in self.reasons],
            "measures": dict(self.measures),
            "guards": dict(self.guards),
            "expired": list(self.expired),
            "caution": CAUTION,
        }

    def as_json(self) -> str:
        """Canonical JSON of :meth:`as_data`."""
        return json.dumps(self.as_data(), sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def _iso(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _line_data(line: Line) -> dict[str, Any]:
    return {
        "clause": line.clause,
        "kind": line.kind,
        "standing": line.standing.value,
        "group": None if line.group is None else line.group.value,
        "sentence": line.sentence,
        "points": line.points,
        "value": line.value,
        "margin": line.margin,
        "blank": list(line.blank),
        "why": line.why,
        "source": line.source,
        "source_kind": line.source_kind,
        "line": line.line,
    }


def _known(value: float) -> float | None:
    return None if isnan(value) else float(value)


def _valid_until(sheet: Worksheet, prepared: PreparedPolicy, at: datetime, valid_min: int | None) -> datetime | None:
    if valid_min is None:
        return None
    ages = weather_ages_min(sheet, at).values()
    fresh_min = [
        prepared.policy.weather_age_max_min - age for age in ages if 0 <= age <= prepared.policy.weather_age_max_min
    ]
    return at + timedelta(minutes=min([float(valid_min), *fresh_min]))


def assess(
    sheet: Worksheet, prepared: PreparedPolicy, at: datetime, *, waived: frozenset[str] = frozenset()
) -> Assessment:
    """Assess one worksheet under one policy at one moment.

    Args:
        sheet: The worksheet.
        prepared: The policy, from ``prepare``.
        at: Moment of decision, aware. The core never reads a clock.
        waived: Limits lifted by a signed waiver.

    Returns:
        The assessment.

    Raises:
        CannotAssessError: The worksheet cannot be true at ``at``, or of this type of aircraft; nothing is decided.
        ValueError: ``at`` has no zone.
    """
    problems = (*clock_contradictions(sheet, at), *airframe_problems(sheet, prepared.types))
    if problems:
        raise CannotAssessError(problems)
    facts, expired = facts_of([sheet], prepared, at, waived)
    return assess_facts(facts, sheet, prepared, at, expired=expired[0])


def assess_facts(
    facts: Facts, sheet: Worksheet, prepared: PreparedPolicy, at: datetime, *, expired: tuple[str, ...] = ()
) -> Assessment:
    """The second half of :func:`assess`: from facts that are worked out already to a reasoned decision.

    Args:
        facts: One row: what ``facts_of`` makes of the worksheet.
        sheet: The worksheet, for what reasons name and quote.
        prepared: The policy.
        at: Moment of decision, aware.
        expired: Weather entries that were too old to count.

    Returns:
        The assessment.
    """
    scores = score(prepared.compiled, facts, keep=True)
    policy, aircraft = prepared.policy, prepared.type_of(sheet)
    position = int(scores.level[0])
    level = policy.levels[position]
    total = int(scores.total[0])
    bound = next((b for b in prepared.compiled.level_bounds if total <= b), None)
    return Assessment(
        decision=Decision(int(scores.decision[0])),
        level=level.name,
        accepted_by=level.accepted_by,
        total=total,
        next_level_in=None if bound is None else bound - total + 1,
        groups={group: int(scores.group_totals[i, 0]) for i, group in enumerate(GROUPS)},
        ceilings={ceiling.group: ceiling.up_to for ceiling in policy.group_ceilings},
        lines=lines_of(prepared, sheet, facts, scores, at=at, expired=expired),
        measures={name: _known(facts.measures[name][0]) for name in prepared.compiled.measures},
        guards={word.value: truth(facts, word, 0) for word in prepared.compiled.guards},
        expired=expired,
        decided_at=at.astimezone(UTC),
        valid_until=_valid_until(sheet, prepared, at, level.valid_min),
        policy_id=policy.id,
        policy_version=policy.version,
        policy_digest=policy.digest,
        type_digest="" if aircraft is None else aircraft.digest,
    )
