"""Static proofs about one clause: its bounds, points, floors, cases and names."""

import itertools
from collections.abc import Iterator, Mapping

from riskboard.measures.registry import Measure
from riskboard.policy.evaluate import (
    band_of,
    better_word,
    case_result,
    limit_bound,
    limit_result,
    resolution,
    rounded,
    spoken,
)
from riskboard.policy.finding import Finding, Path
from riskboard.policy.model import Combination, Factor, Limit, Policy
from riskboard.policy.read import suggestion
from riskboard.words import Direction

__all__ = [
    "combination_findings",
    "direction_findings",
    "factor_findings",
    "floor_findings",
    "ladder_findings",
    "limit_findings",
]


def floor_findings(policy: Policy, path: Path, name: str | None) -> Iterator[Finding]:
    """A floor names a level, and one that is worse than the best."""
    names = [level.name for level in policy.levels]
    if name is None:
        return
    if name not in names:
        yield Finding(path, f"{name!r} is no level; {suggestion(name, names[1:])}", name, ", ".join(names[1:]))
    elif name == names[0]:
        message = f"a floor at {name}, the best level, does nothing; allowed: {', '.join(names[1:])}"
        yield Finding(path, message, name, ", ".join(names[1:]))


def _bound_findings(measure: Measure, path: Path, bound: float, word: str) -> Iterator[Finding]:
    """A bound leaves something of the valid range on both sides, and is no finer than the resolution."""
    found = f"{bound:.15g}"
    valid = f"{spoken(measure, measure.low)} to {spoken(measure, measure.high)}"
    if not measure.low <= bound <= measure.high:
        message = f"{found} is outside the valid range of {measure.name}, {valid}"
        yield Finding(path, message, found, valid)
    elif bound == (measure.low if word == "at_least" else measure.high):
        message = f"{word} {found} takes in the whole valid range of {measure.name}, {valid}: nothing is beyond it"
        yield Finding(path, message, found, f"inside {valid}")
    if rounded(measure, bound) != bound:
        step = f"{resolution(measure):g} {measure.unit}".rstrip()
        message = f"{found} is finer than the resolution of {measure.name}, {step}; allowed: multiples of {step}"
        yield Finding(path, message, found, f"multiples of {step}")


def _word_findings(measure: Measure, path: Path, word: str) -> Iterator[Finding]:
    right = better_word(measure)
    if right and word != right:
        message = f"{measure.name} gets worse when it is {measure.worse.value}, so its bounds are written {right}"
        yield Finding(path, message, word, right, at_key=True)


def factor_findings(policy: Policy, factor: Factor, measure: Measure, *, levels: bool) -> Iterator[Finding]:
    """Everything that must hold in one factor."""
    path: Path = ("factors", factor.name)
    yield from _band_findings(factor, measure, path)
    yield from _points_findings(factor, measure, path)
    if levels:
        yield from _factor_floor_findings(policy, factor, path)
    yield from _case_findings(factor, measure, path)
    for position in _bands_without_case(factor, measure):
        message = f"no case falls into band {position + 1} ({_band_words(factor, measure, position)}); each needs one"
        yield Finding((*path, "cases"), message, "", "a case in every band", case=True)


def _band_findings(factor: Factor, measure: Measure, path: Path) -> Iterator[Finding]:
    word = "up_to" if factor.ascending else "at_least"
    bounds = [band.bound for band in factor.bands if band.bound is not None]
    yield from _word_findings(measure, (*path, "bands", 0, word), word)
    for position, bound in enumerate(bounds):
        yield from _bound_findings(measure, (*path, "bands", position, word), bound, word)
    yield from ladder_findings(factor)


def ladder_findings(factor: Factor) -> Iterator[Finding]:
    """The bounds of a factor rise, or fall: no value is in two bands and none in no band."""
    path: Path = ("factors", factor.name)
    word = "up_to" if factor.ascending else "at_least"
    bounds = [band.bound for band in factor.bands if band.bound is not None]
    for position, (before, after) in enumerate(itertools.pairwise(bounds), 1):
        if (after <= before) if factor.ascending else (after >= before):
            order = "rise" if factor.ascending else "fall"
            allowed = f"{'above' if factor.ascending else 'below'} {before:.15g}"
            message = f"bounds must {order}, best band first: {after:.15g} follows {before:.15g}; allowed: {allowed}"
            yield Finding((*path, "bands", position, word), message, f"{after:.15g}", allowed)


def _points_findings(factor: Factor, measure: Measure, path: Path) -> Iterator[Finding]:
    falls = [
        position
        for position, (before, after) in enumerate(itertools.pairwise(factor.bands), 1)
        if after.points < before.points
    ]
    if factor.non_monotone is None:
        for position in falls:
            before, after = factor.bands[position - 1].points, factor.bands[position].points
            message = (
                f"points fall from {before} to {after} toward worse; allowed: {before} or more, "
                "or `non_monotone:` with the reason"
            )
            yield Finding((*path, "bands", position, "points"), message, str(after), f"{before} or more")
        if measure.worse is Direction.neither:
            message = f"{measure.name} has no single worse end; say why the factor is right in `non_monotone:`"
            yield Finding((*path, "measure"), message, measure.name, "non_monotone: reason")
    elif not falls and measure.worse is not Direction.neither:
        message = "points never fall here; allowed: leave non_monotone out"
        yield Finding((*path, "non_monotone"), message, factor.non_monotone, "nothing", at_key=True)


def _factor_floor_findings(policy: Policy, factor: Factor, path: Path) -> Iterator[Finding]:
    names = [level.name for level in policy.levels]
    before, worst = 0, ""
    for position, band in enumerate(factor.bands):
        here: Path = (*path, "bands", position, "floor")
        yield from floor_findings(policy, here, band.floor)
        index = names.index(band.floor) if band.floor in names else 0
        if index < before and (band.floor is None or band.floor in names):
            message = f"the floor falls from {worst} to {band.floor or 'none'} toward worse; allowed: {worst} or worse"
            yield Finding(here, message, band.floor or "none", f"{worst} or worse")
        if index > before and band.floor is not None:
            before, worst = index, band.floor


def _bands_without_case(factor: Factor, measure: Measure) -> list[int]:
    hit = {band_of(factor, rounded(measure, value)) for value, _ in factor.cases if value is not None}
    return [position for position in range(len(factor.bands)) if position not in hit]


def _band_words(factor: Factor, measure: Measure, position: int) -> str:
    bound = factor.bands[position].bound
    last = factor.bands[position - 1].bound
    if bound is not None:
        return f"{'up to' if factor.ascending else 'at least'} {spoken(measure, bound)}"
    return "the last" if last is None else f"beyond {spoken(measure, last)}"


def _case_findings(clause: Factor | Limit, measure: Measure, path: Path) -> Iterator[Finding]:
    """Every case gives what it says; there is one for an unknown."""
    for position, (value, expected) in enumerate(clause.cases):
        here: Path = (*path, "cases", position)
        if value is not None and not measure.low <= value <= measure.high:
            valid = f"{spoken(measure, measure.low)} to {spoken(measure, measure.high)}"
            message = f"{value:.15g} is outside the valid range of {measure.name}, {valid}"
            yield Finding((*here, 0), message, f"{value:.15g}", valid, case=True)
            continue
        given = case_result(clause, measure, value)
        if given != expected:
            what = "unknown" if value is None else spoken(measure, value)
            if value is not None and rounded(measure, value) != value:
                what += f" (rounded to {spoken(measure, rounded(measure, value))})"
            message = f"the case expects {expected} for {what}, but the clause gives {given}"
            yield Finding((*here, 1), message, str(expected), str(given), case=True)
    if not any(value is None for value, _ in clause.cases):
        wanted = f"[unknown, {case_result(clause, measure, None)}]"
        message = f"no case says what an unknown {measure.name} gives; add {wanted}"
        yield Finding((*path, "cases"), message, "", wanted, case=True)


def limit_findings(limit: Limit, measure: Measure) -> Iterator[Finding]:
    """Everything that must hold in one limit."""
    path: Path = ("limits", limit.name)
    word = "at_least" if limit.up_to is None else "up_to"
    if measure.worse is Direction.neither:
        message = (
            f"{measure.name} has no single worse end, so no limit can stand on it; allowed: measures that have one"
        )
        yield Finding((*path, "measure"), message, measure.name, "a measure with a worse end")
    yield from _word_findings(measure, (*path, word), word)
    yield from _bound_findings(measure, (*path, word), limit_bound(limit), word)
    if limit.source.kind == "regulation" and limit.waiver:
        message = "a school cannot waive a regulation; allowed: waiver: none"
        yield Finding((*path, "waiver"), message, ", ".join(limit.waiver), "none")
    yield from _case_findings(limit, measure, path)
    given = {limit_result(limit, rounded(measure, value)) for value, _ in limit.cases if value is not None}
    for missing in sorted({"pass", "stop"} - given):
        bound = spoken(measure, limit_bound(limit))
        message = f"no case on the {missing} side of {bound}; each side needs one"
        yield Finding((*path, "cases"), message, "", f"a case with {missing}", case=True)


def combination_findings(
    policy: Policy, combination: Combination, registry: Mapping[str, Measure], *, levels: bool
) -> Iterator[Finding]:
    """Everything that must hold in one combination."""
    path: Path = ("combinations", combination.name)
    if not combination.all_of and not combination.when:
        message = "with no part in all_of and nothing under when it would always hold; give one of them"
        yield Finding(path, message, "", "all_of or when")
    if not combination.points and combination.floor is None:
        yield Finding((*path, "points"), "0 points and no floor do nothing; give one of them", "0", "points or floor")
    if levels:
        yield from floor_findings(policy, (*path, "floor"), combination.floor)
    seen: set[str] = set()
    for position, part in enumerate(combination.all_of):
        measure = registry[part.measure]
        here: Path = (*path, "all_of", position)
        if part.measure in seen:
            yield Finding((*here, "measure"), f"{part.measure} is already a part; one part for a measure", part.measure)
        seen.add(part.measure)
        if measure.worse is not Direction.neither:
            yield from _bound_findings(measure, (*here, "beyond"), part.beyond, better_word(measure))
    yield from direction_findings(combination, registry)


def direction_findings(combination: Combination, registry: Mapping[str, Measure]) -> Iterator[Finding]:
    """Every part's measure has a worse end: ``beyond`` means nothing without one."""
    for position, part in enumerate(combination.all_of):
        measure = registry[part.measure]
        if measure.worse is Direction.neither:
            path: Path = ("combinations", combination.name, "all_of", position, "measure")
            message = f"{measure.name} has no single worse end, so nothing is beyond a bound of it"
            yield Finding(path, message, measure.name, "a measure with a worse end")
