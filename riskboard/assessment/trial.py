"""How the tests of a policy, and of thousands of small changes of it, are assessed: all in one call of the engine.

The flights of the tests stay the same while the policy changes, so their facts are worked out once.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

import numpy as np

from riskboard.aircraft_types.model import AircraftType
from riskboard.aircraft_types.shipped import shipped_types
from riskboard.assessment.airframe import airframe_columns, airframe_problems
from riskboard.assessment.assess import CannotAssessError
from riskboard.assessment.engine import BoolArray, Facts, Scores, score
from riskboard.measures.registry import MEASURES, evaluate, evaluate_guards, load_all
from riskboard.policy.check_tests import changed
from riskboard.policy.compiled import CompiledPolicy, compile_policy
from riskboard.policy.model import Policy
from riskboard.policy.trials import Outcome
from riskboard.words import Decision, Guard
from riskboard.worksheet.columns import expire_weather, to_columns
from riskboard.worksheet.model import Worksheet
from riskboard.worksheet.read import read_worksheet

__all__ = ["PolicyTrials"]

_Key = tuple[int, int]


class PolicyTrials:
    """Assesses the tests of one policy, under that policy and under changes of it. Give it to ``run_trials``."""

    def __init__(self, policy: Policy, types: Iterable[AircraftType] | None = None) -> None:
        """Read the worksheets of the policy's tests.

        Args:
            policy: A checked policy; its changes keep its tests and worksheets.
            types: The aircraft types that its worksheets may name, a later one before an earlier one of the same title;
                None for the shipped ones.
        """
        load_all()
        self._types = {each.title: each for each in (shipped_types() if types is None else types)}
        self._policy = policy  # kept: rows are found by the identity of its worksheets and changes
        self._rows: dict[_Key, int] = {}
        self._flights: list[tuple[Worksheet, datetime]] = []
        for test in policy.tests:
            worksheet = policy.worksheets[test.worksheet]
            self._rows[id(worksheet), id(test.but)] = len(self._flights)
            self._flights.append(self._flight(worksheet, test.but))
        self._directions = {name: entry.worse for name, entry in MEASURES.items()}
        self._facts: dict[int, Facts] = {}
        self._last: tuple[Policy, tuple[Outcome, ...]] | None = None

    def _flight(self, worksheet: Mapping[str, Any], but: Mapping[str, Any]) -> tuple[Worksheet, datetime]:
        data = changed(worksheet, but)
        at: datetime = data.pop("decided_at")
        sheet = read_worksheet(data)
        problems = airframe_problems(sheet, self._types)
        if problems:
            raise CannotAssessError(problems)
        return sheet, at

    def __call__(self, policy: Policy, worksheet: Mapping[str, Any], but: Mapping[str, Any]) -> Outcome:
        """The outcome of one test under a policy.

        Raises:
            KeyError: The worksheet and changes are of none of the tests.
        """
        if self._last is None or self._last[0] is not policy:
            self._last = (policy, self._outcomes(policy))
        return self._last[1][self._rows[id(worksheet), id(but)]]

    def _outcomes(self, policy: Policy) -> tuple[Outcome, ...]:
        if not self._flights:
            return ()
        compiled = compile_policy(policy, self._directions)
        scores = score(compiled, self._facts_at(policy.weather_age_max_min), keep=True)
        counted = _counted(compiled, scores)
        return tuple(
            Outcome(
                Decision(int(scores.decision[row])),
                policy.levels[int(scores.level[row])].name,
                frozenset(compiled.names[clause] for clause in np.flatnonzero(counted[:, row])),
            )
            for row in range(len(self._flights))
        )

    def _facts_at(self, weather_age_max_min: int) -> Facts:
        """Every measure and guard of all flights; only the age at which weather expires can change them."""
        if weather_age_max_min not in self._facts:
            kept = [expire_weather(sheet, at, weather_age_max_min)[0] for sheet, at in self._flights]
            columns = to_columns(kept, [at for _, at in self._flights]) | airframe_columns(kept, self._types)
            stated = [frozenset(m.name for m in sheet.plan.mitigations or ()) for sheet, _ in self._flights]
            self._facts[weather_age_max_min] = Facts(
                evaluate(columns, [name for name, entry in MEASURES.items() if not entry.internal]),
                evaluate_guards(columns, list(Guard)),
                {name: np.array([name in row for row in stated]) for name in frozenset().union(*stated)},
            )
        return self._facts[weather_age_max_min]


def _counted(compiled: CompiledPolicy, scores: Scores) -> BoolArray:
    """Which clauses are reasons, (clauses, rows): those that stop, are unknown, put a floor or add points."""
    if scores.bands is None or scores.combinations is None:
        raise ValueError("the clauses that count need the bands that score(..., keep=True) returns")
    unknown = np.unpackbits(scores.unknown, axis=0, count=len(compiled.names)).astype(np.bool_)
    cells = scores.bands + compiled.row_offsets
    speaks = (compiled.points.take(cells) > 0) | (compiled.floors.take(cells) > 0)
    counted: BoolArray = unknown | np.concatenate([speaks, scores.combinations])
    return counted
