"""Would anybody notice? Runs a policy's cases and tests, and then the same against small changes of the policy.

This module does not score. How a worksheet is assessed is handed in: the policy language stays below the engine.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from riskboard.measures.registry import MEASURES, Measure, load_all
from riskboard.policy.checks import check_policy
from riskboard.policy.evaluate import case_result, spoken
from riskboard.policy.finding import Finding
from riskboard.policy.model import Factor, Limit, Policy, PolicyTest
from riskboard.policy.mutants import Mutant, mutants
from riskboard.words import Decision, Role

__all__ = ["Assess", "Outcome", "TestResult", "TrialReport", "run_cases", "run_tests", "run_trials"]


@dataclass(frozen=True)
class Outcome:
    """What came out for one worksheet: the decision, the level's name, and the clauses among the reasons."""

    decision: Decision
    level: str
    because: frozenset[str]


Assess = Callable[[Policy, Mapping[str, Any], Mapping[str, Any]], Outcome]
"""``assess(policy, worksheet, but)``: plain data of a base worksheet with ``decided_at``, and entries to replace."""


@dataclass(frozen=True)
class TestResult:
    """One test of a policy. ``problems`` is empty when it passed; each is a sentence."""

    __test__ = False  # not a test of this program

    name: str
    problems: tuple[str, ...]
    line: int

    @property
    def passed(self) -> bool:
        """Everything came out as expected."""
        return not self.problems


@dataclass(frozen=True)
class TrialReport:
    """What the trials showed.

    Attributes:
        cases: How many cases were run.
        case_problems: Cases that do not give what they expect, as sentences.
        tests: Result of each test.
        noticed_by_cases: How many changes a case noticed.
        noticed_by_tests: How many changes only a test noticed.
        refused: How many changes the loader would refuse, so that nothing else need notice them.
        unnoticed: The changes that no case or test would notice.
    """

    cases: int
    case_problems: tuple[str, ...]
    tests: tuple[TestResult, ...]
    noticed_by_cases: int
    noticed_by_tests: int
    refused: int
    unnoticed: tuple[Mutant, ...]

    @property
    def passed(self) -> bool:
        """All cases and tests came out as expected."""
        return not self.case_problems and all(test.passed for test in self.tests)

    @property
    def share_noticed(self) -> float:
        """Part of the loadable changes that was noticed, 0 to 1; 1 when there was none."""
        noticed = self.noticed_by_cases + self.noticed_by_tests
        total = noticed + len(self.unnoticed)
        return noticed / total if total else 1.0

    @property
    def words(self) -> tuple[str, ...]:
        """The changes that nobody would notice, as sentences."""
        return tuple(mutant.words for mutant in self.unnoticed)


def run_cases(policy: Policy, registry: Mapping[str, Measure] | None = None) -> tuple[str, ...]:
    """Evaluate every case of every clause.

    Returns:
        A sentence for each that does not give what it expects.
    """
    known = _registry(registry)
    found = []
    clauses: list[Factor | Limit] = [*policy.factors, *policy.limits]
    for clause in clauses:
        measure = known[clause.measure]
        for value, expected in clause.cases:
            given = case_result(clause, measure, value)
            if given != expected:
                what = "unknown" if value is None else spoken(measure, value)
                found.append(f"{clause.name}: expected {expected} for {what}, got {given}")
    return tuple(found)


def run_tests(policy: Policy, assess: Assess) -> tuple[TestResult, ...]:
    """Run every test of a policy."""
    return tuple(TestResult(test.name, _problems(policy, test, assess), test.line) for test in policy.tests)


def _problems(policy: Policy, test: PolicyTest, assess: Assess) -> tuple[str, ...]:
    try:
        outcome = assess(policy, policy.worksheets[test.worksheet], test.but)
    except ValueError as error:
        return (f"the worksheet cannot be assessed: {error}",)
    found = []
    if outcome.decision is not test.decision:
        found.append(f"expected {test.decision.name}, got {outcome.decision.name} at level {outcome.level}")
    if test.level is not None and outcome.level != test.level:
        found.append(f"expected level {test.level}, got {outcome.level}")
    found += [f"expected {name} among the reasons" for name in test.because if name not in outcome.because]
    accepting = policy.levels[policy.level_index(outcome.level)].accepted_by
    found += _roles("accepted by", test.accepted_by, accepting)
    found += _roles("waived by", test.waived_by, _waiving(policy, outcome))
    return tuple(found)


def _waiving(policy: Policy, outcome: Outcome) -> tuple[Role, ...]:
    """Roles that may waive every limit among the reasons; nobody when there is none."""
    hit = [limit for limit in policy.limits if limit.name in outcome.because]
    return tuple(role for role in Role if hit and all(role in limit.waiver for limit in hit))


def _roles(what: str, expected: tuple[Role, ...] | None, given: Iterable[Role]) -> list[str]:
    if expected is None or set(expected) == set(given):
        return []
    return [f"expected {what} {', '.join(expected) or 'nobody'}, got {', '.join(given) or 'nobody'}"]


def run_trials(policy: Policy, assess: Assess, registry: Mapping[str, Measure] | None = None) -> TrialReport:
    """Run cases and tests, then every small change of the policy against them.

    Args:
        policy: A checked policy.
        assess: How a worksheet is assessed under a policy.
        registry: Measures by name; the program's own where not given.

    Returns:
        What held, and which changes nobody would notice. When the policy itself fails its cases or tests, changes are
        not tried: everything would look noticed.
    """
    known = _registry(registry)
    case_problems, tests = run_cases(policy, known), run_tests(policy, assess)
    count = sum(len(clause.cases) for clause in policy.factors) + sum(len(clause.cases) for clause in policy.limits)
    if case_problems or not all(test.passed for test in tests):
        return TrialReport(count, case_problems, tests, 0, 0, 0, ())
    by_cases = by_tests = refused = 0
    unnoticed = []
    for mutant in mutants(policy, known):
        findings = _findings(mutant, known)
        if any(not finding.case for finding in findings):
            refused += 1
        elif findings:
            by_cases += 1
        elif any(_problems(mutant.policy, test, assess) for test in _likely_first(policy.tests, mutant)):
            by_tests += 1
        else:
            unnoticed.append(mutant)
    return TrialReport(count, case_problems, tests, by_cases, by_tests, refused, tuple(unnoticed))


def _registry(registry: Mapping[str, Measure] | None) -> Mapping[str, Measure]:
    if registry is None:
        load_all()
        return MEASURES
    return registry


def _likely_first(tests: tuple[PolicyTest, ...], mutant: Mutant) -> list[PolicyTest]:
    """Tests that name the changed clause first: one failing test is enough, and they fail most often."""
    return sorted(tests, key=lambda test: mutant.name not in test.because)


def _findings(mutant: Mutant, registry: Mapping[str, Measure]) -> list[Finding]:
    """What the loader would say to the change, cases included; the tests are run apart."""
    bare = replace(mutant.policy, worksheets={}, tests=())
    return list(check_policy(bare, registry, only=(mutant.section, mutant.name)))
