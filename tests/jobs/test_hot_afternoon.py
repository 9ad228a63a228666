"""A hot afternoon with two large people: refused for the right reason, as the usual sheet stands, and what helps."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from riskboard import jobs
from riskboard.words import Decision
from tests.app import flights
from tests.app.flights import CIRCUITS, MARA, RIDGE, SIGRUN, TOBIN

AT = datetime(2026, 7, 20, 19, 20, tzinfo=UTC)
FLIGHT = "hot00000"


@pytest.fixture
def office(tmp_path: Path) -> jobs.Office:
    office = jobs.open_office(tmp_path / "hot.sqlite3", now=AT - timedelta(hours=3))
    jobs.load_demo_school(office, now=AT - timedelta(hours=2))
    flights.papers(office, MARA, AT)
    flights.papers(office, SIGRUN, AT)
    return office


def lesson(office: jobs.Office, route: str, pilot: str, instructor: str, gallons: float, celsius: int = 34) -> None:
    """Filled in as everybody does it: nothing about weights is typed."""
    flights.fill_in(office, FLIGHT, pilot, "LRS-01", route, AT)
    jobs.say(office, FLIGHT, "kind", ["lesson"], at=AT)
    jobs.choose(office, FLIGHT, jobs.Start(instructor_id=instructor), at=AT)
    weather = {"temperature_c": celsius, "dew_point_c": 4}
    jobs.save_entries(office, FLIGHT, "weather", weather, at=AT)
    jobs.save_entries(office, FLIGHT, "aircraft", {"fuel_usable_gal": gallons}, at=AT)


def judged(office: jobs.Office) -> tuple[Decision, set[str]]:
    found = jobs.brief(office, FLIGHT, at=AT).assessment
    assert found is not None
    return found.decision, {line.clause for line in found.reasons if line.standing.value == "stop"}


def test_with_full_fuel_it_is_the_weight_and_with_less_it_is_the_hover(office: jobs.Office) -> None:
    lesson(office, RIDGE, TOBIN, MARA, 30.0)
    decision, stops = judged(office)
    assert decision is Decision.no_go
    assert any("gross" in name or "weight" in name for name in stops), stops
    jobs.save_entries(office, FLIGHT, "aircraft", {"fuel_usable_gal": 26.0}, at=AT)
    decision, stops = judged(office)
    assert decision is Decision.no_go
    assert stops
    assert all("hover" in name for name in stops), stops


def test_a_lighter_instructor_near_the_field_goes(office: jobs.Office) -> None:
    lesson(office, CIRCUITS, TOBIN, MARA, 30.0)
    assert judged(office)[0] is not Decision.go
    jobs.choose(office, FLIGHT, jobs.Start(instructor_id=SIGRUN), at=AT)
    jobs.save_entries(office, FLIGHT, "weather", {"temperature_c": 18}, at=AT)
    jobs.save_entries(office, FLIGHT, "aircraft", {"fuel_usable_gal": 24.0}, at=AT)
    assert judged(office) == (Decision.go, set())


def test_without_a_type_on_file_nothing_is_known_and_nothing_goes(office: jobs.Office) -> None:
    lesson(office, CIRCUITS, TOBIN, SIGRUN, 24.0, 18)
    assert judged(office)[0] is Decision.go
    jobs.save_entries(office, FLIGHT, "aircraft", {"type_name": "Unheard of"}, at=AT)
    found = jobs.brief(office, FLIGHT, at=AT).assessment
    assert found is not None
    assert (found.decision, found.type_digest) == (Decision.no_go, "")
