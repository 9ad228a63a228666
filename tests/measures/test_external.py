"""Pressures, preparation and exposure: hand-worked, one check a measure. Sources stand with the measures."""

from typing import TYPE_CHECKING

import numpy as np
import pytest

from riskboard.measures import register_external as external
from riskboard.worksheet.columns import FloatArray

if TYPE_CHECKING:
    from collections.abc import Callable

NAN, NONE = np.nan, np.inf


def column(*values: float) -> FloatArray:
    return np.array(values, dtype=np.float64)


def same(found: FloatArray, *expected: float) -> None:
    np.testing.assert_array_equal(found, column(*expected))


def test_flight_duration_min() -> None:
    same(external.flight_duration_min(column(60, NAN)), 60, NAN)


def test_return_slack_min() -> None:
    """Back at 15:00, landing at 14:20: 40 min of slack; ten minutes late is minus ten; nobody waits: a day."""
    landing = 14 * 3600 + 20 * 60.0
    found = external.return_slack_min(
        column(15 * 3600, 14 * 3600 + 600, NONE, NAN, NONE), column(landing, landing, landing, landing, NAN)
    )
    same(found, 40, -10, 1440, NAN, NAN)


PASSED_THROUGH = [
    "others_waiting",
    "exam_depends",
    "weather_closing_in",
    "money_depends",
    "times_cancelled",
    "refused_earlier_today",
    "pressure_rating",
    "base_distance_nm",
    "terrain_level",
    "off_airport",
    "water_crossing",
    "passengers_aboard",
    "anything_else_noted",
]
TURNED_ROUND = [
    "no_go_not_agreed",
    "alternative_missing",
    "turn_back_missing",
    "flight_following_missing",
    "notices_unchecked",
    "wires_unstudied",
    "area_unfamiliar",
]


@pytest.mark.parametrize("name", PASSED_THROUGH)
def test_answers_that_are_their_own_measure(name: str) -> None:
    function: Callable[[FloatArray], FloatArray] = getattr(external, name)
    same(function(column(0, 1, NAN)), 0, 1, NAN)


@pytest.mark.parametrize("name", TURNED_ROUND)
def test_a_done_thing_is_not_missing(name: str) -> None:
    function: Callable[[FloatArray], FloatArray] = getattr(external, name)
    same(function(column(1, 0, NAN)), 0, 1, NAN)


def test_student_area_margin_nm() -> None:
    """A 15 NM limit and a 9 NM flight leave 6; 20 NM is 5 beyond; no limit written is the best end."""
    found = external.student_area_margin_nm(column(15, 15, NONE, NAN, NONE), column(9, 20, 9, 9, NAN))
    same(found, 6, -5, 1000, NAN, NAN)


def test_briefing_lead_min() -> None:
    same(external.briefing_lead_min(column(7200, NAN), column(3600, 3600)), 60, NAN)
