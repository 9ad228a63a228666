"""The only code that scores. One worksheet, a departure window and a million records all pass through :func:`score`.

INVARIANT: the level is a maximum of independent lower bounds: the level of the total, the group ceilings, the floors of
clauses, the unknowns, the hard limits. Sums and mitigations reach only the first of them, so no arithmetic can lift a
limit, and an unknown in a clause in force keeps the decision from go.

Two masks stand before every number. A clause is out of force only when a guard is surely otherwise; a limit passes only
when its measure is known and within. Comparisons with NaN are false, and everything below is written so that false is
the unfavourable side.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from riskboard.policy.compiled import GROUPS, CompiledCombination, CompiledFactor, CompiledPolicy, Condition
from riskboard.words import Guard
from riskboard.worksheet.columns import FloatArray

__all__ = ["BLOCK_ROWS", "BoolArray", "Facts", "Scores", "score"]

BoolArray = NDArray[np.bool_]
Points = NDArray[np.signedinteger[Any]]

BLOCK_ROWS = 65_536
"""Rows scored at a time: the few arrays of a block stay in the processor's cache."""


@dataclass(frozen=True)
class Facts:
    """What the engine is told about n flights.

    Attributes:
        measures: name -> (n,) float64, NaN unknown.
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

    def block(self, start: int, stop: int) -> "Facts":
        """The same facts for some of the rows, as views."""
        part = slice(start, stop)
        return Facts(
            {name: values[part] for name, values in self.measures.items()},
            {word: truth[part] for word, truth in self.guards.items()},
            {name: stated[part] for name, stated in self.taken.items()},
            {name: signed[part] for name, signed in self.waived.items()},
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
        bands: (factors, n) band of each factor, 0 best, -1 not in force; only when kept.
        combinations: (combinations, n) whether each holds; only when kept.
        taken_off: (mitigations, n) points each mitigation took off; only when kept.
    """

    total: Points
    group_totals: Points
    level: NDArray[np.int8]
    decision: NDArray[np.int8]
    limits_hit: NDArray[np.uint8]
    unknown: NDArray[np.uint8]
    bands: NDArray[np.int8] | None = None
    combinations: BoolArray | None = None
    taken_off: Points | None = None


class _Block:
    """Scores one block of rows. Holds the running group totals, the running floor, and what was already worked out."""

    def __init__(self, policy: CompiledPolicy, facts: Facts, *, keep: bool) -> None:
        self.policy = policy
        self.facts = facts
        self.rows = facts.rows
        self.keep = keep
        points = np.int16 if policy.most_points < np.iinfo(np.int16).max else np.int32
        self.groups: Points = np.zeros((len(GROUPS), self.rows), points)
        self.floor = np.zeros(self.rows, np.int8)
        self.buffer: Points = np.empty(self.rows, points)
        self.unknown = np.zeros(
            (len(policy.factors) + len(policy.limits) + len(policy.combinations), self.rows), np.bool_
        )
        self.stops = np.zeros((len(policy.limits), self.rows), np.bool_)
        self.factor_points: dict[int, Points] = {}
        self.bands = np.full((len(policy.factors), self.rows), -1, np.int8) if keep else None
        self.met = np.zeros((len(policy.combinations), self.rows), np.bool_)
        self._nan: dict[str, BoolArray | None] = {}
        self._force: dict[Condition, BoolArray | None] = {}

    def nan(self, measure: str) -> BoolArray | None:
        """Where a measure is unknown; None when it is known in every row."""
        if measure not in self._nan:
            values = self.facts.measures[measure]
            mask = ~np.isfinite(values)
            some = bool(mask.any())
            if some and np.isinf(values[mask]).any():
                raise ValueError(f"measure {measure!r} holds an infinity; an unknown is written as NaN")
            self._nan[measure] = mask if some else None
        return self._nan[measure]

    def force(self, condition: Condition) -> BoolArray | None:
        """Where a clause is in force: no guard is surely otherwise. None when it is in force in every row."""
        if condition not in self._force:
            surely_out = np.zeros(self.rows, np.bool_)
            for word, wanted in condition:
                surely_out |= self.facts.guards[word] == (0.0 if wanted else 1.0)
            self._force[condition] = ~surely_out if surely_out.any() else None
        return self._force[condition]

    def raise_floor(self, where: BoolArray, level: int) -> None:
        """Where true, the level is at least ``level``."""
        np.maximum(self.floor, where.view(np.int8) * np.int8(level), out=self.floor)

    def note_unknown(self, clause: int, measures: tuple[str, ...], applies: BoolArray | None, floor: int) -> None:
        """Mark a clause in force with an unknown measure, and put its floor under the level."""
        for measure in measures:
            mask = self.nan(measure)
            if mask is not None:
                here = mask if applies is None else mask & applies
                self.unknown[clause] |= here
                self.raise_floor(here, floor)

    def add_factor(self, position: int, factor: CompiledFactor) -> None:
        """Points of one factor: the worst band's, less each step whose edge the measure is within."""
        values = self.facts.measures[factor.measure]
        force = self.force(factor.condition)
        compare: Callable[..., BoolArray] = np.less_equal if factor.ascending else np.greater_equal
        group = self.groups[factor.group]
        own = np.zeros_like(group) if factor.keep_points else group
        own += factor.worst if force is None else force * self.groups.dtype.type(factor.worst)
        band = np.full(self.rows, len(factor.edges), np.int8) if self.bands is not None else None
        for i, (edge, step) in enumerate(zip(factor.edges, factor.steps, strict=True)):
            within = compare(values, edge)
            for _, level in (f for f in factor.floors if f[0] == i):
                self.raise_floor(~within if force is None else ~within & force, level)
            if band is not None:
                band -= within.view(np.int8)
            if step:
                if force is not None:
                    within &= force
                own -= np.multiply(within, self.groups.dtype.type(step), out=self.buffer)
        for _, level in (f for f in factor.floors if f[0] < 0):
            self.raise_floor(np.ones(self.rows, np.bool_) if force is None else force, level)
        self._finish_factor(position, factor, own, force, band)

    def _finish_factor(
        self, position: int, factor: CompiledFactor, own: Points, force: BoolArray | None, band: NDArray[np.int8] | None
    ) -> None:
        unknown = self.nan(factor.measure)
        if factor.unknown_extra and unknown is not None:
            own += (unknown if force is None else unknown & force) * self.groups.dtype.type(factor.unknown_extra)
        if factor.keep_points:
            self.groups[factor.group] += own
            # A mitigation acts on a hazard that is known; an unknown one keeps all its points.
            self.factor_points[position] = own if unknown is None else own * ~unknown
        self.note_unknown(position, (factor.measure,), force, factor.unknown_floor)
        if band is not None and self.bands is not None:
            self.bands[position] = band if force is None else np.where(force, band, np.int8(-1))

    def add_limits(self) -> None:
        """A limit passes only if known and within. A waiver lifts a known excess; a sign-off floor takes its place."""
        first = len(self.policy.factors)
        for i, limit in enumerate(self.policy.limits):
            values = self.facts.measures[limit.measure]
            stop = ~(values <= limit.bound if limit.ascending else values >= limit.bound)
            force = self.force(limit.condition)
            if force is not None:
                stop &= force
            waived = self.facts.waived.get(limit.name)
            if waived is not None:
                unknown = self.nan(limit.measure)
                lifted = stop & waived if unknown is None else stop & waived & ~unknown
                self.raise_floor(lifted, self.policy.sign_off_floor)
                stop &= ~lifted
            self.stops[i] = stop
            self.raise_floor(stop, self.policy.no_go_floor)
            self.note_unknown(first + i, (limit.measure,), force, self.policy.no_go_floor)

    def add_combination(self, position: int, combination: CompiledCombination) -> None:
        """Holds unless a guard or a part is surely false."""
        force = self.force(combination.condition)
        met = np.ones(self.rows, np.bool_) if force is None else force.copy()
        for measure, ascending, bound in combination.parts:
            values = self.facts.measures[measure]
            met &= ~(values <= bound if ascending else values >= bound)
        self.met[position] = met
        self.groups[combination.group] += met * self.groups.dtype.type(combination.points)
        if combination.floor:
            self.raise_floor(met, combination.floor)
        clause = len(self.policy.factors) + len(self.policy.limits) + position
        self.note_unknown(clause, tuple(part[0] for part in combination.parts), met, combination.unknown_floor)

    def taken_off(self) -> Points:
        """Points each mitigation takes off: stated, all needs surely true, never more than its factors gave."""
        off = np.zeros((len(self.policy.mitigations), self.rows), self.groups.dtype)
        for i, mitigation in enumerate(self.policy.mitigations):
            stated = self.facts.taken.get(mitigation.name)
            if stated is None or not stated.any():
                continue
            sure = stated.copy()
            for word, wanted in mitigation.needs:
                sure &= self.facts.guards[word] == (1.0 if wanted else 0.0)
            given = np.zeros(self.rows, self.groups.dtype)
            for position in mitigation.off:
                given += self.factor_points[position]
            off[i] = np.minimum(given, self.groups.dtype.type(mitigation.at_most)) * sure
        return off

    def scores(self) -> Scores:
        """Everything together: the level is the maximum of its lower bounds."""
        for i, factor in enumerate(self.policy.factors):
            self.add_factor(i, factor)
        self.add_limits()
        for i, combination in enumerate(self.policy.combinations):
            self.add_combination(i, combination)
        off = self.taken_off()
        total = self.groups.sum(axis=0, dtype=self.groups.dtype) - off.sum(axis=0, dtype=self.groups.dtype)
        for group, bound, floor in self.policy.ceilings:
            self.raise_floor(self.groups[group] > bound, floor)
        for position, bound in enumerate(self.policy.level_bounds, start=1):
            self.raise_floor(total > bound, position)
        return Scores(
            total,
            self.groups,
            self.floor,
            np.array(self.policy.decisions, np.int8)[self.floor],
            np.packbits(self.stops, axis=0),
            np.packbits(self.unknown, axis=0),
            self.bands,
            self.met if self.keep else None,
            off if self.keep else None,
        )


def score(policy: CompiledPolicy, facts: Facts, *, keep: bool = False) -> Scores:
    """Score n flights under one policy.

    Args:
        policy: Compiled policy.
        facts: Measures and guards the policy needs, each with n rows.
        keep: Also return the band of every factor, which combinations hold, and what mitigations took off.

    Returns:
        The scores; integer arithmetic throughout, so a row scores the same alone and in any batch.

    Raises:
        KeyError: A measure or guard word that the policy needs is missing.
        ValueError: Columns of different length, or an infinity among the measures.
    """
    missing = [
        name for name in (*policy.measures, *policy.guards) if name not in facts.measures and name not in facts.guards
    ]
    if missing:
        raise KeyError(f"the policy needs {missing[0]!r}, which the facts do not hold")
    lengths = {
        len(column)
        for columns in (facts.measures, facts.guards, facts.taken, facts.waived)
        for column in columns.values()
    }
    if len(lengths) != 1:
        raise ValueError(f"every column needs the same number of rows, found {sorted(lengths)}")
    rows = facts.rows
    if rows <= BLOCK_ROWS:
        return _Block(policy, facts, keep=keep).scores()
    parts = [
        _Block(policy, facts.block(start, start + BLOCK_ROWS), keep=keep).scores()
        for start in range(0, rows, BLOCK_ROWS)
    ]
    return _joined(parts)


def _joined(parts: list[Scores]) -> Scores:
    def join(name: str) -> Any:
        arrays = [getattr(part, name) for part in parts]
        return None if arrays[0] is None else np.concatenate(arrays, axis=-1)

    return Scores(*(join(name) for name in Scores.__dataclass_fields__))
