"""What would change the answer of a draft: the school's day in a dropping ceiling, its fleet, and who may read what."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from riskboard import jobs
from riskboard.assessment.privacy import HIDDEN
from riskboard.assessment.robustness import Errors
from riskboard.jobs.fleet_offers import aircraft_offers
from riskboard.jobs.what_if import errors_of
from riskboard.words import Decision
from tests.jobs.conftest import DRAFT, PILOT, Desk


def line(start: str, end: str, ceiling: float | str, **stated: Any) -> dict[str, Any]:
    """A forecast line of a calm day, typed by hand; only its ceiling is told."""
    fair = {"wind_from_deg": 320, "wind_kt": 5, "gust_kt": "none", "visibility_sm": 10, "thunderstorm": False}
    cloud = {"ceiling_ft_agl": ceiling, "lowest_cloud_ft_agl": ceiling}
    air = {"temperature_c": 15, "dew_point_c": 2, "precipitation": "none"}
    times = {"kind": "prevailing", "start_at": f"2026-05-04T{start}Z", "end_at": f"2026-05-{end}Z"}
    return {**times, **fair, **cloud, **air, **stated}


DROPPING = [line("13:00", "04T19:30", "none"), line("19:30", "05T06:00", 300.0)]
"""Clear until 13:30 local, then 300 ft: too low for any flight of the school."""


def dropping(desk: Desk) -> None:
    """The calm flight at 14:00 local, and a ceiling that comes down at 13:30."""
    take_off = datetime(2026, 5, 4, 20, 0, tzinfo=UTC)
    desk.enter("plan", take_off_at=take_off.isoformat(), landing_at=(take_off + timedelta(hours=1)).isoformat())
    desk.enter("weather", forecast_lines=DROPPING)


def found(desk: Desk, person_id: str = PILOT) -> jobs.WhatIf:
    shown = jobs.what_if(desk.office, person_id, desk.briefing(), at=desk.at)
    assert shown is not None
    return shown


def test_a_flight_into_a_dropping_ceiling_works_before_it(desk: Desk) -> None:
    """By hand: an hour's flight and an hour after landing must end before the cloud comes: 13:30 less 2 h is 11:30."""
    dropping(desk)
    shown = found(desk)
    assert shown.title == "Better until 11:30"
    assert [(f"{each.at:%H:%M}", each.decision) for each in shown.stretches] == [("08:20", "Go"), ("11:40", "No-go")]
    assert "under the cloud" in shown.stretches[1].said
    assert (f"{shown.planned:%H:%M}", shown.planned_said) == ("14:00", "no-go")
    assert {(step.height, step.wall) for step in shown.steps} == {(1, False), (3, True)}
    assert [way.said for way in shown.ways] == [
        "Take off at 11:30: go (level acceptable).",
        "Stay on the ground today.",
    ]
    assert [way.stay for way in shown.ways] == [False, True]
    assert 1 <= len(shown.wires) <= 6
    assert not shown.fragile


def test_a_go_needs_no_way_out_and_staying_is_still_a_choice(desk: Desk) -> None:
    shown = found(desk)
    assert shown.decision is Decision.go
    assert [way.said for way in shown.ways] == ["Stay on the ground today."]
    assert shown.when_no is None


def test_words_for_a_no_come_with_a_no_go_alone(desk: Desk) -> None:
    desk.enter("weather", ceiling_ft_agl=400.0, lowest_cloud_ft_agl=400.0)
    shown = found(desk)
    assert shown.decision is Decision.no_go
    assert shown.when_no is not None
    assert "dispatcher on duty" in shown.when_no.call
    assert shown.wires == ()
    assert "no-go already" in shown.wires_note


def test_nothing_is_shown_while_something_is_blank(desk: Desk) -> None:
    desk.enter("weather", temperature_c=None)
    assert jobs.what_if(desk.office, PILOT, desk.briefing(), at=desk.at) is None


def grounded(desk: Desk) -> None:
    """The aircraft has a defect that keeps it on the ground; another one of the fleet may be free."""
    jobs.choose(desk.office, DRAFT, jobs.Start(PILOT, "LRS-01", "larkfield", "larkfield-circuits"), at=desk.at)
    desk.enter("aircraft", open_defects=[{"text": "Chip light", "effect": "grounding"}])


def test_another_aircraft_that_is_free_then_is_a_way_out_and_one_that_flies_then_is_not(desk: Desk) -> None:
    grounded(desk)
    briefing = desk.briefing()
    offers = list(aircraft_offers(desk.office, briefing, 4.0, at=desk.at))
    fleet = {each["id"] for each in jobs.documents(desk.office, "aircraft")} - {"LRS-01"}
    picture = desk.office.log.look()
    out = {picture.flights[each].aircraft_id for each in picture.open}
    named = {str(offer.changes.get("registration")) for offer in offers}
    assert named == {each for each in fleet if each not in out}
    assert all(not offer.changes.keys() & {"fuel_usable_gal", "preflight_done"} for offer in offers)
    assert all("preflight inspection of its own" in offer.said for offer in offers)


def test_no_aircraft_is_offered_while_nobody_knows_when(desk: Desk) -> None:
    grounded(desk)
    desk.enter("plan", landing_at=None)
    assert list(aircraft_offers(desk.office, desk.briefing(), 4.0, at=desk.at)) == []


def test_health_is_told_to_the_pilot_alone(desk: Desk) -> None:
    """A pilot who gets too sleepy in the evening reads so; whoever else looks reads that something is hidden."""
    desk.enter("pilot", sleepiness_rating=6)
    desk.enter("weather", forecast_lines=[line("13:00", "05T09:00", "none")])
    own, other = found(desk), found(desk, "wendell-achterberg")
    assert any("leep" in said for said in own.wires)
    for words in (*other.wires, *other.sentences, *(each.said for each in other.stretches), other.robust):
        assert "leep" not in words
        assert "awake" not in words.lower()
    told = {mine.said: theirs.said for mine, theirs in zip(own.stretches, other.stretches, strict=True)}
    hidden = [mine for mine, theirs in told.items() if HIDDEN in theirs]
    assert any("leep" in said or "awake" in said for said in hidden), told
    assert [(step.at, step.decision) for step in other.steps] == [(step.at, step.decision) for step in own.steps]


def test_errors_are_those_of_the_policy(desk: Desk) -> None:
    policy = jobs.policy_for(desk.office, desk.briefing().sheet, desk.at).policy
    stated = policy.alternatives
    wider = replace(stated, errors=tuple(replace(each, size=each.size * 2) for each in stated.errors))
    errors = errors_of(replace(policy, alternatives=wider))
    assert errors.visibility_sm.size == pytest.approx(0.2)
    assert errors.wind_kt.size == pytest.approx(4.0)
    assert errors_of(policy).given().keys() == Errors().given().keys()
    for name, mine in errors_of(policy).given().items():
        usual = Errors().given()[name]
        assert mine.size == pytest.approx(usual.size)
        assert (mine.normal, mine.relative) == (usual.normal, usual.relative)


def test_nobody_asks_in_another_persons_name(desk: Desk) -> None:
    office = jobs.acting_for(desk.office, PILOT)
    with pytest.raises(jobs.NotShownError):
        jobs.what_if(office, "wendell-achterberg", desk.briefing(), at=desk.at)
