"""Checks of a policy's base worksheets and tests: the flights they describe are possible, the names they use exist."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from riskboard.policy.finding import Finding, Path, Scope
from riskboard.policy.model import Policy, PolicyTest
from riskboard.policy.read import listed, suggestion
from riskboard.worksheet import FIELD_PART, PARTS, clock_contradictions, partial_worksheet
from riskboard.worksheet.names import entry_names
from riskboard.worksheet.read import PartMemo

__all__ = ["changed", "test_findings"]


def test_findings(policy: Policy, scope: Scope) -> Iterator[Finding]:
    """Everything that must hold in the base worksheets and the tests."""
    sound = set()
    memo: PartMemo = {}
    known = scope.inherited
    for name, data in policy.worksheets.items():
        if known is not None and data is known.worksheets.get(name):
            sound.add(name)
            continue
        found = list(_worksheet_findings(data, ("worksheets", name), memo))
        yield from found
        if not found:
            sound.add(name)
    proved = {} if known is None else {test.name: test for test in known.tests}
    seen: set[str] = set()
    for test in policy.tests:
        if test.name in seen:
            message = f"the test {test.name!r} is given twice; every test has a name of its own"
            yield Finding(("tests", test.name, "name"), message, test.name, "another name")
        seen.add(test.name)
        yield from _one_test_findings(policy, test, scope)
        if test.worksheet in sound and test is not proved.get(test.name):
            data = changed(policy.worksheets[test.worksheet], test.but)
            for finding in _worksheet_findings(data, (), memo):
                field = str(finding.path[-1]) if finding.path else ""
                where: Path = ("tests", test.name, "given", "but", field)
                yield Finding(where, finding.message, finding.found, finding.allowed)


def changed(data: Mapping[str, Any], but: Mapping[str, Any]) -> dict[str, Any]:
    """A base worksheet's plain data with some entries replaced (None blanks one), whatever unit they were given in.

    Parts in which nothing is replaced are those of the base itself, not copies.
    """
    plain = dict(data)
    for field, value in but.items():
        part = FIELD_PART[field]
        names = entry_names(PARTS[part])
        kept = {name: old for name, old in plain.get(part, {}).items() if names[name].field != field}
        plain[part] = {**kept, field: value}
    return plain


def _worksheet_findings(data: Mapping[str, Any], path: Path, memo: PartMemo) -> Iterator[Finding]:
    sheet, problems = partial_worksheet({key: value for key, value in data.items() if key != "decided_at"}, memo=memo)
    for problem in problems:
        yield Finding((*path, *(problem.path or (problem.field,))), problem.message)
    decided_at = data["decided_at"]
    if isinstance(decided_at, datetime):
        for problem in clock_contradictions(sheet, decided_at):
            part = FIELD_PART.get(problem.field, "clocks")
            message = f"{problem.field}: {problem.message} (decided_at is {decided_at:%Y-%m-%dT%H:%MZ})"
            yield Finding((*path, part, problem.field), message)


def _one_test_findings(policy: Policy, test: PolicyTest, scope: Scope) -> Iterator[Finding]:
    path: Path = ("tests", test.name)
    if test.worksheet not in policy.worksheets:
        message = f"{test.worksheet!r} is no base worksheet; {suggestion(test.worksheet, policy.worksheets)}"
        yield Finding((*path, "given", "worksheet"), message, test.worksheet, listed(policy.worksheets))
    levels = [level.name for level in policy.levels]
    if test.level is not None and test.level not in levels:
        message = f"{test.level!r} is no level; {suggestion(test.level, levels)}"
        yield Finding((*path, "expect", "level"), message, test.level, listed(levels))
    clauses = [factor.name for factor in policy.factors]
    clauses += [limit.name for limit in policy.limits] + [combination.name for combination in policy.combinations]
    for position, name in enumerate(test.because):
        if name not in clauses and name not in scope.broken:
            message = f"{name!r} is no factor, limit or combination; {suggestion(name, clauses)}"
            yield Finding((*path, "expect", "because", position), message, name, listed(clauses))
    decisions = {level.name: level.decision for level in policy.levels}
    if test.level in decisions and decisions[test.level] is not test.decision:
        right = decisions[test.level].name
        message = f"the level {test.level} decides {right}, but the test expects {test.decision.name}"
        yield Finding((*path, "expect", "decision"), message, test.decision.name, right)
