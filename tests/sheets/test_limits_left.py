"""Which limits stand on paper to be looked at again, in which order; worked out by hand from the shipped policy."""

from dataclasses import replace

import pytest

from riskboard.assessment.phrases import upper_first
from riskboard.jobs.office import shipped_policies
from riskboard.measures.registry import MEASURES as REGISTERED
from riskboard.sheets.limits_left import limits_left
from riskboard.sheets.release import LimitLine

POLICY, _ = shipped_policies()
MEASURES: dict[str, float | None] = {
    "fuel_margin_min": 12,
    "gust_peak_kt": 29,
    "density_altitude_highest_ft": 7900,
    "ceiling_lowest_ft": 60_000,
    "visibility_lowest_sm": 7,
    "annual_days_left_d": 3,
    "sleep_last_24h_h": 5.5,
    "grounding_defects": 0,
    "thunderstorm_distance_nm": None,
    "student_wind_margin_kt": 2,
}
DAY: dict[str, bool | None] = {"civil_night": False, "student_solo": False}


def names(**changes: float | None) -> list[str]:
    return [line.what for line in limits_left(POLICY, MEASURES | changes, DAY)]


def test_the_nearest_comes_first_with_what_it_was_counted_with_and_the_room_left() -> None:
    """12 min of fuel are 1.2 of what a pilot notices (10 min), 6 kt 1.2 (5 kt), 4 SM 4, 2,100 ft 4.2."""
    found = limits_left(POLICY, MEASURES | {"gust_peak_kt": 30}, DAY)
    assert found[:2] == (
        LimitLine("Peak of wind and gusts", "30 kt", "at most 35 kt", "5 kt"),
        LimitLine("Fuel beyond flight and reserve", "12 min", "at least 0 min", "12 min"),
    )
    assert [line.what for line in found[2:4]] == ["Lowest visibility", "Highest density altitude of the flight"]


def test_no_ceiling_reads_as_more_than_the_highest_value() -> None:
    ceiling = next(line for line in limits_left(POLICY, MEASURES, DAY) if line.what == "Lowest ceiling")
    assert ceiling.counted_with == "60,000 ft AGL or more"
    assert ceiling.room == "59,000 ft AGL or more"


def test_papers_counts_and_a_persons_hours_are_not_for_the_aircraft() -> None:
    told = " ".join(names())
    for word in ("Annual", "Sleep", "defect", "thunderstorm"):
        assert word.lower() not in told.lower()


def test_weight_balance_and_hover_have_lines_of_their_own_and_the_types_wind_stays() -> None:
    own = {"longitudinal_cg_margin_in": 0.2, "stations_margin_lb": 3, "hover_ige_site_margin_ft": 40}
    told = names(**own, type_crosswind_margin_kt=2)
    assert told[0] == upper_first(REGISTERED["type_crosswind_margin_kt"].label)
    assert not {upper_first(REGISTERED[name].label) for name in own} & set(told)


def test_a_limit_out_of_force_is_left_out_and_one_that_may_be_in_force_is_not() -> None:
    assert "Room to the student's wind limit" not in names()
    unsure = limits_left(POLICY, MEASURES, DAY | {"student_solo": None})
    assert unsure[0].what == "Room to the student's wind limit"


def test_at_night_the_tighter_of_two_limits_on_one_measure_counts() -> None:
    night = limits_left(POLICY, MEASURES, DAY | {"civil_night": True})
    (visibility,) = [line for line in night if line.what == "Lowest visibility"]
    assert visibility.must_be == "at least 5 SM"


@pytest.mark.parametrize(("measure", "beyond"), [("gust_peak_kt", 36), ("fuel_margin_min", -1), ("gust_peak_kt", None)])
def test_what_was_not_kept_or_not_known_is_no_room(measure: str, beyond: float | None) -> None:
    kept = limits_left(POLICY, MEASURES, DAY)
    left = limits_left(POLICY, MEASURES | {measure: beyond}, DAY)
    assert len(left) == len(kept) - 1


def test_a_policy_without_such_limits_gives_none() -> None:
    assert limits_left(replace(POLICY, limits=()), MEASURES, DAY) == ()
