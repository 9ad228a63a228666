"""Inspections, life limits, equipment and defects against ``rules.yaml`` and ``rules_more.yaml``."""

import math
from typing import Any

import numpy as np
import pytest

from riskboard.measures.airworthiness import (
    days_left_after,
    defects_with_effect,
    deferral_allowed,
    equipment_missing,
    hours_left_after_h,
    hundred_hour_due_at_h,
    hundred_hour_margin_h,
    inoperative_but_required,
    life_left_after_h,
    locator_battery_ok,
    next_due_at_h,
    tightest_item,
)
from riskboard.measures.currency import calendar_months_valid_until, months_valid_until
from riskboard.measures.known import all_of, not_below, tightest
from riskboard.words import DefectEffect, ItemState
from tests.measures.reference import Case, day, document, known_day, number, params, topic

MONTHS = {"annual": 12, "transponder": 24, "altimeter_static": 24, "elt": 12}
BOUND = {"instruction_for_hire", "passengers_for_hire"}
"""Purposes that 14 CFR 91.409(b) binds; a ferry to the inspection is looked at with its allowance."""
EN_ROUTE = {"ferry", "en_route_to_inspection"}


def calendar_cases() -> list[Any]:
    first = [
        {**case, "item": item}
        for item in ("annual", "transponder", "altimeter_static")
        for case in topic("rules", item)
    ]
    second = [{**case, "item": case["inputs"]["item"]} for case in topic("rules_more", "inspections_calendar")]
    return params([*first, *second])


@pytest.mark.parametrize("case", calendar_cases())
def test_calendar_inspections(case: Case) -> None:
    given_, expected = case["inputs"], case["expected"]
    done = day(given_.get("done", given_.get("done_on")))
    flight = known_day(given_.get("flight_date", given_.get("flight_on")))
    until = calendar_months_valid_until(done, MONTHS[case["item"]])
    left = days_left_after(until, flight)
    if expected.get("ok") == "unknown":
        assert math.isnan(float(left))
        return
    assert until == day(expected.get("valid_through", expected.get("valid_until")))
    assert left == expected.get("days_left", left)
    verdicts = {key: expected[key] for key in ("valid", "in_date", "ok") if key in expected}
    if "lapsed" in expected:
        verdicts["lapsed"] = not expected["lapsed"]
    assert verdicts
    assert set(verdicts.values()) == {float(left) >= 0}


@pytest.mark.parametrize("case", params(topic("rules", "elt")))
def test_locator_first_set(case: Case) -> None:
    given_, expected, flight = case["inputs"], case["expected"], known_day(case["inputs"]["flight_date"])
    until = calendar_months_valid_until(known_day(given_["inspected"]), MONTHS["elt"])
    assert until == day(expected["inspection_valid_through"])
    battery = locator_battery_ok(given_["cumulative_use_h"], known_day(given_["battery_due"]), flight)
    assert battery == float(expected["battery_ok"])
    assert all_of(battery, not_below(days_left_after(until, flight), 0)) == float(expected["serviceable"])


@pytest.mark.parametrize("case", params(topic("rules_more", "elt_battery")))
def test_locator_battery_second_set(case: Case) -> None:
    given_, expected = case["inputs"], case["expected"]
    replace_by = day(given_.get("replace_by"))
    if "made_on" in given_:
        replace_by = months_valid_until(known_day(given_["made_on"]), given_["useful_life_months"] / 2)
        assert replace_by == day(expected["half_life_on"])
    assert locator_battery_ok(given_["use_h"], replace_by, known_day(given_["date"])) == float(expected["ok"])


@pytest.mark.parametrize("case", params(topic("rules", "hundred_hour")))
def test_hundred_hour_first_set(case: Case) -> None:
    given_, expected = case["inputs"], case["expected"]
    due = hundred_hour_due_at_h(given_["last_inspection_due_base_h"])
    assert due == expected["due_at_h"]
    assert hours_left_after_h(due, given_["hours_now"], 0) == pytest.approx(expected["hours_remaining"])
    left = hours_left_after_h(due, given_["hours_now"], given_["planned_h"])
    bound = given_["operation"] in BOUND | EN_ROUTE
    margin = hundred_hour_margin_h(left, float(given_["ferry_to_inspection"]))
    assert (not bound or float(margin) >= 0) is expected["permitted"]


@pytest.mark.parametrize("case", params(topic("rules_more", "hundred_hour")))
def test_hundred_hour_second_set(case: Case) -> None:
    given_, expected = case["inputs"], case["expected"]
    due = hundred_hour_due_at_h(given_["last_at_h"], given_.get("annual_at_h"))
    if "inspected_late_at_h" in given_:
        due = next_due_at_h(due, given_["inspected_late_at_h"])
    now, en_route = number(given_["now_h"]), given_["purpose"] in EN_ROUTE
    left = hours_left_after_h(due, now, given_["planned_h"])
    margin = hundred_hour_margin_h(left, float(en_route))
    if expected.get("ok") == "unknown":
        assert math.isnan(float(margin))
        return
    if "due_at_h" in expected:
        assert due == pytest.approx(expected["due_at_h"])
    if "hours_left_before" in expected:
        assert hours_left_after_h(due, now, 0) == pytest.approx(expected["hours_left_before"])
    assert left == pytest.approx(expected.get("hours_left_after", -expected.get("hours_over_after", 0)))
    if expected.get("required") is False:
        assert given_["purpose"] not in BOUND | EN_ROUTE
        return
    assert (float(margin) >= 0) is expected["ok"]
    if "next_due_at_h" in expected:
        assert next_due_at_h(due, now + given_["planned_h"]) == expected["next_due_at_h"]


@pytest.mark.parametrize("case", params(topic("rules", "hundred_hour_next_due")))
def test_next_due(case: Case) -> None:
    found = next_due_at_h(case["inputs"]["due_at_h"], case["inputs"]["inspected_at_h"])
    assert found == pytest.approx(case["expected"]["next_due_h"])


@pytest.mark.parametrize("case", params(topic("rules", "component_life")))
def test_component_life(case: Case) -> None:
    given_, expected = case["inputs"], case["expected"]
    left = life_left_after_h(given_["limit_h"], given_["used_h"], given_["planned_h"])
    assert left == pytest.approx(expected["after_flight_h"])
    assert life_left_after_h(given_["limit_h"], given_["used_h"], 0) == pytest.approx(expected["remaining_h"])
    assert (float(left) >= 0) is expected["permitted"]


@pytest.mark.parametrize("case", params(topic("rules_more", "life_limits")))
def test_life_limits(case: Case) -> None:
    given_, expected = case["inputs"], case["expected"]
    if "limits" in given_:
        names = [limit["name"] for limit in given_["limits"]]
        limits, used = ([limit[key] for limit in given_["limits"]] for key in ("limit_h", "since_new_h"))
        left = np.asarray(life_left_after_h(limits, used, given_["planned_h"]))
        found = tightest_item(names, left)
        assert found is not None
        assert found[0] == expected["tightest"]
        assert found[1] == pytest.approx(expected["left_after_h"])
        assert tightest(left) == pytest.approx(expected["left_after_h"])
        return
    if "recurring_h" in given_:
        due = next_due_at_h(given_["last_at_h"], given_["last_at_h"], given_["recurring_h"])
        before, after = (hours_left_after_h(due, given_["now_h"], planned) for planned in (0, given_["planned_h"]))
    else:
        before, after = (
            life_left_after_h(given_["limit_h"], given_["since_new_h"], planned) for planned in (0, given_["planned_h"])
        )
    assert after == pytest.approx(expected["left_after_h"])
    assert before == pytest.approx(expected.get("left_before_h", before))
    ok = not_below(after, 0)
    if "limit_years" in given_:
        until = months_valid_until(known_day(given_["installed_on"]), 12 * given_["limit_years"])
        assert until == day(expected["calendar_until"])
        ok = all_of(ok, not_below(days_left_after(until, known_day(given_["flight_on"])), 0))
    assert ok == float(expected["ok"])


@pytest.mark.parametrize("case", params(topic("rules", "required_equipment")))
def test_required_equipment_first_set(case: Case) -> None:
    given_ = case["inputs"]
    found = inoperative_but_required(
        given_["inoperative"], night=given_["time"] == "night", for_hire=given_["for_hire"]
    )
    assert list(found) == case["expected"]["blocked_by"]


@pytest.mark.parametrize("case", params(topic("rules_more", "required_equipment")))
def test_required_equipment_second_set(case: Case) -> None:
    given_ = case["inputs"]
    uses_fuses = False if given_.get("aircraft_uses") == "circuit_breakers_only" else None
    found = inoperative_but_required(
        given_["inoperative"], night=given_["night"], for_hire=given_["for_hire"], uses_fuses=uses_fuses
    )
    assert bool(found) is case["expected"]["required_by_91_205"]


def test_the_lists_of_required_equipment_are_those_of_the_file() -> None:
    lists = document("rules")["required_equipment"]
    over_water = "flotation_and_signal_if_for_hire_beyond_power_off_glide_of_shore"
    for name in set(lists["day_vfr_piston_rotorcraft"]) - {over_water}:  # over water is another guard's question
        assert inoperative_but_required([name], night=False, for_hire=False) == (name,)
    short = {"landing_light_if_for_hire": "landing_light", "spare_fuses_if_fuses_used": "spare_fuses"}
    for entry in lists["night_vfr_adds"]:
        name = short.get(entry, entry)
        assert inoperative_but_required([name], night=True, for_hire=True) == (name,)
        assert inoperative_but_required([name], night=False, for_hire=True) == ()


def test_equipment_when_the_night_is_not_known() -> None:
    assert inoperative_but_required(["position_lights", "landing_light"], night=None, for_hire=None) == (
        "position_lights",
        "landing_light",
    )


@pytest.mark.parametrize("case", params([*topic("rules", "deferral"), *topic("rules_more", "deferral")]))
def test_deferral(case: Case) -> None:
    given_, expected = case["inputs"], case["expected"]

    def fact(*names: str, default: bool | None = None) -> float:
        value = next((given_[name] for name in names if name in given_), default)
        return number(value)

    both = "deactivated_and_placarded_or_removed"  # the first set asks for both in one and for neither record nor time
    first = both in given_
    found = deferral_allowed(
        type_basis_vfr_day=fact("vfr_day_certification_item", "type_basis_vfr_day"),
        equipment_list=fact("required_by_equipment_list", "equipment_list"),
        other_rule=fact("required_by_91_205_or_other_rule", "rule"),
        directive=fact("required_by_directive", "ad"),
        removed_or_deactivated=fact(both, "removed_or_deactivated"),
        placarded=fact(both, "placarded"),
        recorded=fact("recorded", default=True if first else None),
        judged_no_hazard=fact("judged_no_hazard"),
        inspection_passed_since=fact("required_inspection_passed_since", default=False if first else None),
    )
    wanted = expected.get("may_fly", expected.get("deferrable"))
    assert math.isnan(float(found)) if wanted == "unknown" else found == float(wanted)


def test_defects_by_effect() -> None:
    open_now = [DefectEffect.watch, DefectEffect.no_night, DefectEffect.watch]
    assert defects_with_effect(open_now, DefectEffect.watch) == 2
    assert defects_with_effect(open_now, DefectEffect.grounding) == 0
    assert defects_with_effect([], DefectEffect.grounding) == 0
    assert math.isnan(defects_with_effect(None, DefectEffect.grounding))
    # A defect whose effect nobody has stated could be a grounding one; a known grounding one shows all the same.
    assert math.isnan(defects_with_effect([*open_now, None], DefectEffect.grounding))
    assert defects_with_effect([DefectEffect.grounding, None], DefectEffect.grounding) == 1


def test_missing_loose_equipment() -> None:
    here, gone = ItemState.in_place, ItemState.not_in_place
    assert equipment_missing({"mixture guard": here, "fire extinguisher": here}) == 0
    assert equipment_missing({"mixture guard": gone, "fire extinguisher": None}) == 1
    assert math.isnan(equipment_missing({"mixture guard": here, "fire extinguisher": None}))
    assert math.isnan(equipment_missing(None))
    assert equipment_missing({}) == 0


def test_the_tightest_item() -> None:
    assert tightest_item([], []) is None
    assert tightest_item(["a", "b"], [3.0, 1.0]) == ("b", 1.0)
    assert tightest_item(["a", "b", "c"], [3.0, math.nan, -1.0]) == ("c", -1.0)
    found = tightest_item(["a", "b"], [3.0, math.nan])
    assert found is not None
    assert found[0] == "b"
    assert math.isnan(found[1])
    with pytest.raises(ValueError, match="margins"):
        tightest_item(["a"], [1.0, 2.0])


def test_arrays_unknowns_and_the_impossible() -> None:
    np.testing.assert_array_equal(
        hours_left_after_h([1334.5, 1334.5, np.nan], [1333.3, np.nan, 1000.0], 1.2), [0.0, np.nan, np.nan]
    )
    np.testing.assert_array_equal(hundred_hour_margin_h([-2.0, -2.0, -2.0], [1, 0, np.nan]), [8.0, -2.0, -2.0])
    for facts, name in (((-1, 0, 0), "due_at_h"), ((1, -1, 0), "now_h"), ((1, 1, -1), "planned_h")):
        with pytest.raises(ValueError, match=name):
            hours_left_after_h(*facts)
    with pytest.raises(ValueError, match="limit_h"):
        life_left_after_h(0, 0, 0)
