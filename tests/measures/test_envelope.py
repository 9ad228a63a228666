"""Outlines against ``atmosphere.yaml`` (envelope_point_in_polygon) and against shapely."""

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from riskboard.aircraft_types.outline import outline_fault
from riskboard.measures.envelope import outline_margin
from tests.measures.reference import Case, topic

SQUARE = [(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)]
NOTCHED = [(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (2.0, 1.0), (0.0, 4.0)]
NAN = float("nan")


@pytest.mark.parametrize("case", topic("atmosphere", "envelope_point_in_polygon"), ids=lambda case: str(case["name"]))
def test_reference(case: Case) -> None:
    x, y = case["inputs"]["point"]
    found = outline_margin(x, y, case["inputs"]["polygon"])
    assert bool(found.inside) is case["expected"]["inside_or_on_edge"]
    assert (found.across == 0 or found.up == 0) is case["expected"]["on_edge"]


@pytest.mark.parametrize(
    ("point", "expected"),
    [
        ((1, 1), (1, 1, 1)),
        ((0, 0), (1, 0, 0)),
        ((4, 4), (1, 0, 0)),
        ((2, 4), (1, 2, 0)),
        ((0, 2), (1, 0, 2)),
        ((5, 1), (0, -1, -np.inf)),
        ((1, -2), (0, -np.inf, -2)),
        ((5, 5), (0, -np.inf, -np.inf)),
        ((NAN, 1), (NAN, NAN, NAN)),
        ((1, NAN), (NAN, NAN, NAN)),
    ],
)
def test_a_square(point: tuple[float, float], expected: tuple[float, float, float]) -> None:
    np.testing.assert_array_equal(outline_margin(*point, SQUARE), expected)
    np.testing.assert_array_equal(outline_margin(*point, SQUARE[::-1]), expected)


@pytest.mark.parametrize(
    ("point", "expected"),
    [((2, 2.5), (0, -1, -1.5)), ((2, 1), (1, 0, 0)), ((1, 2), (1, 1 / 3, 0.5)), ((2, 0.5), (1, 2, 0.5))],
)
def test_a_notch(point: tuple[float, float], expected: tuple[float, float, float]) -> None:
    assert outline_margin(*point, NOTCHED) == pytest.approx(expected, abs=1e-6)


def test_what_typed_decimals_add_up_to_is_on_the_edge() -> None:
    outline = [(0.1, 0.0), (0.3, 0.0), (0.3, 0.7), (0.1, 0.7)]
    assert outline_margin(0.1 + 0.2, 0.1 * 7, outline) == (1.0, 0.0, 0.0)


def test_shape_and_refusals() -> None:
    found = outline_margin(np.zeros((2, 1)), np.zeros(3), SQUARE)
    assert np.shape(found.inside) == (2, 3)
    with pytest.raises(ValueError, match="x must be finite"):
        outline_margin(np.inf, 0, SQUARE)
    with pytest.raises(ValueError, match="corners"):
        outline_margin(0, 0, SQUARE[:2])


def second_opinion(x: float, y: float, corners: list[tuple[float, float]]) -> tuple[float, float, float]:
    """The same three numbers by shapely: whether the polygon covers the point, and where two lines meet its outline."""
    polygon, point = shapely.Polygon(corners), shapely.Point(x, y)
    inside = bool(polygon.covers(point))
    sign = 1.0 if inside else -1.0
    lines = (shapely.LineString([(-99, y), (99, y)]), shapely.LineString([(x, -99), (x, 99)]))
    meets = [shapely.get_coordinates(line.intersection(polygon.exterior)) for line in lines]
    distances = [float(np.hypot(*(meet - (x, y)).T).min()) if len(meet) else np.inf for meet in meets]
    return float(inside), sign * distances[0], sign * distances[1]


@given(st.integers(0, 2**32 - 1), st.integers(3, 9))
def test_against_shapely_on_ten_thousand_points(seed: int, count: int) -> None:
    """50 outlines with 200 points each: random ones, corners, middles of edges, heights of corners, and unknowns."""
    rng = np.random.default_rng(seed)
    corners = [(float(a), float(b)) for a, b in rng.integers(0, 12, (count, 2))]
    if rng.random() < 0.7:  # around their middle, so that many corners still make a simple outline
        middle = np.mean(corners, axis=0)
        corners.sort(key=lambda c: float(np.arctan2(c[1] - middle[1], c[0] - middle[0])))
    assume(outline_fault(corners) is None)
    places = np.array(corners)
    middles = (places + np.roll(places, -1, axis=0)) / 2
    level = np.column_stack([rng.integers(-8, 104, 40) / 8, rng.choice(places[:, 1], 40)])
    upright = np.column_stack([rng.choice(places[:, 0], 40), rng.integers(-8, 104, 40) / 8])
    rest = 200 - 80 - 2 * count
    points = np.concatenate([places, middles, level, upright, rng.integers(-8, 104, (rest, 2)) / 8])
    found = outline_margin(points[:, 0], points[:, 1], corners)
    for i, (x, y) in enumerate(points):
        expected = second_opinion(float(x), float(y), corners)
        assert [np.asarray(part)[i] for part in found] == pytest.approx(expected, abs=2e-6), (x, y, corners)
    points[::7, rng.integers(0, 2)] = NAN
    blank = outline_margin(points[:, 0], points[:, 1], corners)
    for part in blank:
        np.testing.assert_array_equal(np.isnan(part), np.isnan(points).any(axis=1))
