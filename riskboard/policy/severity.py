"""Is a clause at least as severe as another for every value? Where not, a finding says where it is looser.

The comparison is exact: step functions are compared at every point where either can change (``evaluate.probes``).
Guards must be equal: a clause with other guards is another clause, to be added beside the first.
"""

from collections.abc import Iterator, Mapping

from riskboard.measures.registry import Measure
from riskboard.policy.evaluate import band_of, limit_bound, probes, spoken
from riskboard.policy.finding import Finding, Path
from riskboard.policy.model import Ceiling, Combination, Factor, IfUnknown, Level, Limit, Mitigation, When
from riskboard.words import Direction, Guard

__all__ = [
    "ceiling_looser",
    "combination_looser",
    "factor_looser",
    "level_looser",
    "limit_looser",
    "mitigation_looser",
]


def _same(path: Path, key: str, old: object, new: object) -> Iterator[Finding]:
    if old != new:
        message = f"{key} is {new}, but the policy that is tightened says {old}; allowed: {old}"
        yield Finding((*path, key), message, str(new), str(old))


def _when_words(when: When) -> str:
    return ", ".join(f"{Guard(word).value}: {str(truth).lower()}" for word, truth in sorted(when.items())) or "nothing"


def _same_when(path: Path, old: When, new: When) -> Iterator[Finding]:
    yield from _same(path, "when", _when_words(old), _when_words(new))


def _not_weaker(path: Path, old: IfUnknown, new: IfUnknown) -> Iterator[Finding]:
    if old == "no_go" and new == "sign_off":
        yield Finding((*path, "if_unknown"), "if_unknown weakens from no_go to sign_off; allowed: no_go", new, "no_go")


def _floor_index(levels: tuple[Level, ...], floor: str | None) -> int:
    names = [level.name for level in levels]
    return names.index(floor) if floor in names else 0


def factor_looser(old: Factor, new: Factor, measure: Measure, levels: tuple[Level, ...]) -> Iterator[Finding]:
    """Where the new factor is less severe than the old one.

    Args:
        old: The clause that must be met or exceeded.
        new: The clause compared with it.
        measure: The measure of the old clause.
        levels: Levels by which floors are ordered.
    """
    path: Path = ("factors", new.name)
    yield from _same(path, "group", old.group, new.group)
    yield from _same_when(path, old.when, new.when)
    yield from _not_weaker(path, old.if_unknown, new.if_unknown)
    if old.measure != new.measure:
        yield from _same(path, "measure", old.measure, new.measure)
        return
    bounds = [band.bound for band in (*old.bands, *new.bands) if band.bound is not None]
    seen: set[tuple[str, int]] = set()
    for value in probes(measure, bounds):
        position = band_of(new, value)
        before, after = old.bands[band_of(old, value)], new.bands[position]
        where, at = (*path, "bands", position), spoken(measure, value)
        if after.points < before.points and ("points", position) not in seen:
            seen.add(("points", position))
            message = f"{after.points} points at {at}, where the policy that is tightened gives {before.points}"
            yield Finding((*where, "points"), message, str(after.points), f"{before.points} or more")
        if _floor_index(levels, after.floor) < _floor_index(levels, before.floor) and ("floor", position) not in seen:
            seen.add(("floor", position))
            message = f"floor {after.floor or 'none'} at {at}, where the policy that is tightened has {before.floor}"
            yield Finding((*where, "floor"), message, after.floor or "none", f"{before.floor} or worse")


def limit_looser(old: Limit, new: Limit, measure: Measure) -> Iterator[Finding]:
    """Where the new limit is less severe than the old one."""
    path: Path = ("limits", new.name)
    yield from _same_when(path, old.when, new.when)
    if set(new.waiver) - set(old.waiver):
        allowed = ", ".join(old.waiver) or "none"
        message = f"more roles may waive it than before; allowed: {allowed}"
        yield Finding((*path, "waiver"), message, ", ".join(new.waiver), allowed)
    word = "at_least" if old.up_to is None else "up_to"
    if old.measure != new.measure:
        yield from _same(path, "measure", old.measure, new.measure)
    elif (new.up_to is None) != (old.up_to is None):
        yield Finding(path, f"the limit is written {word} in the policy that is tightened; keep that", "", word)
    elif limit_bound(new) < limit_bound(old) if old.up_to is None else limit_bound(new) > limit_bound(old):
        bound = spoken(measure, limit_bound(old))
        message = f"{word} {spoken(measure, limit_bound(new))} passes more than before; allowed: {bound} or tighter"
        yield Finding((*path, word), message, f"{limit_bound(new):.15g}", f"{limit_bound(old):.15g} or tighter")


def combination_looser(
    old: Combination, new: Combination, registry: Mapping[str, Measure], levels: tuple[Level, ...]
) -> Iterator[Finding]:
    """Where the new combination is less severe than the old one.

    Both must look at the same measures: with fewer, an unknown that put a floor before would pass without one.
    """
    path: Path = ("combinations", new.name)
    yield from _same(path, "group", old.group, new.group)
    yield from _same_when(path, old.when, new.when)
    yield from _not_weaker(path, old.if_unknown, new.if_unknown)
    if new.points < old.points:
        message = f"{new.points} points, where the policy that is tightened gives {old.points}"
        yield Finding((*path, "points"), message, str(new.points), f"{old.points} or more")
    if _floor_index(levels, new.floor) < _floor_index(levels, old.floor):
        message = f"floor {new.floor or 'none'}, where the policy that is tightened has {old.floor}"
        yield Finding((*path, "floor"), message, new.floor or "none", f"{old.floor} or worse")
    before = {part.measure: part.beyond for part in old.all_of}
    if set(before) != {part.measure for part in new.all_of}:
        message = f"all_of looks at other measures than before; allowed: {', '.join(sorted(before)) or 'none'}"
        yield Finding((*path, "all_of"), message, "", ", ".join(sorted(before)))
        return
    for position, part in enumerate(new.all_of):
        measure = registry[part.measure]
        farther = (
            part.beyond > before[part.measure]
            if measure.worse is Direction.higher
            else part.beyond < before[part.measure]
        )
        if farther:
            bound = spoken(measure, before[part.measure])
            message = f"beyond {spoken(measure, part.beyond)} holds for fewer values; allowed: {bound} or closer"
            yield Finding((*path, "all_of", position, "beyond"), message, f"{part.beyond:.15g}", f"{bound} or closer")


def mitigation_looser(old: Mitigation, new: Mitigation) -> Iterator[Finding]:
    """Where the new mitigation takes off more, or more easily, than the old one."""
    path: Path = ("mitigations", new.name)
    if new.at_most > old.at_most:
        message = f"at_most {new.at_most} takes off more than before; allowed: 1 to {old.at_most}"
        yield Finding((*path, "at_most"), message, str(new.at_most), f"1 to {old.at_most}")
    if set(new.off) - set(old.off):
        extra = ", ".join(sorted(set(new.off) - set(old.off)))
        message = f"it takes points off {extra}, which it did not before; allowed: {', '.join(old.off)}"
        yield Finding((*path, "off"), message, extra, ", ".join(old.off))
    if not set(old.needs.items()) <= set(new.needs.items()):
        message = f"it needs less than before; allowed: {_when_words(old.needs)}, and more"
        yield Finding((*path, "needs"), message, _when_words(new.needs), _when_words(old.needs))


def level_looser(old: Level, new: Level) -> Iterator[Finding]:
    """Where the new level accepts more, from more people or for longer than the old one."""
    path: Path = ("levels", new.name)
    yield from _same(path, "decision", old.decision.name, new.decision.name)
    if old.up_to is not None and (new.up_to is None or new.up_to > old.up_to):
        message = f"up_to {new.up_to} lets more points pass than before; allowed: at most {old.up_to}"
        yield Finding((*path, "up_to"), message, str(new.up_to), f"at most {old.up_to}")
    if old.valid_min is not None and (new.valid_min is None or new.valid_min > old.valid_min):
        message = f"valid_min {new.valid_min} holds longer than before; allowed: at most {old.valid_min}"
        yield Finding((*path, "valid_min"), message, str(new.valid_min), f"at most {old.valid_min}")
    if set(new.accepted_by) - set(old.accepted_by):
        extra = ", ".join(sorted(set(new.accepted_by) - set(old.accepted_by)))
        allowed = ", ".join(old.accepted_by) or "nobody"
        yield Finding((*path, "accepted_by"), f"{extra} could not accept it before; allowed: {allowed}", extra, allowed)


def ceiling_looser(old: Ceiling, new: Ceiling, levels: tuple[Level, ...]) -> Iterator[Finding]:
    """Where the new group ceiling is less severe than the old one."""
    path: Path = ("group_ceilings", new.group)
    if new.up_to > old.up_to:
        message = f"up_to {new.up_to} lets more points pass than before; allowed: at most {old.up_to}"
        yield Finding((*path, "up_to"), message, str(new.up_to), f"at most {old.up_to}")
    if _floor_index(levels, new.floor) < _floor_index(levels, old.floor):
        message = f"the floor {new.floor} is better than before; allowed: {old.floor} or worse"
        yield Finding((*path, "else"), message, new.floor, f"{old.floor} or worse")
