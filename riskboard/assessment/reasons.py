"""Why: one line for every clause, in plain sentences. Reads the engine's arrays and never computes a score.

The band index the engine kept IS the explanation; this module looks up what that band says in the policy.
"""

from collections.abc import Sequence
from datetime import datetime
from functools import cached_property
from math import isnan

import numpy as np

from riskboard.assessment.airframe import airframe_columns
from riskboard.assessment.airframe_missing import Missing, fields_of, missing_for
from riskboard.assessment.clause_texts import Line, Standing, decision_at, label, line_of, texts_of
from riskboard.assessment.engine import Facts, Scores
from riskboard.assessment.facts import PreparedPolicy
from riskboard.assessment.phrases import amount, beyond_word, points_phrase, upper_first
from riskboard.measures.missing import wanted_entries
from riskboard.measures.registry import MEASURES, rests_on_airframe
from riskboard.policy.model import Ceiling, Combination, Factor, Limit, Mitigation
from riskboard.words import Decision, Group
from riskboard.worksheet.columns import Columns, to_columns
from riskboard.worksheet.fact import FactInfo
from riskboard.worksheet.model import FIELD_PART, PARTS, Worksheet

__all__ = ["Line", "Standing", "lines_of"]


_NAMED = 3
"""Blank entries named in a sentence; more are counted."""


def field_info(field: str) -> FactInfo:
    """Label and unit of a worksheet entry."""
    return PARTS[FIELD_PART[field]].facts()[field]


class _Reader:
    """Reads one row of the engine's result against the policy it came from."""

    def __init__(
        self,
        prepared: PreparedPolicy,
        sheet: Worksheet,
        facts: Facts,
        scores: Scores,
        *,
        row: int,
        at: datetime,
        expired: Sequence[str],
    ) -> None:
        if scores.bands is None or scores.combinations is None or scores.taken_off is None:
            raise ValueError("reasons need the bands that score(..., keep=True) returns")
        compiled = prepared.compiled
        self.policy = prepared.policy
        self.types = prepared.types
        self.texts = texts_of(prepared)
        self.sheet = sheet
        self.facts = facts
        self.row = row
        self.at = at
        self.expired = frozenset(expired)
        self.compiled = compiled
        self.bands: list[int] = scores.bands[:, row].tolist()
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

    def missing(self, measures: Sequence[str]) -> tuple[Missing, ...]:
        """What is blank or too old and would help to make the unknown measures known, in reading order."""
        unknown = [measure for measure in measures if self.value(measure) is None]
        if not unknown:
            return ()
        entries = wanted_entries(unknown, self.columns, self.blank_entries)
        found = [Missing(entry, self.said_of(entry)) for entry in entries]
        if any(rests_on_airframe(measure) for measure in unknown):
            found += missing_for(unknown, self.seen, self.types, self.said_of)
        places = list(FIELD_PART)
        return tuple(sorted(dict.fromkeys(found), key=lambda each: places.index(each.field)))

    def said_of(self, field: str) -> str:
        return f"“{field_info(field).label}” is {'too old' if field in self.expired else 'blank'}"

    @cached_property
    def seen(self) -> Worksheet:
        """The worksheet as the measures saw it: without what was too old to count."""
        return self.sheet.but(**dict.fromkeys(self.expired))

    @cached_property
    def blank_entries(self) -> frozenset[str]:
        return frozenset(field for field in FIELD_PART if self.sheet.value(field) is None) | self.expired

    @cached_property
    def columns(self) -> Columns:
        """The worksheet in columns; what the type would say, where it says nothing yet, by a number that may be."""
        found = airframe_columns([self.seen], self.types)
        return to_columns([self.seen], self.at) | {
            name: np.where(np.isnan(values), 0.0, values) for name, values in found.items()
        }

    def because(self, missing: Sequence[Missing]) -> str:
        """Why something is unknown, naming at most three things."""
        if not missing:
            return "it cannot be worked out from these entries"
        more = f" and {len(missing) - _NAMED} more" if len(missing) > _NAMED else ""
        return ", ".join(each.said for each in missing[:_NAMED]) + more

    def out_of_force(self, clause: Factor | Limit | Combination, kind: str) -> Line:
        return self.texts.not_in_force[kind, clause.name]

    # -- factors ----------------------------------------------------------------------------------------------------

    def factor(self, position: int, factor: Factor) -> Line:
        band = self.bands[position]
        if band == self.compiled.out_of_force:
            return self.out_of_force(factor, "factor")
        value = self.value(factor.measure)
        if band == self.compiled.unknown or value is None:
            return self._unknown_factor(factor)
        text = self.texts.bands[position][band]
        shown, margin = amount(factor.measure, value), ""
        if text.to_next and text.bound is not None:
            margin = amount(factor.measure, abs(text.bound - value)) + text.to_next
        return line_of(
            factor,
            "factor",
            text.standing,
            f"{text.before}{shown}{text.after}",
            points=text.points,
            value=shown,
            margin=margin,
            decision_floor=text.floor,
        )

    def _unknown_factor(self, factor: Factor) -> Line:
        missing = self.missing((factor.measure,))
        points = max(band.points for band in factor.bands)
        decision = Decision.no_go if factor.if_unknown == "no_go" else Decision.go_with_sign_off
        worst = max((decision_at(self.policy, band.floor) for band in factor.bands), default=Decision.go)
        decision = max(decision, worst)
        cause = f"{label(factor.measure)} is unknown: {self.because(missing)}"
        sentence = f"{cause}. Counts as the worst, {points_phrase(points)}; {decision.phrase.lower()}."
        return line_of(
            factor,
            "factor",
            Standing.unknown,
            sentence,
            points=points,
            value="unknown",
            blank=fields_of(missing),
            decision_floor=decision,
        )

    # -- limits -----------------------------------------------------------------------------------------------------

    def limit(self, position: int, limit: Limit) -> Line:
        band = self.bands[len(self.policy.factors) + position]
        if band == self.compiled.out_of_force:
            return self.out_of_force(limit, "limit")
        value = self.value(limit.measure)
        if band == self.compiled.unknown or value is None:
            return self._unknown_limit(limit)
        text = self.texts.limits[position]
        shown = amount(limit.measure, value)
        reading = f"{text.before}{shown}{text.after}"
        entry = MEASURES[limit.measure]
        no_quantity = text.in_words or (bool(entry.at_low) and value == entry.low)
        apart = "" if no_quantity else amount(limit.measure, abs(value - text.bound))
        if band == 0:
            margin = f"{apart} left" if apart else ""
            return line_of(limit, "limit", Standing.clear, reading, value=shown, margin=margin)
        margin = f"{apart} beyond" if apart else ""
        if band == self.compiled.waived:
            said, floor = f"{reading} Waived by signature; needs a sign-off.", Decision.go_with_sign_off
            return line_of(limit, "waiver", Standing.floor, said, value=shown, margin=margin, decision_floor=floor)
        said = f"{reading} No-go."
        return line_of(limit, "limit", Standing.stop, said, value=shown, margin=margin, decision_floor=Decision.no_go)

    def _unknown_limit(self, limit: Limit) -> Line:
        missing = self.missing((limit.measure,))
        cause = f"{label(limit.measure)} is unknown: {self.because(missing)}"
        sentence = f"{cause}. A limit passes only when known: no-go."
        return line_of(
            limit,
            "limit",
            Standing.unknown,
            sentence,
            value="unknown",
            blank=fields_of(missing),
            decision_floor=Decision.no_go,
        )

    # -- combinations, mitigations, ceilings -------------------------------------------------------------------------

    def combination(self, position: int, combination: Combination) -> Line:
        if not self.in_force(combination):
            return self.out_of_force(combination, "combination")
        name = upper_first(combination.name.replace("_", " "))
        if not self.combinations[position]:
            return line_of(combination, "combination", Standing.clear, f"{name}: does not come together.")
        parts = [
            f"{MEASURES[p.measure].label} {amount(p.measure, self.value(p.measure))}"
            f" ({beyond_word(p.measure)} {amount(p.measure, p.beyond)})"
            for p in combination.all_of
        ]
        together = f"{name}: {' together with '.join(parts)}" if parts else name
        floor = decision_at(self.policy, combination.floor)
        clause = len(self.policy.factors) + len(self.policy.limits) + position
        if self.unknown[clause]:
            missing = self.missing([p.measure for p in combination.all_of])
            decision = max(floor, Decision.no_go if combination.if_unknown == "no_go" else Decision.go_with_sign_off)
            cause = f"{together}; unknown counts as met ({self.because(missing)})"
            sentence = f"{cause}, {points_phrase(combination.points)}; {decision.phrase.lower()}."
            return line_of(
                combination,
                "combination",
                Standing.unknown,
                sentence,
                points=combination.points,
                blank=fields_of(missing),
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
        return line_of(
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
        return line_of(mitigation, "mitigation", Standing.relief if off else Standing.clear, sentence, points=-off)

    def ceiling(self, ceiling: Ceiling) -> Line:
        points = int(self.group_totals[list(Group).index(ceiling.group)])
        floor = decision_at(self.policy, ceiling.floor)
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
    at: datetime,
    row: int = 0,
    expired: Sequence[str] = (),
) -> tuple[Line, ...]:
    """One line for every clause of the policy, worst first.

    Args:
        prepared: The policy scored under.
        sheet: The worksheet as entered.
        facts: What the engine was told.
        scores: What it answered, kept.
        at: The moment of decision.
        row: Which row of the batch.
        expired: Weather entries that were too old to count.

    Returns:
        Lines ordered by what they force, then by standing, then by points, then in the policy's own order.
    """
    policy = prepared.policy
    reader = _Reader(prepared, sheet, facts, scores, row=row, at=at, expired=expired)
    lines = [reader.limit(i, limit) for i, limit in enumerate(policy.limits)]
    lines += [reader.factor(i, factor) for i, factor in enumerate(policy.factors)]
    lines += [reader.combination(i, combination) for i, combination in enumerate(policy.combinations)]
    lines += [reader.ceiling(ceiling) for ceiling in policy.group_ceilings]
    lines += [line for i, m in enumerate(policy.mitigations) if (line := reader.mitigation(i, m)) is not None]
    return tuple(sorted(lines, key=lambda line: (-int(line.decision_floor), _ORDER[line.standing], -line.points)))
