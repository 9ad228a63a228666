"""A policy that extends another may only tighten it. The result is one flat policy.

What "tighten" means, clause by clause: levels keep their names, order and decisions, their ``up_to``, ``valid_min`` and
``accepted_by`` only shrink, as does the margin until a flight is overdue. Errors of entries and costs of ways out only
grow. Group ceilings only get lower, their floors
only worse. A restated factor, limit or combination is at least as severe for every value and for an unknown
(``severity.py``), with the same group and guards. New ones may be added, none removed. Mitigations are removed or
lowered, never added. Therefore, for any facts, every argument of the engine's maximum is at least what it was.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, Protocol, TypeVar

from riskboard.measures.registry import Measure
from riskboard.policy.alternatives import merged_alternatives, tightened_alternatives
from riskboard.policy.build import Parts
from riskboard.policy.finding import Finding
from riskboard.policy.model import Ceiling, Level, Policy, PolicyTest
from riskboard.policy.read import Entry, listed, suggestion
from riskboard.policy.severity import (
    ceiling_looser,
    combination_looser,
    factor_looser,
    level_looser,
    limit_looser,
    mitigation_looser,
)
from riskboard.words import Decision, Role

__all__ = ["Flat", "flatten"]


class _Named(Protocol):
    @property
    def name(self) -> str: ...


_Clause = TypeVar("_Clause", bound=_Named)


@dataclass(frozen=True)
class Flat:
    """The merged policy, not yet proved as a whole, and where it is looser than its parent."""

    policy: Policy
    findings: tuple[Finding, ...]


def flatten(parent: Policy, own: Parts, root: Entry, registry: Mapping[str, Measure]) -> Flat:
    """Merge what an extension states over the policy it extends.

    Args:
        parent: The flat policy that is extended.
        own: What the extension states itself.
        root: The extension as read.
        registry: Measures by name.
    """
    levels, level_findings = _levels(parent.levels, own.level_entries)
    removed = tuple(root.get("without_mitigations", ()))
    left_out = tuple(root.get("without_tests", ()))
    policy = replace(
        parent,
        weather_age_max_min=root.get("weather_age_max_min") or parent.weather_age_max_min,
        overdue_margin_min=own.overdue_margin_min or parent.overdue_margin_min,
        overdue_steps=own.overdue_steps or parent.overdue_steps,
        alternatives=merged_alternatives(parent.alternatives, own),
        levels=levels,
        group_ceilings=_merged_ceilings(parent.group_ceilings, own.group_ceilings),
        factors=_merged(parent.factors, own.factors),
        limits=_merged(parent.limits, own.limits),
        combinations=_merged(parent.combinations, own.combinations),
        mitigations=tuple(m for m in _merged(parent.mitigations, own.mitigations) if m.name not in removed),
        worksheets={**own.worksheets, **parent.worksheets},
        tests=_merged(tuple(test for test in parent.tests if test.name not in left_out), own.tests),
    )
    findings = [
        *_head(parent, root),
        *_overdue(parent, own),
        *tightened_alternatives(parent.alternatives, own),
        *level_findings,
        *_clauses(parent, own, registry),
        *_mitigations(parent, own, removed),
        *_tests(parent, own, left_out),
    ]
    return Flat(policy, tuple(findings))


def _merged(old: tuple[_Clause, ...], new: tuple[_Clause, ...]) -> tuple[_Clause, ...]:
    """The old clauses in their order, restated ones in place, then the added ones."""
    stated = {clause.name: clause for clause in new}
    known = {clause.name for clause in old}
    return tuple(stated.get(clause.name, clause) for clause in old) + tuple(c for c in new if c.name not in known)


def _merged_ceilings(old: tuple[Ceiling, ...], new: tuple[Ceiling, ...]) -> tuple[Ceiling, ...]:
    stated = {ceiling.group: ceiling for ceiling in new}
    known = {ceiling.group for ceiling in old}
    return tuple(stated.get(c.group, c) for c in old) + tuple(c for c in new if c.group not in known)


def _head(parent: Policy, root: Entry) -> Iterator[Finding]:
    age = root.get("weather_age_max_min")
    if isinstance(age, int) and age > parent.weather_age_max_min:
        allowed = f"1 to {parent.weather_age_max_min}"
        message = f"weather_age_max_min {age} lets older weather count than before; allowed: {allowed}"
        yield Finding(("weather_age_max_min",), message, str(age), allowed)
    review, start = root.get("review_by"), root.get("effective_from")
    if isinstance(review, date) and review > parent.review_by:
        message = f"review_by {review} is later than that of the extended policy; allowed: up to {parent.review_by}"
        yield Finding(("review_by",), message, str(review), f"up to {parent.review_by}")
    if isinstance(start, datetime) and start < parent.effective_from:
        allowed = f"from {parent.effective_from:%Y-%m-%dT%H:%MZ}"
        message = f"effective_from is before the extended policy is in force; allowed: {allowed}"
        yield Finding(("effective_from",), message, f"{start:%Y-%m-%dT%H:%MZ}", allowed)


def _overdue(parent: Policy, own: Parts) -> Iterator[Finding]:
    margin, most = own.overdue_margin_min, parent.overdue_margin_min
    if margin is not None and margin > most:
        message = f"margin_min {margin} looks for a late flight later than before; allowed: at most {most}"
        yield Finding(("overdue", "margin_min"), message, str(margin), f"at most {most}")


def _levels(levels: tuple[Level, ...], entries: tuple[Entry, ...]) -> tuple[tuple[Level, ...], list[Finding]]:
    merged = {level.name: level for level in levels}
    before = dict(merged)
    findings = []
    for entry in entries:
        name = entry.get("name")
        if entry.broken:
            continue
        if name not in merged:
            message = f"{name!r} is no level of the extended policy; {suggestion(name, merged)}"
            findings.append(Finding(("levels", name, "name"), message, name, listed(merged)))
            continue
        merged[name] = _level(before[name], entry)
        findings += level_looser(before[name], merged[name])
    return tuple(merged.values()), findings


def _level(old: Level, entry: Entry) -> Level:
    roles = {Role(word) for word in entry.get("accepted_by", old.accepted_by)}
    return Level(
        old.name,
        entry.get("up_to", old.up_to),
        Decision[entry.get("decision", old.decision.name)],
        tuple(role for role in Role if role in roles),
        entry.get("valid_min", old.valid_min),
    )


def _clauses(parent: Policy, own: Parts, registry: Mapping[str, Measure]) -> Iterator[Finding]:
    def restated(old: Iterable[_Clause], new: Iterable[_Clause], looser: Callable[..., Any]) -> Iterator[Finding]:
        before = {clause.name: clause for clause in old}
        for clause in new:
            if clause.name in before:
                yield from looser(before[clause.name], clause)

    levels = parent.levels
    ceilings = {ceiling.group: ceiling for ceiling in parent.group_ceilings}
    for ceiling in own.group_ceilings:
        if ceiling.group in ceilings:
            yield from ceiling_looser(ceilings[ceiling.group], ceiling, levels)
    yield from restated(
        parent.factors, own.factors, lambda old, new: factor_looser(old, new, registry[old.measure], levels)
    )
    yield from restated(parent.limits, own.limits, lambda old, new: limit_looser(old, new, registry[old.measure]))
    yield from restated(
        parent.combinations, own.combinations, lambda old, new: combination_looser(old, new, registry, levels)
    )


def _mitigations(parent: Policy, own: Parts, removed: tuple[str, ...]) -> Iterator[Finding]:
    before = {mitigation.name: mitigation for mitigation in parent.mitigations}
    for mitigation in own.mitigations:
        if mitigation.name in before:
            yield from mitigation_looser(before[mitigation.name], mitigation)
        else:
            message = (
                f"{mitigation.name!r} is no mitigation of the extended policy, and an extension adds none; "
                f"{suggestion(mitigation.name, before) if before else 'allowed: none'}"
            )
            yield Finding(("mitigations", mitigation.name, "name"), message, mitigation.name, listed(before))
    for position, name in enumerate(removed):
        if name not in before:
            message = f"{name!r} is no mitigation of the extended policy; {suggestion(name, before)}"
            yield Finding(("without_mitigations", position), message, name, listed(before))


def _tests(parent: Policy, own: Parts, left_out: tuple[str, ...]) -> Iterator[Finding]:
    for name in own.worksheets:
        if name in parent.worksheets:
            message = f"the worksheet {name!r} is given by the extended policy; allowed: another name"
            yield Finding(("worksheets", name), message, name, "another name", at_key=True)
    before = {test.name: test for test in parent.tests}
    for position, name in enumerate(left_out):
        if name not in before:
            message = f"{name!r} is no test of the extended policy; {suggestion(name, before)}"
            yield Finding(("without_tests", position), message, name, listed(before))
    for test in own.tests:
        if test.name in before:
            yield from _test(before[test.name], test)


def _test(old: PolicyTest, new: PolicyTest) -> Iterator[Finding]:
    if (old.worksheet, dict(old.but)) != (new.worksheet, dict(new.but)):
        message = "a restated test keeps its `given`; allowed: the same flight, or another name for the test"
        yield Finding(("tests", new.name, "given"), message, "", "the same given")
    if new.decision < old.decision:
        message = f"the test expected {old.decision.name} before; allowed: {old.decision.name} or worse"
        yield Finding(("tests", new.name, "expect", "decision"), message, new.decision.name, old.decision.name)
