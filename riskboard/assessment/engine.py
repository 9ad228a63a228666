"""The only code that scores. One worksheet, a departure window and a million records all pass through :func:`score`.

INVARIANT: the level is a maximum of independent lower bounds: the level of the total, the group ceilings, and the
floors of clauses, of unknowns and of hard limits. Sums and mitigations reach only the first of them, so no arithmetic
can lift a limit, and an unknown in a clause in force keeps the decision from go.

How a clause is answered: start at its last band and take off a step for every edge its measure is within. An unknown is
within no edge. Nothing has passed and nothing is settled until it is found so: a limit passes only when it is known and
within or surely out of force, a clause is settled only when it is known or surely out of force, and what is left over
in the two bit sets is what stops the flight and what is unknown. How many rows there are decides only how many clauses
are answered at a time (``policy/sections.py``), never how.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from riskboard.policy.compiled import GROUPS, CompiledPolicy, Condition
from riskboard.policy.sections import Bits, Edges, FactorSection, LimitSection, PartSection, Steps
from riskboard.words import Guard
from riskboard.worksheet.columns import FloatArray

__all__ = ["BLOCK_ROWS", "TOGETHER_ROWS", "BoolArray", "Facts", "Scores", "score"]

BoolArray = NDArray[np.bool_]
Bands = NDArray[np.int8]
Points = NDArray[np.int16]
Bytes = NDArray[np.uint8]

BLOCK_ROWS = 65_536
"""Rows scored at a time: what one clause touches stays in the processor's cache. Measured in ``tests/bench``."""

TOGETHER_ROWS = 1_024
"""Up to so many rows the clauses are answered together, above it one by one."""


@dataclass(frozen=True)
class Facts:
    """What the engine is told about n flights.

    Attributes:
        measures: name -> (n,) float64; NaN, or an infinity, is unknown.
        guards: guard word -> (n,) float64: 1 true, 0 false, NaN unknown.
        taken: mitigation name -> (n,) bool, somebody states it is in place. A missing name was not taken.
        waived: limit name -> (n,) bool, a signed waiver stands. A missing name was not waived.
    """

    measures: Mapping[str, FloatArray]
    guards: Mapping[Guard, FloatArray] = field(default_factory=dict)
    taken: Mapping[str, BoolArray] = field(default_factory=dict)
    waived: Mapping[str, BoolArray] = field(default_factory=dict)

    @property
    def rows(self) -> int:
        """Number of flights."""
        return len(next(iter(self.measures.values())))

    def block(self, rows: slice) -> "Facts":
        """The same facts for some of the rows, as views."""
        return Facts(
            {name: values[rows] for name, values in self.measures.items()},
            {word: truth[rows] for word, truth in self.guards.items()},
            {name: stated[rows] for name, stated in self.taken.items()},
            {name: signed[rows] for name, signed in self.waived.items()},
        )


@dataclass(frozen=True)
class Scores:
    """The result for n flights. Bit sets are packed along the first axis, as ``np.packbits`` does.

    Attributes:
        total: (n,) points after mitigations.
        group_totals: (4, n) points by group in the order of ``Group``, before mitigations.
        level: (n,) position of the level, 0 best.
        decision: (n,) value of ``Decision``.
        limits_hit: (ceil(limits / 8), n) bit set of limits that stop the flight.
        unknown: (ceil(clauses / 8), n) bit set of clauses in force with an unknown measure, in the order factors,
            limits, combinations.
        bands: (factors + limits, n) column of the policy's table each clause is in: a band, 0 best, or ``unknown``,
            ``out_of_force``, ``waived`` of the compiled policy; only when kept.
        combinations: (combinations, n) whether each holds; only when kept.
        taken_off: (mitigations, n) points each mitigation took off; only when kept.
    """

    total: Points
    group_totals: Points
    level: Bands
    decision: Bands
    limits_hit: NDArray[np.uint8]
    unknown: NDArray[np.uint8]
    bands: Bands | None = None
    combinations: BoolArray | None = None
    taken_off: Points | None = None

    def block(self, rows: slice) -> "Scores":
        """The part of the result that belongs to some of the rows, as views to write to."""
        arrays = [getattr(self, each.name) for each in fields(self)]
        parts: list[Any] = [None if array is None else array[..., rows] for array in arrays]
        return Scores(*parts)


class _Block:
    """What one pass over the clauses of some rows gathers. Empty it says: nothing passed, nothing settled."""

    def __init__(self, policy: CompiledPolicy, facts: Facts, scores: Scores) -> None:
        self.policy = policy
        self.facts = facts
        self.scores = scores
        rows = facts.rows
        self.out = _out_of_force(policy, facts)
        self.settled = np.zeros((len(policy.all_bits), rows), np.uint8)
        self.passed = np.zeros((len(policy.limit_bits), rows), np.uint8)
        self.chapters = np.zeros((policy.chapters[-1].stop, rows), policy.chapter_type)
        self.level = np.zeros(rows, np.uint8)
        taken = any(stated.any() for stated in facts.taken.values())
        self.known_points = np.zeros((policy.factors, rows), policy.chapter_type) if taken else None


def _out_of_force(policy: CompiledPolicy, facts: Facts) -> BoolArray:
    """(conditions, n): is a guard surely otherwise? An unknown guard leaves a clause in force."""
    out = np.zeros((len(policy.conditions), facts.rows), np.bool_)
    for row, condition in enumerate(policy.conditions):
        for word, wanted in condition:
            out[row] |= facts.guards[word] == (0.0 if wanted else 1.0)
    return out


def _surely(facts: Facts, condition: Condition) -> BoolArray:
    sure = np.ones(facts.rows, np.bool_)
    for word, wanted in condition:
        sure &= facts.guards[word] == (1.0 if wanted else 0.0)
    return sure


# -- clauses ----------------------------------------------------------------------------------------------------------


def _compared(edges: Edges, facts: Facts) -> tuple[BoolArray, BoolArray]:
    """(k, n) is the measure known, and (layers, k, n) is it within each edge? An infinity is as unknown as NaN."""
    columns = [facts.measures[name] for name in edges.measures]
    values = columns[0][None] if len(columns) == 1 else np.concatenate(columns).reshape(len(columns), -1)
    known = np.isfinite(values)
    within = np.empty((len(edges.bounds), *values.shape), np.bool_)
    for ascending, where in edges.directions:
        compare = np.less_equal if ascending else np.greater_equal
        compare(values, edges.bounds, out=within, where=where)
    within &= known
    return known, within


def _reduced(operation: np.ufunc, rows: NDArray[Any]) -> NDArray[Any]:
    """The first axis put together; a single row is itself."""
    together: NDArray[Any] = rows[0] if len(rows) == 1 else operation.reduce(rows, axis=0, dtype=rows.dtype)
    return together


def _given(steps: Steps, known: BoolArray, within: BoolArray) -> NDArray[Any]:
    """(k, n): what the band each clause is in gives; an unknown gives the worst."""
    saved = within[steps.layers].view(np.uint8) * steps.steps
    given: NDArray[Any] = steps.last - _reduced(np.add, saved)
    if steps.worst is not None:
        np.copyto(given, steps.worst, where=~known)
    return given


def _any(bit_set: Bytes) -> BoolArray:
    """(n,): is any bit set?"""
    any_set: BoolArray = _reduced(np.bitwise_or, bit_set) != 0
    return any_set


def _raise(level: Bytes, where: BoolArray, floor: int) -> None:
    """Put a floor under the level of some rows."""
    np.maximum(level, where.view(np.uint8) * np.uint8(floor), out=level)


def _mark(bit_set: Bytes, flags: BoolArray, bits: Bits) -> None:
    """Set the bits of the flags that are true."""
    for byte, rows, values in bits:
        into = bit_set[byte]
        np.bitwise_or(into, _reduced(np.bitwise_or, flags[rows].view(np.uint8) * values), out=into)


def _keep_bands(block: _Block, section: FactorSection | LimitSection, known: BoolArray, within: BoolArray) -> None:
    """If asked for: the column of the policy's table that answers each clause."""
    if block.scores.bands is None:
        return
    bands = section.edge_counts - _reduced(np.add, within.view(np.uint8))
    np.copyto(bands, np.uint8(block.policy.unknown), where=~known)
    if section.conditions is not None:
        np.copyto(bands, np.uint8(block.policy.out_of_force), where=block.out[section.conditions])
    block.scores.bands[section.clauses] = bands


def _answer_factors(block: _Block, section: FactorSection) -> None:
    known, within = _compared(section.edges, block.facts)
    settled = known
    points = _given(section.points, known, within)
    floors = None if section.floors is None else _given(section.floors, known, within)
    if section.conditions is not None:
        out = block.out[section.conditions]
        settled = known | out
        points *= ~out
        if floors is not None:
            floors *= ~out
    _mark(block.settled, settled, section.bits)
    for chapter, rows in section.chapters:
        into = block.chapters[chapter]
        np.add(into, _reduced(np.add, points[rows]), out=into)
    if floors is not None:
        np.maximum(block.level, _reduced(np.maximum, floors), out=block.level)
    if block.known_points is not None:
        np.multiply(points, known, out=block.known_points[section.clauses])
    _keep_bands(block, section, known, within)


def _answer_limits(block: _Block, section: LimitSection) -> None:
    known, within = _compared(section.edges, block.facts)
    settled, passed = known, within[0]
    if section.conditions is not None:
        out = block.out[section.conditions]
        settled, passed = known | out, passed | out
    _keep_bands(block, section, known, within)
    for name, signed in block.facts.waived.items():
        if name in section.rows:
            row = section.rows[name]
            # A waiver lifts a known excess only: nobody can answer for what is not known.
            lifted = known[row] & ~passed[row] & signed
            passed[row] |= lifted
            _raise(block.level, lifted, block.policy.sign_off_floor)
            if block.scores.bands is not None:
                np.copyto(block.scores.bands[section.clauses][row], np.int8(block.policy.waived), where=lifted)
    _mark(block.settled, settled, section.bits)
    _mark(block.passed, passed, section.limit_bits)


def _combinations(block: _Block, sections: tuple[PartSection, ...]) -> tuple[BoolArray, BoolArray]:
    """(combinations, n) twice: which hold, unless a guard or a part is surely false; and which hold in doubt."""
    surely_not = block.out[block.policy.combination_conditions]
    doubtful = np.zeros_like(surely_not)
    for section in sections:
        known, within = _compared(section.edges, block.facts)
        surely_not[section.combinations] |= within[0]
        doubtful[section.combinations] |= ~known
    met = ~surely_not
    return met, doubtful & met


# -- sums and the level -----------------------------------------------------------------------------------------------


def _add_up(block: _Block, met: BoolArray) -> None:
    """Points of factors and combinations by group, and their total after mitigations."""
    policy, scores = block.policy, block.scores
    together = met * policy.combination_points
    for group in range(len(GROUPS)):
        np.add(
            block.chapters[policy.chapters[group]].sum(axis=0, dtype=np.int16),
            together[policy.combination_rows[group]].sum(axis=0, dtype=np.int16),
            out=scores.group_totals[group],
        )
    np.sum(scores.group_totals, axis=0, dtype=np.int16, out=scores.total)
    if block.known_points is not None:
        for i, name in enumerate(policy.mitigations):
            if name in block.facts.taken:
                off = _taken_off(block, block.known_points, i) * block.facts.taken[name]
                np.subtract(scores.total, off, out=scores.total)
                if scores.taken_off is not None:
                    scores.taken_off[i] = off


def _taken_off(block: _Block, known_points: NDArray[Any], mitigation: int) -> Points:
    """(n,) points it takes off if stated: all needs sure, never more than what its known factors gave.

    A mitigation acts on a hazard that is known; an unknown one keeps all its points.
    """
    policy = block.policy
    given = known_points[policy.mitigation_off[mitigation]].sum(axis=0, dtype=np.int16)
    most: Points = np.minimum(given, np.int16(policy.mitigation_most[mitigation]))
    most *= _surely(block.facts, policy.mitigation_needs[mitigation])
    return most


def _score_block(policy: CompiledPolicy, facts: Facts, scores: Scores) -> None:
    block = _Block(policy, facts, scores)
    sections = policy.together if facts.rows <= TOGETHER_ROWS else policy.apart
    for factors in sections.factors:
        _answer_factors(block, factors)
    for limits in sections.limits:
        _answer_limits(block, limits)
    met, not_known = _combinations(block, sections.parts)
    _mark(block.settled, ~not_known, policy.combination_bits)
    _add_up(block, met)
    np.bitwise_and(~block.settled, policy.all_bits, out=scores.unknown)
    np.bitwise_and(~block.passed, policy.limit_bits, out=scores.limits_hit)

    # The level is the maximum of its lower bounds. Those of factors and waivers are in it already.
    level = block.level
    _raise(level, _any(scores.limits_hit), policy.no_go_floor)
    for floor, bits in policy.unknown_floors:
        _raise(level, _any(scores.unknown & bits), floor)
    if policy.combinations:
        np.maximum(level, (met * policy.combination_floors).max(axis=0), out=level)
    for group, bound, floor in policy.ceilings:
        _raise(level, scores.group_totals[group] > bound, floor)
    for position, bound in enumerate(policy.level_bounds, start=1):
        _raise(level, scores.total > bound, position)

    scores.level[:] = level
    policy.decisions.take(level, out=scores.decision)
    if scores.combinations is not None:
        scores.combinations[:] = met


def _empty_scores(policy: CompiledPolicy, rows: int, *, keep: bool) -> Scores:
    """Room for the result; until it is filled in it says no-go."""
    return Scores(
        np.zeros(rows, np.int16),
        np.zeros((len(GROUPS), rows), np.int16),
        np.full(rows, len(policy.decisions) - 1, np.int8),
        np.full(rows, policy.decisions[-1], np.int8),
        np.zeros((len(policy.limit_bits), rows), np.uint8),
        np.zeros((len(policy.all_bits), rows), np.uint8),
        np.zeros((policy.factors + policy.limits, rows), np.int8) if keep else None,
        np.zeros((policy.combinations, rows), np.bool_) if keep else None,
        np.zeros((len(policy.mitigations), rows), np.int16) if keep else None,
    )


def score(policy: CompiledPolicy, facts: Facts, *, keep: bool = False) -> Scores:
    """Score n flights under one policy.

    Args:
        policy: Compiled policy.
        facts: Measures and guards the policy needs, each with n rows.
        keep: Also return the band of every clause, which combinations hold, and what mitigations took off.

    Returns:
        The scores; integer arithmetic throughout, so a row scores the same alone and in any batch.

    Raises:
        KeyError: A measure or guard word that the policy needs is missing.
        ValueError: Columns of different length.
    """
    missing = [name for name in policy.measures if name not in facts.measures]
    missing += [word for word in policy.guards if word not in facts.guards]
    if missing:
        raise KeyError(f"the policy needs {missing[0]!r}, which the facts do not hold")
    lengths = {
        len(column)
        for columns in (facts.measures, facts.guards, facts.taken, facts.waived)
        for column in columns.values()
    }
    if len(lengths) != 1:
        raise ValueError(f"every column needs the same number of rows, found {sorted(lengths)}")
    scores = _empty_scores(policy, facts.rows, keep=keep)
    if facts.rows <= BLOCK_ROWS:
        _score_block(policy, facts, scores)
    else:
        for start in range(0, facts.rows, BLOCK_ROWS):
            rows = slice(start, start + BLOCK_ROWS)
            _score_block(policy, facts.block(rows), scores.block(rows))
    return scores
