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

UNKNOWN_IGNORED = ("np.bitwise_and(~block.settled, policy.all_bits, out=scores.unknown)", "pass")
INFINITY_KNOWN = ("known = np.isfinite(values)", "known = ~np.isnan(values)")
MITIGATION_LIFTS_FLOOR = (
    "scores.level[:] = level",
    "level[scores.total < scores.group_totals.sum(axis=0)] = 0\n    scores.level[:] = level",
)
GUARD_UNKNOWN_SKIPS = (
    "facts.guards[word] == (0.0 if wanted else 1.0)",
    "facts.guards[word] != (1.0 if wanted else 0.0)",
)
BOUND_ON_WORSE_SIDE = ("np.less_equal if ascending else np.greater_equal", "np.less if ascending else np.greater")
DIRECTION_IGNORED = ("np.less_equal if ascending else np.greater_equal", "np.less_equal")
MITIGATION_UNBOUNDED = ("np.minimum(given, np.int16(policy.mitigation_most[mitigation]))", "given * np.int16(2)")
UNKNOWN_MITIGATED = (
    "np.multiply(points, known, out=block.known_points[section.clauses])",
    "block.known_points[section.clauses] = points",
)
BLOCK_SHIFTED = ("for start in range(0, facts.rows, BLOCK_ROWS)", "for start in range(0, facts.rows - 1, BLOCK_ROWS)")
ORDER_MATTERS = (
    "together = met * policy.combination_points",
    "together = met * (policy.combination_points + np.arange(len(met), dtype=np.int16)[:, None])",
)
WAIVER_FREE = ("_raise(block.level, lifted, block.policy.sign_off_floor)", "pass")
WAIVER_LIFTS_UNKNOWN = ("lifted = known[row] & ~passed[row] & signed", "lifted = ~passed[row] & signed")
COMBINATION_UNKNOWN_FREE = (
    "_mark(block.settled, ~not_known, policy.combination_bits)",
    "_mark(block.settled, ~not_known | True, policy.combination_bits)",
)
BAND_FROM_WRONG_END = (
    "bands = section.edge_counts - _reduced(np.add, within.view(np.uint8))",
    "bands = _reduced(np.add, within.view(np.uint8))",
)
LIMIT_PASSES_UNKNOWN = ("settled, passed = known, within[0]", "settled, passed = known, within[0] | ~known")
OUT_OF_FORCE_COUNTS = ("points *= ~out", "pass")
FLOOR_LOST = ("np.maximum(block.level, _reduced(np.maximum, floors), out=block.level)", "pass")
UNKNOWN_NOT_WORST = ("np.copyto(given, steps.worst, where=~known)", "pass")
CHAPTER_OVERFLOWS = (
    "block.chapters[policy.chapters[group]].sum(axis=0, dtype=np.int16)",
    "block.chapters[policy.chapters[group]].sum(axis=0, dtype=policy.chapter_type)",
)
MEASURES_MIXED_UP = ("name in edges.measures]", "name in sorted(edges.measures)]")
PART_OF_ANOTHER = ("doubtful[section.combinations] |= ~known", "doubtful[section.combinations] |= ~known[:1]")

LIMITS = theorems.test_a_limit_hit_is_no_go_whatever_else_is_said
ORDER = theorems.test_order_of_clauses_and_rows_and_batch_size_change_nothing
SECTIONS = theorems.test_clauses_together_or_apart_change_nothing
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
    ("order matters", ORDER_MATTERS, ORDER, (theorems.batches(),)),
    ("waiver for free", WAIVER_FREE, theorems.test_a_waiver_never_gives_a_plain_go, (ANY,)),
    ("waiver lifts an unknown", WAIVER_LIFTS_UNKNOWN, theorems.test_engine_equals_the_oracle, (ANY,)),
    ("unknown part of a combination", COMBINATION_UNKNOWN_FREE, UNKNOWN, (ANY,)),
    ("bands counted from the wrong end", BAND_FROM_WRONG_END, theorems.test_the_band_kept_is_the_explanation, (ANY,)),
    ("last row of a block lost", BLOCK_SHIFTED, theorems.test_blocks_join_without_a_seam, (theorems.batches(),)),
    ("a limit passes on an unknown", LIMIT_PASSES_UNKNOWN, theorems.test_engine_equals_the_oracle, (ANY,)),
    ("a clause out of force counts", OUT_OF_FORCE_COUNTS, theorems.test_engine_equals_the_oracle, (ANY,)),
    ("a floor is lost", FLOOR_LOST, theorems.test_engine_equals_the_oracle, (ANY,)),
    ("an unknown is not the worst", UNKNOWN_NOT_WORST, theorems.test_engine_equals_the_oracle, (ANY,)),
    ("narrow numbers overflow", CHAPTER_OVERFLOWS, theorems.test_engine_equals_the_oracle, (ANY,)),
    ("measures mixed up where clauses are together", MEASURES_MIXED_UP, SECTIONS, (theorems.batches(),)),
    ("parts mixed up where they are together", PART_OF_ANOTHER, SECTIONS, (theorems.batches(),)),
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
