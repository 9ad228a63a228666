"""The slow oracle: one flight, plain Python, written from the design and the policy language, never from the engine.

It uses no arrays, no masks and no compiled form. A measure that is None is unknown.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from riskboard.policy.model import Combination, Factor, Limit, Mitigation, Policy, When
from riskboard.words import Decision, Direction, Group, Guard


@dataclass
class Verdict:
    total: int
    groups: dict[Group, int]
    level: int
    decision: Decision
    limits_hit: set[str] = field(default_factory=set)
    unknown: set[str] = field(default_factory=set)


@dataclass(frozen=True)
class Flight:
    measures: Mapping[str, float | None]
    guards: Mapping[Guard, bool | None]
    taken: frozenset[str] = frozenset()
    waived: frozenset[str] = frozenset()


def in_force(when: When, flight: Flight) -> bool:
    """A clause is out of force only when a guard is surely otherwise."""
    for word, wanted in when.items():
        truth = flight.guards[word]
        if truth is not None and truth != wanted:
            return False
    return True


def surely(needs: When, flight: Flight) -> bool:
    return all(flight.guards[word] is not None and flight.guards[word] == wanted for word, wanted in needs.items())


def band_of(factor: Factor, value: float) -> int:
    """First band, best first, whose bound the value has not passed; the bound itself belongs to the better side."""
    for position, band in enumerate(factor.bands):
        if band.bound is None:
            return position
        if factor.ascending and value <= band.bound:
            return position
        if not factor.ascending and value >= band.bound:
            return position
    raise AssertionError("the last band has no bound")


def points_of(factor: Factor, value: float | None) -> int:
    """An unknown never scores better than the worst band."""
    if value is None:
        return max(band.points for band in factor.bands)
    return factor.bands[band_of(factor, value)].points


def stops(limit: Limit, value: float | None) -> bool:
    """A limit passes only if known and within."""
    if value is None:
        return True
    if limit.up_to is not None:
        return value > limit.up_to
    assert limit.at_least is not None
    return value < limit.at_least


def holds(combination: Combination, flight: Flight, directions: Mapping[str, Direction]) -> bool:
    """Unless a part is surely false."""
    for part in combination.all_of:
        value = flight.measures[part.measure]
        if value is None:
            continue
        beyond = value > part.beyond if directions[part.measure] is Direction.higher else value < part.beyond
        if not beyond:
            return False
    return True


def taken_off(mitigation: Mitigation, policy: Policy, flight: Flight) -> int:
    if mitigation.name not in flight.taken or not surely(mitigation.needs, flight):
        return 0
    given = 0
    for factor in policy.factors:
        value = flight.measures[factor.measure]
        if factor.name in mitigation.off and in_force(factor.when, flight) and value is not None:
            given += points_of(factor, value)
    return min(given, mitigation.at_most)


def judge(policy: Policy, flight: Flight, directions: Mapping[str, Direction]) -> Verdict:  # noqa: C901, PLR0912  - one page to read
    groups = dict.fromkeys(Group, 0)
    floors = [0]
    limits_hit: set[str] = set()
    unknown: set[str] = set()
    decisions = [level.decision for level in policy.levels]
    # Where the policy has no sign-off level, the next worse thing is a no-go.
    first_sign_off = next(i for i, decision in enumerate(decisions) if decision is not Decision.go)
    first_no_go = decisions.index(Decision.no_go)
    names = [level.name for level in policy.levels]

    for factor in policy.factors:
        if not in_force(factor.when, flight):
            continue
        value = flight.measures[factor.measure]
        groups[factor.group] += points_of(factor, value)
        if value is None:
            unknown.add(factor.name)
            floors.append(first_no_go if factor.if_unknown == "no_go" else first_sign_off)
            floors += [names.index(band.floor) for band in factor.bands if band.floor is not None]
        else:
            floor = factor.bands[band_of(factor, value)].floor
            floors.append(0 if floor is None else names.index(floor))

    for limit in policy.limits:
        if not in_force(limit.when, flight):
            continue
        value = flight.measures[limit.measure]
        if value is None:
            unknown.add(limit.name)
        if not stops(limit, value):
            continue
        if limit.name in flight.waived and value is not None:
            floors.append(first_sign_off)
        else:
            limits_hit.add(limit.name)
            floors.append(first_no_go)

    for combination in policy.combinations:
        if not in_force(combination.when, flight) or not holds(combination, flight, directions):
            continue
        groups[combination.group] += combination.points
        if combination.floor is not None:
            floors.append(names.index(combination.floor))
        if any(flight.measures[part.measure] is None for part in combination.all_of):
            unknown.add(combination.name)
            floors.append(first_no_go if combination.if_unknown == "no_go" else first_sign_off)

    for ceiling in policy.group_ceilings:
        if groups[ceiling.group] > ceiling.up_to:
            floors.append(names.index(ceiling.floor))

    total = sum(groups.values()) - sum(taken_off(mitigation, policy, flight) for mitigation in policy.mitigations)
    of_total = next(i for i, level in enumerate(policy.levels) if level.up_to is None or total <= level.up_to)
    level = max(of_total, *floors)
    return Verdict(total, groups, level, policy.levels[level].decision, limits_hit, unknown)
