"""The only code that scores. One worksheet, a departure window and a million records all pass through :func:`score`.

INVARIANT: the level is a maximum of independent lower bounds: the level of the total, the group ceilings, and the
floors of clauses, of unknowns and of hard limits. Sums and mitigations reach only the first of them, so no arithmetic
can lift a limit, and an unknown in a clause in force keeps the decision from go.

How a clause is answered: count the edges its measure is within; that is its band. An unknown is within no edge, because
every comparison with NaN is false, and it is then put into a band of its own, worse than any. A clause is out of force
only when a guard is surely otherwise. Points and floors are looked up by band, so the band IS the explanation.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from riskboard.policy.compiled import GROUPS, Comparison, CompiledPolicy, Condition
from riskboard.words import Guard
from riskboard.worksheet.columns import FloatArray

__all__ = ["BLOCK_ROWS", "BoolArray", "Facts", "Scores", "score"]

BoolArray = NDArray[np.bool_]
Bands = NDArray[np.int8]
Points = NDArray[np.int16]

BLOCK_ROWS = 4_096
"""Rows scored at a time: what a block touches stays in the processor's cache. Measured in ``tests/bench``."""


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


def _within(comparisons: Iterable[Comparison], shape: tuple[int, int, int], facts: Facts) -> BoolArray:
    """(layers, places, n): is the value within each edge? False for an unknown, and where there is no edge."""
    within = np.zeros(shape, np.bool_)
    for c in comparisons:
        compare = np.less_equal if c.ascending else np.greater_equal
        compare(facts.measures[c.measure], c.edges, out=within[c.first : c.first + len(c.edges), c.place])
    return within


def _unknown(policy: CompiledPolicy, facts: Facts) -> BoolArray:
    """(measures + 1, n): is each measure unknown? An infinity is as unknown as NaN. The last row is no measure."""
    known = np.ones((len(policy.measures) + 1, facts.rows), np.bool_)
    for row, name in enumerate(policy.measures):
        np.isfinite(facts.measures[name], out=known[row])
    return ~known


def _out_of_force(policy: CompiledPolicy, facts: Facts) -> BoolArray:
    """(conditions, n): is a guard surely otherwise? An unknown guard leaves a clause in force."""
    out = np.zeros((len(policy.conditions), facts.rows), np.bool_)
    for row, condition in enumerate(policy.conditions):
        for word, wanted in condition:
            out[row] |= facts.guards[word] == (0.0 if wanted else 1.0)
    return out


def _bands(policy: CompiledPolicy, facts: Facts, unknown: BoolArray, out: BoolArray) -> Bands:
    """(clauses, n): the column of the policy's table that answers each clause."""
    within = _within(policy.clause_edges, (policy.layers, len(policy.clause_edges), facts.rows), facts)
    bands: Bands = policy.edge_counts - np.add.reduce(within.view(np.int8), axis=0, dtype=np.int8)
    np.copyto(bands, np.int8(policy.unknown), where=unknown[policy.clause_measure])
    for i, name in enumerate(policy.limit_names):
        if name in facts.waived:
            # A waiver lifts a known excess only: nobody can answer for what is not known.
            limit = bands[policy.factors + i]
            np.copyto(limit, np.int8(policy.waived), where=(limit == 1) & facts.waived[name])
    np.copyto(bands, np.int8(policy.out_of_force), where=out[policy.clause_condition])
    return bands


def _surely(facts: Facts, condition: Condition) -> BoolArray:
    sure = np.ones(facts.rows, np.bool_)
    for word, wanted in condition:
        sure &= facts.guards[word] == (1.0 if wanted else 0.0)
    return sure


def _taken_off(policy: CompiledPolicy, facts: Facts, points: Points, bands: Bands) -> Points:
    """(mitigations, n): points each takes off: stated, all needs sure, never more than its known factors gave."""
    off = np.zeros((len(policy.mitigations), facts.rows), np.int16)
    for i, name in enumerate(policy.mitigations):
        if name in facts.taken and facts.taken[name].any():
            rows = policy.mitigation_off[i]
            # A mitigation acts on a hazard that is known; an unknown one keeps all its points.
            given = (points[rows] * (bands[rows] < policy.unknown)).sum(axis=0, dtype=np.int16)
            most = np.minimum(given, np.int16(policy.mitigation_most[i]))
            off[i] = most * (facts.taken[name] & _surely(facts, policy.mitigation_needs[i]))
    return off


def _combinations(
    policy: CompiledPolicy, facts: Facts, unknown: BoolArray, out: BoolArray
) -> tuple[BoolArray, BoolArray]:
    """(combinations, n) twice: which hold, unless a guard or a part is surely false; and which hold in doubt."""
    doubtful = unknown[policy.part_measures]
    surely_not = _within(policy.part_edges, doubtful.shape, facts)
    surely_not &= ~doubtful
    met = ~(out[policy.combination_condition] | np.logical_or.reduce(surely_not, axis=0))
    return met, np.logical_or.reduce(doubtful, axis=0) & met


def _packed(flags: BoolArray) -> NDArray[np.uint8]:
    """The bit set of ``np.packbits(flags, axis=0)``, in a third of the time for many columns."""
    rows, columns = flags.shape
    padded = np.zeros((-(-rows // 8), 8, columns), np.uint8)
    padded.reshape(-1, columns)[:rows] = flags
    padded <<= np.arange(7, -1, -1, dtype=np.uint8)[:, None]
    packed: NDArray[np.uint8] = np.bitwise_or.reduce(padded, axis=1)
    return packed


def _group_totals(policy: CompiledPolicy, points: Points, met: BoolArray) -> Points:
    """(4, n): points of factors and combinations by group."""
    together = met * policy.combination_points
    totals = np.empty((len(GROUPS), points.shape[1]), np.int16)
    for group, rows in enumerate(policy.group_rows):
        np.add(
            points[rows].sum(axis=0, dtype=np.int16),
            together[policy.combination_groups == group].sum(axis=0, dtype=np.int16),
            out=totals[group],
        )
    return totals


def _score_block(policy: CompiledPolicy, facts: Facts, *, keep: bool) -> Scores:
    unknown, out = _unknown(policy, facts), _out_of_force(policy, facts)
    bands = _bands(policy, facts, unknown, out)
    columns = bands + policy.row_offsets
    points = policy.points.take(columns[: policy.factors])
    met, not_known = _combinations(policy, facts, unknown, out)

    groups = _group_totals(policy, points, met)
    off = _taken_off(policy, facts, points, bands)
    total = groups.sum(axis=0, dtype=np.int16) - off.sum(axis=0, dtype=np.int16)

    # The level is the maximum of its lower bounds.
    level = policy.floors.take(columns).max(axis=0, initial=0)
    if policy.combinations:
        np.maximum(level, (met * policy.combination_floors).max(axis=0), out=level)
        np.maximum(level, (not_known * policy.combination_unknown_floors).max(axis=0), out=level)
    for group, bound, floor in policy.ceilings:
        np.maximum(level, (groups[group] > bound) * np.int8(floor), out=level)
    for position, bound in enumerate(policy.level_bounds, start=1):
        np.maximum(level, (total > bound) * np.int8(position), out=level)

    limits = bands[policy.factors :]
    return Scores(
        total,
        groups,
        level,
        policy.decisions[level],
        _packed((limits == 1) | (limits == policy.unknown)),
        _packed(np.concatenate([bands == policy.unknown, not_known])),
        bands if keep else None,
        met if keep else None,
        off if keep else None,
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
    rows = facts.rows
    if rows <= BLOCK_ROWS:
        return _score_block(policy, facts, keep=keep)
    parts = [
        _score_block(policy, facts.block(start, start + BLOCK_ROWS), keep=keep) for start in range(0, rows, BLOCK_ROWS)
    ]
    return _joined(parts)


def _joined(parts: list[Scores]) -> Scores:
    def join(name: str) -> Any:
        arrays = [getattr(part, name) for part in parts]
        return None if arrays[0] is None else np.concatenate(arrays, axis=-1)

    return Scores(*(join(each.name) for each in fields(Scores)))
