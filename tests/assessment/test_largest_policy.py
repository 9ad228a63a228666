"""The largest policy that the loader lets through is scored like a small one: its bit sets are as long as it takes."""

from dataclasses import replace

import numpy as np
import pytest

from riskboard.assessment import engine
from riskboard.assessment.engine import Facts, score
from riskboard.policy.compiled import GROUPS, compile_policy
from riskboard.policy.model import Policy
from riskboard.policy.schema import MAX_CLAUSES, MAX_LIMITS
from tests.assessment.oracle import judge
from tests.policy.samples import good
from tests.policy.test_extension_theorems import DIRECTIONS, GUARDS, flights


def largest() -> Policy:
    """Limits, factors and combinations of the good policy over and over, each with other bounds and points."""
    policy = good()
    limits = tuple(
        replace(
            limit,
            name=f"limit_{i}",
            at_least=None if limit.at_least is None else i / 10 - 4,
            up_to=None if limit.up_to is None else float(i % 3),
        )
        for i, limit in enumerate((policy.limits * MAX_LIMITS)[:MAX_LIMITS])
    )
    rest = MAX_CLAUSES - len(limits)
    factors = tuple(
        replace(factor, name=f"factor_{i}", if_unknown="no_go" if i % 5 == 0 else factor.if_unknown)
        for i, factor in enumerate((policy.factors * rest)[: rest // 2])
    )
    combinations = tuple(
        replace(each, name=f"combination {i}", points=i % 7)
        for i, each in enumerate((policy.combinations * rest)[: rest - len(factors) - 1])
    )
    mitigation = replace(policy.mitigations[0], off=("factor_1", "factor_5", factors[-3].name))
    levels = tuple(replace(each, up_to=None if each.up_to is None else each.up_to * 20) for each in policy.levels)
    return replace(
        policy,
        levels=levels,
        group_ceilings=(),
        limits=limits,
        factors=factors,
        combinations=combinations,
        mitigations=(mitigation,),
    )


@pytest.mark.parametrize("together", [10**6, 0], ids=["clauses together", "one by one"])
def test_engine_equals_the_oracle(together: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "TOGETHER_ROWS", together)
    policy, rows = largest(), [*flights(1)[:60], *flights(2)[:60]]
    rows = [replace(row, waived=frozenset({"limit_1", "limit_64", f"limit_{MAX_LIMITS - 1}"})) for row in rows]
    facts = Facts(
        {name: _column([row.measures[name] for row in rows]) for name in DIRECTIONS if name in rows[0].measures},
        {word: _column([row.guards[word] for row in rows]) for word in GUARDS},
        {m.name: np.array([m.name in row.taken for row in rows]) for m in policy.mitigations},
        {limit.name: np.array([limit.name in row.waived for row in rows]) for limit in policy.limits},
    )
    found = score(compile_policy(policy, DIRECTIONS), facts)
    limits = [limit.name for limit in policy.limits]
    clauses = [f.name for f in policy.factors] + limits + [c.name for c in policy.combinations]
    assert len(limits) == MAX_LIMITS
    assert len(clauses) + len(policy.mitigations) == MAX_CLAUSES
    seen: set[str] = set()
    for i, row in enumerate(rows):
        expected = judge(policy, row, DIRECTIONS)
        assert (found.total[i], found.level[i], found.decision[i]) == (
            expected.total,
            expected.level,
            expected.decision,
        )
        assert {group: found.group_totals[g, i] for g, group in enumerate(GROUPS)} == expected.groups
        assert _named(found.limits_hit[:, i], limits) == expected.limits_hit
        assert _named(found.unknown[:, i], clauses) == expected.unknown
        seen |= expected.limits_hit
    assert max(int(name.removeprefix("limit_")) for name in seen) > MAX_LIMITS - 3


def _column(values: list[float | None] | list[bool | None]) -> np.ndarray:
    return np.array([np.nan if value is None else float(value) for value in values])


def _named(bits: np.ndarray, names: list[str]) -> set[str]:
    flags = np.unpackbits(bits, count=len(names)).tolist()
    return {name for name, flag in zip(names, flags, strict=True) if flag}
