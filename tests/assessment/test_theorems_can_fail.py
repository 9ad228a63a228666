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
FORGET = (ANY, st.sampled_from([*sorted(DIRECTIONS), *WORDS]))

UNKNOWN_IGNORED = ("self.raise_floor(here, floor)", "pass")
NAN_PASSES_LIMITS = (
    "stop = ~(values <= limit.bound if limit.ascending else values >= limit.bound)",
    "stop = values > limit.bound if limit.ascending else values < limit.bound",
)
MITIGATION_LIFTS_FLOOR = (
    "self.raise_floor(total > bound, position)",
    "self.raise_floor(total > bound, position)\n        self.floor[off.sum(axis=0) > 0] = 0",
)
GUARD_UNKNOWN_SKIPS = (
    "surely_out |= self.facts.guards[word] == (0.0 if wanted else 1.0)",
    "surely_out |= self.facts.guards[word] != (1.0 if wanted else 0.0)",
)
BOUND_ON_WORSE_SIDE = (
    "np.less_equal if factor.ascending else np.greater_equal",
    "np.less if factor.ascending else np.greater",
)
DIRECTION_IGNORED = ("np.less_equal if factor.ascending else np.greater_equal", "np.less_equal")
MITIGATION_UNBOUNDED = ("np.minimum(given, self.groups.dtype.type(mitigation.at_most))", "given * 2")
UNKNOWN_MITIGATED = ("own if unknown is None else own * ~unknown", "own")
BLOCK_SHIFTED = ("for start in range(0, rows, BLOCK_ROWS)", "for start in range(0, rows - 1, BLOCK_ROWS)")
ORDER_MATTERS = ("self.groups[combination.group] += met", "self.groups[combination.group] += (position + 1) * met")
WAIVER_FREE = ("self.raise_floor(lifted, self.policy.sign_off_floor)", "pass")
BAND_OFF = ("band -= within.view(np.int8)", "band -= within.view(np.int8) * (i > 0)")

PLANTED: list[tuple[str, tuple[str, str], Callable[..., None], tuple[st.SearchStrategy[object], ...]]] = [
    ("bound on the worse side", BOUND_ON_WORSE_SIDE, theorems.test_engine_equals_the_oracle, (ANY,)),
    ("an unknown keeps what a mitigation takes", UNKNOWN_MITIGATED, theorems.test_engine_equals_the_oracle, (ANY,)),
    ("unknown ignored", UNKNOWN_IGNORED, theorems.test_an_unknown_in_a_clause_in_force_is_never_go, (ANY,)),
    ("NaN passes limits", NAN_PASSES_LIMITS, theorems.test_engine_equals_the_oracle, (ANY,)),
    ("mitigation lifts a limit", MITIGATION_LIFTS_FLOOR, theorems.test_a_limit_hit_is_no_go_whatever_else_is_said, (ANY,)),
    ("direction ignored", DIRECTION_IGNORED, theorems.test_one_measure_worse_is_never_better, ONE_WORSE),
    ("mitigation unbounded", MITIGATION_UNBOUNDED, theorems.test_one_measure_worse_is_never_better, ONE_WORSE),
    ("unknown guard skips the clause", GUARD_UNKNOWN_SKIPS, theorems.test_forgetting_never_helps, FORGET),
    ("order matters", ORDER_MATTERS, theorems.test_order_of_clauses_and_rows_and_batch_size_change_nothing, (st.data(),)),
    ("waiver for free", WAIVER_FREE, theorems.test_a_waiver_never_gives_a_plain_go, (ANY,)),
    ("band off by one", BAND_OFF, theorems.test_the_band_kept_is_the_explanation, (ANY,)),
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
