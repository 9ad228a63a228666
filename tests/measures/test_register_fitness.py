"""The registered measures of the pilot's state, through a worksheet.

Where a test names no file, the expected value is hand arithmetic; the flight is on 4 May 2026, 09:00 to 10:00 local,
15:00 to 16:00 UTC.
"""

import math
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from riskboard.measures.registry import evaluate
from riskboard.worksheet.columns import to_columns
from riskboard.worksheet.model import Worksheet
from tests.measures.reference import Case, at_utc, clock, document, params, topic
from tests.measures.registered import TAKE_OFF, measured

RECORDS = [case for case in document("fatigue_more")["cases"] if not case["expected"]["asleep"]]


def unknown(value: float) -> bool:
    return math.isnan(value)


def slept(*pairs: tuple[str, str]) -> list[dict[str, datetime]]:
    return [{"start_at": at_utc(a), "end_at": at_utc(b)} for a, b in pairs]


def past_sleeps(case: Case) -> list[dict[str, datetime]]:
    """What a pilot could have entered by then."""
    at = case["inputs"]["at"]
    return slept(*[pair for pair in case["inputs"]["sleeps"] if pair[1] <= at])


def at_instant(case: Case) -> dict[str, Any]:
    at = at_utc(case["inputs"]["at"])
    return {"take_off_at": at, "landing_at": at + timedelta(minutes=1), "time_zone": "UTC"}


def sleep_sum(case: Case, hours: int) -> None:
    found = measured(f"sleep_last_{hours}h_h", sleeps=past_sleeps(case), **at_instant(case))
    expected = case["expected"][f"sleep_h_last_{hours}"]
    if expected == "unknown":
        assert unknown(found)
    else:
        assert found == pytest.approx(expected, abs=0.05001)  # shown to 0.1 h


@pytest.mark.parametrize("case", params(RECORDS))
def test_sleep_last_24h_h(case: Case) -> None:
    sleep_sum(case, 24)


@pytest.mark.parametrize("case", params(RECORDS))
def test_sleep_last_48h_h(case: Case) -> None:
    sleep_sum(case, 48)


def test_no_sleep_is_an_answer_and_blank_is_not() -> None:
    for name, none in (("sleep_last_24h_h", 0.0), ("sleep_last_48h_h", 0.0), ("hours_awake_at_landing_h", 72.0)):
        assert measured(name, sleeps=[]) == none
        assert unknown(measured(name))
        assert unknown(measured(name, sleeps=[], take_off_at=None, landing_at=None))
    assert unknown(measured("modelled_sleepiness_kss", sleeps=[]))
    assert unknown(measured("modelled_sleepiness_kss"))


@pytest.mark.parametrize("case", params(RECORDS))
def test_hours_awake_at_landing_h(case: Case) -> None:
    landing = at_utc(case["inputs"]["at"])
    times = {"take_off_at": landing - timedelta(minutes=1), "landing_at": landing, "time_zone": "UTC"}
    found = measured("hours_awake_at_landing_h", sleeps=past_sleeps(case), **times)
    assert found == pytest.approx(case["expected"]["hours_awake"], abs=0.05001)


def test_modelled_sleepiness_kss() -> None:
    """FA01: after a week of eight-hour nights the assumed history is the true one; the flight lasts a minute."""
    case = next(case for case in RECORDS if case["id"] == "FA01")
    found = measured("modelled_sleepiness_kss", sleeps=past_sleeps(case), **at_instant(case))
    assert found == pytest.approx(case["expected"]["kss_10_6"], abs=0.05001)


def begins_as_assumed(case: Case) -> bool:
    """The record begins at 07:00 with S 13.8198 and the first sleep at 23:00: what the measure assumes."""
    return bool(case["inputs"]["sleeps"][0][0] == "2026-05-04T23:00")


@pytest.mark.parametrize("case", params(RECORDS, where=begins_as_assumed))
def test_modelled_sleepiness_where_the_record_begins_sixteen_hours_before_the_first_sleep(case: Case) -> None:
    found = measured("modelled_sleepiness_kss", sleeps=past_sleeps(case), **at_instant(case))
    assert found == pytest.approx(case["expected"]["kss_10_6"], abs=0.05001)  # shown to 0.1


def test_modelled_sleepiness_is_the_worst_of_the_flight() -> None:
    """A morning gets better by the clock, so the take-off is the worst; an evening gets worse, so the landing is."""
    night = slept(("2026-05-04T04:00", "2026-05-04T12:00"))  # 22:00 to 06:00 local
    morning = {"take_off_at": TAKE_OFF, "landing_at": TAKE_OFF + timedelta(hours=2)}
    first = measured(
        "modelled_sleepiness_kss", sleeps=night, **(morning | {"landing_at": TAKE_OFF + timedelta(minutes=1)})
    )
    assert measured("modelled_sleepiness_kss", sleeps=night, **morning) == first
    late = datetime(2026, 5, 5, 3, tzinfo=UTC)
    evening = {"take_off_at": late, "landing_at": late + timedelta(hours=2)}
    last = {"take_off_at": late + timedelta(minutes=119), "landing_at": late + timedelta(hours=2)}
    assert measured("modelled_sleepiness_kss", sleeps=night, **evening) == measured(
        "modelled_sleepiness_kss", sleeps=night, **last
    )


def test_impossible_rows_are_unknown_beside_good_ones() -> None:
    """A batch may hold rows that no worksheet would accept: they give NaN and leave their neighbours alone."""
    sheet = Worksheet().but(
        take_off_at=TAKE_OFF,
        landing_at=TAKE_OFF + timedelta(hours=1),
        time_zone="UTC",
        sleeps=slept(("2026-05-03T22:00", "2026-05-04T06:00"), ("2026-05-02T22:00", "2026-05-03T06:00")),
    )
    columns = to_columns([sheet] * 4, TAKE_OFF - timedelta(hours=1))
    columns["sleeps_end_at"][1, 0] = columns["sleeps_start_at"][1, 0] - 1.0
    columns["sleeps_start_at"][2, 1] = columns["sleeps_start_at"][2, 0] + 60.0
    columns["landing_at"][3] = columns["take_off_at"][3] - 60.0
    names = ["sleep_last_24h_h", "modelled_sleepiness_kss", "circadian_low_min"]
    found = evaluate(columns, names)
    assert np.isfinite([found[name][0] for name in names]).all()
    assert np.isnan(found["sleep_last_24h_h"][1:3]).all()
    assert np.isnan(found["modelled_sleepiness_kss"][1:]).all()
    assert np.isnan(found["circadian_low_min"][3])


@pytest.mark.parametrize(
    ("local_hour", "hours", "minutes"), [(1, 2, 60), (5, 2, 60), (2, 1, 60), (9, 1, 0), (0, 8, 240)]
)
def test_circadian_low_min(local_hour: int, hours: int, minutes: int) -> None:
    take_off = datetime(2026, 5, 4, local_hour + 6, tzinfo=UTC)  # six hours behind UTC
    times = {"take_off_at": take_off, "landing_at": take_off + timedelta(hours=hours)}
    assert measured("circadian_low_min", **times) == minutes
    assert unknown(measured("circadian_low_min", **times, time_zone=None))


def drinks() -> list[Any]:
    return params(topic("rules_more", "alcohol"), where=lambda case: case["id"] not in {"AL06", "AL07"})


@pytest.mark.parametrize("case", drinks())
def test_alcohol_free_h(case: Case) -> None:
    start = clock(case["inputs"]["flight_start"])
    times = {"take_off_at": start, "landing_at": start + timedelta(hours=1)}
    found = measured("alcohol_free_h", last_drink_at=clock(case["inputs"]["last_drink"]), **times)
    assert found == pytest.approx(case["expected"]["hours"], abs=0.05001)


def test_alcohol_none_blank_and_after_the_flight() -> None:
    assert measured("alcohol_free_h", last_drink_at="none") == 720
    assert unknown(measured("alcohol_free_h"))
    assert unknown(measured("alcohol_free_h", last_drink_at=TAKE_OFF + timedelta(hours=3)))
    assert measured("alcohol_free_h", last_drink_at=TAKE_OFF - timedelta(days=200)) == 720


def test_hours_since_meal_h() -> None:
    assert measured("hours_since_meal_h", last_meal_at=TAKE_OFF - timedelta(hours=4)) == 5  # at landing
    assert unknown(measured("hours_since_meal_h"))


def test_duty_at_landing_h() -> None:
    assert measured("duty_at_landing_h", duty_started_at=TAKE_OFF - timedelta(hours=10, minutes=30)) == 11.5
    assert unknown(measured("duty_at_landing_h"))


def takes_as_typed(name: str, field: str, value: float) -> None:
    assert measured(name, **{field: value}) == value
    assert unknown(measured(name))


def yes_or_no(name: str, field: str) -> None:
    assert measured(name, **{field: True}) == 1
    assert measured(name, **{field: False}) == 0
    assert unknown(measured(name))


def test_sleepiness_self_rating() -> None:
    takes_as_typed("sleepiness_self_rating", "sleepiness_rating", 7)


def test_stress_rating() -> None:
    takes_as_typed("stress_rating", "stress_level", 4)


def test_unwell() -> None:
    yes_or_no("unwell", "ill_today")


def test_life_event_weighs() -> None:
    yes_or_no("life_event_weighs", "life_event")


def test_flights_flown_today() -> None:
    takes_as_typed("flights_flown_today", "flights_today", 3)


def test_days_worked_in_row() -> None:
    takes_as_typed("days_worked_in_row", "days_in_row", 6)


@pytest.mark.parametrize(("answer", "code"), [("none", 0), ("approved", 1), ("not_sure", 2), ("not_approved", 3)])
def test_medicine_concern(answer: str, code: int) -> None:
    assert measured("medicine_concern", medicines=answer) == code
    assert unknown(measured("medicine_concern"))
