"""Generated policies and flights for the theorems. Sound by construction; oddities are the point."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime

from hypothesis import strategies as st

from riskboard.policy.model import (
    Band,
    Ceiling,
    Combination,
    CombinationPart,
    Factor,
    IfUnknown,
    Level,
    Limit,
    Mitigation,
    Policy,
    Source,
    When,
)
from riskboard.words import Decision, Direction, Group, Guard, Role
from tests.assessment.oracle import Flight

SOURCE = Source("generated", "school", date(2026, 1, 1))
DIRECTIONS: Mapping[str, Direction] = {
    "m0": Direction.higher,
    "m1": Direction.lower,
    "m2": Direction.higher,
    "m3": Direction.lower,
    "m4": Direction.higher,
}
WORDS = (Guard.civil_night, Guard.solo, Guard.passengers)
EDGES = st.integers(-4, 4).map(float)
VALUES = st.one_of(st.integers(-5, 5).map(float), st.sampled_from([0.1, -0.1, 3.9, 4.1, -4.0, 1e9, -1e9]))
WHENS: st.SearchStrategy[When] = st.dictionaries(st.sampled_from(WORDS), st.booleans(), max_size=2)
IF_UNKNOWN: st.SearchStrategy[IfUnknown] = st.sampled_from(["no_go", "sign_off"])


@st.composite
def levels(draw: st.DrawFn) -> tuple[Level, ...]:
    count = draw(st.integers(2, 4))
    bounds = sorted(draw(st.lists(st.integers(0, 40), min_size=count - 1, max_size=count - 1, unique=True)))
    decisions = [Decision.go, *[Decision.go_with_sign_off] * (count - 2), Decision.no_go]
    return tuple(
        Level(f"l{i}", bounds[i] if i < count - 1 else None, decision, (Role.pilot,), 60)
        for i, decision in enumerate(decisions)
    )


@st.composite
def factors(draw: st.DrawFn, position: int, names: list[str], *, any_shape: bool) -> Factor:
    measure = draw(st.sampled_from(sorted(DIRECTIONS)))
    ascending = DIRECTIONS[measure] is Direction.higher
    edges = sorted(draw(st.lists(EDGES, min_size=1, max_size=3, unique=True)), reverse=not ascending)
    points = draw(st.lists(st.integers(0, 12), min_size=len(edges) + 1, max_size=len(edges) + 1))
    if not any_shape:
        points.sort()
    floors = sorted(draw(st.lists(st.integers(0, len(names) - 1), min_size=len(points), max_size=len(points))))
    with_floors = draw(st.booleans())
    bands = tuple(
        Band(edge, p, names[f] if with_floors and f else None)
        for edge, p, f in zip([*edges, None], points, floors, strict=True)
    )
    return Factor(
        f"f{position}",
        draw(st.sampled_from(list(Group))),
        measure,
        bands,
        draw(IF_UNKNOWN),
        draw(WHENS),
        "why",
        SOURCE,
        (),
        ascending,
        "reason" if any_shape else None,
    )


@st.composite
def limits(draw: st.DrawFn, position: int) -> Limit:
    measure = draw(st.sampled_from(sorted(DIRECTIONS)))
    bound = draw(EDGES)
    up = DIRECTIONS[measure] is Direction.higher
    return Limit(
        f"h{position}", measure, bound if up else None, None if up else bound, (), draw(WHENS), "why", SOURCE, ()
    )


@st.composite
def combinations(draw: st.DrawFn, position: int, names: list[str]) -> Combination:
    measures = draw(st.lists(st.sampled_from(sorted(DIRECTIONS)), max_size=3, unique=True))
    when = draw(WHENS) if measures else {draw(st.sampled_from(WORDS)): draw(st.booleans())}
    parts = tuple(CombinationPart(m, draw(EDGES)) for m in measures)
    floor = draw(st.one_of(st.none(), st.sampled_from(names)))
    group, points = draw(st.sampled_from(list(Group))), draw(st.integers(0, 12))
    return Combination(f"c{position}", group, parts, points, floor, draw(IF_UNKNOWN), when, "why", SOURCE)


@st.composite
def mitigations(draw: st.DrawFn, factor_names: list[str]) -> tuple[Mitigation, ...]:
    """No factor is named twice: the loader proves it, and the monotone promise rests on it."""
    free = draw(st.permutations(factor_names))
    split = draw(st.integers(0, len(free)))
    groups = [group for group in (free[:split], free[split:]) if group]
    return tuple(
        Mitigation(f"t{i}", tuple(group), draw(st.integers(1, 15)), draw(WHENS), "why", SOURCE)
        for i, group in enumerate(groups)
    )


def scaled(policy: Policy, scale: int) -> Policy:
    """All points times ``scale``: sums that need wider numbers than the points of one clause, and clauses that do."""
    return replace(
        policy,
        levels=tuple(one if one.up_to is None else replace(one, up_to=one.up_to * scale) for one in policy.levels),
        group_ceilings=tuple(replace(one, up_to=one.up_to * scale) for one in policy.group_ceilings),
        factors=tuple(
            replace(one, bands=tuple(replace(band, points=band.points * scale) for band in one.bands))
            for one in policy.factors
        ),
        combinations=tuple(replace(one, points=one.points * scale) for one in policy.combinations),
        mitigations=tuple(replace(one, at_most=one.at_most * scale) for one in policy.mitigations),
    )


@st.composite
def policies(draw: st.DrawFn, *, any_shape: bool = False) -> Policy:
    ladder = draw(levels())
    names = [level.name for level in ladder]
    fs = tuple(draw(factors(i, names, any_shape=any_shape)) for i in range(draw(st.integers(1, 4))))
    policy = Policy(
        id="generated",
        version=1,
        title="generated",
        effective_from=datetime(2026, 1, 1, tzinfo=UTC),
        review_by=date(2027, 1, 1),
        weather_age_max_min=60,
        levels=ladder,
        group_ceilings=tuple(
            Ceiling(group, draw(st.integers(0, 15)), draw(st.sampled_from(names)))
            for group in draw(st.lists(st.sampled_from(list(Group)), max_size=2, unique=True))
        ),
        factors=fs,
        limits=tuple(draw(limits(i)) for i in range(draw(st.integers(0, 3)))),
        combinations=tuple(draw(combinations(i, names)) for i in range(draw(st.integers(0, 3)))),
        mitigations=draw(mitigations([f.name for f in fs])) if draw(st.booleans()) else (),
    )
    return scaled(policy, draw(st.sampled_from([1, 1, 20, 80])))


@st.composite
def flights(draw: st.DrawFn, policy: Policy) -> Flight:
    return Flight(
        {name: draw(st.one_of(VALUES, VALUES, VALUES, st.none())) for name in DIRECTIONS},
        {word: draw(st.sampled_from([True, False, None])) for word in WORDS},
        frozenset(m.name for m in policy.mitigations if draw(st.booleans())),
        frozenset(limit.name for limit in policy.limits if draw(st.booleans())),
    )
