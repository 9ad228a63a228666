"""Weather minima against 14 CFR 91.155, 91.157 and 61.89(a)(6); both independent sets of reference cases."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from riskboard.measures.minima import (
    Minima,
    ceiling_margin_ft,
    surface_area_ceiling_margin_ft,
    surface_area_visibility_margin_sm,
    vfr_minima,
    visibility_margin_sm,
)
from tests.measures.reference import Case, document, number, params, topic

CLOUD_WORDS = {
    "clear_of_clouds": (0.0, 0.0, 0.0),
    "500_below_1000_above_2000_horizontal": (500.0, 1000.0, 2000.0),
    "1000_below_1000_above_1_sm_horizontal": (1000.0, 1000.0, 5280.0),
}
# What a case of the first set keeps from cloud: below and beside. Nothing is said of above, so it is not compared.
KEPT = {
    "clear": (0.0, 0.0),
    "500_below_2000_horizontal": (500.0, 2000.0),
    "1000_below_1_sm_horizontal": (1000.0, 5280.0),
}
TABLE_HEIGHTS: dict[str | None, list[tuple[float, float]]] = {
    None: [(0.0, 500.0), (5000.0, 12_000.0)],
    "below_10000_msl": [(300.0, 900.0), (5000.0, 9999.0)],
    "10000_msl_and_up": [(300.0, 10_000.0), (5000.0, 14_000.0)],
    "1200_agl_or_less": [(0.0, 500.0), (1200.0, 11_000.0)],
    "above_1200_agl_below_10000_msl": [(1201.0, 1300.0), (5000.0, 9999.0)],
    "above_1200_agl_10000_msl_and_up": [(1201.0, 10_000.0), (5000.0, 14_000.0)],
}


def clearance(minima: Minima) -> tuple[Any, Any, Any]:
    return minima.cloud_below_ft, minima.cloud_above_ft, minima.cloud_horizontal_ft


@pytest.mark.parametrize("row", document("rules")["vfr_minima_table_helicopter"])
def test_every_row_of_the_table(row: Case) -> None:
    for height, altitude in TABLE_HEIGHTS[row["altitude"]]:
        for night in {"any": (0.0, 1.0), "day": (0.0,), "night": (1.0,)}[row["time"]]:
            minima = vfr_minima(row["airspace"], height, altitude, night)
            assert minima.visibility_sm == row["visibility_sm"]
            assert clearance(minima) == CLOUD_WORDS[row["cloud"]]


def legal(given: Case) -> bool:
    """What a case of the first set asks: are visibility and cloud distances enough?"""
    night = float(given["time"] == "night")
    surface = given.get("surface_area")
    special = given.get("special_vfr_clearance", False)
    minima = vfr_minima(
        given["airspace"] if "airspace" in given else given["surface_area"],
        given.get("height_agl_ft", 500.0),
        given.get("altitude_msl_ft", 1500.0),
        night,
        pattern_within_half_mile=given.get("pattern_within_half_mile", False),
        special_vfr=special,
        surface_area=surface is not None,
    )
    visibility = given.get("flight_visibility_sm", given.get("ground_visibility_sm"))
    margins = [visibility_margin_sm(visibility, minima.visibility_sm)]
    if "cloud" in given:
        below, beside = KEPT[given["cloud"]]
        margins += [below - minima.cloud_below_ft, beside - minima.cloud_horizontal_ft]
    if "ceiling_ft" in given:
        margins.append(surface_area_ceiling_margin_ft(given["ceiling_ft"], surface is not None, special))
    return all(margin >= 0.0 for margin in margins)


@pytest.mark.parametrize("case", params(topic("rules", "vfr_minima")))
def test_first_set(case: Case) -> None:
    assert legal(case["inputs"]) is case["expected"]["legal"]


def required(given: Case) -> Minima:
    return vfr_minima(
        given["airspace"],
        given.get("agl_ft", 500.0),
        given.get("msl_ft", 1500.0),
        given["night"],
        pattern_within_half_mile=given.get("in_pattern_within_half_mile", False),
        surface_area=given.get("surface_area", False),
    )


def second_set_answers(given: Case) -> dict[str, Any]:
    """Everything a case of the second set may ask, computed."""
    minima = required(given)
    answers: dict[str, Any] = {"min_visibility_sm": minima.visibility_sm}
    below, above, beside = clearance(minima)
    answers["cloud"] = "clear_of_clouds" if (below, above, beside) == (0, 0, 0) else f"{below:g}/{above:g}/{beside:g}"
    seen = number(given.get("visibility_sm"))
    margin = visibility_margin_sm(seen, minima.visibility_sm)
    answers["visibility_ok"] = "unknown" if np.isnan(margin) else bool(margin >= 0.0)
    if "planned_below_ceiling_ft" in given:
        height = given["ceiling_ft"] - given["planned_below_ceiling_ft"]
        answers["cloud_ok"] = bool(ceiling_margin_ft(given["ceiling_ft"], height, below) >= 0.0)
    if "surface_area" in given and "ceiling_ft" in given:
        under = bool(surface_area_ceiling_margin_ft(given["ceiling_ft"], given["surface_area"]) >= 0.0)
        answers["vfr_beneath_ceiling_allowed"] = under
        if not under:
            answers["needs"] = "special_vfr"
    if given.get("operation") == "takeoff":
        ground, flight = given["ground_visibility_sm"], given["flight_visibility_sm"]
        allowed = surface_area_visibility_margin_sm(
            ground, flight, given["surface_area"], ground_visibility_reported=True
        )
        answers["takeoff_allowed"] = bool(allowed >= 0.0)
        if not answers["takeoff_allowed"]:
            answers["needs"] = "special_vfr"
    return answers


@pytest.mark.parametrize("case", params(topic("rules_more", "vfr_minima")))
def test_second_set(case: Case) -> None:
    answers = second_set_answers(case["inputs"])
    assert {name: answers[name] for name in case["expected"]} == case["expected"]


@pytest.mark.parametrize("case", params(topic("rules_more", "special_vfr")))
def test_special_vfr(case: Case) -> None:
    given = case["inputs"]
    inside = given["surface_area"] != "none"
    minima = vfr_minima(
        given["surface_area"] if inside else given["airspace"],
        500.0,
        1500.0,
        given["night"],
        special_vfr=given["clearance"],
        surface_area=inside,
        student_solo=given.get("pilot") == "student_solo",
    )
    enough = bool(visibility_margin_sm(given["visibility_sm"], minima.visibility_sm) >= 0.0)
    assert enough is case["expected"]["allowed_by_rule"]


@pytest.mark.parametrize(
    ("visibility", "night", "allowed"), [(6, 0, True), (4, 1, False), (2.5, 0, False), (3, 0, True)]
)
def test_a_student_alone(visibility: float, night: int, allowed: bool) -> None:
    # The visibilities of SS01, SS08, SS09 and SS10 in rules_more: 14 CFR 61.89(a)(6).
    minima = vfr_minima("G", 500.0, 900.0, night, student_solo=True)
    assert (visibility_margin_sm(visibility, minima.visibility_sm) >= 0.0) is allowed


def test_a_student_never_gets_less_than_the_airspace_asks() -> None:
    # 91.155(a): 5 SM at 10,000 ft and up by day too, although 61.89 asks 3.
    assert vfr_minima("E", 3000.0, 11_000.0, 0.0, student_solo=True).visibility_sm == 5.0


def test_special_vfr_ends_at_ten_thousand_feet() -> None:
    # 14 CFR 91.157: below 10,000 ft MSL.
    given = {"special_vfr": True, "surface_area": True}
    assert vfr_minima("E", 500.0, 9999.0, 0.0, **given).visibility_sm == 0.0
    assert vfr_minima("E", 500.0, 10_000.0, 0.0, **given).visibility_sm == 5.0


def test_the_pattern_exception_ends_just_below_twelve_hundred_feet() -> None:
    # 14 CFR 91.155(b): "below 1,200 feet"; the table's row is "1,200 feet or less".
    night = vfr_minima("G", [1199.0, 1200.0], 2000.0, 1.0, pattern_within_half_mile=True)
    assert np.asarray(night.visibility_sm).tolist() == [0.5, 1.0]


def test_an_unknown_fact_matters_only_where_it_changes_the_answer() -> None:
    assert vfr_minima("B", None, None, None).visibility_sm == 3.0
    assert vfr_minima("D", None, None, None).visibility_sm == 3.0
    assert np.isnan(vfr_minima("E", 500.0, None, 0.0).visibility_sm)
    assert vfr_minima("G", 500.0, None, 0.0).visibility_sm == 0.5
    assert np.isnan(vfr_minima("G", 500.0, 900.0, None).visibility_sm)
    assert vfr_minima("G", 500.0, 900.0, None, pattern_within_half_mile=True).visibility_sm == 0.5
    assert np.isnan(vfr_minima("", 500.0, 900.0, 0.0).visibility_sm)
    assert np.isnan(vfr_minima("D", 500.0, 900.0, 0.0, special_vfr=None, surface_area=True).visibility_sm)
    assert vfr_minima("D", 500.0, 900.0, 0.0, special_vfr=None, surface_area=False).visibility_sm == 3.0
    assert np.isnan(vfr_minima("G", 500.0, 900.0, 0.0, student_solo=None).visibility_sm)
    unknown = vfr_minima("G", 1300.0, 2000.0, None)
    assert all(np.isnan(part) for part in unknown)


def test_arrays_broadcast() -> None:
    minima = vfr_minima(["B", "G", "G"], [[500.0], [2000.0]], 3000.0, 0.0)
    assert np.asarray(minima.visibility_sm).tolist() == [[3.0, 0.5, 0.5], [3.0, 1.0, 1.0]]
    assert all(np.shape(part) == (2, 3) for part in minima)
    assert isinstance(vfr_minima("B", 500.0, 500.0, 0.0).cloud_below_ft, float)


def test_no_ceiling_and_no_surface_area_have_room_without_end() -> None:
    assert ceiling_margin_ft(np.inf, 800.0, 500.0) == np.inf
    assert surface_area_ceiling_margin_ft(400.0, 0.0) == np.inf
    assert surface_area_ceiling_margin_ft(400.0, 1.0, 1.0) == np.inf
    assert np.isnan(surface_area_ceiling_margin_ft(400.0, None))
    assert np.isnan(surface_area_ceiling_margin_ft(None, 1.0))


def test_flight_visibility_governs_only_where_none_is_reported() -> None:
    # 14 CFR 91.155(d).
    assert surface_area_visibility_margin_sm(None, 4.0, 1.0, ground_visibility_reported=0.0) == 1.0
    assert np.isnan(surface_area_visibility_margin_sm(None, 4.0, 1.0, ground_visibility_reported=1.0))
    assert np.isnan(surface_area_visibility_margin_sm(2.0, 4.0, 1.0, ground_visibility_reported=None))


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: vfr_minima("A", 500.0, 500.0, 0.0), "airspace"),
        (lambda: vfr_minima("G", -1.0, 500.0, 0.0), "height_agl_ft"),
        (lambda: vfr_minima("G", 1.0, 99_999.0, 0.0), "altitude_msl_ft"),
        (lambda: vfr_minima("G", 1.0, 500.0, 2.0), "night"),
        (lambda: vfr_minima("G", 1.0, 500.0, 0.0, student_solo=3.0), "student_solo"),
        (lambda: visibility_margin_sm(-1.0, 3.0), "flight_visibility_sm"),
        (lambda: ceiling_margin_ft(-1.0, 3.0, 0.0), "ceiling_ft_agl"),
    ],
)
def test_impossible_input_is_refused_by_name(call: Callable[[], Any], name: str) -> None:
    with pytest.raises(ValueError, match=name):
        call()
