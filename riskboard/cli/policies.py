"""``riskboard policy``: what a safety officer does with a policy file before it is published."""

import json
from argparse import Namespace
from pathlib import Path

from riskboard.aircraft_types.shipped import shipped_types
from riskboard.assessment.clauses import alternatives_in_words, clauses_in_words, policy_in_words
from riskboard.assessment.trial import PolicyTrials
from riskboard.cli.refusals import refusals
from riskboard.cli.status import Status
from riskboard.cli.text import say, say_json, wrapped
from riskboard.jobs.files import read_policy_file, read_type_file
from riskboard.policy import Policy
from riskboard.policy.json_schema import policy_json_schema
from riskboard.policy.trials import run_trials

__all__ = ["check", "explain", "schema", "test"]


def _read(options: Namespace) -> Policy:
    with refusals():
        return read_policy_file(Path(options.file), bases=[Path(base) for base in options.base])


def check(options: Namespace) -> Status:
    """Check a policy file; every problem is reported with its place."""
    policy = _read(options)
    clauses = len(policy.factors) + len(policy.limits) + len(policy.combinations) + len(policy.mitigations)
    say(f"{policy.id} version {policy.version} is sound: {clauses} clauses, {len(policy.tests)} tests.")
    say(f"digest {policy.digest}")
    return Status.fine


def test(options: Namespace) -> Status:
    """Run cases and tests, and list the small changes that none of them would notice."""
    policy = _read(options)
    with refusals():
        types = [*shipped_types(), *(read_type_file(Path(file)) for file in options.types)]
        trials = PolicyTrials(policy, types)
    report = run_trials(policy, trials)
    for problem in report.case_problems:
        say(f"case: {problem}")
    for result in report.tests:
        for problem in result.problems:
            say(f"test {result.name!r} (line {result.line}): {problem}")
    failed = sum(not result.passed for result in report.tests)
    say(f"{report.cases} cases, {len(report.case_problems)} wrong; {len(report.tests)} tests, {failed} failed.")
    if not report.passed:
        say("Small changes were not tried: first mend the above.")
        return Status.found
    noticed = report.noticed_by_cases + report.noticed_by_tests
    say(
        f"{noticed} small changes noticed ({report.noticed_by_cases} by cases, {report.noticed_by_tests} by tests), "
        f"{report.refused} refused at load, {len(report.unnoticed)} not noticed by anything"
        + (":" if report.unnoticed else ".")
    )
    for words in report.words:
        say(wrapped(words, first="  ", rest="    "))
    return Status.found if report.unnoticed and options.strict else Status.fine


def explain(options: Namespace) -> Status:
    """Say in plain sentences what every clause does."""
    policy = _read(options)
    for line in policy_in_words(policy):
        say(wrapped(line, rest="    "))
    for clause in (*clauses_in_words(policy), *alternatives_in_words(policy)):
        group = f", {clause.group}" if clause.group else ""
        say()
        say(f"{clause.name} ({clause.kind}{group})")
        for text in (clause.sentence, f"Why: {clause.why}", f"Source: {clause.source}"):
            say(wrapped(text, first="    ", rest="    "))
    return Status.fine


def schema(_: Namespace) -> Status:
    """Print the JSON Schema of policy files."""
    say_json(json.dumps(policy_json_schema(), indent=2, ensure_ascii=False))
    return Status.fine
