"""A policy as the engine reads it: positions instead of names, edges in one column, and a table to look answers up in.

A factor or a limit is a *clause*: ordered edges on one measure, best first, each inclusive on its better side. How many
edges a value is within says which band it is in. Band by band, the table says how many points that gives and which
level it puts a floor under. An unknown, and a clause out of force, have columns of their own: nothing is a special case
once the column is known.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from riskboard.policy.model import Combination, Factor, IfUnknown, Limit, Policy, When
from riskboard.words import Direction, Group, Guard

__all__ = ["GROUPS", "Comparison", "CompiledPolicy", "Condition", "compile_policy"]

GROUPS = tuple(Group)
Condition = tuple[tuple[Guard, bool], ...]
"""Guard words with the truth they need, sorted: a clause is out of force when one of them is surely otherwise."""

MOST_POINTS = 30_000
"""Highest possible total; keeps sums of points exact in 16 bits."""


@dataclass(frozen=True)
class Comparison:
    """One measure against all its edges: rows ``start`` to ``stop`` of the edge matrix.

    ``ascending``: within means at most the edge; otherwise at least.
    """

    measure: str
    ascending: bool
    start: int
    stop: int


@dataclass(frozen=True, eq=False)
class CompiledPolicy:
    """What :func:`riskboard.assessment.engine.score` needs, and nothing else.

    Clauses are the factors, then the limits, in the policy's order. Columns of the table are the bands, best first,
    then ``unknown``, ``out_of_force`` and ``waived``.

    Attributes:
        comparisons: Every measure with its edges.
        edges: (edges, 1) bounds, clause by clause within each comparison.
        edge_starts: First edge row of each clause, in the order of ``by_edges``.
        by_edges: (clauses,) place of each clause among those starts.
        edge_counts: (clauses, 1) number of edges.
        clause_measure: (clauses,) position in ``measures``.
        clause_condition: (clauses,) position in ``conditions``.
        points: (clauses * width,) table of points, flat.
        floors: (clauses * width,) table of level floors, flat.
        row_offsets: (clauses, 1) where each clause's row of the table begins.
        parts_starts: First row of each combination in ``part_edges``.
        part_edges: Edge row of each part of each combination; -1 is a row that is nowhere within.
        part_measures: For each part, position in ``measures``; -1 for the row that is nowhere within.
    """

    names: tuple[str, ...]
    factors: int
    limits: int
    measures: tuple[str, ...]
    guards: tuple[Guard, ...]
    conditions: tuple[Condition, ...]
    comparisons: tuple[Comparison, ...]
    edges: NDArray[np.float64]
    edge_starts: NDArray[np.intp]
    by_edges: NDArray[np.intp]
    edge_counts: NDArray[np.int8]
    clause_measure: NDArray[np.intp]
    clause_condition: NDArray[np.intp]
    points: NDArray[np.int16]
    floors: NDArray[np.int8]
    row_offsets: NDArray[np.intp]
    unknown: int
    out_of_force: int
    waived: int
    group_rows: tuple[NDArray[np.intp], ...]
    limit_names: tuple[str, ...]
    combinations: int
    combination_groups: NDArray[np.intp]
    combination_points: NDArray[np.int16]
    combination_floors: NDArray[np.int8]
    combination_unknown_floors: NDArray[np.int8]
    combination_condition: NDArray[np.intp]
    part_starts: NDArray[np.intp]
    part_edges: NDArray[np.intp]
    part_measures: NDArray[np.intp]
    mitigations: tuple[str, ...]
    mitigation_off: tuple[NDArray[np.intp], ...]
    mitigation_most: tuple[int, ...]
    mitigation_needs: tuple[Condition, ...]
    ceilings: tuple[tuple[int, int, int], ...]
    level_bounds: tuple[int, ...]
    decisions: NDArray[np.int8]


@dataclass(frozen=True)
class _Edges:
    """Edges that one clause or one part of a combination puts on a measure."""

    owner: int
    measure: str
    ascending: bool
    bounds: tuple[float, ...]


def _condition(when: When) -> Condition:
    return tuple(sorted(when.items()))


def _unknown_floor(policy: Policy, choice: IfUnknown) -> int:
    return policy.no_go_floor if choice == "no_go" else policy.sign_off_floor


def _floor(policy: Policy, name: str | None) -> int:
    return 0 if name is None else policy.level_index(name)


def _factor_edges(position: int, factor: Factor) -> _Edges:
    bounds = tuple(band.bound for band in factor.bands if band.bound is not None)
    return _Edges(position, factor.measure, factor.ascending, bounds)


def _limit_edges(position: int, limit: Limit) -> _Edges:
    bound = limit.up_to if limit.up_to is not None else limit.at_least
    if bound is None:
        raise ValueError(f"limit {limit.name} has no bound")
    return _Edges(position, limit.measure, limit.up_to is not None, (bound,))


def _part_edges(policy: Policy, first: int, directions: Mapping[str, Direction]) -> list[_Edges]:
    parts = [part for combination in policy.combinations for part in combination.all_of]
    return [
        _Edges(first + i, part.measure, directions[part.measure] is Direction.higher, (part.beyond,))
        for i, part in enumerate(parts)
    ]


def _row(policy: Policy, clause: Factor | Limit, width: int) -> tuple[list[int], list[int]]:
    """Points and floors of one clause by column: bands, padding, unknown, out of force, waived."""
    if isinstance(clause, Limit):
        stop = policy.no_go_floor
        floors = [0, stop] + [0] * (width - 5) + [stop, 0, policy.sign_off_floor]
        return [0] * width, floors
    points = [band.points for band in clause.bands]
    floors = [_floor(policy, band.floor) for band in clause.bands]
    padding = [0] * (width - 3 - len(points))
    worst_floor = max(_unknown_floor(policy, clause.if_unknown), *floors)
    return [*points, *padding, max(points), 0, 0], [*floors, *padding, worst_floor, 0, 0]


def _parts(
    combinations: Sequence[Combination], edge_row: Mapping[int, int], rows: int, first: int
) -> tuple[list[int], list[int]]:
    """Start of each combination among the parts, and the edge row of each part.

    Every combination also gets one part that is nowhere within: it is never surely false, and so a combination of
    guards alone needs no case of its own.
    """
    starts: list[int] = []
    edges: list[int] = []
    part = first
    for combination in combinations:
        starts.append(len(edges))
        edges.append(rows)
        for _ in combination.all_of:
            edges.append(edge_row[part])
            part += 1
    return starts, edges


def _positions(names: Iterable[str]) -> dict[str, int]:
    return {name: i for i, name in enumerate(names)}


def _comparisons(ordered: Sequence[_Edges]) -> tuple[Comparison, ...]:
    found: list[Comparison] = []
    row = 0
    for edges in ordered:
        end = row + len(edges.bounds)
        if found and (found[-1].measure, found[-1].ascending) == (edges.measure, edges.ascending):
            found[-1] = Comparison(edges.measure, edges.ascending, found[-1].start, end)
        else:
            found.append(Comparison(edges.measure, edges.ascending, row, end))
        row = end
    return tuple(found)


def _most_points(policy: Policy) -> int:
    most = sum(max(band.points for band in factor.bands) for factor in policy.factors)
    return most + sum(combination.points for combination in policy.combinations)


def compile_policy(policy: Policy, directions: Mapping[str, Direction]) -> CompiledPolicy:
    """Compile a checked policy.

    Args:
        policy: From the loader, which has proved what the engine relies on.
        directions: Measure name -> direction in which it gets worse.

    Returns:
        The compiled policy.

    Raises:
        ValueError: The points of the policy can add up to more than ``MOST_POINTS``.
    """
    if _most_points(policy) > MOST_POINTS:
        raise ValueError(f"the points of this policy can add up to {_most_points(policy)}; at most {MOST_POINTS}")
    clauses: list[Factor | Limit] = [*policy.factors, *policy.limits]
    edges = [_factor_edges(i, f) for i, f in enumerate(policy.factors)]
    edges += [_limit_edges(len(policy.factors) + i, limit) for i, limit in enumerate(policy.limits)]
    edges += _part_edges(policy, len(clauses), directions)
    ordered = sorted(edges, key=lambda e: (e.measure, e.ascending, e.owner))
    starts = np.cumsum([0, *(len(e.bounds) for e in ordered)], dtype=np.intp)
    edge_row = {e.owner: int(starts[i]) for i, e in enumerate(ordered)}
    place = {e.owner: i for i, e in enumerate(ordered)}

    measures = tuple(sorted({e.measure for e in edges}))
    at = _positions(measures)
    conditions = tuple(dict.fromkeys([(), *(_condition(c.when) for c in (*clauses, *policy.combinations))]))
    condition_at = {condition: i for i, condition in enumerate(conditions)}
    words = {word for condition in conditions for word, _ in condition}
    words |= {word for mitigation in policy.mitigations for word in mitigation.needs}

    bands = max([len(factor.bands) for factor in policy.factors] + [2])
    width = bands + 3
    table = [_row(policy, clause, width) for clause in clauses]
    part_starts, part_edges = _parts(policy.combinations, edge_row, int(starts[-1]), len(clauses))
    measure_of_row = {int(starts[i]): at[e.measure] for i, e in enumerate(ordered)}
    factor_at = _positions(factor.name for factor in policy.factors)
    return CompiledPolicy(
        names=tuple(c.name for c in (*clauses, *policy.combinations)),
        factors=len(policy.factors),
        limits=len(policy.limits),
        measures=measures,
        guards=tuple(sorted(words)),
        conditions=conditions,
        comparisons=_comparisons(ordered),
        edges=np.array([bound for e in ordered for bound in e.bounds], np.float64)[:, None],
        edge_starts=starts[:-1],
        by_edges=np.array([place[i] for i in range(len(clauses))], np.intp),
        edge_counts=np.array([len(e.bounds) for e in edges[: len(clauses)]], np.int8)[:, None],
        clause_measure=np.array([at[clause.measure] for clause in clauses], np.intp),
        clause_condition=np.array([condition_at[_condition(clause.when)] for clause in clauses], np.intp),
        points=np.array([row[0] for row in table], np.int16).ravel(),
        floors=np.array([row[1] for row in table], np.int8).ravel(),
        row_offsets=np.arange(len(clauses), dtype=np.intp)[:, None] * width,
        unknown=bands,
        out_of_force=bands + 1,
        waived=bands + 2,
        group_rows=tuple(
            np.array([i for i, factor in enumerate(policy.factors) if factor.group is group], np.intp)
            for group in GROUPS
        ),
        limit_names=tuple(limit.name for limit in policy.limits),
        combinations=len(policy.combinations),
        combination_groups=np.array([GROUPS.index(c.group) for c in policy.combinations], np.intp),
        combination_points=np.array([c.points for c in policy.combinations], np.int16)[:, None],
        combination_floors=np.array([_floor(policy, c.floor) for c in policy.combinations], np.int8)[:, None],
        combination_unknown_floors=np.array(
            [_unknown_floor(policy, c.if_unknown) for c in policy.combinations], np.int8
        )[:, None],
        combination_condition=np.array([condition_at[_condition(c.when)] for c in policy.combinations], np.intp),
        part_starts=np.array(part_starts, np.intp),
        part_edges=np.array(part_edges, np.intp),
        part_measures=np.array([measure_of_row.get(row, len(measures)) for row in part_edges], np.intp),
        mitigations=tuple(mitigation.name for mitigation in policy.mitigations),
        mitigation_off=tuple(np.array([factor_at[name] for name in m.off], np.intp) for m in policy.mitigations),
        mitigation_most=tuple(mitigation.at_most for mitigation in policy.mitigations),
        mitigation_needs=tuple(_condition(mitigation.needs) for mitigation in policy.mitigations),
        ceilings=tuple((GROUPS.index(c.group), c.up_to, policy.level_index(c.floor)) for c in policy.group_ceilings),
        level_bounds=tuple(level.up_to for level in policy.levels if level.up_to is not None),
        decisions=np.array([int(level.decision) for level in policy.levels], np.int8),
    )
