"""Carburettor-icing zones against the digitised charts and what was published about them.

Gated: every chart point and interior point, and every published statement that at least its own chart bears out. The
reference file marks the statements that contradict every digitisation; they are not gated, only that the outlines read
there as the file's own digitisation does.
"""

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from riskboard.measures.atmosphere import dew_point_from_humidity_c
from riskboard.measures.icing import CHARTS, airframe_icing_possible, carb_icing_in_moisture, carb_icing_zone
from riskboard.measures.icing_charts import ATSB_2004_ROWS, EGAST_GA5
from tests.measures.reference import Case, document, topic

if TYPE_CHECKING:
    from collections.abc import Callable

EGAST = document("carb_icing")
ATSB = document("carb_icing_atsb")


def by_id(cases: list[Case]) -> list[Any]:
    return [pytest.param(case, id=case.get("id", f"{i}")) for i, case in enumerate(cases)]


def zone(case: Case, chart: str) -> int:
    return int(np.asarray(carb_icing_zone(case["temperature_c"], case["dew_point_c"], chart)))


def test_the_package_carries_the_figures_of_the_reference_files() -> None:
    for outline in EGAST["zones"]:
        corners = [tuple(map(float, corner)) for corner in outline["polygon_temperature_dewpoint_c"]]
        assert corners[0] == corners[-1]
        assert list(EGAST_GA5[outline["code"]]) == corners[:-1]
    for code, outline in ATSB["zones"].items():
        assert [list(row) for row in ATSB_2004_ROWS[code]] == outline["rows_depression_tmin_tmax"]


@pytest.mark.parametrize("case", by_id(ATSB["chart_points"]))
def test_atsb_chart_points(case: Case) -> None:
    assert zone(case, "atsb_2004") == case["zone"]


@pytest.mark.parametrize("case", by_id(ATSB["published_statements"]))
def test_atsb_published_statements(case: Case) -> None:
    dew_point = case.get("dew_point_c")
    if dew_point is None:
        dew_point = dew_point_from_humidity_c(case["temperature_c"], case["relative_humidity_pct"])
    for chart in ("atsb_2004", "most_cautious"):
        assert int(np.asarray(carb_icing_zone(case["temperature_c"], dew_point, chart))) in case["allowed_zones"]


@pytest.mark.parametrize("case", by_id(EGAST["interior_points"]))
def test_interior_points_on_every_chart(case: Case) -> None:
    assert zone(case, "egast_ga5") == case["expected_code"]
    assert zone(case, "most_cautious") == case["expected_code"]
    if case["atsb_chart_covers"]:
        assert zone(case, "atsb_2004") == case["expected_code"]


@pytest.mark.parametrize("case", by_id(EGAST["statement_points"]))
def test_statement_points(case: Case) -> None:
    # polygon_code is the reference's own reading of the outlines with another program.
    assert zone(case, "egast_ga5") == case["polygon_code"]
    if case["polygon_agrees"]:
        assert zone(case, "egast_ga5") in case["acceptable_codes"]


def test_the_statement_read_off_the_other_chart_holds_there() -> None:
    case = next(case for case in EGAST["statement_points"] if case["id"] == "carb-stmt-05")
    assert zone(case, "atsb_2004") in case["acceptable_codes"]
    assert zone(case, "most_cautious") == 3


@pytest.mark.parametrize("case", by_id(EGAST["handbook_rectangle_points"]))
def test_the_handbook_rectangle_does_not_contradict(case: Case) -> None:
    # FAA-H-8083-25 chapter 7 has two words only: "high" must at least be serious at descent power, "possible" at least
    # light, and what lies outside its figure nothing.
    least = {"high": 2, "possible": 1, "outside figure": 0}[case["expected"]]
    assert zone(case, "most_cautious") >= least
    if case["expected"] == "outside figure":
        assert zone(case, "most_cautious") == 0


@pytest.mark.parametrize("case", EGAST["refusals"])
def test_dew_point_above_temperature_is_refused(case: Case) -> None:
    for chart in CHARTS:
        with pytest.raises(ValueError, match="dew_point_c"):
            zone(case, chart)


def test_another_chart_is_refused() -> None:
    with pytest.raises(ValueError, match="chart"):
        carb_icing_zone(10.0, 5.0, "some_other_chart")


@pytest.mark.parametrize("code", sorted(EGAST_GA5))
def test_outlines_count_as_inside(code: int) -> None:
    corners = np.asarray(EGAST_GA5[code])
    halves = (corners + np.roll(corners, -1, axis=0)) / 2.0
    for points in (corners, halves):
        # Half way along the diagonal rounding can put the dew point a hair above the temperature.
        dew_point = np.minimum(points[:, 1], points[:, 0])
        assert np.all(np.asarray(carb_icing_zone(points[:, 0], dew_point, "egast_ga5")) >= code)


def inside_by_winding(x: float, y: float, corners: tuple[tuple[float, float], ...]) -> bool:
    """Another method than the package's, from its definition: the outline turns once around a point inside it."""
    turned = 0.0
    for (x1, y1), (x2, y2) in zip(corners, corners[1:] + corners[:1], strict=True):
        step = np.arctan2(y2 - y, x2 - x) - np.arctan2(y1 - y, x1 - x)
        turned += (step + np.pi) % (2.0 * np.pi) - np.pi
    return abs(turned) > np.pi


def test_european_zones_against_winding_numbers() -> None:
    rng = np.random.default_rng(7)
    temperature = rng.uniform(-20.0, 42.0, 400)
    dew_point = temperature - rng.uniform(0.01, 30.0, 400)
    ours = np.asarray(carb_icing_zone(temperature, dew_point, "egast_ga5"))
    for t, d, code in zip(temperature, dew_point, ours, strict=True):
        covering = [zone for zone, corners in EGAST_GA5.items() if inside_by_winding(t, d, corners)]
        assert code == max(covering, default=0)


def test_australian_zones_against_straight_rows() -> None:
    rng = np.random.default_rng(8)
    depression, temperature = rng.uniform(0.0, 28.0, 400), rng.uniform(-3.0, 40.0, 400)
    ours = np.asarray(carb_icing_zone(temperature, temperature - depression, "atsb_2004"))
    for t, d, code in zip(temperature, depression, ours, strict=True):
        covering = [0]
        for zone, rows in ATSB_2004_ROWS.items():
            depths, low, high = np.asarray(rows).T
            if d <= depths[-1] and np.interp(d, depths, low) <= t <= np.interp(d, depths, high):
                covering.append(zone)
        # Above -3 C the light zone carried on to -8 C differs only between depressions of 4 and 5 C, on its cold side.
        if not (4.0 < d < 5.0 and t < -3.0):
            assert code == max(covering)


def test_the_default_is_the_worse_of_the_two() -> None:
    temperature, depression = np.meshgrid(np.arange(-12.0, 42.0, 0.7), np.arange(0.0, 30.0, 0.7))
    dew_point = temperature - depression
    both = [np.asarray(carb_icing_zone(temperature, dew_point, chart)) for chart in ("egast_ga5", "atsb_2004")]
    assert np.array_equal(np.asarray(carb_icing_zone(temperature, dew_point)), np.maximum(*both))
    assert np.any(both[0] > both[1])
    assert np.any(both[1] > both[0])


def test_below_the_australian_print() -> None:
    # DMI Technical Report 04-25: the light zone may reasonably be carried on to -8 C at small depressions.
    assert int(np.asarray(carb_icing_zone(-7.0, -8.0, "atsb_2004"))) == 1
    assert int(np.asarray(carb_icing_zone(-7.0, -20.0, "atsb_2004"))) == 0
    assert int(np.asarray(carb_icing_zone(-9.0, -9.0, "atsb_2004"))) == -1
    assert int(np.asarray(carb_icing_zone(-9.0, -9.0))) == 1


def test_shape_and_unknown() -> None:
    codes = np.asarray(carb_icing_zone([[10.0, np.nan], [10.0, 30.0]], [[9.0, 3.0], [np.nan, -5.0]]))
    assert codes.dtype == np.int64
    assert codes.tolist() == [[4, -1], [-1, 0]]
    assert carb_icing_zone(None, 3.0) == -1
    assert np.asarray(carb_icing_zone([], [])).shape == (0,)
    # One dew point for many temperatures broadcasts.
    assert np.asarray(carb_icing_zone([10.0, 20.0, 30.0], 9.0)).tolist() == [4, 3, 1]


def moisture_cases() -> list[Case]:
    return [case for case in topic("atmosphere", "icing_and_fog_indicators") if "visible_moisture" in case["inputs"]]


@pytest.mark.parametrize("case", moisture_cases())
def test_icing_in_visible_moisture(case: Case) -> None:
    seen: dict[str, Callable[..., Any]] = {
        "icing_conditions_plus2": lambda **given: airframe_icing_possible(**given, limit_c=2.0),
        "icing_conditions_plus5": airframe_icing_possible,
        "carburettor_icing_expected": carb_icing_in_moisture,
    }
    for name, expected in case["expected"].items():
        assert seen[name](**case["inputs"]) == float(expected)


def test_visible_moisture_unknown_or_impossible() -> None:
    assert np.isnan(airframe_icing_possible(0.0, None))
    assert np.isnan(carb_icing_in_moisture(np.nan, 1))
    assert airframe_icing_possible([5.0, 5.1], [1, 1]).tolist() == [1.0, 0.0]  # type: ignore[union-attr]
    with pytest.raises(ValueError, match="visible_moisture"):
        airframe_icing_possible(0.0, 7.0)
