"""A policy as the engine reads it: positions instead of names, edges, and integer steps.

A factor's points are written as ``worst - sum(step[i] where within edge[i])``. A comparison with NaN is false, so an
unknown is within no edge and takes the worst band's points by itself; nothing has to remember to check.
"""

import itertools
from collections.abc import Mapping
from dataclasses import dataclass

from riskboard.policy.model import Combination, Factor, IfUnknown, Limit, Mitigation, Policy, When
from riskboard.words import Direction, Group, Guard

__all__ = [
    "GROUPS",
    "CompiledCombination",
    "CompiledFactor",
    "CompiledLimit",
    "CompiledMitigation",
    "CompiledPolicy",
    "Condition",
    "compile_policy",
]

GROUPS = tuple(Group)
Condition = tuple[tuple[Guard, bool], ...]
"""Guard words with the truth they need, sorted: a clause is out of force when one of them is surely otherwise."""


@dataclass(frozen=True)
class CompiledFactor:
    """One factor. ``edges`` are best first; ``within`` means ``<=`` when ascending, ``>=`` otherwise.

    Attributes:
        worst: Points outside every edge, which is also where an unknown lands.
        steps: Points saved by being within each edge.
        unknown_extra: What an unknown scores above ``worst``; 0 unless the factor is non-monotone.
        floors: (edge position, level) pairs: beyond that edge the level is at least that.
        unknown_floor: Level floor of an unknown.
    """

    name: str
    measure: str
    group: int
    ascending: bool
    edges: tuple[float, ...]
    steps: tuple[int, ...]
    worst: int
    unknown_extra: int
    floors: tuple[tuple[int, int], ...]
    unknown_floor: int
    condition: Condition
    keep_points: bool


@dataclass(frozen=True)
class CompiledLimit:
    """One hard limit: passes only when known and within."""

    name: str
    measure: str
    ascending: bool
    bound: float
    condition: Condition


@dataclass(frozen=True)
class CompiledCombination:
    """One combination; ``parts`` are (measure, ascending, bound), surely false when known and within the bound."""

    name: str
    group: int
    parts: tuple[tuple[str, bool, float], ...]
    points: int
    floor: int
    unknown_floor: int
    condition: Condition


@dataclass(frozen=True)
class CompiledMitigation:
    """One mitigation; ``off`` are positions in ``factors``."""

    name: str
    off: tuple[int, ...]
    at_most: int
    needs: Condition


@dataclass(frozen=True)
class CompiledPolicy:
    """What :func:`riskboard.assessment.engine.score` needs, and nothing else."""

    factors: tuple[CompiledFactor, ...]
    limits: tuple[CompiledLimit, ...]
    combinations: tuple[CompiledCombination, ...]
    mitigations: tuple[CompiledMitigation, ...]
    ceilings: tuple[tuple[int, int, int], ...]
    level_bounds: tuple[int, ...]
    decisions: tuple[int, ...]
    sign_off_floor: int
    no_go_floor: int
    measures: tuple[str, ...]
    guards: tuple[Guard, ...]
    most_points: int


def _condition(when: When) -> Condition:
    return tuple(sorted(when.items()))


def _unknown_floor(policy: Policy, choice: IfUnknown) -> int:
    return policy.no_go_floor if choice == "no_go" else policy.sign_off_floor


def _floor(policy: Policy, name: str | None) -> int:
    return 0 if name is None else policy.level_index(name)


def _factor(policy: Policy, factor: Factor, named: frozenset[str]) -> CompiledFactor:
    points = [band.points for band in factor.bands]
    levels = [_floor(policy, band.floor) for band in factor.bands]
    return CompiledFactor(
        name=factor.name,
        measure=factor.measure,
        group=GROUPS.index(factor.group),
        ascending=factor.ascending,
        edges=tuple(band.bound for band in factor.bands if band.bound is not None),
        steps=tuple(worse - better for better, worse in itertools.pairwise(points)),
        worst=points[-1],
        unknown_extra=max(points) - points[-1],
        floors=tuple((i, level) for i, (before, level) in enumerate(itertools.pairwise(levels)) if level > before)
        + (((-1, levels[0]),) if levels[0] else ()),
        unknown_floor=max([_unknown_floor(policy, factor.if_unknown), *levels]),
        condition=_condition(factor.when),
        keep_points=factor.name in named,
    )


def _limit(limit: Limit) -> CompiledLimit:
    bound = limit.up_to if limit.up_to is not None else limit.at_least
    if bound is None:
        raise ValueError(f"limit {limit.name} has no bound")
    return CompiledLimit(limit.name, limit.measure, limit.up_to is not None, bound, _condition(limit.when))


def _combination(policy: Policy, combination: Combination, directions: Mapping[str, Direction]) -> CompiledCombination:
    return CompiledCombination(
        name=combination.name,
        group=GROUPS.index(combination.group),
        parts=tuple(
            (part.measure, directions[part.measure] is Direction.higher, part.beyond) for part in combination.all_of
        ),
        points=combination.points,
        floor=_floor(policy, combination.floor),
        unknown_floor=_unknown_floor(policy, combination.if_unknown),
        condition=_condition(combination.when),
    )


def _mitigation(policy: Policy, mitigation: Mitigation) -> CompiledMitigation:
    position = {factor.name: i for i, factor in enumerate(policy.factors)}
    return CompiledMitigation(
        mitigation.name,
        tuple(position[name] for name in mitigation.off),
        mitigation.at_most,
        _condition(mitigation.needs),
    )


def compile_policy(policy: Policy, directions: Mapping[str, Direction]) -> CompiledPolicy:
    """Compile a checked policy.

    Args:
        policy: From the loader, which has proved what the engine relies on.
        directions: Measure name -> direction in which it gets worse.

    Returns:
        The compiled policy.
    """
    named = frozenset(name for mitigation in policy.mitigations for name in mitigation.off)
    whens = [c.when for c in policy.factors] + [c.when for c in policy.limits] + [c.when for c in policy.combinations]
    guards = {word for when in whens for word in when} | {word for m in policy.mitigations for word in m.needs}
    measures = {f.measure for f in policy.factors} | {limit.measure for limit in policy.limits}
    measures |= {part.measure for c in policy.combinations for part in c.all_of}
    return CompiledPolicy(
        factors=tuple(_factor(policy, factor, named) for factor in policy.factors),
        limits=tuple(_limit(limit) for limit in policy.limits),
        combinations=tuple(_combination(policy, combination, directions) for combination in policy.combinations),
        mitigations=tuple(_mitigation(policy, mitigation) for mitigation in policy.mitigations),
        ceilings=tuple((GROUPS.index(c.group), c.up_to, policy.level_index(c.floor)) for c in policy.group_ceilings),
        level_bounds=tuple(level.up_to for level in policy.levels if level.up_to is not None),
        decisions=tuple(int(level.decision) for level in policy.levels),
        sign_off_floor=policy.sign_off_floor,
        no_go_floor=policy.no_go_floor,
        measures=tuple(sorted(measures)),
        guards=tuple(sorted(guards)),
        most_points=sum(max(b.points for b in f.bands) for f in policy.factors)
        + sum(c.points for c in policy.combinations),
    )
