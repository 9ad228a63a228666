"""Loading, hover margins and limits of the type as measures: by hand from the invented type's own figures.

The hot afternoon of ``test_hot_afternoon.py``: 1,540 lb at take-off, of them 13.125 gal (78.75 lb) in the main and
6.875 gal (41.25 lb) in the auxiliary tank.
"""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.assessment.airframe import airframe_columns, airframe_of, airframe_problems, airframes_of
from riskboard.measures.registry import evaluate, inputs_of
from riskboard.worksheet.columns import AIRFRAME
from riskboard.worksheet.model import FIELD_PART, Worksheet
from tests.measures.flown_frames import HOT, NAMES, columns, fitted, loads, measured, sheet, types
from tests.measures.flown_loads import tarnwick
from tests.strategies import worksheets

NAN = float("nan")


def test_take_off_weight_lb() -> None:
    assert measured("take_off_weight_lb") == 1540
    assert measured("take_off_weight_lb", start_and_taxi_gal=2.0) == 1534  # a gallon less at 6 lb
    assert measured("take_off_weight_lb", equipment_fitted=fitted(floats=True)) == 1588  # floats weigh 48 lb
    assert measured("take_off_weight_lb", equipment_fitted=fitted(dual_controls=False)) == 1535  # 5 lb out


def test_gross_max_margin_lb() -> None:
    """1,560 lb is the highest weight."""
    assert measured("gross_max_margin_lb") == 20
    assert measured("gross_max_margin_lb", station_loads=loads(left_seat=240.0)) == -5


def test_gross_min_margin_lb() -> None:
    """985 + 435 - 1,060 lb; alone at 110 lb with 40 lb less: 985 + 70 - 1,060."""
    assert measured("gross_min_margin_lb") == 360
    light = loads(right_seat=70.0, left_seat=0.0)
    assert measured("gross_min_margin_lb", station_loads=light) == -5


def test_stations_margin_lb() -> None:
    """Seats bear 240 lb, places 45, seat and place together 250; the pilot's seat wants 110."""
    assert measured("stations_margin_lb") == 20
    assert measured("stations_margin_lb", station_loads=loads(right_baggage=40.0)) == -10
    assert measured("stations_margin_lb", station_loads=loads(right_seat=105.0)) == -5
    assert measured("stations_margin_lb", station_loads=loads(left_baggage=45.5)) == pytest.approx(-10.5)


def test_longitudinal_cg_margin_in() -> None:
    """(84,907 + 435 * 62 + 78.75 * 90 + 41.25 * 87) / 1,540 = 79.580; the front edge at 1,540 lb is 78.4625."""
    assert measured("longitudinal_cg_margin_in") == 1.11
    rearward = 84_907.0 + 1540 * (82.9333 - 79.5800) + 1540 * 0.02  # the rear edge there is 82.9333
    assert measured("longitudinal_cg_margin_in", empty_longitudinal_moment_in_lb=round(rearward)) < 0


def test_lateral_cg_margin_in() -> None:
    """(100 + 5 * 11.5 - 78.75 * 12 + 41.25 * 12.5) / 1,540 = -0.17654; the left edge at 1,540 lb is -1.46667."""
    assert measured("lateral_cg_margin_in") == 1.29
    assert measured("lateral_cg_margin_in", station_loads=loads(left_seat=0.0, right_seat=240.0)) < 1


def test_hover_ige_departure_margin_ft() -> None:
    """At 34 C: 5,940 ft at 1,460 lb, 5,100 ft at 1,560 lb, so 5,268 ft at 1,540 lb; less 1,240 ft."""
    assert measured("hover_ige_departure_margin_ft") == pytest.approx(4028, abs=1)


def test_hover_ige_site_margin_ft() -> None:
    """At 22.786 C: 7,021 ft at 1,460 lb, 6,221 ft at 1,560 lb, so 6,381 ft at 1,540 lb; less 6,900 ft."""
    assert measured("hover_ige_site_margin_ft") == pytest.approx(-519, abs=2)


def test_hover_oge_margin_ft() -> None:
    """At the site 5,321 ft at 1,460 and 4,321 ft at 1,560 lb: 4,521 ft, 2,379 ft short.

    At departure the table is blank, and the failure that is known counts. With a site as low as departure nothing is
    known, and that is no pass.
    """
    assert measured("hover_oge_margin_ft") == pytest.approx(-2379, abs=2)
    assert math.isnan(measured("hover_oge_margin_ft", highest_site_elevation_ft=1240.0))
    light = loads(left_seat=0.0)  # 1,325 lb at 20 C: 7,500 - 900 * 0.65 = 6,915 ft; less 1,240
    cool: dict[str, Any] = {"temperature_c": 20.0, "highest_site_elevation_ft": 1240.0, "station_loads": light}
    assert measured("hover_oge_margin_ft", **cool) == pytest.approx(5675, abs=2)


def test_hover_ige_margin_lb() -> None:
    """6,900 ft is held at 1,460 + 100 * 121 / 800 = 1,475.1 lb; departure by the heaviest of the table, 1,560 lb."""
    assert measured("hover_ige_margin_lb") == pytest.approx(-64.9, abs=0.3)
    assert measured("hover_ige_margin_lb", highest_site_elevation_ft=1240.0) == 20


def test_hover_oge_margin_lb() -> None:
    """6,900 ft is held at 1,260 + 100 * 321.4 / 900 = 1,295.7 lb; departure by the heaviest with a value, 1,360 lb."""
    assert measured("hover_oge_margin_lb") == pytest.approx(1295.7 - 1540, abs=0.3)
    assert measured("hover_oge_margin_lb", highest_site_elevation_ft=1240.0) == -180


def test_type_wind_margin_kt() -> None:
    assert measured("type_wind_margin_kt") == 25
    assert measured("type_wind_margin_kt", gust_kt=36.0) == -1


def test_type_gust_spread_margin_kt() -> None:
    assert measured("type_gust_spread_margin_kt") == 15
    assert measured("type_gust_spread_margin_kt", gust_kt=26.0) == -1


def test_type_crosswind_margin_kt() -> None:
    """From 90 deg across a heading of 0 all of it is crosswind; the limit is 20 kt."""
    assert measured("type_crosswind_margin_kt") == pytest.approx(10, abs=0.11)
    assert measured("type_crosswind_margin_kt", wind_kt=21.0) == pytest.approx(-1, abs=0.11)


def test_type_tailwind_margin_kt() -> None:
    """From 180 deg along a heading of 0 all of it is tailwind; the limit is 15 kt."""
    assert measured("type_tailwind_margin_kt") == 15
    assert measured("type_tailwind_margin_kt", wind_from_deg=180.0, wind_kt=16.0) == -1


def test_type_temperature_margin_c() -> None:
    """The type flies from -20 to 40 C."""
    assert measured("type_temperature_margin_c") == 6
    assert measured("type_temperature_margin_c", temperature_c=-21.0) == -1
    assert measured("type_temperature_margin_c", temperature_c=-15.0) == 5


def test_type_pressure_altitude_margin_ft() -> None:
    """12,000 ft less the higher of both places, at the standard setting."""
    assert measured("type_pressure_altitude_margin_ft") == pytest.approx(5100, abs=1)
    assert measured("type_pressure_altitude_margin_ft", highest_site_elevation_ft=12_400.0) == pytest.approx(
        -400, abs=1
    )


def test_a_limit_that_the_manual_does_not_state_is_the_best_end() -> None:
    """The other invented type states no tailwind limit."""
    (stated,) = (each for each in types().values() if each.title != HOT["type_name"])
    names = {f"type_{name}_margin_kt": getattr(stated.limits, f"{name}_max_kt") for name in ("wind", "tailwind")}
    assert None in names.values()
    for name, limit in names.items():
        found = measured(name, type_name=stated.title, station_loads=None, equipment_fitted=None)
        assert (found == 200) is (limit is None), name


def test_a_hair_outside_is_not_just_inside() -> None:
    """1,560.04 lb reads as 0.1 lb over, not as 0."""
    assert measured("gross_max_margin_lb", empty_weight_lb=1005.04) == -0.1
    assert measured("gross_max_margin_lb", empty_weight_lb=1005.0) == 0


# -- unknown, impossible, outside --------------------------------------------------------------------------------------


NOT_HERE = {
    # At departure the table is blank: where the site's known failure counts, no entry of departure is missed, and the
    # other way round.
    "hover_oge_margin_ft": inputs_of("hover_oge_margin_ft"),
    "hover_oge_margin_lb": {"highest_site_elevation_ft"},
    # This type draws its lateral envelope against weight, and this wind has no range.
    "lateral_cg_margin_in": {"empty_longitudinal_moment_in_lb"},
    "type_crosswind_margin_kt": {"wind_variable_to_deg"},
    "type_tailwind_margin_kt": {"wind_variable_to_deg"},
}


@pytest.mark.parametrize("name", NAMES)
def test_every_entry_it_rests_on_is_needed(name: str) -> None:
    assert not math.isnan(measured(name))
    needed = {field for field in inputs_of(name) if math.isnan(measured(name, **{field: None}))}
    assert inputs_of(name) - needed <= NOT_HERE.get(name, set())


@pytest.mark.parametrize("name", NAMES)
def test_nothing_else_moves_it(name: str) -> None:
    rest = [field for field in HOT if field not in inputs_of(name) and field != "type_name"]
    assert measured(name, **dict.fromkeys(rest)) == measured(name)


@pytest.mark.parametrize(
    "changed",
    [
        {"type_name": "Tarnwick 9"},
        {"type_name": None},
        {"station_loads": loads(left_baggage=None)},
        {"station_loads": (*loads(), {"station": "roof", "load_lb": 1.0})},
        {"equipment_fitted": fitted(floats=None)},
        {"equipment_fitted": (*fitted(), {"name": "hoist", "fitted": False})},
        {"fuel_usable_gal": 32.5},
        {"fuel_usable_gal": 0.5},
        {"empty_weight_lb": 1066.0},
    ],
    ids=str,
)
def test_what_is_left_out_or_cannot_be_is_unknown(changed: dict[str, Any]) -> None:
    assert math.isnan(measured("take_off_weight_lb", **changed))
    assert math.isnan(measured("longitudinal_cg_margin_in", **changed))
    assert math.isnan(measured("hover_ige_departure_margin_ft", **changed))


def test_outside_a_table_is_unknown() -> None:
    """The tables begin at 1,060 lb and end at 40 C."""
    assert math.isnan(measured("hover_ige_departure_margin_ft", temperature_c=40.1))
    assert math.isnan(measured("hover_ige_departure_margin_ft", temperature_c=-20.1))
    empty = {"station_loads": loads(right_seat=0.0, left_seat=0.0), "fuel_usable_gal": 1.0}
    assert math.isnan(measured("hover_ige_departure_margin_ft", **empty))
    assert math.isnan(measured("hover_ige_margin_lb", **empty))


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [
        (
            {"station_loads": (*loads(), {"station": "roof", "load_lb": 1.0})},
            "station_loads",
            "called 'roof'; write one",
        ),
        ({"equipment_fitted": ({"name": "hoist"},)}, "equipment_fitted", "no piece called 'hoist'"),
        ({"fuel_usable_gal": 32.5}, "fuel_usable_gal", "hold 32 gal"),
        ({"empty_weight_lb": 1066.0}, "empty_weight_lb", "more than 80 lb away from the 985 lb"),
    ],
)
def test_the_impossible_is_a_problem_that_names_the_entry(changed: dict[str, Any], field: str, said: str) -> None:
    (problem,) = airframe_problems(sheet(**changed), types())
    assert problem.field == field
    assert said in problem.message
    assert airframe_problems(sheet(**changed), {}) == ()


# -- promises ----------------------------------------------------------------------------------------------------------

WEIGHT_MARGINS = [name for name in NAMES if name.startswith(("hover_", "gross_max"))]


@given(st.integers(0, 240), st.integers(0, 240), st.integers(1, 200), st.integers(-20, 40), st.integers(0, 9000))
def test_more_weight_is_never_better(right: int, left: int, more: int, temperature: int, site: int) -> None:
    """Unknown is no comparison: below the lightest weight of a table nothing is known, and nothing goes."""
    changed: dict[str, Any] = {"temperature_c": float(temperature), "highest_site_elevation_ft": float(site)}
    pair = [sheet(**changed, station_loads=loads(right_seat=float(right), left_seat=w)) for w in (left, left + more)]
    for name, (light, heavy) in evaluate(columns(pair), WEIGHT_MARGINS).items():
        assert not heavy > light, name


@given(st.integers(110, 240), st.integers(0, 240), st.integers(-200, 399), st.integers(1, 300), st.integers(0, 9000))
def test_hotter_is_never_better(right: int, left: int, tenths: int, more: int, site: int) -> None:
    changed = {"highest_site_elevation_ft": float(site), "station_loads": loads(right_seat=right, left_seat=left)}
    pair = [sheet(**changed, temperature_c=t / 10) for t in (tenths, tenths + more) if t <= 550]
    for name, found in evaluate(columns(pair), [name for name in NAMES if name.startswith("hover_")]).items():
        assert not found[-1] > found[0], name


@given(st.integers(0, 9000), st.integers(1, 4000), st.integers(-20, 40))
def test_higher_is_never_better(site: int, more: int, temperature: int) -> None:
    """The higher site is cooler by the standard lapse, and still no better in any table that a type may have."""
    pair = [
        sheet(highest_site_elevation_ft=float(each), temperature_c=float(temperature)) for each in (site, site + more)
    ]
    low, high = evaluate(columns(pair), ["hover_ige_site_margin_ft"])["hover_ige_site_margin_ft"]
    assert not high > low


@given(st.lists(worksheets(), min_size=1, max_size=5), st.data())
def test_a_row_of_many_is_the_row_alone(sheets: list[Worksheet], data: st.DataObject) -> None:
    """Whatever the worksheet and whichever type; no row disturbs another, and nothing is refused."""
    titles = [*types(), "none on file", None]
    mixed = [each.but(type_name=data.draw(st.sampled_from(titles))) for each in sheets] + [sheet()]
    together = airframe_columns(mixed, types())
    assert set(together) == set(AIRFRAME)
    for row, each in enumerate(mixed):
        for name, alone in airframe_columns([each], types()).items():
            np.testing.assert_array_equal(together[name][row : row + 1], alone, err_msg=name)


@given(worksheets(), st.sampled_from(sorted(types())))
def test_screens_show_what_is_scored(each: Worksheet, title: str) -> None:
    """The one flight of the screens, the many flights of it, and the scorer's columns: one set of numbers."""
    for one in (each.but(type_name=title), sheet(highest_site_elevation_ft=4000.0)):
        shown = airframe_of(one, types())
        assert shown is not None
        scored = {name: float(values[0]) for name, values in airframe_columns([one], types()).items()}
        expected = {
            "loaded_take_off_lb": shown.loading.take_off.gross_weight_lb,
            "loaded_gross_max_lb": shown.loading.gross_max_margin_lb,
            "loaded_gross_min_lb": shown.loading.gross_min_margin_lb,
            "loaded_stations_lb": shown.loading.stations_margin_lb,
            "loaded_longitudinal_in": shown.loading.tightest("longitudinal_margin_in"),
            "loaded_lateral_in": shown.loading.tightest("lateral_margin_in"),
            "hover_ige_departure_ft": shown.departure.in_ground_effect_ft,
            "hover_ige_departure_lb": shown.departure.in_ground_effect_lb,
            "hover_oge_departure_ft": shown.departure.out_of_ground_effect_ft,
            "hover_oge_departure_lb": shown.departure.out_of_ground_effect_lb,
            "hover_ige_site_ft": shown.highest_site.in_ground_effect_ft,
            "hover_ige_site_lb": shown.highest_site.in_ground_effect_lb,
            "hover_oge_site_ft": shown.highest_site.out_of_ground_effect_ft,
            "hover_oge_site_lb": shown.highest_site.out_of_ground_effect_lb,
        }
        for name, value in expected.items():
            np.testing.assert_array_equal(scored[name], value, err_msg=name)
        many = airframes_of([one, one], types()[one.aircraft.type_name or ""])
        np.testing.assert_array_equal(many.loading.take_off.gross_weight_lb, [scored["loaded_take_off_lb"]] * 2)


def test_no_type_is_on_file() -> None:
    assert airframe_of(sheet(), {}) is None
    assert all(np.isnan(values).all() for values in airframe_columns([sheet()], {}).values())


def test_every_entry_behind_a_column_exists() -> None:
    assert {field for fields in AIRFRAME.values() for field in fields} <= set(FIELD_PART)
    assert tarnwick().title == HOT["type_name"]
