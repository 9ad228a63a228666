"""The two policies that travel with riskboard: they load, keep their word, and their own tests would notice a slip.

What a rule asks is written here from the regulation's section, not from the policy file.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from functools import cache
from typing import Any

import pytest

from riskboard.assessment.trial import PolicyTrials
from riskboard.measures.registry import MEASURES, load_all
from riskboard.policy.load import PolicyError, load_policy
from riskboard.policy.model import Combination, Factor, Limit, Mitigation, Policy, PolicyTest
from riskboard.policy.trials import TrialReport, run_trials
from riskboard.shipped import POLICY_NAMES, policy_files
from riskboard.words import Decision, Group, Guard, Role
from riskboard.yaml_source import MAX_BYTES

SCHOOL, STUDENT = POLICY_NAMES
LEAST_NOTICED = 0.95
MOST_ROUTINE_POINTS = 8


@cache
def texts() -> Mapping[str, str]:
    return dict(policy_files())


@cache
def policy(name: str) -> Policy:
    return load_policy(texts()[name], name=name, resolve=lambda _id, _version: texts()[SCHOOL])


@cache
def report(name: str) -> TrialReport:
    return run_trials(policy(name), PolicyTrials(policy(name)))


def clauses(shown: Policy) -> list[Factor | Limit | Combination | Mitigation]:
    return [*shown.factors, *shown.limits, *shown.combinations, *shown.mitigations]


both = pytest.mark.parametrize("name", POLICY_NAMES)


def test_identities() -> None:
    assert (policy(SCHOOL).id, policy(SCHOOL).version) == ("rotor-school-vfr", 1)
    assert (policy(STUDENT).id, policy(STUDENT).version) == ("student-solo", 1)


@both
def test_cases_and_tests_hold(name: str) -> None:
    found = report(name)
    assert not found.case_problems
    assert [(test.name, test.problems) for test in found.tests if not test.passed] == []


@both
def test_small_changes_would_be_noticed(name: str) -> None:
    found = report(name)
    assert found.noticed_by_tests > 0
    assert found.share_noticed >= LEAST_NOTICED, "\n".join(found.words)


@both
def test_there_is_enough_of_everything(name: str) -> None:
    shown = policy(name)
    assert len(shown.factors) >= 38
    assert len(shown.limits) >= 24
    assert len(shown.combinations) >= 6
    assert len(shown.tests) >= 20
    assert {factor.group for factor in shown.factors} == set(Group)
    assert len(shown.text.encode()) <= MAX_BYTES


def test_mitigations_are_few_and_named() -> None:
    assert len(policy(SCHOOL).mitigations) == 8
    assert {m.name for m in policy(STUDENT).mitigations} < {m.name for m in policy(SCHOOL).mitigations}


@both
def test_levels_are_the_four_regions(name: str) -> None:
    levels = policy(name).levels
    assert [level.name for level in levels] == ["acceptable", "tolerable", "high", "intolerable"]
    assert [level.decision for level in levels] == [
        Decision.go,
        Decision.go_with_sign_off,
        Decision.go_with_sign_off,
        Decision.no_go,
    ]
    assert {ceiling.group for ceiling in policy(name).group_ceilings} == set(Group)


def test_who_accepts_what() -> None:
    assert [set(level.accepted_by) for level in policy(SCHOOL).levels] == [
        {Role.pilot},
        {Role.dispatcher, Role.instructor, Role.chief_instructor},
        {Role.chief_instructor},
        set(),
    ]
    assert Role.dispatcher not in {role for level in policy(STUDENT).levels for role in level.accepted_by}


@both
def test_every_clause_says_why_and_where_from(name: str) -> None:
    shown = policy(name)
    for clause in clauses(shown):
        assert clause.why.endswith("."), clause.name
        assert clause.why.count(". ") == 0, f"{clause.name}: one plain sentence"
        assert clause.source.text, clause.name
        assert date(2025, 1, 1) <= clause.source.checked_on <= shown.review_by, clause.name


@both
def test_no_factor_or_limit_without_cases(name: str) -> None:
    shown = policy(name)
    judged: list[Factor | Limit] = [*shown.factors, *shown.limits]
    for clause in judged:
        values = [value for value, _ in clause.cases]
        assert None in values, f"{clause.name}: no case says what an unknown gives"
        least = len(clause.bands) if isinstance(clause, Factor) else 2
        assert len([value for value in values if value is not None]) >= least, clause.name


@both
def test_nothing_is_earned_by_meeting_the_law(name: str) -> None:
    """The best band of every factor is zero points: there is trouble or none, and no credit."""
    assert {factor.bands[0].points for factor in policy(name).factors} == {0}
    assert all(factor.non_monotone is None for factor in policy(name).factors)


# Section -> measure that a limit must stand on, and the guards under which the rule binds. Read or from memory as in
# tests/reference/rules.yaml.
RULES: Mapping[str, tuple[str, Mapping[Guard, bool]]] = {
    "91.151(b)": ("fuel_margin_min", {}),
    "91.155(a)": ("visibility_margin_sm", {}),
    "91.155(a) cloud": ("cloud_clearance_margin_ft", {}),
    "91.155(c)": ("surface_ceiling_margin_ft", {}),
    "61.23": ("medical_days_left_d", {}),
    "61.56": ("flight_review_days_left_d", {}),
    "61.57(a)": ("passenger_day_days_left_d", {Guard.passengers: True}),
    "61.57(b)": ("passenger_night_days_left_d", {Guard.passengers: True, Guard.currency_night: True}),
    "61.195(a)": ("instruction_in_24h_h", {Guard.instruction: True}),
    "61.195(f)": ("instructor_type_hours_h", {Guard.instruction: True}),
    "61.197": ("instructor_days_left_d", {Guard.instruction: True}),
    "61.87(n)": ("solo_days_left_d", {Guard.student_solo: True}),
    "61.87(o)": ("solo_night_days_left_d", {Guard.student_solo: True, Guard.civil_night: True}),
    "61.89(a)(1)": ("passengers_aboard", {Guard.student_solo: True}),
    "61.89(a)(8)": ("student_wind_margin_kt", {Guard.student_solo: True}),
    "61.53(a)": ("unwell", {}),
    "91.17(a)": ("alcohol_free_h", {}),
    "91.409(a)": ("annual_days_left_d", {}),
    "91.409(b)": ("hundred_hour_left_h", {Guard.for_hire: True}),
    "91.403": ("inspection_days_left_d", {}),
    "91.403(c)": ("life_limit_hours_left_h", {}),
    "91.413": ("transponder_days_left_d", {Guard.transponder_needed: True}),
    "91.205(c)": ("night_equipment_missing", {Guard.after_sunset: True}),
    "91.7": ("grounding_defects", {}),
}
EXACT_BOUNDS = {"instruction_in_24h_h": 8, "instructor_type_hours_h": 5, "alcohol_free_h": 8}


@both
@pytest.mark.parametrize("section", RULES)
def test_the_law_is_a_limit_that_nobody_waives(name: str, section: str) -> None:
    measure, guards = RULES[section]
    stated = section.removesuffix(" cloud")
    (limit,) = (
        limit
        for limit in policy(name).limits
        if limit.measure == measure and limit.source.kind == "regulation" and stated in limit.source.text
    )
    assert dict(limit.when) == guards
    assert limit.waiver == ()
    bound = limit.at_least if limit.up_to is None else limit.up_to
    assert bound == EXACT_BOUNDS.get(measure, 0)


@both
def test_waivers_are_the_schools_own_and_the_chief_instructors(name: str) -> None:
    for limit in policy(name).limits:
        assert set(limit.waiver) <= {Role.chief_instructor}, limit.name
        assert not limit.waiver or limit.source.kind == "school", limit.name


@both
def test_what_must_not_be_averaged_away_has_a_floor(name: str) -> None:
    shown = policy(name)
    worst = {factor.name: factor.bands[-1].floor for factor in shown.factors}
    for factor in (
        "refused_today",
        "anything_else",
        "gust_spread",
        "visibility",
        "ceiling",
        "precipitation",
        "thunderstorms",
    ):
        floor = worst[factor]
        assert floor is not None, factor
        assert shown.level_index(floor) >= shown.sign_off_floor, factor


@both
def test_an_instructor_aboard_covers_skill_only(name: str) -> None:
    load_all()
    factors = {factor.name: factor for factor in policy(name).factors}
    for mitigation in policy(name).mitigations:
        if Guard.instructor_aboard in mitigation.needs:
            assert {MEASURES[factors[off].measure].group for off in mitigation.off} == {Group.pilot}
            assert not {"instructor_exercise_practice", "sleep_last_24h", "stress"} & set(mitigation.off)


def test_a_routine_flight_is_far_from_the_first_bound() -> None:
    """Calm morning: 64 h in type (1), 186 h in helicopters (1), 11.5 h in three months (1), carburettor zone 3 (3)."""
    by_name = {factor.name: factor for factor in policy(SCHOOL).factors}
    points = (
        by_name["hours_in_type"].bands[1].points
        + by_name["helicopter_hours"].bands[1].points
        + by_name["recent_hours"].bands[1].points
        + by_name["carburettor_ice"].bands[3].points
    )
    first = policy(SCHOOL).levels[0].up_to
    assert first is not None
    assert points <= MOST_ROUTINE_POINTS < first


# Flights that the school's policy lets go, or lets somebody sign, and the student's policy treats worse.
STRICTER: Mapping[str, tuple[str, Mapping[str, Any]]] = {
    "A student alone is signed for": ("student_circuits", {}),
    "Water": ("paid_ride", {"over_water": True}),
    "Nineteen knots": ("paid_ride", {"wind_kt": 19}),
    "Five and a half miles": ("student_circuits", {"visibility_sm": 5.5, "student_visibility_limit_sm": 5}),
    "Twenty-four hundred feet": (
        "student_circuits",
        {"ceiling_ft_agl": 2400, "lowest_cloud_ft_agl": 2400, "student_ceiling_limit_ft_agl": 2000},
    ),
    "Twenty-six miles out": ("student_circuits", {"distance_from_base_nm": 26, "student_area_limit_nm": 30}),
    "Nobody follows": ("student_circuits", {"flight_following": False}),
    "Five weeks away": ("student_circuits", {"last_flight_in_type_on": "2026-03-30"}),
    "Autorotations alone": ("student_circuits", {"exercise": "autorotation_power_recovery"}),
    "Strong pressure": ("student_circuits", {"pressure_felt": 4}),
}


def test_the_student_policy_is_never_better_and_often_worse() -> None:
    """Every flight of the school's own tests, under both policies; and the probes above are strictly worse."""
    school, student = policy(SCHOOL), policy(STUDENT)
    trials = PolicyTrials(school)
    levels = [level.name for level in school.levels]
    worse = 0
    for test in school.tests:
        sheet = school.worksheets[test.worksheet]
        before, after = trials(school, sheet, test.but), trials(student, sheet, test.but)
        assert levels.index(after.level) >= levels.index(before.level), test.name
        assert after.decision >= before.decision, test.name
        worse += levels.index(after.level) > levels.index(before.level)
    assert worse >= 80


@pytest.mark.parametrize("probe", STRICTER)
def test_the_student_policy_is_strictly_tighter(probe: str) -> None:
    worksheet, but = STRICTER[probe]
    asked = PolicyTest(probe, worksheet, but, Decision.go)
    school = replace(policy(SCHOOL), tests=(asked,))
    trials = PolicyTrials(school)
    sheet = school.worksheets[worksheet]
    levels = [level.name for level in school.levels]
    before, after = trials(school, sheet, but), trials(policy(STUDENT), sheet, but)
    assert levels.index(after.level) > levels.index(before.level)


def test_level_bounds_and_validity_are_lower() -> None:
    for before, after in zip(policy(SCHOOL).levels[:-1], policy(STUDENT).levels[:-1], strict=True):
        assert before.up_to is not None
        assert after.up_to is not None
        assert after.up_to < before.up_to
        assert before.valid_min is not None
        assert after.valid_min is not None
        assert after.valid_min < before.valid_min
    assert policy(STUDENT).weather_age_max_min < policy(SCHOOL).weather_age_max_min


def test_a_test_left_out_must_exist() -> None:
    text = texts()[STUDENT].replace("without_tests:\n", "without_tests:\n  - No such test\n", 1)
    with pytest.raises(PolicyError, match="'No such test' is no test of the extended policy"):
        load_policy(text, name=STUDENT, resolve=lambda _id, _version: texts()[SCHOOL])


def test_the_flat_text_of_the_student_policy_stands_alone() -> None:
    flat = policy(STUDENT)
    assert load_policy(flat.text, name="flat.yaml").digest == flat.digest
