"""What the shipped policies say beside their decisions: every input and every way out has its words, none a number."""

import re
from dataclasses import fields

import pytest

from riskboard.assessment.clauses import alternatives_in_words
from riskboard.assessment.robustness import Errors
from riskboard.assessment.ways_out import Kind
from riskboard.jobs.files import shipped_book
from riskboard.policy.model import Policy
from riskboard.policy.schema import ERROR_INPUTS, WAYS_OUT

POLICIES = shipped_book().policies


def test_the_words_of_the_language_are_those_of_the_assessment() -> None:
    assert tuple(each.name for each in fields(Errors)) == ERROR_INPUTS
    assert tuple(kind.value for kind in Kind) == WAYS_OUT


@pytest.mark.parametrize("policy", POLICIES, ids=lambda policy: policy.id)
def test_the_shipped_policies_state_what_is_usual_and_price_every_way_out(policy: Policy) -> None:
    """The errors that the schools are shipped with are the usual ones; a longer flight is another plan."""
    usual, stated = Errors().given(), {error.name: error for error in policy.alternatives.errors}
    assert {*stated} == {*usual} - {"landing_at_min"}
    for name, error in stated.items():
        share = error.size / 100.0 if error.relative else error.size
        assert share == pytest.approx(usual[name].size), name
        assert error.relative == usual[name].relative, name
    assert {cost.name for cost in policy.alternatives.ways_out} == {*WAYS_OUT}
    assert policy.alternatives.when_no is not None


@pytest.mark.parametrize("policy", POLICIES, ids=lambda policy: policy.id)
def test_whom_to_call_is_a_role_and_no_number(policy: Policy) -> None:
    said = policy.alternatives.when_no
    assert said is not None
    assert not re.search(r"[0-9]", said.call + said.tell_customer)


def test_a_student_alone_has_a_higher_bar() -> None:
    bars = {policy.id: policy.alternatives.fragile_below_pct for policy in POLICIES}
    assert bars == {"rotor-school-vfr": 90, "student-solo": 95}


@pytest.mark.parametrize("policy", POLICIES, ids=lambda policy: policy.id)
def test_explained_with_why_and_source(policy: Policy) -> None:
    said = {clause.name: clause for clause in alternatives_in_words(policy)}
    assert "is called fragile" in said["fragile_below_pct"].sentence
    assert said["errors.visibility_sm"].sentence == "visibility_sm may be off by 10 % of its value."
    assert all(clause.why and clause.source for clause in said.values())
