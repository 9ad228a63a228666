"""Clauses as the engine answers them: what being within an edge saves, for one clause or for many at once.

Clauses are answered in *sections*: all factors in one when rows are few, each factor in one of its own when they are
many. Both are made here by the same functions, and the engine does not know which it has.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Bits",
    "ChapterType",
    "Clause",
    "Edges",
    "FactorSection",
    "LimitSection",
    "Part",
    "PartSection",
    "Sections",
    "Steps",
    "apart",
    "bits_of",
    "together",
]

ChapterType = type[np.uint8] | type[np.int16]
Counts = NDArray[Any]
"""Whole numbers of a ``ChapterType``."""
Rows = slice | NDArray[np.intp]
"""Rows of an array: a slice where they stand together, so that a single row is never copied."""
Bits = tuple[tuple[int, slice, NDArray[np.uint8]], ...]
"""Where flags go in a bit set: (byte, rows of the flags, (rows, 1) value of each one's bit)."""


class Clause(NamedTuple):
    """One factor or limit: its edges, what each band gives, best first, and where it stands.

    Attributes:
        name: Its name.
        place: Its position among the clauses.
        measure: Its measure.
        ascending: Within means at most the edge; otherwise at least.
        bounds: Its edges, best first.
        points: Points of each band.
        floors: Level that each band puts a floor under.
        worst_points: Points of an unknown.
        condition: Its row of the policy's conditions; 0 is the one that always holds.
        chapter: The chapter its points are added up in.
    """

    name: str
    place: int
    measure: str
    ascending: bool
    bounds: tuple[float, ...]
    points: tuple[int, ...]
    floors: tuple[int, ...]
    worst_points: int
    condition: int
    chapter: int


class Part(NamedTuple):
    """One part of a combination: its edge, the place of the combination it belongs to, and which of its parts it is."""

    measure: str
    ascending: bool
    bounds: tuple[float, ...]
    place: int
    layer: int


@dataclass(frozen=True, eq=False)
class Edges:
    """The edges that k clauses, or k parts of combinations, put on a measure each.

    Attributes:
        measures: The k measures.
        directions: (within means at most the edge, which of the k); otherwise at least.
        bounds: (layers, k, 1) bounds, best first; NaN where there is no edge, since nothing is within NaN.
    """

    measures: tuple[str, ...]
    directions: tuple[tuple[bool, NDArray[np.bool_] | bool], ...]
    bounds: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Steps:
    """What k clauses give: that of the last band, less a step for every edge the value is within.

    Whole numbers that wrap round: a step may be negative where points fall toward worse, and still every result is
    exact, because the result itself fits.

    Attributes:
        last: (k, 1) of the last band.
        layers: Layers of edges that have any step.
        steps: (those layers, k, 1) how much less for being within that edge.
        worst: (k, 1) of an unknown, where some last band is not the worst.
    """

    last: Counts
    layers: slice
    steps: Counts
    worst: Counts | None


@dataclass(frozen=True, eq=False)
class FactorSection:
    """Factors answered together.

    Attributes:
        edges: Their edges.
        edge_counts: (k, 1) how many edges each has.
        clauses: Their positions among the clauses.
        conditions: Their rows of the policy's conditions; None when all are always in force.
        bits: Where they stand in the bit set of clauses.
        points: Points they give.
        floors: Levels they put a floor under; None when no band of any does.
        chapters: (chapter, which of the k are added up in it).
    """

    edges: Edges
    edge_counts: NDArray[np.uint8]
    clauses: slice
    conditions: Rows | None
    bits: Bits
    points: Steps
    floors: Steps | None
    chapters: tuple[tuple[int, Rows], ...]


@dataclass(frozen=True, eq=False)
class LimitSection:
    """Limits answered together; each has one edge.

    Attributes:
        edges: Their edges.
        edge_counts: (k, 1) of ones.
        clauses: Their positions among the clauses.
        conditions: Their rows of the policy's conditions; None when all are always in force.
        bits: Where they stand in the bit set of clauses.
        limit_bits: Where they stand in the bit set of limits.
        rows: Name of each -> its row.
    """

    edges: Edges
    edge_counts: NDArray[np.uint8]
    clauses: slice
    conditions: Rows | None
    bits: Bits
    limit_bits: Bits
    rows: Mapping[str, int]


@dataclass(frozen=True, eq=False)
class PartSection:
    """Parts of combinations answered together, at most one of each combination; within means surely not met.

    Attributes:
        edges: Their edges.
        combinations: The combinations they belong to.
    """

    edges: Edges
    combinations: Rows


class Sections(NamedTuple):
    """Every clause of a policy, in sections."""

    factors: tuple[FactorSection, ...]
    limits: tuple[LimitSection, ...]
    parts: tuple[PartSection, ...]


def together(factors: Sequence[Clause], limits: Sequence[Clause], parts: Sequence[Part], cell: ChapterType) -> Sections:
    """All factors in one section, all limits in one, and one part of every combination in one."""
    layers = [[part for part in parts if part.layer == layer] for layer in sorted({part.layer for part in parts})]
    return Sections(
        tuple(_factor_section(ones, cell) for ones in [factors] if ones),
        tuple(_limit_section(ones, len(factors)) for ones in [limits] if ones),
        tuple(PartSection(_edges(ones), np.array([one.place for one in ones], np.intp)) for ones in layers),
    )


def apart(factors: Sequence[Clause], limits: Sequence[Clause], parts: Sequence[Part], cell: ChapterType) -> Sections:
    """Every factor, limit and part in a section of its own."""
    return Sections(
        tuple(_factor_section([one], cell) for one in factors),
        tuple(_limit_section([one], len(factors)) for one in limits),
        tuple(PartSection(_edges([one]), slice(one.place, one.place + 1)) for one in parts),
    )


def bits_of(start: int, stop: int) -> Bits:
    """Where the flags of neighbours go in a bit set; the order is that of ``np.packbits``."""
    by_byte: dict[int, list[int]] = {}
    for place in range(start, stop):
        by_byte.setdefault(place // 8, []).append(place)
    return tuple(
        (
            byte,
            slice(places[0] - start, places[-1] + 1 - start),
            np.array([[1 << (7 - place % 8)] for place in places], np.uint8),
        )
        for byte, places in by_byte.items()
    )


def _edges(ones: Sequence[Clause | Part]) -> Edges:
    bounds = np.full((max([len(one.bounds) for one in ones] + [1]), len(ones), 1), np.nan)
    for i, one in enumerate(ones):
        bounds[: len(one.bounds), i, 0] = one.bounds
    ascending = np.array([[one.ascending] for one in ones])
    directions: tuple[tuple[bool, NDArray[np.bool_] | bool], ...] = ((True, ascending), (False, ~ascending))
    if ascending.all() or not ascending.any():
        directions = ((bool(ascending.all()), True),)
    return Edges(tuple(one.measure for one in ones), directions, bounds)


def _steps(given: Sequence[tuple[int, ...]], worst: Sequence[int], cell: ChapterType) -> Steps:
    """From what each clause gives band by band."""
    layers = max([len(bands) - 1 for bands in given] + [1])
    steps = np.zeros((layers, len(given), 1), np.int64)
    for i, bands in enumerate(given):
        steps[: len(bands) - 1, i, 0] = np.diff(bands)
    used = np.flatnonzero(steps.any(axis=(1, 2)))
    span = slice(int(used[0]), int(used[-1]) + 1) if len(used) else slice(0, 0)
    last = [bands[-1] for bands in given]
    return Steps(
        np.array(last, cell)[:, None],
        span,
        steps[span].astype(cell),
        None if list(worst) == last else np.array(worst, cell)[:, None],
    )


def _edge_counts(ones: Sequence[Clause]) -> NDArray[np.uint8]:
    return np.array([[len(one.bounds)] for one in ones], np.uint8)


def _conditions(ones: Sequence[Clause]) -> Rows | None:
    rows = np.array([one.condition for one in ones], np.intp)
    if not rows.any():
        return None
    return slice(ones[0].condition, ones[0].condition + 1) if len(ones) == 1 else rows


def _factor_section(ones: Sequence[Clause], cell: ChapterType) -> FactorSection:
    """From factors that are neighbours in the policy's order."""
    start, stop = ones[0].place, ones[-1].place + 1
    chapters = np.array([one.chapter for one in ones])
    floors = [one.floors for one in ones]
    return FactorSection(
        edges=_edges(ones),
        edge_counts=_edge_counts(ones),
        clauses=slice(start, stop),
        conditions=_conditions(ones),
        bits=bits_of(start, stop),
        points=_steps([one.points for one in ones], [one.worst_points for one in ones], cell),
        floors=_steps(floors, [bands[-1] for bands in floors], np.uint8) if any(map(any, floors)) else None,
        chapters=tuple(
            (int(chapter), slice(0, 1) if len(ones) == 1 else np.flatnonzero(chapters == chapter))
            for chapter in np.unique(chapters)
        ),
    )


def _limit_section(ones: Sequence[Clause], factors: int) -> LimitSection:
    """From limits that are neighbours in the policy's order."""
    start, stop = ones[0].place, ones[-1].place + 1
    return LimitSection(
        edges=_edges(ones),
        edge_counts=_edge_counts(ones),
        clauses=slice(start, stop),
        conditions=_conditions(ones),
        bits=bits_of(start, stop),
        limit_bits=bits_of(start - factors, stop - factors),
        rows={one.name: i for i, one in enumerate(ones)},
    )
