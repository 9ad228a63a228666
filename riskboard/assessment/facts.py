"""From worksheets to what the engine is told: measures and guards the policy needs, what was taken, what was waived."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from math import isnan

import numpy as np

from riskboard.aircraft_types.model import AircraftType
from riskboard.assessment.airframe import airframe_columns
from riskboard.assessment.engine import Facts
from riskboard.measures.registry import MEASURES, evaluate_together, load_all, rests_on_airframe
from riskboard.policy.compiled import CompiledPolicy, compile_policy
from riskboard.policy.model import Policy
from riskboard.words import Guard
from riskboard.worksheet.columns import Columns, expire_weather, to_columns
from riskboard.worksheet.model import Worksheet

__all__ = ["PreparedPolicy", "facts_from_columns", "facts_of", "prepare"]


@dataclass(frozen=True, eq=False)  # told apart by identity, so that what follows from it can be kept beside it
class PreparedPolicy:
    """A policy with its compiled form and the aircraft types known: prepared once, used for every assessment.

    Attributes:
        policy: The policy.
        compiled: Its compiled form.
        types: Aircraft types by title, which is what a worksheet's ``type_name`` says.
        needs_airframe: Whether some clause looks at what the type of the aircraft says.
    """

    policy: Policy
    compiled: CompiledPolicy
    types: Mapping[str, AircraftType] = field(default_factory=dict)
    needs_airframe: bool = False

    def type_of(self, sheet: Worksheet) -> AircraftType | None:
        """The type of the worksheet's aircraft; None where none of that name is known."""
        return self.types.get(sheet.aircraft.type_name or "")


def prepare(policy: Policy, types: Iterable[AircraftType] = ()) -> PreparedPolicy:
    """Compile a policy against the measure registry, and keep the aircraft types beside it.

    Args:
        policy: A checked policy.
        types: The types in force, one of each title; an aircraft of any other type is one nothing is known about.

    Raises:
        ValueError: Two types have the same title.
    """
    load_all()
    by_title: dict[str, AircraftType] = {}
    for each in types:
        if by_title.setdefault(each.title, each).digest != each.digest:
            raise ValueError(f"two aircraft types are called {each.title!r}; a worksheet could mean either")
    compiled = compile_policy(policy, {name: entry.worse for name, entry in MEASURES.items()})
    return PreparedPolicy(policy, compiled, by_title, any(rests_on_airframe(name) for name in compiled.measures))


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
    if prepared.needs_airframe:
        columns |= airframe_columns([sheet for sheet, _ in kept], prepared.types)
    taken = [frozenset(m.name for m in sheet.plan.mitigations or ()) for sheet in sheets]
    return facts_from_columns(prepared, columns, taken, [waived] * len(sheets)), tuple(expired for _, expired in kept)


def truth(facts: Facts, word: Guard, row: int) -> bool | None:
    """A guard's truth in one row; None is unknown."""
    value = float(facts.guards[word][row])
    return None if isnan(value) else value == 1
