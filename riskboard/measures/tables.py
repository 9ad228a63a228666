"""Reading between the lines of a table from a flight manual: bilinear, and never beyond what the table says."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from riskboard.measures.known import Floats, Number, checked, plain

__all__ = ["Grid", "between_lines", "grid_of", "mixed", "placed"]

_FEWEST: Final = 2


@dataclass(frozen=True, eq=False)
class Grid:
    """A table.

    Attributes:
        rows: Places of the rows, ascending, shape (rows,).
        columns: Places of the columns, ascending, shape (columns,).
        cells: Values, shape (rows, columns); NaN where the manual is blank.
    """

    rows: Floats
    columns: Floats
    cells: Floats


def grid_of(rows: Sequence[float], columns: Sequence[float], cells: Sequence[Sequence[float | None]]) -> Grid:
    """A table from plain numbers; None is a blank cell.

    Raises:
        ValueError: Places that do not rise, or cells of another shape.
    """
    grid = Grid(
        checked("rows", np.array(rows, dtype=np.float64)),
        checked("columns", np.array(columns, dtype=np.float64)),
        checked("cells", np.array(cells, dtype=np.float64)),
    )
    for name, places in (("rows", grid.rows), ("columns", grid.columns)):
        if places.size < _FEWEST or not np.all(np.diff(places) > 0):
            raise ValueError(f"{name} must be at least {_FEWEST} places, each above the one before")
    if grid.cells.shape != (grid.rows.size, grid.columns.size):
        raise ValueError(f"cells must have the shape {(grid.rows.size, grid.columns.size)}; found {grid.cells.shape}")
    return grid


def between_lines(grid: Grid, row: npt.ArrayLike, column: npt.ArrayLike) -> Number:
    """Bilinear interpolation.

    On a line of the table only the values on that line are needed, on a place of the table only that one value.

    Args:
        grid: The table.
        row: Where to read along the rows; scalar or array, NaN is unknown.
        column: Where to read along the columns, of a shape that broadcasts.

    Returns:
        The value; NaN where a place is unknown or outside the table, or a value that is needed is blank.

    Raises:
        ValueError: A place is infinite.

    Source: bilinear interpolation, as everybody reads such tables.
    """
    first, second = np.broadcast_arrays(checked("row", row), checked("column", column))
    lower, upper, share = placed(grid.rows, first)
    left, right, aside = placed(grid.columns, second)
    below = mixed(grid.cells[lower, left], grid.cells[lower, right], aside)
    above = mixed(grid.cells[upper, left], grid.cells[upper, right], aside)
    return plain(mixed(below, above, share))


def placed(places: Floats, value: Floats) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp], Floats]:
    """The places before and after a value and its share of the way between; NaN outside."""
    # np.clip costs five times as much on one row
    before = np.minimum(np.maximum(places.searchsorted(value, side="right") - 1, 0), places.size - 2)
    inside = (value >= places[0]) & (value <= places[-1])
    share = np.where(inside, (value - places[before]) / (places[before + 1] - places[before]), np.nan)
    return before, before + 1, share


def mixed(first: Floats, second: Floats, share: Floats) -> Floats:
    """A weighted mean that does not look at a value of no weight."""
    mean = first + (second - first) * share
    return np.where(share == 0, first, np.where(share == 1, second, mean))
