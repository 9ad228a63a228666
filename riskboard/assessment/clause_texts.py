"""What a policy says whatever the flight: the fixed halves of its sentences, worked out once for each policy.

Pure text from the policy; nothing here has seen a score.
"""

from enum import StrEnum
from functools import cache, lru_cache
from typing import TYPE_CHECKING, NamedTuple

from riskboard.assessment.facts import PreparedPolicy
from riskboard.assessment.phrases import amount, must_be, points_phrase, upper_first
from riskboard.measures.registry import MEASURES
from riskboard.policy.model import Combination, Factor, Limit, Mitigation, Policy
from riskboard.words import Decision, Group

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Line", "Standing", "Texts", "decision_at", "label", "line_of", "texts_of"]


class Standing(StrEnum):
    """How a clause stands in one assessment, worst first."""

    stop = "stop"
    unknown = "unknown"
    floor = "floor"
    points = "points"
    relief = "relief"
    clear = "clear"
    not_in_force = "not in force"


class Line(NamedTuple):
    """One clause, read out for one flight.

    Attributes:
        clause: Name in the policy.
        kind: "limit", "factor", "combination", "mitigation", "group ceiling" or "waiver".
        standing: How it stands.
        group: PAVE group, or None for a limit's own.
        sentence: What a pilot would say.
        points: Points it adds (negative for a mitigation).
        value: The measure's value as shown, or "".
        margin: How far to the next worse band or to the limit, in the unit of the trade; "" when there is none.
        blank: Worksheet entries that are blank or too old, and that filling in would help to make it known.
        why: The policy's reason.
        source: The policy's source.
        source_kind: Regulation, published guidance, ...
        line: Line in the policy file; 0 when not from a file.
        decision_floor: The decision this clause alone forces.
    """

    clause: str
    kind: str
    standing: Standing
    group: Group | None
    sentence: str
    points: int
    value: str
    margin: str
    blank: tuple[str, ...]
    why: str
    source: str
    source_kind: str
    line: int
    decision_floor: Decision


@cache
def label(measure: str) -> str:
    """A measure's label at the beginning of a sentence."""
    return upper_first(MEASURES[measure].label)


class BandText(NamedTuple):
    """What one band of a factor says of any flight in it."""

    before: str
    after: str
    bound: float | None
    to_next: str
    standing: Standing
    points: int
    floor: Decision


class LimitText(NamedTuple):
    """What a limit says of any flight."""

    before: str
    after: str
    bound: float
    in_words: bool


class Texts(NamedTuple):
    """What the clauses of a policy say whatever the flight: worked out once for a policy, read for every flight."""

    bands: tuple[tuple[BandText, ...], ...]
    limits: tuple[LimitText, ...]
    not_in_force: dict[tuple[str, str], Line]


@lru_cache(maxsize=64)
def texts_of(prepared: PreparedPolicy) -> Texts:
    """The texts of a policy; kept for the policies last used."""
    policy = prepared.policy
    kinds: list[tuple[str, Sequence[Factor | Limit | Combination]]] = [
        ("factor", policy.factors),
        ("limit", policy.limits),
        ("combination", policy.combinations),
    ]
    return Texts(
        tuple(tuple(_band(policy, factor, i) for i in range(len(factor.bands))) for factor in policy.factors),
        tuple(_limit(limit) for limit in policy.limits),
        {
            (kind, clause.name): line_of(clause, kind, Standing.not_in_force, "Does not apply to this flight.")
            for kind, clauses in kinds
            for clause in clauses
        },
    )


def _band(policy: Policy, factor: Factor, position: int) -> BandText:
    here, words = factor.bands[position], MEASURES[factor.measure].words
    passed = factor.bands[position - 1].bound if position else None
    floor = decision_at(policy, here.floor)
    standing = Standing.points if here.points else Standing.clear
    after = f", {points_phrase(here.points)}"
    if passed is not None and not words:
        after = f", {'above' if factor.ascending else 'below'} {amount(factor.measure, passed)}{after}"
    if here.floor is not None and policy.level_index(here.floor) > 0:
        standing = Standing.floor
        after += f"; by itself {floor.phrase.lower()} (level {here.floor})"
    to_next = ""
    if here.bound is not None and not words:
        to_next = f" to the next band ({points_phrase(factor.bands[position + 1].points)})"
    return BandText(f"{label(factor.measure)}: ", after + ".", here.bound, to_next, standing, here.points, floor)


def _limit(limit: Limit) -> LimitText:
    bound = limit.up_to if limit.up_to is not None else limit.at_least
    if bound is None:
        raise ValueError(f"limit {limit.name} has no bound")
    after = f"; must be {must_be(limit.measure, bound)}."
    return LimitText(f"{label(limit.measure)}: ", after, bound, bool(MEASURES[limit.measure].words))


def decision_at(policy: Policy, level: str | None) -> Decision:
    """What a floor at this level forces; None is no floor."""
    return Decision.go if level is None else policy.levels[policy.level_index(level)].decision


def line_of(
    clause: Factor | Limit | Combination | Mitigation,
    kind: str,
    standing: Standing,
    sentence: str,
    *,
    points: int = 0,
    value: str = "",
    margin: str = "",
    blank: tuple[str, ...] = (),
    decision_floor: Decision = Decision.go,
) -> Line:
    """A clause's line: what is said of the flight, beside what the policy says of the clause."""
    group = clause.group if isinstance(clause, (Factor, Combination)) else None
    said = (sentence, points, value, margin, blank, clause.why, clause.source.text, clause.source.kind, clause.line)
    return Line(clause.name, kind, standing, group, *said, decision_floor)
