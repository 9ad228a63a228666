"""Ways out: each a fresh assessment, the smallest first, never by changing a fact; staying is one of them."""

from collections.abc import Mapping
from dataclasses import FrozenInstanceError
from datetime import timedelta
from typing import Any

import pytest
from astral import Observer
from astral.sun import dusk
from hypothesis import given
from hypothesis import strategies as st

from riskboard.assessment.assess import CannotAssessError, assess
from riskboard.assessment.variations import Base, base_of
from riskboard.assessment.ways_out import MAY_CHANGE, STAY, Kind, Offer, WaysOut, usual_offers, ways_out
from riskboard.assessment.window import departure_window
from riskboard.words import Decision
from riskboard.worksheet import FIELD_PART, Worksheet
from riskboard.worksheet.entries import StationLoad
from tests.assessment.test_outlook import FAIR, line
from tests.assessment.test_window import DENVER, local
from tests.assessment.varied import RUN, calm, prepared
from tests.strategies import DECIDED_AT, worksheets

COSTS: Mapping[Kind, float] = {kind: float(cost) for cost, kind in enumerate(Kind, 1)}
SHORT_OF_FUEL: Mapping[str, Any] = {
    "fuel_usable_gal": 16, "fuel_burn_gal_h": 12, "start_and_taxi_gal": 1, "reserve_min": 20
}  # fmt: skip
"""An hour and 20 min of reserve at 12 gal/h and a gallon to start need 17 gal."""


def of_calm(*, costs: Mapping[Kind, float] = COSTS, windowed: bool = False, **but: Any) -> tuple[Base, WaysOut]:
    sheet, at = calm()
    base = base_of(sheet.but(**but), prepared(), at)
    window = departure_window(base) if windowed else None
    return base, ways_out(base, usual_offers(base, costs, window=window))


def all_hold(base: Base, found: WaysOut) -> None:
    """Every way is a fresh assessment of its worksheet, of a better level, and staying is among them."""
    assert [way.said for way in found.ways].count(STAY) == 1
    assert len(found.ways) <= 4
    levels = base.prepared.policy.level_index
    for way in found.ways:
        if way.said == STAY:
            assert (way.offers, way.sheet, way.assessment) == ((), None, None)
            continue
        assert way.sheet is not None
        assert way.assessment is not None
        at = next((offer.at for offer in way.offers if offer.at is not None), base.at)
        fresh = assess(way.sheet, base.prepared, at, waived=base.waived)
        assert fresh.as_json() == way.assessment.as_json()
        assert levels(fresh.level) < base.level
        assert 1 <= len(way.offers) <= 2
        assert way.cost == sum(offer.cost for offer in way.offers)
        unchanged = set(FIELD_PART) - {entry for offer in way.offers for entry in offer.changes}
        assert all(way.sheet.value(entry) == base.sheet.value(entry) for entry in unchanged)


# -- what is found ----------------------------------------------------------------------------------------------------


def test_short_of_fuel_there_is_more_fuel_or_a_shorter_flight() -> None:
    base, found = of_calm(**SHORT_OF_FUEL)
    assert base.decision == Decision.no_go
    all_hold(base, found)
    # 1 gal is missing: 2 gal more is the first step that carries it. 5 min are missing: 15 min less is.
    assert [way.said.split(":")[0] for way in found.ways[:2]] == ["Fly 15 min less", "Take 2 gal more fuel"]
    assert found.ways[-1].said == STAY


def test_two_things_are_offered_where_neither_does_alone() -> None:
    base, found = of_calm(**SHORT_OF_FUEL, preflight_done=False)
    all_hold(base, found)
    assert found.ways[0].said.startswith("Fly 15 min less and do the preflight inspection: ")
    assert all(len(way.offers) == 2 for way in found.ways[:-1])


def test_one_thing_that_does_it_is_never_dressed_up_as_two() -> None:
    base, found = of_calm(**SHORT_OF_FUEL)
    for way in found.ways[:-1]:
        if len(way.offers) == 2:
            for offer in way.offers:
                alone = ways_out(base, [offer]).ways[:-1]
                reached = [w.assessment.level for w in alone if w.assessment]
                assert way.assessment is not None
                assert way.assessment.level not in reached


def test_the_pilots_cost_ranks_them() -> None:
    base, found = of_calm(**SHORT_OF_FUEL, costs={**COSTS, Kind.shorter: 50.0})
    all_hold(base, found)
    assert found.ways[0].said.startswith("Take 2 gal more fuel")
    costs = [way.cost for way in found.ways[:-1]]
    assert costs == sorted(costs)


def test_before_a_ceiling_that_drops_an_earlier_take_off_is_a_way_out() -> None:
    low = FAIR | {"ceiling_ft_agl": 900, "lowest_cloud_ft_agl": 900}
    base, found = of_calm(
        windowed=True,
        forecast_lines=(line("1200", "1930", **FAIR), line("1930", "+0900", **low)),
        take_off_at=local("14:00"),
        landing_at=local("15:00"),
    )
    assert base.decision != Decision.go
    all_hold(base, found)
    # The forecast drops at 13:30 local; a flight of an hour and the hour after it end just then from 11:30.
    assert found.ways[0].said == "Take off at 11:30: go (level acceptable)."
    assert found.ways[0].offers[0].at == local("11:30")


def test_no_way_leads_past_a_fact() -> None:
    for facts in ({"medical_exam_on": "2020-01-10"}, {"ill_today": True}, {"sleeps": ()}):
        base, found = of_calm(windowed=True, **facts)
        assert base.decision == Decision.no_go
        assert [way.said for way in found.ways] == [STAY]


def test_a_night_that_is_not_wanted_is_ended_by_landing_before_it() -> None:
    # The end of evening civil twilight by astral, cut down to five minutes.
    end = dusk(Observer(39.21, -104.88), date=local("12:00").date(), tzinfo=DENVER)
    by = end - timedelta(minutes=end.minute % 5)
    base, _ = of_calm(take_off_at=local("19:20"), landing_at=local("20:50"))
    made = [offer for offer in usual_offers(base, COSTS) if offer.kind is Kind.no_night_part]
    assert [offer.said for offer in made] == [f"Land by {by:%H:%M}, before it is night"]
    by_day, _ = of_calm()
    assert not [offer for offer in usual_offers(by_day, COSTS) if offer.kind is Kind.no_night_part]


def test_what_was_answered_with_no_and_can_be_done_is_offered_and_a_blank_is_not() -> None:
    base, _ = of_calm(notices_checked=False, wires_studied=None)
    said = [offer.said for offer in usual_offers(base, COSTS) if offer.kind is Kind.preparation]
    assert said == ["Check notices and flight restrictions"]


def test_a_mitigation_of_the_policy_is_offered_once() -> None:
    base, found = of_calm(
        temperature_c=21, dew_point_c=15, alternative="none", life_event=True, hours_last_90_days_h=2, stress_level=3
    )
    all_hold(base, found)
    offered = [o for o in usual_offers(base, COSTS) if o.kind is Kind.mitigation]
    assert len({o.said for o in offered}) == len(offered) == len(prepared().policy.mitigations)


def test_another_aircraft_and_an_instructor_are_the_callers_to_offer() -> None:
    sheet, at = calm()
    base = base_of(sheet.but(annual_on="2025-01-09"), prepared(), at)
    other = Offer(Kind.other_aircraft, "Take LRS-02", 3.0, {"registration": "LRS-02", "annual_on": "2026-02-01"})
    found = ways_out(base, [other])
    all_hold(base, found)
    assert found.ways[0].said == "Take LRS-02: go (level acceptable)."
    assert found.ways[0].sheet is not None
    assert found.ways[0].sheet.aircraft.registration == "LRS-02"


def test_a_seat_less_is_a_way_out_of_too_much_weight() -> None:
    sheet, at = calm()
    heavy = tuple(
        StationLoad(station=each.station, load_lb=300.0 if "seat" in each.station else each.load_lb)
        for each in sheet.plan.station_loads or ()
    )
    base = base_of(sheet.but(station_loads=heavy), prepared(), at)
    assert base.decision == Decision.no_go
    names = [each.station for each in heavy if "seat" in each.station]
    lighter = tuple(
        StationLoad(station=each.station, load_lb=0.0) if each.station == names[1] else each for each in heavy
    )
    found = ways_out(base, [Offer(Kind.lighter, "Fly alone", 1.0, {"station_loads": lighter})])
    all_hold(base, found)


@RUN
@given(worksheets())
def test_whatever_the_worksheet_every_way_is_a_fresh_assessment(sheet: Worksheet) -> None:
    try:
        base = base_of(sheet, prepared(), DECIDED_AT)
    except CannotAssessError:
        return
    window = departure_window(base)
    found = ways_out(base, usual_offers(base, COSTS, window=window))
    assert found.needed == (base.decision != Decision.go)
    all_hold(base, found)


@RUN
@given(
    st.fixed_dictionaries(
        {
            "fuel_usable_gal": st.integers(14, 24).map(float),
            "wind_kt": st.integers(0, 24).map(float),
            "preflight_done": st.booleans(),
            "notices_checked": st.booleans(),
            "hours_last_90_days_h": st.integers(0, 12).map(float),
            "alternative": st.sampled_from(["none", "Back to Larkfield."]),
        }
    )
)
def test_so_it_is_for_flights_that_nearly_go(but: dict[str, Any]) -> None:
    all_hold(*of_calm(**but, windowed=True))


# -- what an offer may be ---------------------------------------------------------------------------------------------

FACTS = [
    "sleeps", "sleepiness_rating", "ill_today", "medicines", "last_drink_at", "stress_level", "medical_exam_on",
    "flight_review_on", "recent_landings", "total_helicopter_h", "born_on", "pressure_felt", "someone_waits",
]  # fmt: skip


@pytest.mark.parametrize("fact", FACTS)
@pytest.mark.parametrize("kind", list(Kind))
def test_no_offer_of_any_kind_changes_a_fact(kind: Kind, fact: str) -> None:
    with pytest.raises(ValueError, match="that is a fact"):
        Offer(kind, "Sleep better", 1.0, {fact: None})


def test_weather_changes_only_with_the_time_of_the_flight() -> None:
    weather = {entry for entry, part in FIELD_PART.items() if part == "weather"}
    assert [kind for kind, entries in MAY_CHANGE.items() if entries & weather] == [Kind.later]
    assert set(MAY_CHANGE) == set(Kind)
    pilot = {entry for entry, part in FIELD_PART.items() if part in {"pilot", "pressures"}}
    touched = {entry for entries in MAY_CHANGE.values() for entry in entries & pilot}
    own = {"first_flight_together", "exercise_last_flown_on"}  # of the new instructor, of the other exercise
    assert {entry for entry in touched if not entry.startswith("instructor")} == own


def test_an_offer_is_refused_that_says_nothing_or_pays_for_it() -> None:
    with pytest.raises(ValueError, match="changes something"):
        Offer(Kind.later, "Wait", 1.0, {})
    with pytest.raises(ValueError, match="from 0 up"):
        Offer(Kind.later, "Wait", -1.0, {"landing_at": None})
    with pytest.raises(ValueError, match="only an offer to fly later"):
        Offer(Kind.shorter, "Wait", 1.0, {"landing_at": None}, at=DECIDED_AT)
    with pytest.raises(FrozenInstanceError):
        Offer(Kind.later, "Wait", 1.0, {"landing_at": None}).cost = 0.0  # type: ignore[misc]


def test_an_impossible_offer_is_no_way_out() -> None:
    base, _ = of_calm(**SHORT_OF_FUEL)
    take_off = base.sheet.plan.take_off_at
    assert take_off is not None
    backward = Offer(Kind.shorter, "Land before take-off", 0.0, {"landing_at": take_off - timedelta(hours=1)})
    overfull = Offer(Kind.more_fuel, "Fill it twice", 0.0, {"fuel_usable_gal": 90.0})
    assert [way.said for way in ways_out(base, [backward, overfull]).ways] == [STAY]


def test_a_go_needs_no_way_out_and_staying_is_still_one() -> None:
    _, found = of_calm()
    assert (found.needed, [way.said for way in found.ways]) == (False, [STAY])
