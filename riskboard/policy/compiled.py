"""A policy as the engine reads it: positions instead of names, and for every clause what being within an edge saves.

A factor or a limit is a *clause*: ordered edges on one measure, best first, each inclusive on its better side. How many
edges a value is within says which band it is in. The table says, band by band, how many points that gives and which
level it puts a floor under; an unknown, a clause out of force and a waived limit have columns of their own. The engine
starts at the last band and takes off a *step* for every edge the value is within: the table, differenced.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from riskboard.policy.model import Combination, Factor, IfUnknown, Limit, Policy, When
from riskboard.policy.sections import Bits, ChapterType, Clause, Part, Sections, apart, bits_of, together
from riskboard.words import Direction, Group, Guard

__all__ = ["GROUPS", "CompiledPolicy", "Condition", "compile_policy"]

GROUPS = tuple(Group)
Condition = tuple[tuple[Guard, bool], ...]
"""Guard words with the truth they need, sorted: a clause is out of force when one of them is surely otherwise."""

MOST_POINTS = 30_000
"""Highest possible total; keeps sums of points exact in 16 bits."""


@dataclass(frozen=True, eq=False)
class CompiledPolicy:
    """What :func:`riskboard.assessment.engine.score` needs, and nothing else.

    Clauses are the factors, then the limits, in the policy's order. Columns of the table are the bands, best first,
    then ``unknown``, ``out_of_force`` and ``waived``. Points of factors are added up in chapters: factors of one group,
    as many as the narrow whole numbers of a chapter can hold.

    Attributes:
        names: Clauses, then combinations: the order of the bit set of unknowns.
        conditions: The first one always holds.
        clauses: The factors, then the limits.
        parts: Parts of all combinations.
        points: (clauses * width,) table of points, flat.
        floors: (clauses * width,) table of level floors, flat.
        row_offsets: (clauses, 1) where each clause's row of the table begins.
        chapters: Chapters of each group.
        chapter_type: Whole numbers that hold the points of any chapter.
        all_bits: (bytes, 1) the bits of all clauses and combinations.
        limit_bits: (bytes, 1) the bits of all limits.
        unknown_floors: (level, (bytes, 1) bits of the clauses and combinations whose unknown puts a floor under it).
        combination_bits: Where the combinations stand in the bit set of unknowns.
        combination_rows: Combinations of each group.
    """

    names: tuple[str, ...]
    factors: int
    limits: int
    measures: tuple[str, ...]
    guards: tuple[Guard, ...]
    conditions: tuple[Condition, ...]
    clauses: tuple[Clause, ...]
    parts: tuple[Part, ...]
    points: NDArray[np.int16]
    floors: NDArray[np.int8]
    row_offsets: NDArray[np.intp]
    unknown: int
    out_of_force: int
    waived: int
    chapters: tuple[slice, ...]
    chapter_type: ChapterType
    all_bits: NDArray[np.uint8]
    limit_bits: NDArray[np.uint8]
    unknown_floors: tuple[tuple[int, NDArray[np.uint8]], ...]
    no_go_floor: int
    sign_off_floor: int
    limit_names: tuple[str, ...]
    combinations: int
    combination_rows: tuple[NDArray[np.intp], ...]
    combination_points: NDArray[np.int16]
    combination_floors: NDArray[np.uint8]
    combination_conditions: NDArray[np.intp]
    combination_bits: Bits
    mitigations: tuple[str, ...]
    mitigation_off: tuple[NDArray[np.intp], ...]
    mitigation_most: tuple[int, ...]
    mitigation_needs: tuple[Condition, ...]
    ceilings: tuple[tuple[int, int, int], ...]
    level_bounds: tuple[int, ...]
    decisions: NDArray[np.int8]

    @cached_property
    def together(self) -> Sections:
        """The clauses in as few sections as can be, for few rows."""
        return together(self.clauses[: self.factors], self.clauses[self.factors :], self.parts, self.chapter_type)

    @cached_property
    def apart(self) -> Sections:
        """The clauses in sections of one each, for many rows."""
        return apart(self.clauses[: self.factors], self.clauses[self.factors :], self.parts, self.chapter_type)


def _condition(when: When) -> Condition:
    return tuple(sorted(when.items()))


def _unknown_floor(policy: Policy, choice: IfUnknown) -> int:
    return policy.no_go_floor if choice == "no_go" else policy.sign_off_floor


def _floor(policy: Policy, name: str | None) -> int:
    return 0 if name is None else policy.level_index(name)


def _most(factor: Factor) -> int:
    return max(band.points for band in factor.bands)


def _factor(policy: Policy, place: int, factor: Factor, condition: int, chapter: int) -> Clause:
    return Clause(
        factor.name,
        place,
        factor.measure,
        factor.ascending,
        tuple(band.bound for band in factor.bands if band.bound is not None),
        tuple(band.points for band in factor.bands),
        tuple(_floor(policy, band.floor) for band in factor.bands),
        _most(factor),
        condition,
        chapter,
    )


def _limit(policy: Policy, place: int, limit: Limit, condition: int) -> Clause:
    bound = limit.up_to if limit.up_to is not None else limit.at_least
    if bound is None:
        raise ValueError(f"limit {limit.name} has no bound")
    ascending = limit.up_to is not None
    return Clause(
        limit.name, place, limit.measure, ascending, (bound,), (0, 0), (0, policy.no_go_floor), 0, condition, 0
    )


def _parts(policy: Policy, directions: Mapping[str, Direction]) -> tuple[Part, ...]:
    return tuple(
        Part(part.measure, directions[part.measure] is Direction.higher, (part.beyond,), place, layer)
        for place, combination in enumerate(policy.combinations)
        for layer, part in enumerate(combination.all_of)
    )


def _chapters(policy: Policy, cell: ChapterType) -> tuple[dict[str, int], tuple[slice, ...]]:
    """The chapter of each factor, and the chapters of each group."""
    most, last = int(np.iinfo(cell).max), -1
    found: dict[str, int] = {}
    spans = []
    for group in GROUPS:
        first, held = last + 1, 0
        for factor in policy.factors:
            if factor.group is group:
                if last < first or held + _most(factor) > most:
                    last, held = last + 1, 0
                held += _most(factor)
                found[factor.name] = last
        spans.append(slice(first, last + 1))
    return found, tuple(spans)


def _clauses(policy: Policy, condition_at: Mapping[Condition, int], chapters: Mapping[str, int]) -> tuple[Clause, ...]:
    found = [
        _factor(policy, i, factor, condition_at[_condition(factor.when)], chapters[factor.name])
        for i, factor in enumerate(policy.factors)
    ]
    found += [
        _limit(policy, len(policy.factors) + i, limit, condition_at[_condition(limit.when)])
        for i, limit in enumerate(policy.limits)
    ]
    return tuple(found)


def _row(clause: Clause, unknown_floor: int, waived_floor: int, width: int) -> tuple[list[int], list[int]]:
    """Points and floors of one clause by column: bands, padding, unknown, out of force, waived."""
    padding = [0] * (width - 3 - len(clause.points))
    points = [*clause.points, *padding, clause.worst_points, 0, 0]
    return points, [*clause.floors, *padding, unknown_floor, 0, waived_floor]


def _unknown_floors(policy: Policy) -> tuple[int, ...]:
    """The level that each clause and each combination puts a floor under when it is unknown."""
    floors = [
        max([_unknown_floor(policy, f.if_unknown), *(_floor(policy, band.floor) for band in f.bands)])
        for f in policy.factors
    ]
    floors += [policy.no_go_floor] * len(policy.limits)
    return (*floors, *(_unknown_floor(policy, combination.if_unknown) for combination in policy.combinations))


def _bit_set(flags: Iterable[bool]) -> NDArray[np.uint8]:
    return np.packbits(np.array(list(flags), np.bool_))[:, None]


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
    most = sum(_most(factor) for factor in policy.factors) + sum(c.points for c in policy.combinations)
    if most > MOST_POINTS:
        raise ValueError(f"the points of this policy can add up to {most}; at most {MOST_POINTS}")
    small = all(_most(factor) <= np.iinfo(np.uint8).max for factor in policy.factors)
    cell: ChapterType = np.uint8 if small else np.int16
    chapters, spans = _chapters(policy, cell)

    guarded: tuple[Factor | Limit | Combination, ...] = (*policy.factors, *policy.limits, *policy.combinations)
    conditions = tuple(dict.fromkeys([(), *(_condition(one.when) for one in guarded)]))
    condition_at = {condition: i for i, condition in enumerate(conditions)}
    words = {word for condition in conditions for word, _ in condition}
    words |= {word for mitigation in policy.mitigations for word in mitigation.needs}

    clauses, parts = _clauses(policy, condition_at, chapters), _parts(policy, directions)
    bands = max([len(clause.points) for clause in clauses] + [2])
    width = bands + 3
    unknown_floors = _unknown_floors(policy)
    names = tuple(one.name for one in guarded)
    waived_floors = [0] * len(policy.factors) + [policy.sign_off_floor] * len(policy.limits)
    table = [
        _row(clause, unknown, waived, width)
        for clause, unknown, waived in zip(clauses, unknown_floors, waived_floors, strict=False)
    ]
    factor_at = {factor.name: i for i, factor in enumerate(policy.factors)}
    return CompiledPolicy(
        names=names,
        factors=len(policy.factors),
        limits=len(policy.limits),
        measures=tuple(sorted({clause.measure for clause in clauses} | {part.measure for part in parts})),
        guards=tuple(sorted(words)),
        conditions=conditions,
        clauses=clauses,
        parts=parts,
        points=np.array([row[0] for row in table], np.int16).ravel(),
        floors=np.array([row[1] for row in table], np.int8).ravel(),
        row_offsets=np.arange(len(clauses), dtype=np.intp)[:, None] * width,
        unknown=bands,
        out_of_force=bands + 1,
        waived=bands + 2,
        chapters=spans,
        chapter_type=cell,
        all_bits=_bit_set([True] * len(names)),
        limit_bits=_bit_set([True] * len(policy.limits)),
        unknown_floors=tuple(
            (level, _bit_set(floor == level for floor in unknown_floors)) for level in sorted(set(unknown_floors))
        ),
        no_go_floor=policy.no_go_floor,
        sign_off_floor=policy.sign_off_floor,
        limit_names=tuple(limit.name for limit in policy.limits),
        combinations=len(policy.combinations),
        combination_rows=tuple(
            np.array([i for i, one in enumerate(policy.combinations) if one.group is group], np.intp)
            for group in GROUPS
        ),
        combination_points=np.array([c.points for c in policy.combinations], np.int16)[:, None],
        combination_floors=np.array([_floor(policy, c.floor) for c in policy.combinations], np.uint8)[:, None],
        combination_conditions=np.array([condition_at[_condition(c.when)] for c in policy.combinations], np.intp),
        combination_bits=bits_of(len(clauses), len(names)),
        mitigations=tuple(mitigation.name for mitigation in policy.mitigations),
        mitigation_off=tuple(np.array([factor_at[name] for name in m.off], np.intp) for m in policy.mitigations),
        mitigation_most=tuple(mitigation.at_most for mitigation in policy.mitigations),
        mitigation_needs=tuple(_condition(mitigation.needs) for mitigation in policy.mitigations),
        ceilings=tuple((GROUPS.index(c.group), c.up_to, policy.level_index(c.floor)) for c in policy.group_ceilings),
        level_bounds=tuple(level.up_to for level in policy.levels if level.up_to is not None),
        decisions=np.array([int(level.decision) for level in policy.levels], np.int8),
    )
