"""From worksheets to what the engine is told: measures and guards the policy needs, what was taken, what was waived."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import isnan

import numpy as np

from riskboard.assessment.engine import Facts
from riskboard.measures.registry import MEASURES, evaluate_together, load_all
from riskboard.policy.compiled import CompiledPolicy, compile_policy
from riskboard.policy.model import Policy
from riskboard.words import Guard
from riskboard.worksheet.columns import Columns, expire_weather, to_columns
from riskboard.worksheet.model import Worksheet

__all__ = ["PreparedPolicy", "facts_from_columns", "facts_of", "prepare"]


@dataclass(frozen=True, eq=False)  # told apart by identity, so that what follows from it can be kept beside it
class PreparedPolicy:
    """A policy with its compiled form: prepared once, used for every assessment under it."""

    policy: Policy
    compiled: CompiledPolicy


def prepare(policy: Policy) -> PreparedPolicy:
    """Compile a policy against the measure registry."""
    load_all()
    return PreparedPolicy(policy, compile_policy(policy, {name: entry.worse for name, entry in MEASURES.items()}))


def facts_from_columns(
    prepared: PreparedPolicy,
    columns: Columns,
    taken: Sequence[frozenset[str]],
    waived: Sequence[frozenset[str]],
) -> Facts:
    """Facts for n worksheets whose columns are already encoded and whose stale weather is already blank."""
    compiled = prepared.compiled
    return Facts(
        *evaluate_together(columns, compiled.measures, compiled.guards),
        _flags(compiled.mitigations, taken),
        _flags(compiled.limit_names, waived),
    )


def _flags(
    names: Sequence[str], rows: Sequence[frozenset[str]]
) -> Mapping[str, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    return {name: np.array([name in row for row in rows]) for name in names if any(name in row for row in rows)}


def facts_of(
    sheets: Sequence[Worksheet],
    prepared: PreparedPolicy,
    at: datetime,
    waived: frozenset[str] = frozenset(),
) -> tuple[Facts, tuple[tuple[str, ...], ...]]:
    """Facts for n worksheets at one moment of decision.

    Args:
        sheets: Checked worksheets.
        prepared: The policy.
        at: Moment of decision, aware.
        waived: Limits that a signed waiver lifts.

    Returns:
        The facts, and for each worksheet the weather entries that were too old to count.
    """
    kept = [expire_weather(sheet, at, prepared.policy.weather_age_max_min) for sheet in sheets]
    columns = to_columns([sheet for sheet, _ in kept], at)
    taken = [frozenset(m.name for m in sheet.plan.mitigations or ()) for sheet in sheets]
    return facts_from_columns(prepared, columns, taken, [waived] * len(sheets)), tuple(expired for _, expired in kept)


def truth(facts: Facts, word: Guard, row: int) -> bool | None:
    """A guard's truth in one row; None is unknown."""
    value = float(facts.guards[word][row])
    return None if isnan(value) else value == 1
