"""Bilinear tables against scipy's RegularGridInterpolator."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from riskboard.measures.tables import Grid, between_lines, grid_of

NAN = float("nan")
SMALL = grid_of([0, 10], [0, 4, 8], [[0, 4, 8], [100, 104, None]])


@pytest.mark.parametrize(
    ("row", "column", "expected"),
    [
        (0, 0, 0),
        (10, 4, 104),
        (5, 2, 52),
        (0, 8, 8),
        (0, 6, 6),  # on the row line, the blank below is not needed
        (5, 4, 54),  # on the column line, the blank beside is not needed
        (1, 5, NAN),
        (10, 8, NAN),
        (10.0001, 4, NAN),
        (-0.0001, 4, NAN),
        (5, 8.0001, NAN),
        (5, -1, NAN),
        (NAN, 4, NAN),
        (5, NAN, NAN),
    ],
)
def test_by_hand(row: float, column: float, expected: float) -> None:
    np.testing.assert_array_equal(between_lines(SMALL, row, column), expected)


def test_shape_and_refusals() -> None:
    assert np.shape(between_lines(SMALL, np.zeros((2, 1)), np.zeros(3))) == (2, 3)
    assert isinstance(between_lines(SMALL, 0, 0), float)
    with pytest.raises(ValueError, match="row must be finite"):
        between_lines(SMALL, math.inf, 0)
    with pytest.raises(ValueError, match="rows"):
        grid_of([0, 0], [0, 1], [[1, 2], [3, 4]])
    with pytest.raises(ValueError, match="cells"):
        grid_of([0, 1], [0, 1, 2], [[1, 2], [3, 4]])


def random_grid(rng: np.random.Generator) -> Grid:
    """Up to 8 by 8 places, a tenth of the cells blank, in every second table."""
    rows, columns = (np.cumsum(rng.integers(1, 50, rng.integers(2, 9))) / 4.0 - 20 for _ in range(2))
    cells = np.round(rng.normal(0, 100, (rows.size, columns.size)), 1)
    if rng.random() < 0.5:
        cells[rng.random(cells.shape) < 0.1] = NAN
    return Grid(rows, columns, cells)


def random_places(
    rng: np.random.Generator, places: np.ndarray[tuple[int], np.dtype[np.float64]], count: int
) -> list[float]:
    """Between the places, on them, at and beyond both ends, and unknown."""
    low, high = places[0], places[-1]
    kinds = (
        lambda: rng.uniform(low, high),
        lambda: rng.uniform(low, high),
        lambda: rng.choice(places),
        lambda: rng.choice([low, high]),
        lambda: rng.choice([np.nextafter(low, -np.inf), np.nextafter(high, np.inf), low - 7, high + 7]),
        lambda: rng.choice((places[:-1] + places[1:]) / 2),
        lambda: NAN if rng.random() < 0.3 else rng.uniform(low, high),
    )
    return [float(kinds[rng.integers(len(kinds))]()) for _ in range(count)]


def on_a_line(grid: Grid, row: float, column: float) -> float:
    """The value on a line of the table from that line alone: its own values, and blanks where they are needed."""
    if row in grid.rows:
        line, places, at = grid.cells[np.flatnonzero(grid.rows == row)[0]], grid.columns, column
    elif column in grid.columns:
        line, places, at = grid.cells[:, np.flatnonzero(grid.columns == column)[0]], grid.rows, row
    else:
        return NAN
    if at in places:
        return float(line[np.flatnonzero(places == at)[0]])
    return float(RegularGridInterpolator((places,), line, bounds_error=False, fill_value=NAN)([[at]])[0])


@given(st.integers(0, 2**32 - 1))
def test_against_scipy_on_ten_thousand_places(seed: int) -> None:
    """50 tables with 200 places each. Scipy wants all four values even where they have no weight; we do not."""
    rng = np.random.default_rng(seed)
    grid = random_grid(rng)
    rows, columns = random_places(rng, grid.rows, 200), random_places(rng, grid.columns, 200)
    reference = RegularGridInterpolator((grid.rows, grid.columns), grid.cells, bounds_error=False, fill_value=NAN)
    expected = reference(np.column_stack([rows, columns]))
    found = np.asarray(between_lines(grid, rows, columns))
    for i, (row, column) in enumerate(zip(rows, columns, strict=True)):
        wanted = expected[i] if not np.isnan(expected[i]) else on_a_line(grid, row, column)
        np.testing.assert_allclose(found[i], wanted, rtol=1e-9, atol=1e-9, err_msg=f"{row}, {column}")


@given(st.integers(0, 2**32 - 1))
def test_many_places_are_each_alone(seed: int) -> None:
    rng = np.random.default_rng(seed)
    grid = random_grid(rng)
    rows, columns = random_places(rng, grid.rows, 12), random_places(rng, grid.columns, 12)
    alone = [between_lines(grid, row, column) for row, column in zip(rows, columns, strict=True)]
    np.testing.assert_array_equal(between_lines(grid, rows, columns), alone)
