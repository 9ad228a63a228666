"""What an instructor aboard may cover: the closed list of practice entries, held against the real measures."""

import pytest

from riskboard.measures.registry import MEASURES, load_all
from riskboard.policy.checks import FLIGHT_TIMES, PRACTICE, _is_practice
from riskboard.words import Group
from riskboard.worksheet import FIELD_PART


@pytest.mark.parametrize("fatigue", ["circadian_low_min", "flights_flown_today", "modelled_sleepiness_kss", "unwell"])
def test_no_real_measure_of_fatigue_or_health_is_a_skill(fatigue: str) -> None:
    load_all()
    assert MEASURES[fatigue].group is Group.pilot
    assert not _is_practice(fatigue, MEASURES)


@pytest.mark.parametrize("skill", ["type_hours_h", "recent_90_day_hours_h", "days_since_night_flight_d"])
def test_real_measures_of_practice_are_skills(skill: str) -> None:
    load_all()
    assert _is_practice(skill, MEASURES)


def test_the_practice_entries_are_entries_of_the_pilot() -> None:
    assert {FIELD_PART[name] for name in PRACTICE} == {"pilot"}
    assert set(FIELD_PART) >= FLIGHT_TIMES
