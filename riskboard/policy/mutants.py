"""Small changes of a policy, each in words: would a case or a test notice that somebody had made it?"""

import itertools
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from riskboard.measures.registry import Measure
from riskboard.policy.evaluate import limit_bound, resolution, rounded, spoken
from riskboard.policy.model import Band, Ceiling, Combination, Factor, Level, Limit, Mitigation, Policy, When
from riskboard.policy.schema import SECOND_PERSONS
from riskboard.policy.words_of import when_words
from riskboard.words import Guard, Role

__all__ = ["Mutant", "mutants"]


@dataclass(frozen=True)
class Mutant:
    """One changed policy.

    Attributes:
        section: Section of what was changed.
        name: Clause, level or group that was changed; "" for the policy's own settings.
        words: The change as a sentence.
        policy: The changed policy.
    """

    section: str
    name: str
    words: str
    policy: Policy


def mutants(policy: Policy, registry: Mapping[str, Measure]) -> Iterator[Mutant]:
    """Every small change that a slip or a quiet wish could make.

    Args:
        policy: A checked policy.
        registry: Measures by name.

    Yields:
        Changed policies; some would be refused by the loader.
    """
    yield from _setting_mutants(policy)
    for level in policy.levels:
        yield from _in_place(policy, "levels", level, f"Level {level.name}", _level(policy, level))
    for ceiling in policy.group_ceilings:
        what = f"Ceiling of group {ceiling.group}"
        yield _dropped(policy, "group_ceilings", ceiling, ceiling.group, what)
        yield from _in_place(policy, "group_ceilings", ceiling, what, _ceiling(policy, ceiling))
    for factor in policy.factors:
        what = f"Factor {factor.name}"
        yield _without_factor(policy, factor, what)
        yield from _in_place(policy, "factors", factor, what, _factor(factor, registry[factor.measure]))
    for limit in policy.limits:
        what = f"Limit {limit.name}"
        yield _dropped(policy, "limits", limit, limit.name, what)
        yield from _in_place(policy, "limits", limit, what, _limit(limit, registry[limit.measure]))
    for combination in policy.combinations:
        what = f"Combination {combination.name}"
        yield _dropped(policy, "combinations", combination, combination.name, what)
        yield from _in_place(policy, "combinations", combination, what, _combination(combination, registry))
    for mitigation in policy.mitigations:
        what = f"Mitigation {mitigation.name}"
        yield _dropped(policy, "mitigations", mitigation, mitigation.name, what)
        yield from _in_place(policy, "mitigations", mitigation, what, _mitigation(mitigation))


_Item = Level | Ceiling | Factor | Limit | Combination | Mitigation
_Changes = Iterator[tuple[str, _Item]]


def _in_place(policy: Policy, section: str, item: _Item, what: str, changes: _Changes) -> Iterator[Mutant]:
    name = item.group.value if isinstance(item, Ceiling) else item.name
    for words, changed in changes:
        items = tuple(changed if old is item else old for old in getattr(policy, section))
        yield Mutant(section, name, f"{what}: {words}", _put(policy, section, items))


def _put(policy: Policy, section: str, items: tuple[_Item, ...]) -> Policy:
    changes: dict[str, Any] = {section: items}
    return replace(policy, **changes)


def _dropped(policy: Policy, section: str, item: _Item, name: str, what: str) -> Mutant:
    items = tuple(old for old in getattr(policy, section) if old is not item)
    return Mutant(section, name, f"{what}: dropped", _put(policy, section, items))


def _without_factor(policy: Policy, factor: Factor, what: str) -> Mutant:
    """A factor goes together with its mention in mitigations, or the policy would not stand."""
    kept = tuple(
        replace(m, off=tuple(name for name in m.off if name != factor.name))
        for m in policy.mitigations
        if m.off != (factor.name,)
    )
    changed = replace(policy, factors=tuple(f for f in policy.factors if f is not factor), mitigations=kept)
    return Mutant("factors", factor.name, f"{what}: dropped", changed)


def _setting_mutants(policy: Policy) -> Iterator[Mutant]:
    longer = replace(policy, weather_age_max_min=policy.weather_age_max_min + 1)
    words = f"weather_age_max_min: raised from {policy.weather_age_max_min} to {longer.weather_age_max_min} min"
    yield Mutant("policy", "", words, longer)


def _wider(roles: tuple[Role, ...], what: str) -> Iterator[tuple[str, tuple[Role, ...]]]:
    for role in SECOND_PERSONS:
        if role not in roles:
            wider = tuple(r for r in Role if r in {*roles, role})
            yield f"{what} widened to {role.value}", wider
            return


def _level(policy: Policy, level: Level) -> _Changes:
    if level.up_to is not None:
        for step in (1, -1):
            word = "raised" if step > 0 else "lowered"
            yield f"up_to {word} from {level.up_to} to {level.up_to + step}", replace(level, up_to=level.up_to + step)
        for words, roles in _wider(level.accepted_by, "accepted_by"):
            yield words, replace(level, accepted_by=roles)
        worse = policy.levels[policy.levels.index(level) + 1].decision
        if worse is not level.decision:
            yield f"decision turned from {level.decision.name} to {worse.name}", replace(level, decision=worse)


def _ceiling(policy: Policy, ceiling: Ceiling) -> _Changes:
    yield f"up_to raised from {ceiling.up_to} to {ceiling.up_to + 1}", replace(ceiling, up_to=ceiling.up_to + 1)
    yield from _better_floors(policy, ceiling.floor, lambda floor: replace(ceiling, floor=floor or ceiling.floor))


def _better_floors(policy: Policy, floor: str, changed: Callable[[str | None], _Item]) -> _Changes:
    position = policy.level_index(floor)
    if position > 1:
        better = policy.levels[position - 1].name
        yield f"floor weakened from {floor} to {better}", changed(better)


def _guards(when: When, changed: Callable[[dict[Guard, bool]], _Item], key: str = "when") -> _Changes:
    for word, truth in when.items():
        fewer = {other: value for other, value in when.items() if other != word}
        yield f"{word.value} dropped from {key}", changed(fewer)
        if key == "when":
            turned = {**when, word: not truth}
            yield f"when turned from {when_words(when)} to {when_words(turned)}", changed(turned)


def _factor(factor: Factor, measure: Measure) -> _Changes:
    bands = factor.bands
    for position, band in enumerate(bands):
        for words, moved in _moved(band.bound, measure):
            changed = replace(band, bound=moved)
            yield f"bound of band {position + 1} {words}", _with_band(factor, position, changed)
        if band.floor is not None:
            words = f"floor {band.floor} of band {position + 1} dropped"
            yield words, _with_band(factor, position, replace(band, floor=None))
    for (i, better), (j, worse) in itertools.pairwise(enumerate(bands)):
        if better.points != worse.points:
            words = f"points of band {j + 1} changed from {worse.points} to {better.points}"
            yield words, _with_band(factor, j, replace(worse, points=better.points))
            words = f"points of band {i + 1} changed from {better.points} to {worse.points}"
            yield words, _with_band(factor, i, replace(better, points=worse.points))
    if factor.if_unknown == "no_go":
        yield "if_unknown weakened from no_go to sign_off", replace(factor, if_unknown="sign_off")
    yield from _guards(factor.when, lambda when: replace(factor, when=when))


def _with_band(factor: Factor, position: int, band: Band) -> Factor:
    return replace(factor, bands=tuple(band if i == position else old for i, old in enumerate(factor.bands)))


def _moved(bound: float | None, measure: Measure) -> Iterator[tuple[str, float]]:
    """The bound one step of the measure's resolution to either side."""
    if bound is not None:
        for step in (resolution(measure), -resolution(measure)):
            moved = rounded(measure, bound + step)
            yield f"moved from {spoken(measure, bound)} to {spoken(measure, moved)}", moved


def _limit(limit: Limit, measure: Measure) -> _Changes:
    for words, moved in _moved(limit_bound(limit), measure):
        if limit.up_to is None:
            yield f"bound {words}", replace(limit, at_least=moved)
        else:
            yield f"bound {words}", replace(limit, up_to=moved)
    for words, roles in _wider(limit.waiver, "waiver"):
        yield words, replace(limit, waiver=roles)
    yield from _guards(limit.when, lambda when: replace(limit, when=when))


def _combination(combination: Combination, registry: Mapping[str, Measure]) -> _Changes:
    parts = combination.all_of
    for position, part in enumerate(parts):
        for words, moved in _moved(part.beyond, registry[part.measure]):
            changed = tuple(replace(p, beyond=moved) if i == position else p for i, p in enumerate(parts))
            yield f"bound of {part.measure} {words}", replace(combination, all_of=changed)
        fewer = tuple(p for i, p in enumerate(parts) if i != position)
        yield f"{part.measure} dropped from all_of", replace(combination, all_of=fewer)
    if combination.points:
        lower = combination.points - 1
        yield f"points lowered from {combination.points} to {lower}", replace(combination, points=lower)
    if combination.floor is not None:
        yield f"floor {combination.floor} dropped", replace(combination, floor=None)
    if combination.if_unknown == "no_go":
        yield "if_unknown weakened from no_go to sign_off", replace(combination, if_unknown="sign_off")
    yield from _guards(combination.when, lambda when: replace(combination, when=when))


def _mitigation(mitigation: Mitigation) -> _Changes:
    more = mitigation.at_most + 1
    yield f"at_most raised from {mitigation.at_most} to {more}", replace(mitigation, at_most=more)
    yield from _guards(mitigation.needs, lambda needs: replace(mitigation, needs=needs), "needs")
