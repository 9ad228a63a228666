"""Copies of one worksheet as columns: each row says what a fresh assessment of that changed worksheet says."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.assessment.assess import CannotAssessError, assess
from riskboard.assessment.variations import base_of, columns_behind, scored
from riskboard.measures.registry import GUARDS, MEASURES
from riskboard.worksheet import Worksheet
from riskboard.worksheet.columns import Columns
from riskboard.worksheet.entries import StationLoad
from tests.assessment.varied import RUN, calm, prepared, same_as_fresh
from tests.strategies import DECIDED_AT, worksheets

NUMBERS: Mapping[str, st.SearchStrategy[Any]] = {
    "wind_kt": st.integers(0, 15).map(float),
    "temperature_c": st.integers(0, 45).map(float),
    "altimeter_inhg": st.integers(2850, 3090).map(lambda hundredths: hundredths / 100),
    "visibility_sm": st.integers(1, 20).map(lambda halves: halves / 2),
    "fuel_usable_gal": st.integers(1, 24).map(float),
    "fuel_burn_gal_h": st.integers(8, 20).map(float),
    "sleepiness_rating": st.integers(1, 9),
    "pressure_felt": st.integers(1, 5),
    "departure_elevation_ft": st.integers(0, 9).map(lambda thousands: thousands * 1000.0),
    "cruise_ft_agl": st.integers(3, 30).map(lambda hundreds: hundreds * 100.0),
    "distance_from_base_nm": st.integers(0, 60).map(float),
}


@st.composite
def changes(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Several changed copies: the same entries in each, with other values."""
    fields = draw(st.lists(st.sampled_from(sorted(NUMBERS)), min_size=1, max_size=4, unique=True))
    return [{field: draw(NUMBERS[field]) for field in fields} for _ in range(draw(st.integers(1, 5)))]


def as_columns(copies: list[dict[str, Any]]) -> Columns:
    return {field: np.array([float(copy[field]) for copy in copies]) for field in copies[0]}


@RUN
@given(changes())
def test_each_row_is_a_fresh_assessment_of_that_changed_worksheet(copies: list[dict[str, Any]]) -> None:
    sheet, at = calm()
    base = base_of(sheet, prepared(), at)
    _, scores = scored(base, as_columns(copies), keep=True)
    same_as_fresh(base, [(sheet.but(**copy), at) for copy in copies], scores)


@RUN
@given(worksheets(), changes())
def test_that_holds_for_any_worksheet(sheet: Worksheet, copies: list[dict[str, Any]]) -> None:
    try:
        base = base_of(sheet, prepared(), DECIDED_AT)
    except CannotAssessError:
        return
    copies = [{f: v for f, v in copy.items() if f in base.known} for copy in copies]
    if not copies[0]:
        return
    kept = []
    for copy in copies:
        try:
            changed = sheet.but(**copy)
            assess(changed, prepared(), DECIDED_AT)
        except (ValueError, CannotAssessError):
            continue
        kept.append((copy, changed))
    if kept:
        _, scores = scored(base, as_columns([copy for copy, _ in kept]), keep=True)
        same_as_fresh(base, [(changed, DECIDED_AT) for _, changed in kept], scores)


def test_the_base_is_the_assessment_itself() -> None:
    sheet, at = calm()
    base, fresh = base_of(sheet, prepared(), at), assess(sheet, prepared(), at)
    assert (base.decision, prepared().policy.levels[base.level].name) == (fresh.decision, fresh.level)
    assert int(base.scores.total[0]) == fresh.total


def test_a_load_on_a_seat_moves_weight_and_balance() -> None:
    sheet, at = calm()
    base = base_of(sheet, prepared(), at)
    loads = sheet.plan.station_loads or ()
    place = next(i for i, entry in enumerate(loads) if entry.load_lb)
    column = np.repeat(base.columns["station_loads_load_lb"], 3, axis=0)
    column[:, place] += [0.0, 60.0, 300.0]
    changed = []
    for more in (0.0, 60.0, 300.0):
        entries = list(loads)
        entries[place] = StationLoad(station=loads[place].station, load_lb=(loads[place].load_lb or 0) + more)
        changed.append((sheet.but(station_loads=tuple(entries)), at))
    facts, scores = scored(base, {"station_loads_load_lb": column}, keep=True)
    same_as_fresh(base, changed, scores)
    margin = facts.measures["gross_max_margin_lb"]
    assert (margin[1], margin[2]) == (margin[0] - 60, margin[0] - 300)
    assert scores.decision[2] > scores.decision[0]  # 300 lb more than two people and full tanks is no flight


def test_what_does_not_move_is_not_worked_out_again() -> None:
    assert "sleeps_start_at" not in columns_behind("gust_peak_kt")
    assert {"wind_kt", "gust_kt", "approach_heading_deg"} <= columns_behind("crosswind_worst_kt")
    for name in (*MEASURES, *(word.value for word in GUARDS if word.value not in MEASURES)):
        assert columns_behind(name), name


def test_no_rows_or_uneven_rows_are_refused() -> None:
    sheet, at = calm()
    base = base_of(sheet, prepared(), at)
    with pytest.raises(ValueError, match="at least one column"):
        scored(base, {})
    with pytest.raises(ValueError, match="same number of rows"):
        scored(base, {"wind_kt": np.zeros(2), "gust_kt": np.zeros(3)})


def test_what_cannot_be_true_is_refused_as_an_assessment_refuses_it() -> None:
    sheet, at = calm()
    with pytest.raises(CannotAssessError, match="has passed"):
        base_of(sheet, prepared(), at + timedelta(hours=8))
    with pytest.raises(ValueError, match="time zone"):
        base_of(sheet, prepared(), at.replace(tzinfo=None))


def test_a_waiver_stands_in_every_row() -> None:
    sheet, at = calm()
    base = base_of(sheet.but(annual_on="2025-01-09"), prepared(), at)
    limit = next(limit.name for limit in prepared().policy.limits if limit.waiver)
    waived = base_of(sheet, prepared(), at, waived=frozenset({limit}))
    facts, _ = scored(waived, {"wind_kt": np.array([3.0, 4.0])})
    assert facts.waived[limit].tolist() == [True, True]
    assert base.decision == 2
