"""Outlines that cross themselves, against shapely's own opinion."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from riskboard.aircraft_types.outline import outline_fault

# Tenths from a small range, so that corners often repeat, edges often touch and lines often run over one another.
CORNER = st.tuples(*[st.integers(0, 6).map(lambda tenth: tenth / 10)] * 2)


@given(st.lists(CORNER, min_size=3, max_size=8))
def test_agrees_with_shapely(corners: list[tuple[float, float]]) -> None:
    repeated = len(set(corners)) < len(corners)
    # Whole numbers, so that the reference does not stumble over binary tenths.
    sound = not repeated and Polygon([(round(10 * x), round(10 * y)) for x, y in corners]).is_valid
    assert (outline_fault(corners) is None) is sound


@pytest.mark.parametrize(
    ("corners", "place"),
    [
        ([(0, 0), (2, 0), (2, 2), (0, 2)], None),
        ([(0, 0), (0, 2), (2, 2), (2, 0)], None),
        ([(0, 0), (2, 2), (2, 0), (0, 2)], 2),
        ([(0, 0), (2, 0), (4, 0)], 2),
        ([(0, 0), (4, 0), (4, 4), (2, 0), (0, 4)], 2),
        ([(0.1, 0), (0.3, 0), (0.3, 0.2), (0.2, 0.1), (0.1, 0.2)], None),
    ],
)
def test_where_it_shows(corners: list[tuple[float, float]], place: int | None) -> None:
    fault = outline_fault(corners)
    assert (fault[0] if fault else None) == place
