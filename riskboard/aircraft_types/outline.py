"""Whether a polygon is one closed outline that neither crosses nor touches itself.

Corners are decimals as people type them; they are compared as exact fractions, so that a corner that lies on an edge by
a hair of binary noise is not mistaken for one beside it.
"""

from collections.abc import Sequence
from fractions import Fraction

__all__ = ["Fault", "outline_fault"]

Fault = tuple[int, str]
"""Number of a corner, from 0, and what is wrong there."""

_Point = tuple[Fraction, Fraction]
_FEWEST = 3
MOST_CORNERS = 60


def outline_fault(corners: Sequence[tuple[float, float]]) -> Fault | None:
    """The first thing wrong with an outline, or None.

    Args:
        corners: In order around the polygon, the first not repeated at the end.

    Returns:
        The corner at which the problem shows, and a sentence about it.
    """
    count = len(corners)
    if not _FEWEST <= count <= MOST_CORNERS:
        return 0, f"{count} corners; an outline has {_FEWEST} to {MOST_CORNERS}"
    points = [(Fraction(repr(x)), Fraction(repr(y))) for x, y in corners]
    repeated = _repeated(points)
    if repeated is not None:
        return repeated
    for i in range(count):
        for j in range(i + 1, count):
            if _meet(points, i, j):
                return j, (
                    f"the edge from corner {j + 1} to corner {(j + 1) % count + 1} crosses or touches the edge from "
                    f"corner {i + 1} to corner {i + 2}; list the corners in order around the outline"
                )
    return None


def _repeated(points: list[_Point]) -> Fault | None:
    first: dict[_Point, int] = {}
    for i, point in enumerate(points):
        if point in first:
            closing = i == len(points) - 1 and first[point] == 0
            end = "the outline closes by itself, leave it out" if closing else "an outline passes each place once"
            return i, f"corner {i + 1} repeats corner {first[point] + 1}; {end}"
        first[point] = i
    return None


def _meet(points: list[_Point], i: int, j: int) -> bool:
    """Whether edges i and j have a point in common that they should not."""
    count = len(points)
    a, b, c, d = points[i], points[(i + 1) % count], points[j], points[(j + 1) % count]
    if j == i + 1:
        return _turns_back(a, b, d)
    if (j + 1) % count == i:
        return _turns_back(c, a, b)
    return _segments_meet(a, b, c, d)


def _cross(a: _Point, b: _Point, c: _Point) -> Fraction:
    """Twice the area of the triangle, positive when it turns to the left."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _turns_back(a: _Point, b: _Point, c: _Point) -> bool:
    """Whether the way a-b-c comes back over itself at b."""
    if _cross(a, b, c) != 0:
        return False
    return (a[0] - b[0]) * (c[0] - b[0]) + (a[1] - b[1]) * (c[1] - b[1]) > 0


def _segments_meet(a: _Point, b: _Point, c: _Point, d: _Point) -> bool:
    first, second = _cross(c, d, a), _cross(c, d, b)
    third, fourth = _cross(a, b, c), _cross(a, b, d)
    if first * second < 0 and third * fourth < 0:
        return True
    pairs = ((first, c, d, a), (second, c, d, b), (third, a, b, c), (fourth, a, b, d))
    return any(cross == 0 and _between(start, end, point) for cross, start, end, point in pairs)


def _between(a: _Point, b: _Point, point: _Point) -> bool:
    """Whether a point on the line through a and b lies within the segment."""
    return all(min(a[k], b[k]) <= point[k] <= max(a[k], b[k]) for k in (0, 1))
