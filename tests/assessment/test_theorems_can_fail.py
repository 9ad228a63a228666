"""Every theorem fails on a planted bug: a check that cannot fail proves nothing.

A bug is a small edit of the engine's own source. When the source moves on, the snippet is no longer found and the test
says so.
"""

import inspect
import types
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from riskboard.assessment import engine
from tests.assessment import test_theorems as theorems
from tests.assessment.generated import DIRECTIONS, VALUES, WORDS

ANY = theorems.cases(any_shape=True)
ONE_WORSE = (theorems.cases(), st.sampled_from(sorted(DIRECTIONS)), VALUES, VALUES)
INFINITE = (ANY, st.sampled_from(sorted(DIRECTIONS)), st.sampled_from([float("inf"), float("-inf")]))
FORGET = (ANY, st.sampled_from([*sorted(DIRECTIONS), *WORDS]))

UNKNOWN_IGNORED = ("np.copyto(bands, np.int8(policy.unknown), where=unknown[policy.clause_measure])", "pass")
INFINITY_KNOWN = (
    "np.isfinite(facts.measures[name], out=known[row])",
    "np.logical_not(np.isnan(facts.measures[name]), out=known[row])",
)
MITIGATION_LIFTS_FLOOR = (
    "limits = bands[policy.factors :]",
    "level[off.sum(axis=0) > 0] = 0\n    limits = bands[policy.factors :]",
)
GUARD_UNKNOWN_SKIPS = (
    "facts.guards[word] == (0.0 if wanted else 1.0)",
    "facts.guards[word] != (1.0 if wanted else 0.0)",
)
BOUND_ON_WORSE_SIDE = ("np.less_equal if c.ascending else np.greater_equal", "np.less if c.ascending else np.greater")
DIRECTION_IGNORED = ("np.less_equal if c.ascending else np.greater_equal", "np.less_equal")
MITIGATION_UNBOUNDED = ("np.minimum(given, np.int16(policy.mitigation_most[i]))", "given * np.int16(2)")
UNKNOWN_MITIGATED = ("points[rows] * (bands[rows] < policy.unknown)", "points[rows]")
BLOCK_SHIFTED = ("for start in range(0, rows, BLOCK_ROWS)", "for start in range(0, rows - 1, BLOCK_ROWS)")
ORDER_MATTERS = (
    "together = met * policy.combination_points",
    "together = met * (policy.combination_points + np.arange(len(met), dtype=np.int16)[:, None])",
)
WAIVER_FREE = ("np.copyto(limit, np.int8(policy.waived)", "np.copyto(limit, np.int8(0)")
WAIVER_LIFTS_UNKNOWN = ("where=(limit == 1) & facts.waived[name]", "where=(limit > 0) & facts.waived[name]")
COMBINATION_UNKNOWN_FREE = ("(not_known * policy.combination_unknown_floors)", "(not_known * np.int8(0))")
BAND_OFF = (
    "points = policy.points.take(columns[: policy.factors])",
    "points = policy.points.take(columns[: policy.factors]); bands = np.roll(bands, 1, axis=0)",
)

LIMITS = theorems.test_a_limit_hit_is_no_go_whatever_else_is_said
ORDER = theorems.test_order_of_clauses_and_rows_and_batch_size_change_nothing
UNKNOWN = theorems.test_an_unknown_in_a_clause_in_force_is_never_go
PLANTED: list[tuple[str, tuple[str, str], Callable[..., None], tuple[st.SearchStrategy[object], ...]]] = [
    ("bound on the worse side", BOUND_ON_WORSE_SIDE, theorems.test_engine_equals_the_oracle, (ANY,)),
    ("an unknown keeps what a mitigation takes", UNKNOWN_MITIGATED, theorems.test_engine_equals_the_oracle, (ANY,)),
    ("unknown ignored", UNKNOWN_IGNORED, UNKNOWN, (ANY,)),
    ("an infinity is known", INFINITY_KNOWN, theorems.test_an_infinity_is_as_unknown_as_nan, INFINITE),
    ("mitigation lifts a limit", MITIGATION_LIFTS_FLOOR, LIMITS, (ANY,)),
    ("direction ignored", DIRECTION_IGNORED, theorems.test_one_measure_worse_is_never_better, ONE_WORSE),
    ("mitigation unbounded", MITIGATION_UNBOUNDED, theorems.test_one_measure_worse_is_never_better, ONE_WORSE),
    ("unknown guard skips the clause", GUARD_UNKNOWN_SKIPS, theorems.test_forgetting_never_helps, FORGET),
    ("order matters", ORDER_MATTERS, ORDER, (st.data(),)),
    ("waiver for free", WAIVER_FREE, theorems.test_a_waiver_never_gives_a_plain_go, (ANY,)),
    ("waiver lifts an unknown", WAIVER_LIFTS_UNKNOWN, theorems.test_engine_equals_the_oracle, (ANY,)),
    ("unknown part of a combination", COMBINATION_UNKNOWN_FREE, UNKNOWN, (ANY,)),
    ("bands mixed up", BAND_OFF, theorems.test_the_band_kept_is_the_explanation, (ANY,)),
    ("last row of a block lost", BLOCK_SHIFTED, theorems.test_blocks_join_without_a_seam, (st.data(),)),
]  # fmt: skip


def with_bug(bug: tuple[str, str]) -> types.ModuleType:
    source = inspect.getsource(engine)
    snippet, replacement = bug
    assert source.count(snippet) == 1, f"the engine no longer holds {snippet!r}; plant the bug elsewhere"
    broken = types.ModuleType("riskboard.assessment.engine_with_a_bug")
    broken.__dict__["__builtins__"] = __builtins__
    exec(compile(source.replace(snippet, replacement), "engine_with_a_bug", "exec"), broken.__dict__)  # noqa: S102
    return broken


@pytest.mark.parametrize(("bug", "theorem", "strategies"), [pytest.param(*row[1:], id=row[0]) for row in PLANTED])
def test_theorem_fails_on_the_planted_bug(
    monkeypatch: pytest.MonkeyPatch,
    bug: tuple[str, str],
    theorem: Callable[..., None],
    strategies: tuple[st.SearchStrategy[object], ...],
) -> None:
    broken = with_bug(bug)
    for name in ("score", "Facts", "Scores"):
        monkeypatch.setattr(theorems, name, getattr(broken, name))
    monkeypatch.setattr(theorems, "engine", broken)
    body = theorem.hypothesis.inner_test  # type: ignore[attr-defined]

    hunt = settings(
        max_examples=3000,
        database=None,
        derandomize=True,
        deadline=None,
        phases=(Phase.generate,),
        report_multiple_bugs=False,
        suppress_health_check=list(HealthCheck),
    )(given(*strategies)(body))
    with pytest.raises((AssertionError, ValueError)):
        hunt()
