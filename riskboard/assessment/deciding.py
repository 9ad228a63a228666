"""Which clauses make the level: read off the engine's arrays for many rows at once, without scoring anything anew."""

import numpy as np
from numpy.typing import NDArray

from riskboard.assessment.engine import Scores
from riskboard.assessment.facts import PreparedPolicy
from riskboard.policy.compiled import GROUPS, CompiledPolicy

__all__ = ["deciding_clauses"]

_MOST_BY_POINTS = 3
"""Clauses named where only the total makes the level: those that add most."""


def deciding_clauses(prepared: PreparedPolicy, scores: Scores) -> tuple[tuple[str, ...], ...]:
    """The clauses that make each row's level.

    Args:
        prepared: The policy.
        scores: Of n rows, with everything kept.

    Returns:
        For each row the names of the clauses that put a floor under the level it has, limits first; where no clause
        reaches it and only the total does, the three that add the most points. None at the best level.

    Raises:
        ValueError: The scores were not kept.
    """
    if scores.bands is None or scores.combinations is None:
        raise ValueError("the clauses that decide need the bands that score(..., keep=True) returns")
    compiled = prepared.compiled
    cells = scores.bands + compiled.row_offsets
    names, floors = _floors(compiled, scores, cells)
    points = np.concatenate([compiled.points.take(cells), scores.combinations * compiled.combination_points])
    makes = (floors >= scores.level) & (scores.level > 0)
    return tuple(
        tuple(names[i] for i in np.flatnonzero(makes[:, row])) or _by_points(compiled, points[:, row])
        if scores.level[row]
        else ()
        for row in range(scores.level.size)
    )


def _floors(
    compiled: CompiledPolicy, scores: Scores, cells: NDArray[np.intp]
) -> tuple[tuple[str, ...], NDArray[np.int16]]:
    """Every clause that can put a floor under the level, limits first, and the floor it puts in each row."""
    by_clause = np.asarray(compiled.floors.take(cells), np.int16)
    met = np.asarray(scores.combinations, np.int16) * np.asarray(compiled.combination_floors, np.int16)
    unknown = np.unpackbits(scores.unknown, axis=0, count=len(compiled.names)).astype(np.bool_)[len(by_clause) :]
    for level, bits in compiled.unknown_floors:
        here = np.unpackbits(bits[:, 0], count=len(compiled.names)).astype(np.bool_)[len(by_clause) :]
        met = np.maximum(met, (unknown & here[:, None]) * np.int16(level))
    over = [
        (scores.group_totals[group] > bound) * np.int16(floor) for group, bound, floor in compiled.ceilings
    ] or np.empty((0, scores.level.size), np.int16)
    limits, factors = slice(compiled.factors, None), slice(0, compiled.factors)
    clauses = compiled.names[: len(by_clause)]
    names = (
        *clauses[limits],
        *clauses[factors],
        *compiled.names[len(by_clause) :],
        *(f"group_ceilings.{GROUPS[group].value}" for group, _, _ in compiled.ceilings),
    )
    return names, np.concatenate([by_clause[limits], by_clause[factors], met, over])


def _by_points(compiled: CompiledPolicy, points: NDArray[np.int16]) -> tuple[str, ...]:
    most_first = np.argsort(-points, kind="stable")[:_MOST_BY_POINTS]
    return tuple(compiled.names[i] for i in most_first if points[i] > 0)
