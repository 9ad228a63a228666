"""The registered measures of the aircraft: reference cases once more, now through a worksheet.

Where a test names no file, the expected value is hand arithmetic. The flight is on 4 May 2026, one hour long.
"""

import math
from datetime import timedelta
from typing import Any

import pytest

from tests.measures.reference import Case, day, document, known_day, params, topic
from tests.measures.registered import FLIGHT, TAKE_OFF, measured, on_day

WORST_D, BEST_D, BEST_H = -3650, 3650, 10_000


def unknown(value: float) -> bool:
    return math.isnan(value)


def lasting(hours: float) -> dict[str, Any]:
    return FLIGHT | {"landing_at": TAKE_OFF + timedelta(hours=hours)}


def calendar_check(name: str, field: str, cases: list[Case]) -> None:
    for case in cases:
        given, expected = case["inputs"], case["expected"]
        done = day(given.get("done", given.get("done_on", given.get("inspected"))))
        flight = known_day(given.get("flight_date", given.get("flight_on")))
        found = measured(name, **{field: done}, **on_day(flight))
        until = day(
            expected.get("valid_through", expected.get("valid_until", expected.get("inspection_valid_through")))
        )
        if until is None:
            assert unknown(found), case["id"]
        else:
            assert found == (until - flight).days, case["id"]
    assert cases


def of_item(item: str) -> list[Case]:
    return [case for case in topic("rules_more", "inspections_calendar") if case["inputs"]["item"] == item]


def test_annual_days_left_d() -> None:
    calendar_check("annual_days_left_d", "annual_on", [*topic("rules", "annual"), *of_item("annual")])


def test_transponder_days_left_d() -> None:
    cases = [*topic("rules", "transponder"), *of_item("transponder")]
    calendar_check("transponder_days_left_d", "transponder_check_on", cases)
    assert measured("transponder_days_left_d", transponder_check_on="none") == WORST_D


def test_locator_days_left_d() -> None:
    calendar_check("locator_days_left_d", "locator_check_on", [*topic("rules", "elt"), *of_item("elt")])
    assert measured("locator_days_left_d", locator_check_on="none") == WORST_D


def hundred_hour_cases() -> list[Any]:
    return params(
        topic("rules_more", "hundred_hour"),
        where=lambda case: {"due_at_h", "hours_left_after"} <= set(case["expected"]),
    )


@pytest.mark.parametrize("case", hundred_hour_cases())
def test_hundred_hour_left_h(case: Case) -> None:
    given, expected = case["inputs"], case["expected"]
    facts = {"hundred_hour_due_at_h": expected["due_at_h"], "meter_h": given["now_h"]}
    found = measured("hundred_hour_left_h", **facts, **lasting(given["planned_h"]))
    assert found == pytest.approx(expected["hours_left_after"])
    assert (found >= 0) is expected["ok"]
    for blank in ({"meter_h": None}, {"hundred_hour_due_at_h": None}):
        assert unknown(measured("hundred_hour_left_h", **(facts | blank), **lasting(given["planned_h"])))
    assert measured("hundred_hour_left_h", hundred_hour_due_at_h="none", meter_h=given["now_h"]) == BEST_H


def test_two_minutes_over_the_limit_do_not_round_to_inside() -> None:
    facts = {"hundred_hour_due_at_h": 1300.0, "meter_h": 1298.9}
    assert measured("hundred_hour_left_h", **facts, **lasting(66 / 60)) == 0
    assert measured("hundred_hour_left_h", **facts, **lasting(68 / 60)) == -0.1


def listed(*limits: tuple[Any, Any]) -> list[dict[str, Any]]:
    return [{"name": f"item {i}", "due_on": on, "due_at_h": at_h} for i, (on, at_h) in enumerate(limits)]


def earliest_by_day(name: str, field: str) -> None:
    """The flight is on 4 May; known failure beats unknown beats pass; a blank date is not "none"."""
    assert measured(name, **{field: listed(("2026-06-01", "none"), ("2026-05-14", "none"))}) == 10
    assert measured(name, **{field: listed(("none", 900.0), ("2026-05-04", "none"))}) == 0
    assert measured(name, **{field: listed(("2026-05-01", "none"), (None, 900.0))}) == -3
    assert unknown(measured(name, **{field: listed(("2026-05-14", "none"), (None, 900.0))}))
    assert measured(name, **{field: listed(("none", 900.0))}) == BEST_D
    assert measured(name, **{field: []}) == BEST_D
    assert unknown(measured(name))


def earliest_by_hour(name: str, field: str) -> None:
    now = {"meter_h": 861.8} | lasting(0.6)
    assert measured(name, **{field: listed(("none", 862.4), ("none", 900.0))}, **now) == 0  # LL04
    assert measured(name, **{field: listed(("none", 862.4))}, **(now | lasting(0.7))) == pytest.approx(-0.1)  # LL05
    assert measured(name, **{field: listed(("2026-06-01", None), ("none", 862.0))}, **now) == pytest.approx(-0.4)
    assert unknown(measured(name, **{field: listed(("2026-06-01", None), ("none", 900.0))}, **now))
    assert measured(name, **{field: listed(("2026-06-01", "none"))}, **now) == BEST_H
    assert measured(name, **{field: []}, **now) == BEST_H
    assert unknown(measured(name, **now))


def test_inspection_days_left_d() -> None:
    earliest_by_day("inspection_days_left_d", "inspections")


def test_life_limit_days_left_d() -> None:
    earliest_by_day("life_limit_days_left_d", "life_limits")


def test_inspection_hours_left_h() -> None:
    earliest_by_hour("inspection_hours_left_h", "inspections")


def test_life_limit_hours_left_h() -> None:
    """LL06: the belt ends first, 500 - 497.2 - 1.5 = 1.3 h; as meter readings at 2,000 h."""
    earliest_by_hour("life_limit_hours_left_h", "life_limits")
    case = next(case for case in topic("rules_more", "life_limits") if case["id"] == "LL06")
    due = [("none", 2000.0 + part["limit_h"] - part["since_new_h"]) for part in case["inputs"]["limits"]]
    found = measured(
        "life_limit_hours_left_h", life_limits=listed(*due), meter_h=2000.0, **lasting(case["inputs"]["planned_h"])
    )
    assert found == pytest.approx(case["expected"]["left_after_h"])


def defects(*effects: str | None, **more: Any) -> list[dict[str, Any]]:
    return [{"text": f"defect {i}", "effect": effect, **more} for i, effect in enumerate(effects)]


def counts_defects(name: str, effect: str, other: str) -> None:
    assert measured(name, open_defects=defects(effect, other, effect)) == 2
    assert measured(name, open_defects=defects(other)) == 0
    assert measured(name, open_defects=[]) == 0
    assert measured(name, open_defects=defects(effect, None)) == 1
    assert unknown(measured(name, open_defects=defects(other, None)))
    assert unknown(measured(name))


def test_grounding_defects() -> None:
    counts_defects("grounding_defects", "grounding", "watch")
    ended, running = {"deferred_until": "2026-05-03"}, {"deferred_until": "2026-05-04"}
    assert measured("grounding_defects", open_defects=defects("watch", **ended)) == 1
    assert measured("grounding_defects", open_defects=defects("watch", **running)) == 0
    assert unknown(measured("grounding_defects", open_defects=defects("watch", **running), landing_at=None))


def test_night_defects() -> None:
    counts_defects("night_defects", "no_night", "no_solo")


def test_passenger_defects() -> None:
    counts_defects("passenger_defects", "no_passengers", "no_night")


def test_solo_defects() -> None:
    counts_defects("solo_defects", "no_solo", "watch")


def test_watch_defects() -> None:
    counts_defects("watch_defects", "watch", "grounding")


def items(*states: str | None, required: bool = True) -> list[dict[str, Any]]:
    return [{"name": f"item {i}", "state": state, "required": required} for i, state in enumerate(states)]


def counts_items(name: str, field: str, *, optional_counts: bool) -> None:
    assert measured(name, **{field: items("in_place", "in_place")}) == 0
    assert measured(name, **{field: items("in_place", "not_in_place", None)}) == 1
    assert unknown(measured(name, **{field: items("in_place", None)}))
    assert measured(name, **{field: items("not_in_place", required=False)}) == float(optional_counts)
    assert measured(name, **{field: []}) == 0
    assert unknown(measured(name))


def test_equipment_missing() -> None:
    counts_items("equipment_missing", "loose_equipment", optional_counts=False)


def test_night_equipment_missing() -> None:
    counts_items("night_equipment_missing", "night_equipment", optional_counts=False)


def test_left_undone() -> None:
    counts_items("left_undone", "left_by_last_user", optional_counts=True)


def test_hours_since_maintenance_h() -> None:
    assert measured("hours_since_maintenance_h", hours_since_major_maintenance_h=7.5) == 7.5
    assert unknown(measured("hours_since_maintenance_h"))


def fuel_facts(case: Case) -> dict[str, Any]:
    given = case["inputs"]
    return {
        "fuel_usable_gal": given["usable_gal"],
        "fuel_burn_gal_h": given["burn_gal_h"],
        "start_and_taxi_gal": given["taxi_gal"],
        "reserve_min": given["reserve_min"],
    } | lasting(given["planned_h"])


def fuel_cases() -> list[Case]:
    return [case for case in topic("atmosphere", "fuel") if not case["expected"].get("refused")]


@pytest.mark.parametrize("case", fuel_cases())
def test_fuel_margin_min(case: Case) -> None:
    facts = fuel_facts(case)
    assert measured("fuel_margin_min", **facts) == pytest.approx(case["expected"]["margin_min"], abs=0.1)
    for name in ("fuel_usable_gal", "fuel_burn_gal_h", "start_and_taxi_gal", "reserve_min", "landing_at"):
        assert unknown(measured("fuel_margin_min", **(facts | {name: None})))


def test_fuel_at_landing_min() -> None:
    """Common practice: 24 gal at 12 gal/h last 120 min; 1.2 h of flight leave 48 min."""
    row = document("practice")["fuel_example"]
    facts = {
        "fuel_usable_gal": row["usable_us_gal"],
        "fuel_burn_gal_h": row["burn_us_gal_per_h"],
        "start_and_taxi_gal": 0,
    }
    found = measured("fuel_at_landing_min", **facts, **lasting(row["planned_h"]))
    assert found == row["margin_min"] + row["reserve_min"] == 48
    assert unknown(measured("fuel_at_landing_min", **(facts | {"start_and_taxi_gal": None})))


def yes_or_no(name: str, field: str) -> None:
    assert measured(name, **{field: True}) == 0
    assert measured(name, **{field: False}) == 1
    assert unknown(measured(name))


def test_fuel_unchecked() -> None:
    yes_or_no("fuel_unchecked", "fuel_checked_by_sight")


def test_preflight_not_done() -> None:
    yes_or_no("preflight_not_done", "preflight_done")


def test_meter_reading_age_h() -> None:
    """The decision is taken half an hour before the take-off."""
    assert measured("meter_reading_age_h", meter_read_at=TAKE_OFF - timedelta(hours=3)) == 2.5
    assert unknown(measured("meter_reading_age_h"))
