"""``riskboard policy``: what a safety officer does with a policy file before it is published."""

import json
from argparse import Namespace
from pathlib import Path

from riskboard.assessment.clauses import clauses_in_words, policy_in_words
from riskboard.cli.refusals import refusals
from riskboard.cli.status import Status
from riskboard.cli.text import say, say_json, wrapped
from riskboard.jobs.files import read_policy_file
from riskboard.policy import Policy

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


def explain(options: Namespace) -> Status:
    """Say in plain sentences what every clause does."""
    policy = _read(options)
    for line in policy_in_words(policy):
        say(wrapped(line, rest="    "))
    for clause in clauses_in_words(policy):
        group = f", {clause.group}" if clause.group else ""
        say()
        say(f"{clause.name} ({clause.kind}{group})")
        for text in (clause.sentence, f"Why: {clause.why}", f"Source: {clause.source}"):
            say(wrapped(text, first="    ", rest="    "))
    return Status.fine
