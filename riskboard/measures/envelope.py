"""How far a point lies inside or outside an outline, along each of its two axes.

The axes of a loading envelope have different units (inches and pounds), so there is no one distance to its edge: the
margin along an axis is the way to the nearest edge when only that quantity changes. Edges and corners are inside.
"""

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from riskboard.measures.known import Floats, Number, checked, plain, rounded

__all__ = ["OutlineMargin", "outline_margin", "outline_rows"]

_HALF_STEP: Final = 5e-7
"""Half of the resolution to which margins are rounded (1e-6 of their unit): nearer than this is on the edge."""


class OutlineMargin(NamedTuple):
    """Where points lie.

    Attributes:
        inside: 1 inside or on the edge, 0 outside, NaN unknown.
        across: Margin along the first axis, positive inside, negative outside; -inf where no value of the first axis
            brings the point inside.
        up: The same along the second axis.
    """

    inside: Number
    across: Number
    up: Number


def outline_margin(x: npt.ArrayLike, y: npt.ArrayLike, corners: Sequence[tuple[float, float]]) -> OutlineMargin:
    """Margins of points to an outline that does not cross itself.

    Args:
        x: First coordinate, scalar or array; NaN is unknown.
        y: Second coordinate, of a shape that broadcasts.
        corners: Corners in order around the outline, either way round.

    Returns:
        One value per point, in units of the axes, rounded to 1e-6.

    Raises:
        ValueError: A coordinate is infinite, or there are fewer than three corners.

    Source: even-odd rule; geometry.
    """
    outline = checked("corners", np.asarray(corners, dtype=np.float64))
    if outline.ndim != 2 or outline.shape[0] < 3 or outline.shape[1] != 2:  # noqa: PLR2004 - a list of pairs
        raise ValueError("corners must be at least three pairs (x, y)")
    first, second = np.broadcast_arrays(checked("x", x), checked("y", y))
    inside, across, up = outline_rows(first, second, outline)
    return OutlineMargin(plain(inside), plain(across), plain(up))


def outline_rows(x: Floats, y: Floats, corners: Floats) -> tuple[Floats, Floats, Floats]:
    """:func:`outline_margin` without the checks, on arrays of one shape and corners as (corners, 2)."""
    x, y = rounded(x), rounded(y)  # typed decimals meet typed corners on the same grid, whatever was added up before
    flipped = np.ascontiguousarray(corners[:, ::-1])
    across, crossed, touching = _along(x, y, corners)
    up, _, _ = _along(y, x, flipped)
    inside = crossed | touching
    unknown = np.isnan(x) | np.isnan(y)
    return (
        np.where(unknown, np.nan, np.where(inside, 1.0, 0.0)),
        np.where(unknown, np.nan, rounded(np.where(inside, across, -across))),
        np.where(unknown, np.nan, rounded(np.where(inside, up, -up))),
    )


def _along(x: Floats, y: Floats, corners: Floats) -> tuple[Floats, npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Along the first axis: distance to the nearest edge, inside by the even-odd rule, and on an edge.

    A stretch of outline that runs along the axis counts by its two ends.
    """
    begin, end = corners, np.roll(corners, -1, axis=0)
    (x1, y1), (x2, y2) = begin.T, end.T
    x, y = x[..., None], y[..., None]
    level = y1 == y2
    met = (y >= np.minimum(y1, y2)) & (y <= np.maximum(y1, y2))
    slope = np.where(level, 0.0, (x2 - x1) / np.where(level, 1.0, y2 - y1))
    crossing = x1 + (y - y1) * slope
    ends = np.minimum(np.abs(x - x1), np.abs(x - x2))
    distance = np.where(met, np.where(level, ends, np.abs(x - crossing)), np.inf)
    nearest: Floats = distance.min(axis=-1)
    passed = ((y1 > y) != (y2 > y)) & (x < crossing)
    odd = np.logical_xor.reduce(passed, axis=-1)
    lies = level & met & (x >= np.minimum(x1, x2)) & (x <= np.maximum(x1, x2))
    touching = lies.any(axis=-1) | (~level & met & (np.abs(x - crossing) <= _HALF_STEP)).any(axis=-1)
    return nearest, odd, touching
