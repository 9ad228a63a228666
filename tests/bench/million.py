"""A million flights, against a bare loop that compares and adds, and beside the same policy as a dataframe expression.

Every side scores the same factors and limits with the same points on the same measures, with five unknowns in a
hundred, and finds the same totals and the same flights stopped. The bare loop knows no unknown mask, no floors, no
groups, no guards and no bit sets: it is what is left when everything that makes a score trustworthy is taken away. It
runs over whole columns, as one would write it, and adds whole numbers of the width of its total. Beside that stands the
same loop in the engine's blocks and with steps in 8 bits. The last row is what the bound does not cover: the whole
policy, with guards, combinations, ceilings, mitigations stated and waivers signed.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import pairwise

import numpy as np
import polars as pl
from numpy.typing import NDArray

from riskboard.assessment.engine import BLOCK_ROWS, Facts, Scores, score
from riskboard.assessment.facts import PreparedPolicy, prepare
from riskboard.jobs.files import shipped_book
from riskboard.measures.registry import MEASURES
from riskboard.policy.book import DEFAULT_ID
from riskboard.policy.evaluate import limit_bound
from riskboard.policy.model import Factor, Policy
from tests.bench.timing import Row, alternated

__all__ = ["rows"]

ROWS = 1_000_000
UNKNOWN_SHARE = 0.05
STATED_SHARE = 0.1
Column = NDArray[np.float64]
Found = tuple[NDArray[np.int16], NDArray[np.bool_]]
"""Total of each flight, and whether a limit stops it."""


def rows(count: int = ROWS, rounds: int = 5) -> list[Row]:
    """The ratios of many flights."""
    whole = prepare(next(p for p in shipped_book().policies if p.id == DEFAULT_ID))
    bare = prepare(factors_and_limits(whole.policy))
    facts = invented(whole, count)
    measured = Facts(facts.measures)
    loop = bare_loop(bare.policy, facts.measures)
    tuned = bare_loop(bare.policy, facts.measures, block=BLOCK_ROWS, step_type=np.uint8)
    frame = pl.DataFrame(dict(facts.measures)).fill_nan(None)
    expression = [total_expression(bare.policy), stops_expression(bare.policy)]
    framed = frame.select(expression)
    check_equal(
        of_engine(score(bare.compiled, measured)),
        loop(),
        tuned(),
        (framed["total"].to_numpy(), framed["stops"].to_numpy()),
    )
    times = alternated(
        {
            "engine": lambda: score(bare.compiled, measured),
            "loop": loop,
            "tuned": tuned,
            "polars": lambda: frame.select(expression),
            "whole": lambda: score(whole.compiled, facts),
        },
        rounds=rounds,
    )
    what = f"{count:,} flights, factors and limits"
    return [
        Row(what, times["engine"], "bare compare-and-add loop", times["loop"], 2, "(aim 1.3)"),
        Row(what, times["engine"], f"the loop in blocks of {BLOCK_ROWS:,}, in 8 bits", times["tuned"], None),
        Row(what, times["engine"], "polars expression", times["polars"], None),
        Row(f"{count:,} flights, whole policy", times["whole"], "bare compare-and-add loop", times["loop"], None),
    ]


def of_engine(scores: Scores) -> Found:
    """Totals, and which flights a limit stops."""
    return scores.total, np.bitwise_or.reduce(scores.limits_hit, axis=0) != 0


def factors_and_limits(policy: Policy) -> Policy:
    """The policy with what a bare loop can do: factors and limits, always in force."""
    factors = tuple(replace(factor, when={}) for factor in policy.factors)
    limits = tuple(replace(limit, when={}) for limit in policy.limits)
    return replace(policy, factors=factors, limits=limits, combinations=(), mitigations=())


def invented(prepared: PreparedPolicy, count: int) -> Facts:
    """Measures at random over the range that the policy's bounds span, and guards; some unknown."""
    chance = np.random.default_rng(20260504)

    def some_unknown(values: Column) -> Column:
        values[chance.random(count, np.float32) < UNKNOWN_SHARE] = np.nan
        return values

    bounds = bounds_of(prepared.policy)
    measures = {}
    for name in prepared.compiled.measures:
        low, high = min(bounds[name]), max(bounds[name])
        spread = (high - low) or 1.0
        drawn = chance.uniform(low - spread / 2, high + spread / 2, count)
        measures[name] = some_unknown(np.round(drawn, MEASURES[name].decimals))
    guards = {word: some_unknown(chance.integers(0, 2, count).astype(float)) for word in prepared.compiled.guards}
    stated = {name: chance.random(count, np.float32) < STATED_SHARE for name in prepared.compiled.mitigations}
    waivable = [limit.name for limit in prepared.policy.limits if limit.waiver]
    signed = {name: chance.random(count, np.float32) < STATED_SHARE for name in waivable}
    return Facts(measures, guards, stated, signed)


def bounds_of(policy: Policy) -> dict[str, list[float]]:
    """Every bound a policy draws on each measure."""
    found: dict[str, list[float]] = {}
    for factor in policy.factors:
        found.setdefault(factor.measure, []).extend(b.bound for b in factor.bands if b.bound is not None)
    for limit in policy.limits:
        found.setdefault(limit.measure, []).append(limit_bound(limit))
    for combination in policy.combinations:
        for part in combination.all_of:
            found.setdefault(part.measure, []).append(part.beyond)
    return found


def steps_of(factor: Factor) -> list[tuple[float, int]]:
    """(bound, points saved by being within it)."""
    return [(b.bound, worse.points - b.points) for b, worse in pairwise(factor.bands) if b.bound is not None]


def bare_loop(
    policy: Policy,
    measures: Mapping[str, Column],
    *,
    block: int | None = None,
    step_type: type[np.int16] | type[np.uint8] = np.int16,
) -> Callable[[], Found]:
    """The least that adds up the points and finds the limits broken, over whole columns or in blocks of rows."""
    count = len(next(iter(measures.values())))
    block = block or count
    factors = [(f.measure, np.less_equal if f.ascending else np.greater_equal, steps_of(f)) for f in policy.factors]
    worst = sum(f.bands[-1].points for f in policy.factors)
    limits = [
        (one.measure, np.less_equal if one.up_to is not None else np.greater_equal, limit_bound(one))
        for one in policy.limits
    ]

    def run() -> Found:
        total, within_all = np.full(count, worst, np.int16), np.ones(count, np.bool_)
        for start in range(0, count, block):
            part = slice(start, start + block)
            points, within = total[part], within_all[part]
            for measure, compare, steps in factors:
                values = measures[measure][part]
                for bound, step in steps:
                    points -= compare(values, bound).view(np.uint8) * step_type(step)
            for measure, compare, bound in limits:
                within &= compare(measures[measure][part], bound)
        return total, ~within_all

    return run


def total_expression(policy: Policy) -> pl.Expr:
    """The total as one expression of a dataframe library; an unknown takes the worst band."""
    parts = []
    for factor in policy.factors:
        column = pl.col(factor.measure)
        chain: pl.Expr | None = None
        for band in reversed(factor.bands):
            points = pl.lit(band.points, pl.Int16)
            if band.bound is None or chain is None:
                chain = points
            else:
                within = column <= band.bound if factor.ascending else column >= band.bound
                chain = pl.when(within).then(points).otherwise(chain)
        parts.append(chain)
    return pl.sum_horizontal(parts).alias("total")


def stops_expression(policy: Policy) -> pl.Expr:
    """Whether any limit stops the flight; a limit passes only when known and within."""
    within = [
        (pl.col(one.measure) <= one.up_to if one.up_to is not None else pl.col(one.measure) >= one.at_least).fill_null(
            value=False
        )
        for one in policy.limits
    ]
    return (~pl.all_horizontal(within)).alias("stops")


def check_equal(*sides: Found) -> None:
    """All sides find the same points and the same flights stopped in every row.

    Raises:
        ValueError: They differ.
    """
    for other in sides[1:]:
        if not all(np.array_equal(mine, yours) for mine, yours in zip(sides[0], other, strict=True)):
            raise ValueError("the sides find different results; a comparison of speed would mean nothing")
