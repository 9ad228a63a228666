"""How far a point lies inside or outside an outline, along each of its two axes.

The axes of a loading envelope have different units (inches and pounds), so there is no one distance to its edge: the
margin along an axis is the way to the nearest edge when only that quantity changes. Edges and corners are inside.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from riskboard.measures.known import Floats, Number, checked, plain, rounded

__all__ = ["Outline", "OutlineMargin", "outline_across", "outline_margin", "outline_of", "outline_rows"]

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


@dataclass(frozen=True, eq=False)
class Edges:
    """The edges of an outline, made ready for one axis: those that cross it, and those that run along it.

    Attributes:
        start: First end of each crossing edge along the axis, shape (crossing,).
        level: The same along the other axis.
        slope: How far the edge moves along the axis for each unit of the other.
        low: Lower end of each crossing edge along the other axis.
        high: Its upper end.
        flat_level: Where each edge that runs along the axis lies on the other, shape (flat,).
        flat_low: Its lower end along the axis.
        flat_high: Its upper end.
    """

    start: Floats
    level: Floats
    slope: Floats
    low: Floats
    high: Floats
    flat_level: Floats
    flat_low: Floats
    flat_high: Floats


@dataclass(frozen=True, eq=False)
class Outline:
    """An outline made ready once, to be asked often: its edges for the first axis and for the second."""

    across: Edges
    up: Edges


def outline_of(corners: Sequence[tuple[float, float]]) -> Outline:
    """Make an outline ready.

    Args:
        corners: Corners in order around the outline, either way round.

    Raises:
        ValueError: A coordinate is infinite, or there are fewer than three corners.
    """
    outline = checked("corners", np.asarray(corners, dtype=np.float64))
    if outline.ndim != 2 or outline.shape[0] < 3 or outline.shape[1] != 2:  # noqa: PLR2004 - a list of pairs
        raise ValueError("corners must be at least three pairs (x, y)")
    return Outline(_edges(outline), _edges(np.ascontiguousarray(outline[:, ::-1])))


def _edges(corners: Floats) -> Edges:
    (x1, y1), (x2, y2) = corners.T, np.roll(corners, -1, axis=0).T
    flat = y1 == y2
    a, b, c, d = x1[~flat], y1[~flat], x2[~flat], y2[~flat]
    return Edges(
        a,
        b,
        (c - a) / (d - b),
        np.minimum(b, d),
        np.maximum(b, d),
        y1[flat],
        np.minimum(x1, x2)[flat],
        np.maximum(x1, x2)[flat],
    )


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
    outline = outline_of(corners)
    first, second = np.broadcast_arrays(checked("x", x), checked("y", y))
    inside, across, up = outline_rows(rounded(first), rounded(second), outline)
    return OutlineMargin(plain(inside), plain(across), plain(up))


def outline_rows(x: Floats, y: Floats, outline: Outline) -> tuple[Floats, Floats, Floats]:
    """:func:`outline_margin` on arrays of one shape that are rounded already: inside, across and up.

    Typed decimals then meet typed corners on the same grid, whatever was added up before.
    """
    inside, across = outline_across(x, y, outline)
    nearest, _ = _along(y, x, outline.up)
    return inside, across, np.where(np.isnan(inside), np.nan, rounded(np.where(inside == 1, nearest, -nearest)))


def outline_across(x: Floats, y: Floats, outline: Outline) -> tuple[Floats, Floats]:
    """:func:`outline_rows` without the margin along the second axis."""
    nearest, within = _along(x, y, outline.across)
    unknown = np.isnan(x + y)
    return (
        np.where(unknown, np.nan, np.where(within, 1.0, 0.0)),
        np.where(unknown, np.nan, rounded(np.where(within, nearest, -nearest))),
    )


def _along(x: Floats, y: Floats, edges: Edges) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Along the first axis: the distance to the nearest edge, and whether inside by the even-odd rule or on an edge.

    A stretch of outline that runs along the axis counts by its two ends.
    """
    x, y = x[..., None], y[..., None]
    reach = x - (edges.start + (y - edges.level) * edges.slope)
    gap = np.where((y >= edges.low) & (y <= edges.high), np.abs(reach), np.inf)
    nearest: Floats = gap.min(axis=-1, initial=np.inf)
    # An edge counts from its lower end up to, not including, its upper: a corner is then passed once.
    passed = (y >= edges.low) & (y < edges.high) & (reach < 0)
    within = np.logical_xor.reduce(passed, axis=-1) | (nearest <= _HALF_STEP)
    flat = y == edges.flat_level
    if flat.any():
        ends = np.minimum(np.abs(x - edges.flat_low), np.abs(x - edges.flat_high))
        nearest = np.minimum(nearest, np.where(flat, ends, np.inf).min(axis=-1))
        within = within | (flat & (x >= edges.flat_low) & (x <= edges.flat_high)).any(axis=-1)
    return nearest, within
