"""A policy as the engine reads it: positions instead of names, edges in layers, and a table to look answers up in.

A factor or a limit is a *clause*: ordered edges on one measure, best first, each inclusive on its better side. How many
edges a value is within says which band it is in. Band by band, the table says how many points that gives and which
level it puts a floor under. An unknown, and a clause out of force, have columns of their own: nothing is a special case
once the column is known.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from riskboard.policy.model import Factor, IfUnknown, Limit, Policy, When
from riskboard.words import Direction, Group, Guard

__all__ = ["GROUPS", "Comparison", "CompiledPolicy", "Condition", "compile_policy"]

GROUPS = tuple(Group)
Condition = tuple[tuple[Guard, bool], ...]
"""Guard words with the truth they need, sorted: a clause is out of force when one of them is surely otherwise."""

MOST_POINTS = 30_000
"""Highest possible total; keeps sums of points exact in 16 bits."""


@dataclass(frozen=True, eq=False)
class Comparison:
    """The edges that one clause, or one part of a combination, puts on a measure.

    Attributes:
        measure: The measure.
        ascending: Within means at most the edge; otherwise at least.
        edges: (k, 1) bounds, best first.
        first: Layer of the first edge.
        place: Place in each layer.
    """

    measure: str
    ascending: bool
    edges: NDArray[np.float64]
    first: int
    place: int


@dataclass(frozen=True, eq=False)
class CompiledPolicy:
    """What :func:`riskboard.assessment.engine.score` needs, and nothing else.

    Clauses are the factors, then the limits, in the policy's order. Columns of the table are the bands, best first,
    then ``unknown``, ``out_of_force`` and ``waived``.

    Attributes:
        clause_edges: Edges of each clause: the k-th edge of every clause lies in layer k.
        edge_counts: (clauses, 1) number of edges.
        layers: Most edges of any clause.
        clause_measure: (clauses,) position in ``measures``.
        clause_condition: (clauses,) position in ``conditions``.
        points: (clauses * width,) table of points, flat.
        floors: (clauses * width,) table of level floors, flat.
        row_offsets: (clauses, 1) where each clause's row of the table begins.
        part_edges: Edges of each part of each combination: the k-th part of every combination lies in layer k.
        part_measures: (layers of parts, combinations) position in ``measures``; the number of measures where there is
            no part.
    """

    names: tuple[str, ...]
    factors: int
    limits: int
    measures: tuple[str, ...]
    guards: tuple[Guard, ...]
    conditions: tuple[Condition, ...]
    clause_edges: tuple[Comparison, ...]
    edge_counts: NDArray[np.int8]
    layers: int
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
    part_edges: tuple[Comparison, ...]
    part_measures: NDArray[np.intp]
    mitigations: tuple[str, ...]
    mitigation_off: tuple[NDArray[np.intp], ...]
    mitigation_most: tuple[int, ...]
    mitigation_needs: tuple[Condition, ...]
    ceilings: tuple[tuple[int, int, int], ...]
    level_bounds: tuple[int, ...]
    decisions: NDArray[np.int8]


def _condition(when: When) -> Condition:
    return tuple(sorted(when.items()))


def _unknown_floor(policy: Policy, choice: IfUnknown) -> int:
    return policy.no_go_floor if choice == "no_go" else policy.sign_off_floor


def _floor(policy: Policy, name: str | None) -> int:
    return 0 if name is None else policy.level_index(name)


def _comparison(measure: str, bounds: Sequence[float], *, ascending: bool, first: int, place: int) -> Comparison:
    return Comparison(measure, ascending, np.array(bounds, np.float64)[:, None], first, place)


def _factor_edges(place: int, factor: Factor) -> Comparison:
    bounds = [band.bound for band in factor.bands if band.bound is not None]
    return _comparison(factor.measure, bounds, ascending=factor.ascending, first=0, place=place)


def _limit_edges(place: int, limit: Limit) -> Comparison:
    bound = limit.up_to if limit.up_to is not None else limit.at_least
    if bound is None:
        raise ValueError(f"limit {limit.name} has no bound")
    return _comparison(limit.measure, [bound], ascending=limit.up_to is not None, first=0, place=place)


def _part_edges(policy: Policy, directions: Mapping[str, Direction]) -> tuple[Comparison, ...]:
    return tuple(
        _comparison(
            part.measure,
            [part.beyond],
            ascending=directions[part.measure] is Direction.higher,
            first=layer,
            place=place,
        )
        for place, combination in enumerate(policy.combinations)
        for layer, part in enumerate(combination.all_of)
    )


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


def _positions(names: Iterable[str]) -> dict[str, int]:
    return {name: i for i, name in enumerate(names)}


def _part_measures(parts: Sequence[Comparison], combinations: int, at: Mapping[str, int]) -> NDArray[np.intp]:
    layers = max([part.first + 1 for part in parts], default=1)
    found = np.full((layers, combinations), len(at), np.intp)
    for part in parts:
        found[part.first, part.place] = at[part.measure]
    return found


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
    parts = _part_edges(policy, directions)

    measures = tuple(sorted({one.measure for one in (*edges, *parts)}))
    at = _positions(measures)
    conditions = tuple(dict.fromkeys([(), *(_condition(c.when) for c in (*clauses, *policy.combinations))]))
    condition_at = {condition: i for i, condition in enumerate(conditions)}
    words = {word for condition in conditions for word, _ in condition}
    words |= {word for mitigation in policy.mitigations for word in mitigation.needs}

    bands = max([len(factor.bands) for factor in policy.factors] + [2])
    width = bands + 3
    table = [_row(policy, clause, width) for clause in clauses]
    factor_at = _positions(factor.name for factor in policy.factors)
    return CompiledPolicy(
        names=tuple(c.name for c in (*clauses, *policy.combinations)),
        factors=len(policy.factors),
        limits=len(policy.limits),
        measures=measures,
        guards=tuple(sorted(words)),
        conditions=conditions,
        clause_edges=tuple(edges),
        edge_counts=np.array([len(one.edges) for one in edges], np.int8)[:, None],
        layers=max([len(one.edges) for one in edges], default=1),
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
        part_edges=parts,
        part_measures=_part_measures(parts, len(policy.combinations), at),
        mitigations=tuple(mitigation.name for mitigation in policy.mitigations),
        mitigation_off=tuple(np.array([factor_at[name] for name in m.off], np.intp) for m in policy.mitigations),
        mitigation_most=tuple(mitigation.at_most for mitigation in policy.mitigations),
        mitigation_needs=tuple(_condition(mitigation.needs) for mitigation in policy.mitigations),
        ceilings=tuple((GROUPS.index(c.group), c.up_to, policy.level_index(c.floor)) for c in policy.group_ceilings),
        level_bounds=tuple(level.up_to for level in policy.levels if level.up_to is not None),
        decisions=np.array([int(level.decision) for level in policy.levels], np.int8),
    )
