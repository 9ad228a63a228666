"""The rule of authority, asked in every way that a page could ask it."""

from itertools import chain, combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.people.authority import (
    Ask,
    Ruling,
    acting_role,
    may_accept,
    may_accept_signed,
    may_call_off,
    may_change_fact,
    may_debrief,
    may_erase_health,
    may_export,
    may_keep_watch,
    may_manage_people,
    may_open_flight,
    may_read_health,
    may_refuse,
    may_release,
    may_report_defect,
    may_request_sign_off,
    may_run_up,
    may_see_board,
    may_see_people,
    may_sign_maintenance,
    may_sign_off,
    may_transcribe,
    may_waive,
)
from riskboard.words import Decision, Role

ROLES = st.frozensets(st.sampled_from(Role))
PEOPLE = st.sampled_from(["ana", "bo", "cy"])
NEVER_SECOND = {Role.pilot, Role.student, Role.renter}
ASKS = st.builds(
    Ask,
    person_id=PEOPLE,
    roles=ROLES,
    pilot_id=PEOPLE,
    decision=st.sampled_from(Decision),
    accepted_by=ROLES,
    level=st.just("tolerable"),
    crew=st.frozensets(PEOPLE),
    lapsed=st.dictionaries(st.sampled_from(Role), st.just("Lapsed.")),
    waivable=st.booleans(),
)


def about(roles: set[Role], **changes: object) -> Ask:
    fields: dict[str, object] = {
        "person_id": "ana",
        "roles": frozenset(roles),
        "pilot_id": "bo",
        "decision": Decision.go_with_sign_off,
        "accepted_by": frozenset({Role.dispatcher, Role.chief_instructor}),
        "level": "tolerable",
        "crew": frozenset({"bo"}),
    }
    return Ask(**fields | changes)  # type: ignore[arg-type]


@given(ASKS)
def test_a_second_persons_yes_always_comes_from_a_second_person_whom_the_level_names(ask: Ask) -> None:
    ruling = may_sign_off(ask)
    fitting = (ask.accepted_by & ask.roles) - NEVER_SECOND - ask.lapsed.keys()
    outside = ask.person_id != ask.pilot_id and ask.person_id not in ask.crew
    assert ruling.allowed == (outside and bool(fitting) and ask.decision is Decision.go_with_sign_off)
    assert (ruling.role in fitting) if ruling.allowed else ruling.role is None
    assert ruling.clauses


@given(ASKS, ROLES, st.booleans())
def test_a_waiver_comes_from_a_second_person_whom_the_limit_names_and_never_lifts_an_unknown(
    ask: Ask, waiver: frozenset[Role], known: bool
) -> None:
    ruling = may_waive(ask, waiver, known_excess=known)
    fitting = (waiver & ask.roles) - NEVER_SECOND - ask.lapsed.keys()
    outside = ask.person_id != ask.pilot_id and ask.person_id not in ask.crew
    assert ruling.allowed == (outside and bool(fitting) and known)


@given(ASKS, st.booleans())
def test_health_answers_are_for_the_pilot_and_for_who_may_sign_while_it_waits(ask: Ask, waits: bool) -> None:
    outside = ask.person_id not in ask.crew
    signer = waits and outside and bool((ask.accepted_by & ask.roles) - NEVER_SECOND - ask.lapsed.keys())
    assert may_read_health(ask, waits=waits).allowed == (ask.person_id == ask.pilot_id or signer)


@given(ASKS)
def test_a_pilot_alone_accepts_a_go_and_nothing_else(ask: Ask) -> None:
    pilot = ask.person_id == ask.pilot_id
    assert may_accept(ask).allowed == (pilot and ask.decision is Decision.go and Role.pilot in ask.accepted_by)
    wants = ask.decision is Decision.go_with_sign_off or (ask.decision is Decision.no_go and ask.waivable)
    assert may_request_sign_off(ask).allowed == (pilot and wants)
    assert may_accept_signed(ask).allowed == pilot


@given(ASKS)
def test_crew_never_answer_their_own_request(ask: Ask) -> None:
    if ask.person_id == ask.pilot_id or ask.person_id in ask.crew:
        assert not may_refuse(ask).allowed


@given(ASKS)
def test_an_administrator_signs_nothing_by_being_one(ask: Ask) -> None:
    only = Ask(
        ask.person_id,
        frozenset({Role.administrator}),
        "somebody",
        ask.decision,
        ask.accepted_by - {Role.administrator},
        "",
    )
    assert not may_sign_off(only).allowed
    assert not may_refuse(only).allowed
    assert not may_read_health(only, waits=True).allowed


def test_an_instructor_with_lapsed_papers_is_told_so() -> None:
    lapsed = {Role.chief_instructor: "The papers ended in May."}
    ruling = may_sign_off(about({Role.chief_instructor}, lapsed=lapsed))
    assert ruling == Ruling(allowed=False, clauses=("The papers ended in May.",))
    assert may_sign_off(about({Role.chief_instructor, Role.dispatcher}, lapsed=lapsed)).role is Role.dispatcher


def test_the_role_that_signs_is_the_same_in_whatever_order_roles_are_held() -> None:
    ask = about({Role.chief_instructor, Role.dispatcher})
    assert acting_role(ask, ask.accepted_by) is Role.dispatcher


RULES = {
    "manage": lambda roles: may_manage_people(roles, own=False),
    "make administrator": lambda roles: may_manage_people(roles, own=False, gives=Role.administrator),
    "see people": may_see_people,
    "aircraft": lambda roles: may_change_fact(roles, "aircraft"),
    "school": lambda roles: may_change_fact(roles, "school"),
    "transcribe": may_transcribe,
    "export": may_export,
    "erase": lambda roles: may_erase_health(roles, own=False),
    "watch": may_keep_watch,
    "board": may_see_board,
}
# Common practice of a small school, no source: who needs it for their work.
HOLDERS = {
    "manage": {"chief_instructor", "administrator"},
    "make administrator": {"administrator"},
    "see people": {"instructor", "dispatcher", "chief_instructor", "safety_officer", "maintenance", "administrator"},
    "aircraft": {"dispatcher", "chief_instructor", "maintenance", "administrator"},
    "school": {"chief_instructor", "administrator"},
    "transcribe": {"instructor", "dispatcher", "chief_instructor"},
    "export": {"chief_instructor", "safety_officer", "administrator"},
    "erase": {"administrator"},
    "watch": {"instructor", "dispatcher", "chief_instructor", "safety_officer", "maintenance", "administrator"},
    "board": {role.value for role in Role},
}


@pytest.mark.parametrize("rule", RULES)
def test_each_right_of_the_school_is_held_by_whom_it_should(rule: str) -> None:
    alone = {role.value for role in Role if RULES[rule](frozenset({role})).allowed}
    assert alone == HOLDERS[rule]
    assert not RULES[rule](frozenset()).allowed
    pairs = chain.from_iterable(combinations(Role, size) for size in (2, 3))
    for held in pairs:
        assert RULES[rule](frozenset(held)).allowed == bool({role.value for role in held} & HOLDERS[rule])


def test_nobody_gives_themselves_a_role_or_keeps_their_own_dates() -> None:
    everything = frozenset(Role)
    for role in Role:
        assert not may_manage_people(everything, own=True, gives=role).allowed
    assert not may_change_fact(frozenset({Role.instructor, Role.dispatcher}), "person", own=True).allowed
    assert may_change_fact(frozenset({Role.instructor}), "person").allowed
    assert not may_change_fact(everything, "policy").allowed


@pytest.mark.parametrize(
    ("rule", "holders"),
    [
        (may_release, {"instructor", "dispatcher", "chief_instructor"}),
        (may_debrief, {"instructor", "dispatcher", "chief_instructor"}),
        (may_call_off, {"instructor", "dispatcher", "chief_instructor", "safety_officer", "maintenance"}),
        (may_open_flight, {"instructor", "dispatcher", "chief_instructor", "safety_officer"}),
        (may_refuse, {"instructor", "dispatcher", "chief_instructor"}),
    ],
)
def test_what_the_desk_does_with_somebody_elses_flight(rule: object, holders: set[str]) -> None:
    assert callable(rule)
    assert {role.value for role in Role if rule(about({role})).allowed} == holders


@given(ASKS)
def test_a_run_up_is_entered_by_crew_whatever_roles_others_hold(ask: Ask) -> None:
    aboard = ask.person_id == ask.pilot_id or ask.person_id in ask.crew
    assert may_run_up(ask).allowed == aboard


@given(PEOPLE, ROLES, st.frozensets(PEOPLE))
def test_work_is_signed_by_maintenance_alone_and_never_by_crew(
    person_id: str, roles: frozenset[Role], crew: frozenset[str]
) -> None:
    ruling = may_sign_maintenance(person_id, roles, crew=crew)
    assert ruling.allowed == (Role.maintenance in roles and person_id not in crew)
    assert ruling.role == (Role.maintenance if ruling.allowed else None)
    assert ruling.clauses


@given(ROLES)
def test_a_defect_is_opened_by_anybody_with_a_role(roles: frozenset[Role]) -> None:
    assert may_report_defect(roles).allowed == bool(roles)
