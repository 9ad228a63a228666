"""A clause at one value must mean the same to the loader, which runs the cases, and to the engine, which decides."""

import subprocess
import sys
from dataclasses import replace
from datetime import date

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from riskboard.assessment.engine import Facts, score
from riskboard.policy.compiled import compile_policy
from riskboard.policy.evaluate import factor_result, limit_result, probes
from riskboard.policy.model import Band, Factor, Limit, Policy, Source
from riskboard.words import Group
from tests.policy.measures import REGISTRY
from tests.policy.samples import good

SOURCE = Source("generated", "school", date(2026, 1, 1))
DIRECTIONS = {name: measure.worse for name, measure in REGISTRY.items()}
VALUES = st.lists(st.integers(0, 60).map(float) | st.sampled_from([0.1, 6.9, 7.1]), min_size=1, max_size=20)


def only(policy: Policy, factors: tuple[Factor, ...], limits: tuple[Limit, ...]) -> Policy:
    return replace(policy, factors=factors, limits=limits, combinations=(), mitigations=(), group_ceilings=())


@st.composite
def any_factor(draw: st.DrawFn) -> Factor:
    ascending = draw(st.booleans())
    bounds = sorted(draw(st.lists(st.integers(1, 59), min_size=1, max_size=4, unique=True)), reverse=not ascending)
    points = draw(st.lists(st.integers(0, 20), min_size=len(bounds) + 1, max_size=len(bounds) + 1))
    bands = tuple(Band(bound, number) for bound, number in zip([*bounds, None], points, strict=True))
    measure = "gust_kt_spread" if ascending else "slept_h"
    return Factor("f", Group.pilot, measure, bands, "no_go", {}, "why", SOURCE, (), ascending, "reason")


@given(any_factor(), VALUES)
def test_a_factor_gives_the_points_that_the_engine_counts(factor: Factor, values: list[float]) -> None:
    policy = compile_policy(only(good(), (factor,), ()), DIRECTIONS)
    totals = score(policy, Facts({factor.measure: np.array(values)})).total
    assert totals.tolist() == [factor_result(factor, value) for value in values]


@given(st.booleans(), st.integers(0, 60), VALUES)
def test_a_limit_stops_where_the_engine_stops(up: bool, bound: int, values: list[float]) -> None:
    measure = "defects" if up else "fuel_spare_min"
    limit = Limit("h", measure, bound if up else None, None if up else bound, (), {}, "why", SOURCE, ())
    policy = compile_policy(only(good(), (), (limit,)), DIRECTIONS)
    hit = score(policy, Facts({measure: np.array([*values, np.nan])})).limits_hit[0] >> 7
    assert [bool(bit) for bit in hit] == [limit_result(limit, value) == "stop" for value in [*values, None]]


@given(any_factor(), any_factor())
def test_probes_tell_any_two_step_functions_apart(first: Factor, second: Factor) -> None:
    """Equal at the probes is equal at every whole value, and the other way round."""
    bands = first.bands[:1] + second.bands[1:]
    second = replace(second, ascending=first.ascending, measure=first.measure, bands=bands)
    if sorted((b.bound or 0 for b in second.bands[:-1]), reverse=not first.ascending) != [
        band.bound for band in second.bands[:-1]
    ]:
        return
    measure = REGISTRY["gust_kt_spread"]
    bounds = [band.bound for band in (*first.bands, *second.bands) if band.bound is not None]
    everywhere = all(factor_result(first, value) == factor_result(second, value) for value in range(61))
    at_probes = all(factor_result(first, value) == factor_result(second, value) for value in probes(measure, bounds))
    assert everywhere == at_probes


def test_importing_the_policy_language_pulls_in_nothing_heavy() -> None:
    code = (
        "import sys, riskboard.policy, riskboard.policy.trials, riskboard.policy.compare\n"
        "import riskboard.policy.json_schema\n"
        "print([m for m in ('streamlit', 'pandas', 'scipy', 'altair', 'jsonschema', 'sqlalchemy') if m in sys.modules]"
        " + [m for m in sys.modules if m.startswith(('riskboard.assessment', 'riskboard.ledger', 'riskboard.app'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
