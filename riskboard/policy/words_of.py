"""Clauses in words, field by field: what comparing and trying out say about them."""

from collections.abc import Iterable, Mapping

from riskboard.measures.registry import Measure
from riskboard.policy.evaluate import limit_bound, spoken
from riskboard.policy.model import (
    Band,
    Ceiling,
    Combination,
    EntryError,
    Factor,
    Level,
    Limit,
    Mitigation,
    PolicyTest,
    Source,
    WayCost,
    When,
    WhenNo,
)
from riskboard.words import Direction, Guard

__all__ = [
    "band_words",
    "ceiling_fields",
    "combination_fields",
    "error_fields",
    "factor_fields",
    "level_fields",
    "limit_fields",
    "mitigation_fields",
    "steps_words",
    "test_fields",
    "way_fields",
    "when_no_fields",
    "when_words",
]

NOTHING = "nothing"
Fields = Mapping[str, str]


def _listed(words: Iterable[str], empty: str = NOTHING) -> str:
    return ", ".join(words) or empty


def when_words(when: When) -> str:
    """Guards as written: ``civil_night: true``."""
    return _listed(f"{Guard(word).value}: {str(truth).lower()}" for word, truth in sorted(when.items()))


def _points(points: int) -> str:
    return "1 point" if points == 1 else f"{points} points"


def band_words(factor: Factor, band: Band, measure: Measure) -> str:
    """One band: ``up to 11 kt: 2 points``."""
    side = "up to" if factor.ascending else "at least"
    where = "beyond" if band.bound is None else f"{side} {spoken(measure, band.bound)}"
    floor = "" if band.floor is None else f", level at least {band.floor}"
    return f"{where}: {_points(band.points)}{floor}"


def _source(source: Source) -> str:
    return f"{source.text} ({source.kind}, checked on {source.checked_on})"


def _cases(clause: Factor | Limit, measure: Measure) -> str:
    return _listed(
        f"{'unknown' if value is None else spoken(measure, value)} gives {expected}" for value, expected in clause.cases
    )


def factor_fields(factor: Factor, registry: Mapping[str, Measure]) -> Fields:
    """A factor, one text for each thing that can change."""
    measure = registry[factor.measure]
    bands = {f"band {i}": band_words(factor, band, measure) for i, band in enumerate(factor.bands, 1)}
    return {
        "group": factor.group.value,
        "measure": factor.measure,
        **bands,
        "if_unknown": factor.if_unknown,
        "when": when_words(factor.when),
        "non_monotone": factor.non_monotone or NOTHING,
        "why": factor.why,
        "source": _source(factor.source),
        "cases": _cases(factor, measure),
    }


def limit_fields(limit: Limit, registry: Mapping[str, Measure]) -> Fields:
    """A limit, one text for each thing that can change."""
    measure = registry[limit.measure]
    word = "at least" if limit.up_to is None else "up to"
    return {
        "measure": limit.measure,
        "bound": f"{word} {spoken(measure, limit_bound(limit))}",
        "waiver": _listed(limit.waiver, "none"),
        "when": when_words(limit.when),
        "why": limit.why,
        "source": _source(limit.source),
        "cases": _cases(limit, measure),
    }


def combination_fields(combination: Combination, registry: Mapping[str, Measure]) -> Fields:
    """A combination, one text for each thing that can change."""
    return {
        "group": combination.group.value,
        "all_of": _listed(
            f"{part.measure} {'above' if registry[part.measure].worse is Direction.higher else 'below'} "
            f"{spoken(registry[part.measure], part.beyond)}"
            for part in combination.all_of
        ),
        "when": when_words(combination.when),
        "points": str(combination.points),
        "floor": combination.floor or NOTHING,
        "if_unknown": combination.if_unknown,
        "why": combination.why,
        "source": _source(combination.source),
    }


def mitigation_fields(mitigation: Mitigation) -> Fields:
    """A mitigation, one text for each thing that can change."""
    return {
        "off": _listed(mitigation.off),
        "at_most": _points(mitigation.at_most),
        "needs": when_words(mitigation.needs),
        "why": mitigation.why,
        "source": _source(mitigation.source),
    }


def error_fields(error: EntryError) -> Fields:
    """An error of an entry, one text for each thing that can change."""
    size = f"{error.size:g} % of the value" if error.relative else f"{error.size:g}"
    return {"size": size, "why": error.why, "source": _source(error.source)}


def way_fields(cost: WayCost) -> Fields:
    """The cost of a way out, one text for each thing that can change."""
    return {"cost": _points(cost.cost), "why": cost.why, "source": _source(cost.source)}


def when_no_fields(said: WhenNo | None) -> Fields:
    """The words for a no, one text for each thing that can change; none where there are none."""
    if said is None:
        return {}
    return {
        "tell_customer": said.tell_customer,
        "call": said.call,
        "why": said.why,
        "source": _source(said.source),
    }


def steps_words(steps: Iterable[str]) -> str:
    """Steps for an overdue flight, numbered: ``(1) Call it. (2) Call the field.``."""
    return " ".join(f"({i}) {step}" for i, step in enumerate(steps, 1)) or NOTHING


def level_fields(level: Level) -> Fields:
    """A level, one text for each thing that can change."""
    return {
        "up_to": NOTHING if level.up_to is None else str(level.up_to),
        "decision": level.decision.name,
        "accepted_by": _listed(level.accepted_by, "nobody"),
        "valid_min": NOTHING if level.valid_min is None else f"{level.valid_min} min",
    }


def ceiling_fields(ceiling: Ceiling) -> Fields:
    """A group ceiling, one text for each thing that can change."""
    return {"up_to": str(ceiling.up_to), "else": ceiling.floor}


def test_fields(test: PolicyTest) -> Fields:
    """A test, one text for each thing that can change."""
    return {
        "worksheet": test.worksheet,
        "but": _listed(f"{name}: {value!r}" for name, value in test.but.items()),
        "decision": test.decision.name,
        "level": test.level or NOTHING,
        "because": _listed(test.because),
        "accepted_by": NOTHING if test.accepted_by is None else _listed(test.accepted_by, "nobody"),
        "waived_by": NOTHING if test.waived_by is None else _listed(test.waived_by, "nobody"),
    }
