"""Why: one line for every clause, in plain sentences. Reads the engine's arrays and never computes a score.

The band index the engine kept IS the explanation; this module looks up what that band says in the policy.
"""

from collections.abc import Sequence
from enum import StrEnum
from functools import cache
from math import isnan
from typing import NamedTuple

import numpy as np

from riskboard.assessment.engine import Facts, Scores
from riskboard.assessment.facts import PreparedPolicy
from riskboard.assessment.phrases import amount, beyond_word, must_be, points_phrase, upper_first
from riskboard.measures.registry import MEASURES, inputs_of
from riskboard.policy.compiled import CompiledPolicy
from riskboard.policy.model import Ceiling, Combination, Factor, Limit, Mitigation, Policy
from riskboard.words import Decision, Group
from riskboard.worksheet.fact import FactInfo
from riskboard.worksheet.model import FIELD_PART, PARTS, Worksheet

__all__ = ["Line", "Standing", "lines_of"]


_NAMED = 3
"""Blank entries named in a sentence; more are counted."""


class Standing(StrEnum):
    """How a clause stands in one assessment, worst first."""

    stop = "stop"
    unknown = "unknown"
    floor = "floor"
    points = "points"
    relief = "relief"
    clear = "clear"
    not_in_force = "not in force"


class Line(NamedTuple):
    """One clause, read out for one flight.

    Attributes:
        clause: Name in the policy.
        kind: "limit", "factor", "combination", "mitigation", "group ceiling" or "waiver".
        standing: How it stands.
        group: PAVE group, or None for a limit's own.
        sentence: What a pilot would say.
        points: Points it adds (negative for a mitigation).
        value: The measure's value as shown, or "".
        margin: How far to the next worse band or to the limit, in the unit of the trade; "" when there is none.
        blank: Worksheet entries whose absence makes it unknown.
        why: The policy's reason.
        source: The policy's source.
        source_kind: Regulation, published guidance, ...
        line: Line in the policy file; 0 when not from a file.
        decision_floor: The decision this clause alone forces.
    """

    clause: str
    kind: str
    standing: Standing
    group: Group | None
    sentence: str
    points: int
    value: str
    margin: str
    blank: tuple[str, ...]
    why: str
    source: str
    source_kind: str
    line: int
    decision_floor: Decision


@cache
def _label(measure: str) -> str:
    return upper_first(MEASURES[measure].label)


def field_info(field: str) -> FactInfo:
    """Label and unit of a worksheet entry."""
    return PARTS[FIELD_PART[field]].facts()[field]


class _Reader:
    """Reads one row of the engine's result against the policy it came from."""

    def __init__(
        self,
        policy: Policy,
        compiled: CompiledPolicy,
        sheet: Worksheet,
        facts: Facts,
        scores: Scores,
        *,
        row: int,
        expired: Sequence[str],
    ) -> None:
        if scores.bands is None or scores.combinations is None or scores.taken_off is None:
            raise ValueError("reasons need the bands that score(..., keep=True) returns")
        self.policy = policy
        self.sheet = sheet
        self.facts = facts
        self.row = row
        self.expired = frozenset(expired)
        self.compiled = compiled
        self.bands = scores.bands[:, row]
        self.combinations = scores.combinations[:, row]
        self.taken_off = scores.taken_off[:, row]
        self.unknown = np.unpackbits(scores.unknown[:, row], count=len(compiled.names)).astype(bool)
        self.group_totals = scores.group_totals[:, row]

    def value(self, measure: str) -> float | None:
        found = float(self.facts.measures[measure][self.row])
        return None if isnan(found) else found

    def in_force(self, combination: Combination) -> bool:
        truths = self.facts.guards
        return not any(truths[word][self.row] == (0.0 if wanted else 1.0) for word, wanted in combination.when.items())

    def decision_at(self, level: str | None) -> Decision:
        return Decision.go if level is None else self.policy.levels[self.policy.level_index(level)].decision

    def blank(self, measures: Sequence[str]) -> tuple[str, ...]:
        """Entries that are blank or too old among what the unknown measures need, in reading order."""
        needed = set().union(*(inputs_of(m) for m in measures if self.value(m) is None))
        return tuple(f for f in FIELD_PART if f in needed and (self.sheet.value(f) is None or f in self.expired))

    def because(self, blank: Sequence[str]) -> str:
        """Why something is unknown, naming at most three entries."""
        if not blank:
            return "it cannot be worked out from these entries"
        parts = [f"“{field_info(f).label}” is {'too old' if f in self.expired else 'blank'}" for f in blank[:_NAMED]]
        more = f" and {len(blank) - _NAMED} more" if len(blank) > _NAMED else ""
        return ", ".join(parts) + more

    def line(
        self,
        clause: Factor | Limit | Combination | Mitigation,
        kind: str,
        standing: Standing,
        sentence: str,
        *,
        points: int = 0,
        value: str = "",
        margin: str = "",
        blank: tuple[str, ...] = (),
        decision_floor: Decision = Decision.go,
    ) -> Line:
        group = clause.group if isinstance(clause, (Factor, Combination)) else None
        said = (sentence, points, value, margin, blank, clause.why, clause.source.text, clause.source.kind, clause.line)
        return Line(clause.name, kind, standing, group, *said, decision_floor)

    def out_of_force(self, clause: Factor | Limit | Combination, kind: str) -> Line:
        return self.line(clause, kind, Standing.not_in_force, "Does not apply to this flight.")

    # -- factors ----------------------------------------------------------------------------------------------------

    def factor(self, position: int, factor: Factor) -> Line:
        band = int(self.bands[position])
        if band == self.compiled.out_of_force:
            return self.out_of_force(factor, "factor")
        if band == self.compiled.unknown:
            return self._unknown_factor(factor)
        here = factor.bands[band]
        value = self.value(factor.measure)
        floor = self.decision_at(here.floor)
        standing = Standing.points if here.points else Standing.clear
        if here.floor is not None and self.policy.level_index(here.floor) > 0:
            standing = Standing.floor
        reading = f"{_label(factor.measure)}: {amount(factor.measure, value)}{self._beyond(factor, band)}"
        sentence = f"{reading}, {points_phrase(here.points)}"
        if standing is Standing.floor:
            sentence += f"; by itself {floor.phrase.lower()} (level {here.floor})"
        return self.line(
            factor,
            "factor",
            standing,
            sentence + ".",
            points=here.points,
            value=amount(factor.measure, value),
            margin=self._to_next(factor, band, value),
            decision_floor=floor,
        )

    def _beyond(self, factor: Factor, band: int) -> str:
        passed = factor.bands[band - 1].bound if band else None
        if passed is None or MEASURES[factor.measure].words:
            return ""
        return f", {'above' if factor.ascending else 'below'} {amount(factor.measure, passed)}"

    def _to_next(self, factor: Factor, band: int, value: float | None) -> str:
        bound = factor.bands[band].bound
        if bound is None or value is None or MEASURES[factor.measure].words:
            return ""
        following = factor.bands[band + 1]
        return f"{amount(factor.measure, abs(bound - value))} to the next band ({points_phrase(following.points)})"

    def _unknown_factor(self, factor: Factor) -> Line:
        blank = self.blank((factor.measure,))
        points = max(band.points for band in factor.bands)
        decision = Decision.no_go if factor.if_unknown == "no_go" else Decision.go_with_sign_off
        worst = max((self.decision_at(band.floor) for band in factor.bands), default=Decision.go)
        decision = max(decision, worst)
        cause = f"{_label(factor.measure)} is unknown: {self.because(blank)}"
        sentence = f"{cause}. Counts as the worst, {points_phrase(points)}; {decision.phrase.lower()}."
        return self.line(
            factor,
            "factor",
            Standing.unknown,
            sentence,
            points=points,
            value="unknown",
            blank=blank,
            decision_floor=decision,
        )

    # -- limits -----------------------------------------------------------------------------------------------------

    def limit(self, position: int, limit: Limit) -> Line:
        band = int(self.bands[len(self.policy.factors) + position])
        if band == self.compiled.out_of_force:
            return self.out_of_force(limit, "limit")
        label = _label(limit.measure)
        if band == self.compiled.unknown:
            blank = self.blank((limit.measure,))
            sentence = f"{label} is unknown: {self.because(blank)}. A limit passes only when known: no-go."
            return self.line(
                limit, "limit", Standing.unknown, sentence, value="unknown", blank=blank, decision_floor=Decision.no_go
            )
        bound = limit.up_to if limit.up_to is not None else limit.at_least
        value = self.value(limit.measure)
        if bound is None or value is None:
            raise ValueError(f"limit {limit.name}: the engine found it known, yet it has no value or no bound")
        shown = amount(limit.measure, value)
        reading = f"{label}: {shown}; must be {must_be(limit.measure, bound)}."
        apart = "" if MEASURES[limit.measure].words else amount(limit.measure, abs(value - bound))
        if band == 0:
            margin = f"{apart} left" if apart else ""
            return self.line(limit, "limit", Standing.clear, reading, value=shown, margin=margin)
        margin = f"{apart} beyond" if apart else ""
        if band == self.compiled.waived:
            said, floor = f"{reading} Waived by signature; needs a sign-off.", Decision.go_with_sign_off
            return self.line(limit, "waiver", Standing.floor, said, value=shown, margin=margin, decision_floor=floor)
        said = f"{reading} No-go."
        return self.line(limit, "limit", Standing.stop, said, value=shown, margin=margin, decision_floor=Decision.no_go)

    # -- combinations, mitigations, ceilings -------------------------------------------------------------------------

    def combination(self, position: int, combination: Combination) -> Line:
        if not self.in_force(combination):
            return self.out_of_force(combination, "combination")
        name = upper_first(combination.name.replace("_", " "))
        if not self.combinations[position]:
            return self.line(combination, "combination", Standing.clear, f"{name}: does not come together.")
        parts = [
            f"{MEASURES[p.measure].label} {amount(p.measure, self.value(p.measure))}"
            f" ({beyond_word(p.measure)} {amount(p.measure, p.beyond)})"
            for p in combination.all_of
        ]
        together = f"{name}: {' together with '.join(parts)}" if parts else name
        floor = self.decision_at(combination.floor)
        clause = len(self.policy.factors) + len(self.policy.limits) + position
        if self.unknown[clause]:
            blank = self.blank([p.measure for p in combination.all_of])
            decision = max(floor, Decision.no_go if combination.if_unknown == "no_go" else Decision.go_with_sign_off)
            cause = f"{together}; unknown counts as met ({self.because(blank)})"
            sentence = f"{cause}, {points_phrase(combination.points)}; {decision.phrase.lower()}."
            return self.line(
                combination,
                "combination",
                Standing.unknown,
                sentence,
                points=combination.points,
                blank=blank,
                decision_floor=decision,
            )
        standing = (
            Standing.floor
            if combination.floor is not None and self.policy.level_index(combination.floor) > 0
            else Standing.points
        )
        sentence = f"{together}, {points_phrase(combination.points)}"
        if standing is Standing.floor:
            sentence += f"; by itself {floor.phrase.lower()} (level {combination.floor})"
        return self.line(
            combination, "combination", standing, sentence + ".", points=combination.points, decision_floor=floor
        )

    def mitigation(self, position: int, mitigation: Mitigation) -> Line | None:
        off = int(self.taken_off[position])
        stated = next((m for m in self.sheet.plan.mitigations or () if m.name == mitigation.name), None)
        if stated is None:
            return None
        name = upper_first(mitigation.name.replace("_", " "))
        sentence = f"{name}, by {stated.by}: {stated.done.rstrip('.')}. Takes off {points_phrase(off)}."
        if not off:
            sentence = f"{name}, by {stated.by}: stated, but takes nothing off here."
        return self.line(mitigation, "mitigation", Standing.relief if off else Standing.clear, sentence, points=-off)

    def ceiling(self, ceiling: Ceiling) -> Line:
        points = int(self.group_totals[list(Group).index(ceiling.group)])
        floor = self.decision_at(ceiling.floor)
        over = points > ceiling.up_to
        sentence = f"{upper_first(ceiling.group.value)}: {points_phrase(points)}, ceiling {ceiling.up_to}."
        if over:
            sentence += f" A bad group cannot hide in a good total: {floor.phrase.lower()} (level {ceiling.floor})."
        return Line(
            clause=f"group_ceilings.{ceiling.group.value}",
            kind="group ceiling",
            standing=Standing.floor if over else Standing.clear,
            group=ceiling.group,
            sentence=sentence,
            points=0,
            value=str(points),
            margin=f"{points_phrase(abs(ceiling.up_to - points))} {'over' if over else 'left'}",
            blank=(),
            why="One group's hazards add up before the total does.",
            source="this policy",
            source_kind="school",
            line=0,
            decision_floor=floor if over else Decision.go,
        )


_ORDER = {standing: place for place, standing in enumerate(Standing)}


def lines_of(
    prepared: PreparedPolicy,
    sheet: Worksheet,
    facts: Facts,
    scores: Scores,
    *,
    row: int = 0,
    expired: Sequence[str] = (),
) -> tuple[Line, ...]:
    """One line for every clause of the policy, worst first.

    Args:
        prepared: The policy scored under.
        sheet: The worksheet as entered.
        facts: What the engine was told.
        scores: What it answered, kept.
        row: Which row of the batch.
        expired: Weather entries that were too old to count.

    Returns:
        Lines ordered by what they force, then by standing, then by points, then in the policy's own order.
    """
    policy = prepared.policy
    reader = _Reader(policy, prepared.compiled, sheet, facts, scores, row=row, expired=expired)
    lines = [reader.limit(i, limit) for i, limit in enumerate(policy.limits)]
    lines += [reader.factor(i, factor) for i, factor in enumerate(policy.factors)]
    lines += [reader.combination(i, combination) for i, combination in enumerate(policy.combinations)]
    lines += [reader.ceiling(ceiling) for ceiling in policy.group_ceilings]
    lines += [line for i, m in enumerate(policy.mitigations) if (line := reader.mitigation(i, m)) is not None]
    return tuple(sorted(lines, key=lambda line: (-int(line.decision_floor), _ORDER[line.standing], -line.points)))
