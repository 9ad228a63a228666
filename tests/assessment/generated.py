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
from tests.assessment.choices import Choices, strategy
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
IF_UNKNOWN: tuple[IfUnknown, ...] = ("no_go", "sign_off")
GROUPS = tuple(Group)
MEASURES = sorted(DIRECTIONS)
EDGES = [float(edge) for edge in range(-4, 5)]
WHOLE = [float(value) for value in range(-5, 6)]
ODD = [0.1, -0.1, 3.9, 4.1, -4.0, 1e9, -1e9]
VALUES = st.one_of(st.sampled_from(WHOLE), st.sampled_from(ODD))


def policies(*, any_shape: bool = False) -> st.SearchStrategy[Policy]:
    return strategy(lambda choose: policy(choose, any_shape=any_shape))


def flights(under: Policy) -> st.SearchStrategy[Flight]:
    return strategy(lambda choose: flight(choose, under))


def whens(choose: Choices) -> When:
    return {word: choose.flag() for word in choose.some(WORDS, 0, 2)}


def levels(choose: Choices) -> tuple[Level, ...]:
    count = choose.whole(2, 4)
    bounds = sorted(choose.some(range(41), count - 1, count - 1))
    decisions = [Decision.go, *[Decision.go_with_sign_off] * (count - 2), Decision.no_go]
    return tuple(
        Level(f"l{i}", bounds[i] if i < count - 1 else None, decision, (Role.pilot,), 60)
        for i, decision in enumerate(decisions)
    )


def factor(choose: Choices, position: int, names: list[str], *, any_shape: bool) -> Factor:
    measure = choose.one(MEASURES)
    ascending = DIRECTIONS[measure] is Direction.higher
    edges = sorted(choose.some(EDGES, 1, 3), reverse=not ascending)
    points = [choose.whole(0, 12) for _ in range(len(edges) + 1)]
    if not any_shape:
        points.sort()
    floors = sorted(choose.whole(0, len(names) - 1) for _ in points)
    with_floors = choose.flag()
    bands = tuple(
        Band(edge, p, names[f] if with_floors and f else None)
        for edge, p, f in zip([*edges, None], points, floors, strict=True)
    )
    return Factor(
        f"f{position}",
        choose.one(GROUPS),
        measure,
        bands,
        choose.one(IF_UNKNOWN),
        whens(choose),
        "why",
        SOURCE,
        (),
        ascending,
        "reason" if any_shape else None,
    )


def limit(choose: Choices, position: int) -> Limit:
    measure = choose.one(MEASURES)
    bound = choose.one(EDGES)
    up = DIRECTIONS[measure] is Direction.higher
    return Limit(
        f"h{position}", measure, bound if up else None, None if up else bound, (), whens(choose), "why", SOURCE, ()
    )


def combination(choose: Choices, position: int, names: list[str]) -> Combination:
    measures = choose.some(MEASURES, 0, 3)
    when = whens(choose) if measures else {choose.one(WORDS): choose.flag()}
    parts = tuple(CombinationPart(m, choose.one(EDGES)) for m in measures)
    floor = choose.one([None, *names]) if choose.flag() else None
    group, points = choose.one(GROUPS), choose.whole(0, 12)
    return Combination(f"c{position}", group, parts, points, floor, choose.one(IF_UNKNOWN), when, "why", SOURCE)


def mitigations(choose: Choices, factor_names: list[str]) -> tuple[Mitigation, ...]:
    """No factor is named twice: the loader proves it, and the monotone promise rests on it."""
    free = choose.some(factor_names, len(factor_names), len(factor_names))
    split = choose.whole(0, len(free))
    groups = [group for group in (free[:split], free[split:]) if group]
    return tuple(
        Mitigation(f"t{i}", tuple(group), choose.whole(1, 15), whens(choose), "why", SOURCE)
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


def policy(choose: Choices, *, any_shape: bool) -> Policy:
    ladder = levels(choose)
    names = [level.name for level in ladder]
    fs = tuple(factor(choose, i, names, any_shape=any_shape) for i in range(choose.whole(1, 4)))
    unscaled = Policy(
        id="generated",
        version=1,
        title="generated",
        effective_from=datetime(2026, 1, 1, tzinfo=UTC),
        review_by=date(2027, 1, 1),
        weather_age_max_min=60,
        levels=ladder,
        group_ceilings=tuple(
            Ceiling(group, choose.whole(0, 15), choose.one(names)) for group in choose.some(GROUPS, 0, 2)
        ),
        factors=fs,
        limits=tuple(limit(choose, i) for i in range(choose.whole(0, 3))),
        combinations=tuple(combination(choose, i, names) for i in range(choose.whole(0, 3))),
        mitigations=mitigations(choose, [f.name for f in fs]) if choose.flag() else (),
    )
    return scaled(unscaled, choose.one([1, 1, 20, 80]))


def flight(choose: Choices, under: Policy) -> Flight:
    return Flight(
        {name: choose.one([*WHOLE, *WHOLE, *ODD, *[None] * 8]) for name in DIRECTIONS},
        {word: choose.one([True, False, None]) for word in WORDS},
        frozenset(m.name for m in under.mitigations if choose.flag()),
        frozenset(limit.name for limit in under.limits if choose.flag()),
    )
