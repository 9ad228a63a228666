"""Many changed copies of one worksheet, as columns: built once, overwritten column by column, scored by the one engine.

A window, the tripwires and the robustness of a decision ask about hundreds or thousands of worksheets that differ from
one in a few entries. Encoding each anew would cost more than scoring it, and most measures are the same in all of them.
So the worksheet is encoded once (:class:`Base`), some columns get a value for each row, and only the measures that
rest on such a column are worked out for all rows; the others are those of the worksheet itself.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache, cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from riskboard.assessment.airframe import airframe_columns, airframe_problems, airframe_rows
from riskboard.assessment.assess import CannotAssessError
from riskboard.assessment.engine import Facts, Scores, score
from riskboard.assessment.facts import PreparedPolicy, facts_from_columns
from riskboard.measures.registry import GUARDS, MEASURES, evaluate_together
from riskboard.words import Guard
from riskboard.worksheet.checks import clock_contradictions
from riskboard.worksheet.columns import AIRFRAME, Columns, FloatArray, expire_weather, to_columns
from riskboard.worksheet.model import Worksheet

__all__ = ["Base", "base_of", "columns_behind", "drivers_of_airframe", "on_top_of", "scored", "scored_together"]


@dataclass(frozen=True, eq=False)
class Base:
    """The worksheet that everything is compared with, assessed once.

    Attributes:
        sheet: The worksheet as entered.
        prepared: The policy.
        at: Moment of decision, aware.
        waived: Limits lifted by a signed waiver.
        expired: Weather entries too old to count at ``at``.
        columns: The worksheet as columns of one row, without what was too old to count.
        facts: What the engine is told about it, one row.
        scores: What the engine answered, with everything kept.
    """

    sheet: Worksheet
    prepared: PreparedPolicy
    at: datetime
    waived: frozenset[str]
    expired: tuple[str, ...]
    columns: Columns
    facts: Facts
    scores: Scores

    @property
    def taken(self) -> frozenset[str]:
        """Mitigations stated on the worksheet."""
        return frozenset(m.name for m in self.sheet.plan.mitigations or ())

    @property
    def level(self) -> int:
        """Position of its level, 0 best."""
        return int(self.scores.level[0])

    @property
    def decision(self) -> int:
        """Value of its ``Decision``."""
        return int(self.scores.decision[0])

    @cached_property
    def known(self) -> frozenset[str]:
        """Entries that are neither blank nor too old to count."""
        filled = {name for part in _PARTS for name, value in getattr(self.sheet, part) if value is not None}
        return frozenset(filled - set(self.expired))

    def value(self, column: str) -> float:
        """The worksheet's value in a column of one number; NaN is unknown, +inf the answer "none"."""
        return float(self.columns[column][0])


_PARTS = ("pilot", "aircraft", "weather", "plan", "pressures")


def base_of(sheet: Worksheet, prepared: PreparedPolicy, at: datetime, *, waived: frozenset[str] = frozenset()) -> Base:
    """Encode and assess the worksheet to be varied.

    Args:
        sheet: The worksheet.
        prepared: The policy, from ``prepare``.
        at: Moment of decision, aware.
        waived: Limits lifted by a signed waiver.

    Returns:
        The base; its decision is that of ``assess``.

    Raises:
        CannotAssessError: The worksheet cannot be true at ``at``.
        ValueError: ``at`` has no zone.
    """
    problems = (*clock_contradictions(sheet, at), *airframe_problems(sheet, prepared.types))
    if problems:
        raise CannotAssessError(problems)
    kept, expired = expire_weather(sheet, at, prepared.policy.weather_age_max_min)
    columns = to_columns([kept], at)
    if prepared.needs_airframe:
        columns |= airframe_columns([kept], prepared.types)
    taken = frozenset(m.name for m in sheet.plan.mitigations or ())
    facts = facts_from_columns(prepared, columns, [taken], [waived])
    return Base(sheet, prepared, at, waived, expired, columns, facts, score(prepared.compiled, facts, keep=True))


def scored(
    base: Base, changes: Columns, *, taken: Sequence[frozenset[str]] | None = None, keep: bool = False
) -> tuple[Facts, Scores]:
    """Score the worksheet with some columns overwritten.

    Args:
        base: The worksheet.
        changes: Column -> one value a row, shaped as ``to_columns`` gives it; at least one, all with as many rows.
            A column whose entry is blank or expired in the base should stay so: it is the caller who changes it.
        taken: Mitigations in place, one set a row; those of the worksheet where not given.
        keep: As in ``score``.

    Returns:
        Facts and scores, one row each; row i is what a fresh assessment of that changed worksheet would say.

    Raises:
        ValueError: No columns are changed, or they differ in length.
    """
    rows = _rows_of(changes)
    facts = _facts(base, changes, rows, [base.taken] * rows if taken is None else taken)
    return facts, score(base.prepared.compiled, facts, keep=keep)


def on_top_of(base: Base, changes: Columns) -> Base:
    """The worksheet with some columns overwritten as a base of several rows, for changes on top of those.

    Args:
        base: The worksheet, of one row.
        changes: As in :func:`scored`.

    Returns:
        A base of as many rows; columns scored on it hold its rows again and again, first to last.
    """
    rows = _rows_of(changes)
    columns = {name: changes.get(name, _many(own, rows)) for name, own in base.columns.items()}
    if base.prepared.needs_airframe and changes.keys() & drivers_of_airframe():
        columns |= _airframe(base, changes, rows)
    facts, scores = scored(base, changes)
    return replace(base, columns=columns, facts=facts, scores=scores)


def scored_together(base: Base, groups: Sequence[Columns], *, keep: bool = False) -> tuple[Facts, Scores]:
    """Score several groups of changed copies in one call of the engine, each group with columns of its own.

    What a group leaves alone is not worked out for it: copies that differ in the wind do not ask where the sun stands.

    Args:
        base: The worksheet.
        groups: For each group its changed columns, as in :func:`scored`.
        keep: As in ``score``.

    Returns:
        Facts and scores of all rows, group after group.

    Raises:
        ValueError: As :func:`scored`, or there is no group.
    """
    if not groups:
        raise ValueError("give at least one group of changed columns")
    parts = [_facts(base, changes, rows, [base.taken] * rows) for changes in groups if (rows := _rows_of(changes))]
    facts = Facts(
        *(
            {key: np.concatenate([getattr(p, name)[key] for p in parts]) for key in getattr(parts[0], name)}
            for name in ("measures", "guards", "taken", "waived")
        )
    )
    return facts, score(base.prepared.compiled, facts, keep=keep)


def _rows_of(changes: Columns) -> int:
    lengths = {len(values) for values in changes.values()}
    if len(lengths) != 1:
        raise ValueError(f"give at least one column, all with the same number of rows; found {sorted(lengths)}")
    (rows,) = lengths
    return rows


def _facts(base: Base, changes: Columns, rows: int, taken: Sequence[frozenset[str]]) -> Facts:
    compiled = base.prepared.compiled
    if base.prepared.needs_airframe and changes.keys() & drivers_of_airframe():
        changes = changes | _airframe(base, changes, rows)
    moved = frozenset(changes)
    measures, words, needed = _moving(compiled.measures, compiled.guards, moved)
    columns = {name: _many(base.columns[name], rows) for name in needed.columns if name not in moved}
    columns |= {name: changes[name] for name in needed.columns if name in moved}
    columns["decided_at"] = changes.get("decided_at", _many(base.columns["decided_at"], rows))
    columns |= {name: _many(_standing(base, name), rows) for name in needed.measures}
    found, truths = evaluate_together(columns, measures, words)
    return Facts(
        {name: found[name] if name in found else _many(base.facts.measures[name], rows) for name in compiled.measures},
        {word: truths[word] if word in truths else _many(base.facts.guards[word], rows) for word in compiled.guards},
        _flags(compiled.mitigations, taken),
        {name: np.ones(rows, np.bool_) for name in compiled.limit_names if name in base.waived},
    )


def _flags(names: Iterable[str], rows: Sequence[frozenset[str]]) -> Mapping[str, NDArray[np.bool_]]:
    present = frozenset().union(*set(rows))
    return {name: np.array([name in row for row in rows], np.bool_) for name in names if name in present}


def _many(own: FloatArray, rows: int) -> FloatArray:
    """The base's own rows, usually one, again and again."""
    return np.repeat(own, rows, axis=0) if len(own) == 1 else np.tile(own, (rows // len(own), *[1] * (own.ndim - 1)))


def _standing(base: Base, name: str) -> FloatArray:
    """A measure of the worksheet itself that measures of the copies build on."""
    if name in base.facts.measures:
        return base.facts.measures[name]
    return evaluate_together(base.columns, (name,), ())[0][name]


# -- which measures move ----------------------------------------------------------------------------------------------


@cache
def columns_behind(name: str) -> frozenset[str]:
    """The columns that a measure, an intermediate or a guard word is made of, through whatever it builds on."""
    entry = MEASURES[name] if name in MEASURES else GUARDS[Guard(name)]
    return _behind(entry.needs)


@cache
def _behind(needs: tuple[str, ...]) -> frozenset[str]:
    found: set[str] = set()
    for need in needs:
        found |= columns_behind(need) if need in MEASURES else {need}
    return frozenset(found)


@dataclass(frozen=True)
class _Needed:
    """What moving measures are given: columns, and measures that stand still and need not be worked out again."""

    columns: frozenset[str]
    measures: frozenset[str]


@lru_cache(maxsize=256)
def _moving(
    measures: tuple[str, ...], words: tuple[Guard, ...], moved: frozenset[str]
) -> tuple[tuple[str, ...], tuple[Guard, ...], _Needed]:
    """Which measures and guards rest on a changed column, and what has to be at hand for them."""
    moving = tuple(name for name in measures if columns_behind(name) & moved)
    guards = tuple(word for word in words if _behind(GUARDS[word].needs) & moved)
    columns: set[str] = set()
    standing: set[str] = set()

    def require(needs: tuple[str, ...]) -> None:
        for need in needs:
            if need not in MEASURES:
                columns.add(need)
            elif not MEASURES[need].internal and not columns_behind(need) & moved:
                standing.add(need)
            else:
                require(MEASURES[need].needs)

    for name in moving:
        require(MEASURES[name].needs)
    for word in guards:
        require(GUARDS[word].needs)
    return moving, guards, _Needed(frozenset(columns), frozenset(standing))


# -- the type of the aircraft -----------------------------------------------------------------------------------------


@cache
def drivers_of_airframe() -> frozenset[str]:
    """Columns of entries that what the type says hangs on."""
    fields = {field for entries in AIRFRAME.values() for field in entries}
    return frozenset(fields - {"station_loads", "equipment_fitted"} | {"station_loads_load_lb"})


def _airframe(base: Base, changes: Columns, rows: int) -> Columns:
    """The columns of :data:`AIRFRAME` for the changed copies; unknown where the type is not on file."""
    aircraft = base.prepared.type_of(base.sheet)
    if aircraft is None:
        return {name: _many(base.columns[name], rows) for name in AIRFRAME}
    names = [entry.station for entry in base.sheet.plan.station_loads or ()]
    wanted = drivers_of_airframe() - {"type_name", "station_loads_load_lb"}
    columns = {name: changes.get(name, _many(base.columns[name], rows)) for name in wanted}
    loads = changes.get("station_loads_load_lb", _many(base.columns["station_loads_load_lb"], rows))
    return airframe_rows(base.sheet, aircraft, columns, {name: loads[:, i] for i, name in enumerate(names)})
