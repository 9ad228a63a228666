"""Static proofs over a whole policy: levels in order and reachable, ceilings, mitigations, names and sizes.

Every check yields findings and none raises, so that one load shows everything there is to mend.
"""

from collections.abc import Iterator, Mapping

from riskboard.measures.registry import Measure
from riskboard.policy.alternatives import alternatives_findings
from riskboard.policy.check_clauses import (
    combination_findings,
    direction_findings,
    factor_findings,
    floor_findings,
    ladder_findings,
    limit_findings,
)
from riskboard.policy.check_levels import level_findings, reach_findings
from riskboard.policy.check_tests import test_findings
from riskboard.policy.finding import Finding, Path, Scope
from riskboard.policy.model import Factor, Mitigation, Policy
from riskboard.policy.read import listed, suggestion
from riskboard.policy.schema import MAX_CLAUSES, MAX_LIMITS
from riskboard.words import Group, Guard
from riskboard.worksheet.columns import column_fields

__all__ = ["check_policy", "check_published"]

WHOLE = Scope()

PRACTICE = frozenset(
    {
        "total_helicopter_h",
        "hours_in_type_h",
        "hours_last_90_days_h",
        "last_flight_in_type_on",
        "last_night_flight_on",
        "exercise_last_flown_on",
    }
)
"""Worksheet entries that an instructor at the second set of controls can make up for. A closed list: what is not on it,
above all fatigue, health, weather and an instructor's own limits for a student, is not covered by anybody aboard."""
FLIGHT_TIMES = frozenset({"take_off_at", "landing_at", "time_zone"})


def check_policy(
    policy: Policy,
    registry: Mapping[str, Measure],
    scope: Scope = WHOLE,
    only: tuple[str, str] | None = None,
) -> Iterator[Finding]:
    """Everything that must hold in a policy.

    Args:
        policy: The policy, possibly without the clauses that could not be read.
        registry: Measures by name; every measure the policy names is in it.
        scope: What could not be read.
        only: Section and name of the one thing that differs from a policy already proved: what concerns other clauses
            alone is not looked at again.

    Yields:
        What does not hold.
    """
    yield from _head_findings(policy)
    yield from alternatives_findings(policy)
    yield from _size_findings(policy, scope)
    yield from _name_findings(policy)
    for factor in policy.factors:
        if only in {None, ("factors", factor.name)}:
            yield from factor_findings(policy, factor, registry[factor.measure], levels=scope.levels)
    for limit in policy.limits:
        if only in {None, ("limits", limit.name)}:
            yield from limit_findings(limit, registry[limit.measure])
    for combination in policy.combinations:
        if only in {None, ("combinations", combination.name)}:
            yield from combination_findings(policy, combination, registry, levels=scope.levels)
    yield from _mitigation_findings(policy, scope)
    yield from _worth_findings(policy, registry, scope)
    if scope.levels:
        yield from level_findings(policy.levels)
        for ceiling in policy.group_ceilings:
            yield from floor_findings(policy, ("group_ceilings", ceiling.group, "else"), ceiling.floor)
        if not scope.broken:
            yield from reach_findings(policy)
        yield from test_findings(policy, scope)


def check_published(policy: Policy, registry: Mapping[str, Measure], scope: Scope = WHOLE) -> Iterator[Finding]:
    """What scoring and signing rely on, in a policy that was proved as a whole when it was published.

    Names are unique, bounds in order, levels too, from go to no_go and with somebody who may accept; floors and
    mitigations name what there is, and no factor twice; a part of a combination has a worse end. What the policy says
    of itself (reasons, sources, cases, tests), and what only a new policy must meet, is not looked at.

    Args:
        policy: As for :func:`check_policy`.
        registry: Measures by name; every measure the policy names is in it.
        scope: What could not be read.

    Yields:
        What does not hold.
    """
    yield from alternatives_findings(policy)
    yield from _size_findings(policy, scope)
    yield from _name_findings(policy)
    for factor in policy.factors:
        yield from ladder_findings(factor)
        for position, band in enumerate(factor.bands if scope.levels else ()):
            yield from floor_findings(policy, ("factors", factor.name, "bands", position, "floor"), band.floor)
    for combination in policy.combinations:
        yield from direction_findings(combination, registry)
        if scope.levels:
            yield from floor_findings(policy, ("combinations", combination.name, "floor"), combination.floor)
    yield from _mitigation_findings(policy, scope)
    if scope.levels:
        yield from level_findings(policy.levels)
        for ceiling in policy.group_ceilings:
            yield from floor_findings(policy, ("group_ceilings", ceiling.group, "else"), ceiling.floor)


def _head_findings(policy: Policy) -> Iterator[Finding]:
    start = policy.effective_from.date()
    if policy.review_by <= start:
        message = f"review_by {policy.review_by} is not after effective_from {start}; allowed: a later day"
        yield Finding(("review_by",), message, str(policy.review_by), f"after {start}")


def _size_findings(policy: Policy, scope: Scope) -> Iterator[Finding]:
    if len(policy.limits) > MAX_LIMITS:
        message = f"{len(policy.limits)} limits; at most {MAX_LIMITS} are allowed"
        yield Finding(("limits",), message, str(len(policy.limits)), str(MAX_LIMITS), at_key=True)
    clauses = len(policy.factors) + len(policy.limits) + len(policy.combinations) + len(policy.mitigations)
    clauses += len(scope.broken)
    if clauses > MAX_CLAUSES:
        message = f"{clauses} clauses; at most {MAX_CLAUSES} are allowed"
        yield Finding((), message, str(clauses), str(MAX_CLAUSES))


def _name_findings(policy: Policy) -> Iterator[Finding]:
    seen: dict[str, str] = {}
    named = [("factors", clause.name) for clause in policy.factors]
    named += [("limits", clause.name) for clause in policy.limits]
    named += [("combinations", clause.name) for clause in policy.combinations]
    named += [("mitigations", clause.name) for clause in policy.mitigations]
    for section, name in named:
        if name in seen:
            message = f"the name {name!r} is already used under {seen[name]}; every clause has a name of its own"
            mapped = section in {"factors", "limits"}
            path: Path = (section, name) if mapped else (section, name, "name")
            yield Finding(path, message, name, "another name", at_key=mapped)
        else:
            seen[name] = section


def _mitigation_findings(policy: Policy, scope: Scope) -> Iterator[Finding]:
    """A mitigation names factors only, and no factor is named by two."""
    factors = {factor.name: factor for factor in policy.factors}
    others = {clause.name: "limit" for clause in policy.limits}
    others |= {clause.name: "combination" for clause in policy.combinations}
    taken: dict[str, str] = {}
    for mitigation in policy.mitigations:
        path: Path = ("mitigations", mitigation.name)
        for position, name in enumerate(mitigation.off):
            here: Path = (*path, "off", position)
            if name in others:
                message = f"{name} is a {others[name]}; a mitigation takes points off factors only"
                yield Finding(here, message, name, listed(factors))
            elif name not in factors and name not in scope.broken:
                yield Finding(here, f"{name!r} is no factor; {suggestion(name, factors)}", name, listed(factors))
            if name in taken:
                message = (
                    f"{name} is already named by the mitigation {taken[name]!r}: two could take its points off "
                    "twice, so that a worse measure scores better; allowed: one mitigation a factor"
                )
                yield Finding(here, message, name, "one mitigation a factor")
            taken[name] = mitigation.name


def _worth_findings(policy: Policy, registry: Mapping[str, Measure], scope: Scope) -> Iterator[Finding]:
    """A mitigation takes off no more than there can be, and an instructor aboard only what practice gives."""
    factors = {factor.name: factor for factor in policy.factors}
    for mitigation in policy.mitigations:
        named = [factors[name] for name in mitigation.off if name in factors]
        if not scope.broken & set(mitigation.off):
            yield from _amount_findings(mitigation, named)
        if Guard.instructor_aboard in mitigation.needs:
            yield from _instructor_findings(mitigation, registry, factors)


def _amount_findings(mitigation: Mitigation, named: list[Factor]) -> Iterator[Finding]:
    most = sum(_most(factor) for factor in named)
    if mitigation.at_most > most:
        message = f"at_most {mitigation.at_most} is more than the {most} points its factors can give"
        path: Path = ("mitigations", mitigation.name, "at_most")
        yield Finding(path, message, str(mitigation.at_most), f"1 to {most}")


def _most(factor: Factor) -> int:
    return max(band.points for band in factor.bands)


def _instructor_findings(
    mitigation: Mitigation, registry: Mapping[str, Measure], factors: Mapping[str, Factor]
) -> Iterator[Finding]:
    """An instructor aboard makes up for a pilot's skill only: in helicopters the dual lesson carries most accidents."""
    allowed = (
        "factors of group pilot on hours and days since, never on fatigue, health, weather or an instructor's limits"
    )
    for position, name in enumerate(mitigation.off):
        if name not in factors:
            continue
        factor = factors[name]
        measure = registry[factor.measure]
        here: Path = ("mitigations", mitigation.name, "off", position)
        if factor.group is not Group.pilot or measure.group is not Group.pilot:
            group = factor.group if factor.group is not Group.pilot else measure.group
            message = f"an instructor aboard cannot make up for {name}, which is of group {group}; allowed: {allowed}"
            yield Finding(here, message, name, allowed)
        elif not _is_practice(factor.measure, registry):
            message = f"an instructor aboard cannot make up for {name}: it is no skill of the pilot; allowed: {allowed}"
            yield Finding(here, message, name, allowed)


def _is_practice(name: str, registry: Mapping[str, Measure]) -> bool:
    """Whether a measure rests on the pilot's experience and practice, and on nothing else but when the flight is."""
    fields: set[str] = set()
    waiting, seen = [name], set()
    while waiting:
        need = waiting.pop()
        if need in registry and need not in seen:
            waiting += registry[need].needs
        elif need in column_fields():
            fields.add(column_fields()[need])
        seen.add(need)
    return bool(fields & PRACTICE) and fields <= PRACTICE | FLIGHT_TIMES
