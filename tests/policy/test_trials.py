"""Trials with a small assessment of the tests' own: which changes of a policy would anybody notice?"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from riskboard.policy.check_tests import changed
from riskboard.policy.model import Policy
from riskboard.policy.mutants import mutants
from riskboard.policy.trials import Outcome, run_cases, run_tests, run_trials
from riskboard.words import Decision, Guard
from tests.assessment.oracle import Flight, judge
from tests.policy.measures import REGISTRY
from tests.policy.samples import GOOD, good, read

DIRECTIONS = {name: measure.worse for name, measure in REGISTRY.items()}


def assess(policy: Policy, worksheet: Mapping[str, Any], but: Mapping[str, Any]) -> Outcome:
    """The oracle on measures that are invented from two entries; everything else is known and fine."""
    data = changed(worksheet, but)
    gust, wind = data["weather"]["gust_kt"], data["weather"]["wind_kt"]
    if gust == 666:
        raise ValueError("this gust is refused")
    measures = {
        "gust_kt_spread": 0.0 if gust == "none" else None if gust is None else float(gust - wind),
        "fuel_spare_min": 30.0,
        "moon_pct": 90.0,
        "night_gap_d": 3.0,
        "type_h": float(data["pilot"]["hours_in_type_h"]),
        "slept_h": 8.0,
        "load_arm_in": 100.0,
        "defects": 0.0,
    }
    guards = dict.fromkeys(Guard, False)
    flight = Flight(measures, guards)
    verdict = judge(policy, flight, DIRECTIONS)
    because = verdict.limits_hit | verdict.unknown
    for factor in policy.factors:
        if factor.name == "gusts" and (measures["gust_kt_spread"] or 0) > 7:
            because = because | {"gusts"}
    return Outcome(verdict.decision, policy.levels[verdict.level].name, frozenset(because))


def test_cases_and_tests_of_the_good_policy_hold() -> None:
    report = run_trials(good(), assess, REGISTRY)
    assert report.cases == 7 + 5 + 5 + 5 + 3 + 3
    assert report.case_problems == ()
    assert [test.name for test in report.tests] == ["A calm morning goes", "A gusty one needs a signature"]
    assert report.passed
    assert report.tests[1].line == good().tests[1].line


def test_a_wrong_case_is_told() -> None:
    policy = good()
    gusts = replace(policy.factors[0], cases=((8.0, 5), (None, "sign_off")))
    wrong = replace(policy, factors=(gusts, *policy.factors[1:]))
    assert run_cases(wrong, REGISTRY) == (
        "gusts: expected 5 for 8 kt, got 2",
        "gusts: expected sign_off for unknown, got no_go",
    )
    report = run_trials(wrong, assess, REGISTRY)
    assert not report.passed
    assert report.unnoticed == ()


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        (
            "{decision: go, level: fine, accepted_by: [pilot]}",
            "{decision: no_go}",
            "expected no_go, got go at level fine",
        ),
        (
            "{decision: go, level: fine, accepted_by: [pilot]}",
            "{decision: go, because: [arm]}",
            "expected arm among the reasons",
        ),
        (
            "accepted_by: [pilot]}\n  - name",
            "accepted_by: [dispatcher]}\n  - name",
            "expected accepted by dispatcher, got pilot",
        ),
        ("{gust_kt: 29}", "{gust_kt: 100}", ""),
        ("waived_by: []", "waived_by: [chief_instructor]", "expected waived by chief_instructor, got nobody"),
        ("because: [gusts],", "level: high,", "expected level high, got watch"),
    ],
)
def test_a_test_that_does_not_hold_is_told(old: str, new: str, problem: str) -> None:
    assert GOOD.count(old) == 1
    results = run_tests(read(GOOD.replace(old, new)), assess)
    assert [text for result in results for text in result.problems] == ([problem] if problem else [])


def test_a_worksheet_that_cannot_be_assessed_fails_its_test() -> None:
    policy = good()
    odd = replace(policy, tests=(replace(policy.tests[1], but={"gust_kt": 666}),))
    (result,) = run_tests(odd, assess)
    assert result.problems == ("the worksheet cannot be assessed: this gust is refused",)


def words() -> set[str]:
    return {mutant.words for mutant in mutants(good(), REGISTRY)}


@pytest.mark.parametrize(
    "change",
    [
        "Factor gusts: dropped",
        "Factor gusts: bound of band 2 moved from 11 kt to 12 kt",
        "Factor gusts: bound of band 2 moved from 11 kt to 10 kt",
        "Factor few_hours: bound of band 2 moved from 12.5 h to 12.4 h",
        "Factor gusts: points of band 3 changed from 5 to 2",
        "Factor gusts: points of band 3 changed from 5 to 9",
        "Factor gusts: if_unknown weakened from no_go to sign_off",
        "Factor gusts: floor watch of band 4 dropped",
        "Factor tired: solo dropped from when",
        "Factor tired: when turned from solo: true to solo: false",
        "Limit fuel_reserve: dropped",
        "Limit fuel_reserve: bound moved from 0.0 min to -0.1 min",
        "Limit open_defects: waiver widened to instructor",
        "Limit open_defects: for_hire dropped from when",
        "Combination dark night: dropped",
        "Combination dark night: bound of moon_pct moved from 20 % to 19 %",
        "Combination dark night: night_gap_d dropped from all_of",
        "Combination dark night: points lowered from 6 to 5",
        "Combination dark night: floor watch dropped",
        "Combination first solo: if_unknown weakened from no_go to sign_off",
        "Mitigation current instructor aboard: at_most raised from 4 to 5",
        "Mitigation current instructor aboard: instructor_aboard dropped from needs",
        "Level fine: up_to raised from 8 to 9",
        "Level watch: accepted_by widened to instructor",
        "Level watch: up_to lowered from 14 to 13",
        "Level high: decision turned from go_with_sign_off to no_go",
        "Ceiling of group pilot: up_to raised from 8 to 9",
        "Ceiling of group pilot: floor weakened from high to watch",
        "Ceiling of group pilot: dropped",
        "weather_age_max_min: raised from 60 to 61 min",
    ],
)
def test_changes_are_tried(change: str) -> None:
    assert change in words()


def test_every_change_is_one() -> None:
    policy = good()
    assert all(mutant.policy != policy for mutant in mutants(policy, REGISTRY))
    assert len(words()) == len(list(mutants(policy, REGISTRY)))


def test_what_nobody_would_notice_is_listed_and_the_rest_is_not() -> None:
    report = run_trials(good(), assess, REGISTRY)
    unnoticed = set(report.words)
    # No case looks at who may waive, and no test at the moon: nobody would notice.
    assert "Limit open_defects: waiver widened to instructor" in unnoticed
    assert "Combination dark night: dropped" in unnoticed
    assert "Limit fuel_reserve: dropped" in unnoticed
    # The clauses' own cases notice these ...
    assert "Factor gusts: bound of band 2 moved from 11 kt to 12 kt" not in unnoticed
    assert "Factor gusts: if_unknown weakened from no_go to sign_off" not in unnoticed
    # ... a test this one ...
    assert "Factor gusts: dropped" not in unnoticed
    assert "Level fine: accepted_by widened to instructor" not in unnoticed
    # ... and this one the loader would refuse: a regulation has no waiver, so it is not even tried.
    assert not any("fuel_reserve: waiver" in word for word in unnoticed)
    total = len(list(mutants(good(), REGISTRY)))
    assert report.refused + report.noticed_by_cases + report.noticed_by_tests + len(report.unnoticed) == total
    noticed = report.noticed_by_cases + report.noticed_by_tests
    assert report.share_noticed == pytest.approx(noticed / (noticed + len(unnoticed)))
    assert 0.3 < report.share_noticed < 0.9
    assert report.noticed_by_tests > 0


def test_another_test_makes_more_changes_noticed() -> None:
    before = run_trials(good(), assess, REGISTRY)
    more = read(
        GOOD + "  - name: Few hours alone still go\n    given: {worksheet: calm_morning, but: {hours_in_type_h: 5}}\n"
        "    expect: {decision: go, level: fine}\n"
        "  - name: Gusts and few hours do not\n"
        "    given: {worksheet: calm_morning, but: {hours_in_type_h: 5, gust_kt: 16}}\n"
        "    expect: {decision: go_with_sign_off, level: watch, accepted_by: [dispatcher, chief_instructor]}\n"
    )
    after = run_trials(more, assess, REGISTRY)
    assert after.passed, after.tests
    assert after.share_noticed > before.share_noticed
    assert "Level watch: accepted_by widened to instructor" in before.words
    assert "Level watch: accepted_by widened to instructor" not in after.words


def test_an_unknown_is_noticed_as_no_go() -> None:
    text = GOOD.replace(
        "{gust_kt: 29}}\n    expect: {decision: go_with_sign_off,", "{gust_kt: null}}\n    expect: {decision: no_go,"
    )
    results = run_tests(read(text), assess)
    assert results[1].passed
    assert read(text).tests[1].decision is Decision.no_go
