"""The promises of the design, as properties over generated policies and generated flights.

Each property is also shown to fail on a planted bug in ``test_theorems_can_fail.py``.
"""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.assessment import engine
from riskboard.assessment.engine import Facts, Scores, score
from riskboard.policy.compiled import GROUPS, CompiledPolicy, compile_policy
from riskboard.policy.model import Policy
from riskboard.words import Decision, Direction
from tests.assessment import generated
from tests.assessment.choices import Choices, strategy
from tests.assessment.generated import DIRECTIONS, VALUES, WORDS
from tests.assessment.oracle import Flight, judge


def number(value: float | bool | None) -> float:
    return np.nan if value is None else float(value)


def as_facts(policy: Policy, rows: list[Flight]) -> Facts:
    return Facts(
        {name: np.array([number(row.measures[name]) for row in rows]) for name in DIRECTIONS},
        {word: np.array([number(row.guards[word]) for row in rows]) for word in WORDS},
        {m.name: np.array([m.name in row.taken for row in rows]) for m in policy.mitigations},
        {limit.name: np.array([limit.name in row.waived for row in rows]) for limit in policy.limits},
    )


LAST: list[tuple[Policy, CompiledPolicy]] = []


def compiled_of(policy: Policy) -> CompiledPolicy:
    """A theorem scores under the same policy again and again: it is compiled once."""
    if not LAST or LAST[0][0] is not policy:
        LAST[:] = [(policy, compile_policy(policy, DIRECTIONS))]
    return LAST[0][1]


def run(policy: Policy, rows: list[Flight]) -> Scores:
    return score(compiled_of(policy), as_facts(policy, rows), keep=True)


def names_of(bits: np.ndarray, row: int, names: list[str]) -> set[str]:
    flags = np.unpackbits(bits[:, row], count=len(names)).tolist() if names else []
    return {name for name, flag in zip(names, flags, strict=True) if flag}


def clause_names(policy: Policy) -> list[str]:
    return [c.name for c in policy.factors] + [c.name for c in policy.limits] + [c.name for c in policy.combinations]


def cases(*, any_shape: bool = False) -> st.SearchStrategy[tuple[Policy, Flight]]:
    def case(choose: Choices) -> tuple[Policy, Flight]:
        made = generated.policy(choose, any_shape=any_shape)
        return made, generated.flight(choose, made)

    return strategy(case)


class Batch(NamedTuple):
    policy: Policy
    rows: list[Flight]
    shuffled: Policy
    block: int


def batches(*, most: int = 5) -> st.SearchStrategy[Batch]:
    """Some flights under one policy, the policy with its clauses in another order, and a size of blocks."""

    def batch(choose: Choices) -> Batch:
        made = generated.policy(choose, any_shape=True)
        rows = [generated.flight(choose, made) for _ in range(choose.whole(1, most))]
        shuffled = replace(
            made,
            factors=tuple(choose.some(made.factors, len(made.factors), len(made.factors))),
            limits=tuple(choose.some(made.limits, len(made.limits), len(made.limits))),
            combinations=tuple(choose.some(made.combinations, len(made.combinations), len(made.combinations))),
            mitigations=tuple(choose.some(made.mitigations, len(made.mitigations), len(made.mitigations))),
        )
        return Batch(made, rows, shuffled, choose.whole(1, 3))

    return strategy(batch)


@given(cases(any_shape=True))
def test_engine_equals_the_oracle(case: tuple[Policy, Flight]) -> None:
    policy, flight = case
    found, expected = run(policy, [flight]), judge(policy, flight, DIRECTIONS)
    assert found.total[0] == expected.total
    assert {group: found.group_totals[i, 0] for i, group in enumerate(GROUPS)} == expected.groups
    assert (found.level[0], found.decision[0]) == (expected.level, expected.decision)
    assert names_of(found.limits_hit, 0, [limit.name for limit in policy.limits]) == expected.limits_hit
    assert names_of(found.unknown, 0, clause_names(policy)) == expected.unknown


@given(cases(any_shape=True))
def test_an_unknown_in_a_clause_in_force_is_never_go(case: tuple[Policy, Flight]) -> None:
    policy, flight = case
    if judge(policy, flight, DIRECTIONS).unknown:
        assert run(policy, [flight]).decision[0] != Decision.go


@given(cases(any_shape=True))
def test_a_limit_hit_is_no_go_whatever_else_is_said(case: tuple[Policy, Flight]) -> None:
    policy, flight = case
    mitigated = replace(flight, taken=frozenset(m.name for m in policy.mitigations))
    if judge(policy, mitigated, DIRECTIONS).limits_hit:
        assert run(policy, [mitigated]).decision[0] == Decision.no_go


@given(cases(), st.sampled_from(sorted(DIRECTIONS)), VALUES, VALUES)
def test_one_measure_worse_is_never_better(case: tuple[Policy, Flight], name: str, one: float, two: float) -> None:
    policy, flight = case
    better, worse = sorted((one, two), reverse=DIRECTIONS[name] is Direction.lower)
    found = run(policy, [replace(flight, measures={**flight.measures, name: value}) for value in (better, worse)])
    assert found.level[0] <= found.level[1]
    assert found.total[0] <= found.total[1]


@given(cases(any_shape=True), st.sampled_from([*sorted(DIRECTIONS), *WORDS]))
def test_forgetting_never_helps(case: tuple[Policy, Flight], what: str) -> None:
    policy, flight = case
    if what in DIRECTIONS:
        forgetful = replace(flight, measures={**flight.measures, what: None})
    else:
        forgetful = replace(flight, guards={**flight.guards, what: None})  # type: ignore[dict-item]
    found = run(policy, [flight, forgetful])
    assert found.level[0] <= found.level[1]


@given(batches())
def test_order_of_clauses_and_rows_and_batch_size_change_nothing(batch: Batch) -> None:
    policy, rows, shuffled, _ = batch
    backwards, together = run(shuffled, rows[::-1]), run(policy, rows)
    for i, row in enumerate(rows):
        alone, mirrored = run(policy, [row]), len(rows) - 1 - i
        for name in ("total", "level", "decision"):
            assert getattr(together, name)[i] == getattr(alone, name)[0] == getattr(backwards, name)[mirrored]
        assert (together.group_totals[:, i] == backwards.group_totals[:, mirrored]).all()
        assert names_of(together.unknown, i, clause_names(policy)) == names_of(
            backwards.unknown, mirrored, clause_names(shuffled)
        )


@given(cases(any_shape=True))
def test_a_waiver_never_gives_a_plain_go(case: tuple[Policy, Flight]) -> None:
    policy, flight = case
    waived = replace(flight, waived=frozenset(limit.name for limit in policy.limits))
    if judge(policy, replace(flight, waived=frozenset()), DIRECTIONS).limits_hit:
        assert run(policy, [waived]).decision[0] != Decision.go


@given(cases(any_shape=True))
def test_the_band_kept_is_the_explanation(case: tuple[Policy, Flight]) -> None:
    policy, flight = case
    found = run(policy, [flight])
    assert found.bands is not None
    assert found.combinations is not None
    groups = dict.fromkeys(GROUPS, 0)
    compiled = compiled_of(policy)
    for i, factor in enumerate(policy.factors):
        band = found.bands[i, 0]
        if band == compiled.unknown:
            groups[factor.group] += max(b.points for b in factor.bands)
        elif band != compiled.out_of_force:
            groups[factor.group] += factor.bands[band].points
    for i, combination in enumerate(policy.combinations):
        groups[combination.group] += combination.points * int(found.combinations[i, 0])
    assert groups == {group: found.group_totals[i, 0] for i, group in enumerate(GROUPS)}


@given(cases(any_shape=True), st.sampled_from(sorted(DIRECTIONS)), st.sampled_from([np.inf, -np.inf]))
def test_an_infinity_is_as_unknown_as_nan(case: tuple[Policy, Flight], name: str, infinity: float) -> None:
    policy, flight = case
    endless, blank = (
        replace(flight, measures={**flight.measures, name: infinity}),
        replace(flight, measures={**flight.measures, name: None}),
    )
    found, expected = run(policy, [endless]), run(policy, [blank])
    for part in Scores.__dataclass_fields__:
        assert (getattr(found, part) == getattr(expected, part)).all()


@given(batches())
def test_blocks_join_without_a_seam(batch: Batch) -> None:
    policy, rows, _, _ = batch
    whole = run(policy, rows)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engine, "BLOCK_ROWS", 2)
        in_blocks = run(policy, rows)
    for name in Scores.__dataclass_fields__:
        assert (getattr(whole, name) == getattr(in_blocks, name)).all()


@given(batches(most=4))
def test_clauses_together_or_apart_change_nothing(batch: Batch) -> None:
    """Every array of the result, bit by bit: answered together or one by one, in blocks of any size."""
    policy, rows, _, block_rows = batch
    compiled, facts = compiled_of(policy), as_facts(policy, rows)
    found = []
    for together, block in ((len(rows), len(rows)), (0, len(rows)), (0, block_rows)):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(engine, "TOGETHER_ROWS", together)
            patch.setattr(engine, "BLOCK_ROWS", block)
            found.append(score(compiled, facts, keep=True))
    for name in Scores.__dataclass_fields__:
        first, *others = (getattr(scores, name) for scores in found)
        assert all(np.array_equal(first, other) and first.dtype == other.dtype for other in others), name
