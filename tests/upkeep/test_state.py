"""How an aircraft stands: known failure beats unknown beats pass, and fewer hours left are never better."""

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.upkeep.forecast import FlyingRate
from riskboard.upkeep.state import DueState, Stand, open_defects_of, stand_of, work_due
from riskboard.upkeep.work import WorkItem, work_items
from riskboard.words import DefectEffect
from tests.measures.flown_loads import tarnwick

TODAY = date(2026, 5, 4)
NO_RATE = FlyingRate(None, 0.0, 0, 0, 0.0)
RATE = FlyingRate(0.6, 1.3, 40, 0, 90.0)
_STANDS, _DUES = list(Stand), list(DueState)


def facts(**changed: Any) -> dict[str, Any]:
    sound = {
        "annual_on": "2026-01-10",
        "hundred_hour_due_at_h": 1050.0,
        "transponder_check_on": "2025-06-01",
        "locator_check_on": "none",
        "inspections": [
            {"name": "Drive belt inspection", "due_on": "none", "due_at_h": 1200.0},
            {"name": "Blade bond directive", "due_on": "2026-12-01", "due_at_h": 1200.0},
        ],
        "life_limits": [
            {"name": "Main rotor blades", "due_on": "2030-01-01", "due_at_h": 2000.0},
            {"name": "Tail rotor blades", "due_on": "2030-01-01", "due_at_h": 2000.0},
            {"name": "Drive belts", "due_on": "none", "due_at_h": 1900.0},
        ],
        "open_defects": [],
    }
    return sound | changed


def stand(meter_h: float | None = 1000.0, **changed: Any) -> Stand:
    told = facts(**changed)
    work = work_due(work_items(told, tarnwick()), meter_h, RATE, TODAY)
    return stand_of(open_defects_of(told, TODAY), work, all_known=meter_h is not None)


def defect(effect: str | None, **more: Any) -> dict[str, Any]:
    return {"text": "Something"} | ({} if effect is None else {"effect": effect}) | more


def test_nothing_open_is_the_best_there_is() -> None:
    assert stand() is Stand.nothing_open
    assert stand(open_defects="none") is Stand.nothing_open


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        ([defect("watch")], Stand.watch),
        ([defect("no_night")], Stand.restricted),
        ([defect("watch"), defect("no_solo")], Stand.restricted),
        ([defect(None)], Stand.unknown),
        ([defect("no_night"), defect(None)], Stand.unknown),
        ([defect("grounding"), defect(None)], Stand.grounded),
        ([defect("no_night", deferred_until="2026-05-04")], Stand.restricted),
        ([defect("no_night", deferred_until="2026-05-03")], Stand.grounded),
        ([{"text": "Something", "effect": "not a word"}], Stand.unknown),
        (None, Stand.unknown),
    ],
)
def test_the_gravest_thing_counts(found: Any, expected: Stand) -> None:
    assert stand(open_defects=found) is expected


def test_work_that_is_over_or_unknown_shows() -> None:
    assert stand(1050.1) is Stand.overdue
    assert stand(1050.0) is Stand.nothing_open
    assert stand(annual_on="2025-04-10") is Stand.overdue
    assert stand(annual_on=None) is Stand.unknown
    assert stand(None) is Stand.unknown
    assert stand(inspections=[]) is Stand.unknown  # the type asks for two that nobody has stated
    assert stand(1050.1, annual_on=None) is Stand.overdue
    assert stand(1050.1, open_defects=[defect("grounding")]) is Stand.grounded


def test_a_blank_is_no_list_of_none() -> None:
    items = {item.key: item for item in work_items({}, tarnwick())}
    assert {item.known for item in items.values()} == {False}
    assert "inspection:Drive belt inspection" in items
    assert "life:Main rotor blades" in items
    assert "inspection:Annual inspection" not in items  # the annual has a fact of its own
    assert {item.key for item in work_items({"annual_on": "none", "locator_check_on": "none"}, None)} == {
        "hundred_hour",
        "transponder",
    }


def test_an_annual_holds_to_the_end_of_its_twelfth_month() -> None:
    """14 CFR 91.409(a): 12 calendar months."""
    (annual,) = [item for item in work_items({"annual_on": "2026-01-10"}, None) if item.key == "annual"]
    assert annual.due_on == date(2027, 1, 31)


@given(st.floats(0, 3000), st.floats(0, 3000), st.sampled_from([NO_RATE, RATE]))
def test_fewer_hours_left_are_never_better(one: float, other: float, rate: FlyingRate) -> None:
    item = WorkItem("hundred_hour", "100-hour inspection", None, 1500.0, known=True)
    low, high = sorted((one, other))
    (better,) = work_due([item], low, rate, TODAY)
    (worse,) = work_due([item], high, rate, TODAY)
    assert _DUES.index(worse.state) <= _DUES.index(better.state)


@given(st.integers(-400, 400), st.integers(-400, 400))
def test_fewer_days_left_are_never_better(one: int, other: int) -> None:
    low, high = sorted((one, other))
    items = [WorkItem("annual", "Annual", TODAY + timedelta(days=days), None, known=True) for days in (low, high)]
    worse, better = (work_due([item], 1000.0, RATE, TODAY)[0] for item in items)
    assert _DUES.index(worse.state) <= _DUES.index(better.state)


_EFFECTS = st.sampled_from([None, *(effect.value for effect in DefectEffect)])


@given(st.lists(_EFFECTS, max_size=4), _EFFECTS)
def test_another_defect_is_never_better(found: list[str | None], more: str | None) -> None:
    before = stand(open_defects=[defect(effect) for effect in found])
    after = stand(open_defects=[defect(effect) for effect in [*found, more]])
    assert _STANDS.index(after) <= _STANDS.index(before)


@given(st.sampled_from(sorted(facts())), st.lists(_EFFECTS, max_size=2))
def test_forgetting_never_makes_it_better_than_unknown(name: str, found: list[str | None]) -> None:
    told = [defect(effect) for effect in found]
    before = stand(open_defects=told)
    forgotten: dict[str, Any] = {"open_defects": told, name: None}
    after = stand(1000.0, **forgotten)
    assert _STANDS.index(after) <= max(_STANDS.index(Stand.unknown), 0)
    if name != "open_defects":
        assert _STANDS.index(after) <= _STANDS.index(before)


def test_the_most_pressing_work_comes_first() -> None:
    work = work_due(work_items(facts(annual_on=None), tarnwick()), 1045.0, RATE, TODAY)
    assert work[0].state is DueState.unknown
    assert work[1].item.key == "hundred_hour"
    assert work[1].state is DueState.soon
    assert work[1].hours_left == 5
    assert work[1].due is not None
    assert work[1].due.on == TODAY + timedelta(days=8)
