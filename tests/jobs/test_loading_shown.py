"""Loading as it is shown: of a draft by the types in force, of the record by what it was decided with."""

from datetime import timedelta

from riskboard import jobs
from riskboard.assessment.airframe_pictures import AirframePicture
from tests.jobs.school_day import FLIGHT, Day
from tests.jobs.test_types import publish, version

WEIGHT = "1,454.5 lb, 105.5 lb under the highest (1,560 lb)"
"""988.5 lb empty with doors and dual controls, 150 + 172 + 6 lb, 23 of 24 gal after start."""
SHORTER = version(2, ("\n      held_max_min: 5\n", "\n      held_max_min: 4\n"))


def shown(day: Day) -> AirframePicture | None:
    briefing = jobs.brief(day.office, FLIGHT, at=day.now)
    guards = {} if briefing.assessment is None else briefing.assessment.guards
    return jobs.loading_shown(day.office, briefing.sheet, guards, at=day.now)


def on_record(day: Day) -> AirframePicture | None:
    (body,) = (
        record.entry.body.value
        for record in jobs.signed_records(day.office, FLIGHT)
        if record.entry.body is not None and record.entry.header.kind == "accepted"
    )
    return jobs.loading_on_record(day.office, body["worksheet"], body["assessment"])


def test_a_draft_is_shown_by_the_type_in_force(day: Day) -> None:
    found = shown(day)
    assert found is not None
    assert found.weights[0].text == WEIGHT
    assert found is shown(day), "worked out once while nothing changes"
    publish(day, SHORTER)
    newer = shown(day)
    assert newer is not None
    assert found.power[0].text.endswith("inHg for 5 min")
    assert newer.power[0].text.endswith("inHg for 4 min")


def test_the_record_keeps_the_type_that_it_was_decided_with(day: Day) -> None:
    day.accept()
    publish(day, SHORTER)
    found = on_record(day)
    assert found is not None
    assert found.weights[0].text == WEIGHT
    assert found.power[0].text.endswith("inHg for 5 min")


def test_a_record_that_rests_on_no_type_or_cannot_be_read_shows_nothing(day: Day) -> None:
    day.accept()
    body = next(iter(jobs.signed_records(day.office, FLIGHT))).entry.body
    assert body is not None
    worksheet, assessment = body.value["worksheet"], body.value["assessment"]
    for broken in ({"type_digest": ""}, {"type_digest": "0" * 64}, {"policy": {"digest": "0" * 64}}):
        assert jobs.loading_on_record(day.office, worksheet, assessment | broken) is None
    assert jobs.loading_on_record(day.office, {"pilot": 3}, assessment) is None


def test_a_type_that_is_not_on_file_and_a_load_that_cannot_be_show_nothing(day: Day) -> None:
    day.enter("aircraft", type_name="Wren 9")
    assert shown(day) is None
    day.enter("aircraft", type_name="Tarnwick 2 (invented)", fuel_usable_gal=90.0)
    assert shown(day) is None


def test_weather_too_old_to_count_leaves_the_hover_unknown(day: Day) -> None:
    briefing = jobs.brief(day.office, FLIGHT, at=day.now)
    assert briefing.assessment is not None
    later = day.now + timedelta(hours=3)
    found = jobs.loading_shown(day.office, briefing.sheet, briefing.assessment.guards, at=later)
    assert found is not None
    assert found.weights[0].text == WEIGHT
    assert {each.holds for each in found.hover} == {None}
    assert "Temperature" in found.hover[0].text


def test_whoever_flies_does_not_matter_to_the_picture(day: Day) -> None:
    """What is kept for the next redraw is told apart by aircraft, weather and plan: no health answer is in it."""
    before = shown(day)
    day.enter("pilot", sleepiness_rating=7)
    assert shown(day) is before
