"""The exact difference of two policies, clause by clause, as data and as plain sentences.

INVARIANT: there is no difference exactly when both policies have the same canonical text.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from riskboard.measures.registry import MEASURES, Measure, load_all
from riskboard.policy import words_of
from riskboard.policy.finding import Finding
from riskboard.policy.model import Level, Policy
from riskboard.policy.severity import (
    ceiling_looser,
    combination_looser,
    factor_looser,
    level_looser,
    limit_looser,
    mitigation_looser,
)

__all__ = ["Change", "Effect", "differences"]

Effect = Literal["stricter", "looser", "either", "none"]
"""What a change does to decisions: ``either`` when it is stricter for some flights and looser for others, or when that
cannot be told; ``none`` for reasons, sources, cases, tests and order."""

_SINGULAR = {
    "errors": "Error of",
    "ways_out": "Way out",
    "levels": "Level",
    "group_ceilings": "Ceiling of group",
    "factors": "Factor",
    "limits": "Limit",
    "combinations": "Combination",
    "mitigations": "Mitigation",
    "worksheets": "Worksheet",
    "tests": "Test",
}
_WORDING = {"why", "source", "cases", "non_monotone"}


@dataclass(frozen=True)
class Change:
    """One difference.

    Attributes:
        section: "policy" for what stands at the top, else the section of the clause.
        name: Name of the clause; "" at the top.
        what: "added", "removed" or "changed".
        field: What changed in it; "" when the whole clause was added or removed.
        before: Old value in words; "" when added.
        after: New value in words; "" when removed.
        effect: What it does to decisions.
        sentence: The change as a person reads it.
    """

    section: str
    name: str
    what: Literal["added", "removed", "changed"]
    field: str
    before: str
    after: str
    effect: Effect
    sentence: str


_Fields = Callable[[Any], Mapping[str, str]]
_Looser = Callable[[Any, Any], Iterable[Finding]]


@dataclass(frozen=True)
class _Section:
    """How the clauses of one section are compared."""

    name: str
    fields: _Fields
    looser: _Looser
    added: Effect
    removed: Effect


def differences(old: Policy, new: Policy, registry: Mapping[str, Measure] | None = None) -> tuple[Change, ...]:
    """Every difference between two policies.

    Args:
        old: The policy before.
        new: The policy after.
        registry: Measures by name; the program's own where not given.

    Returns:
        The differences, in the order of a policy file.
    """
    if registry is None:
        load_all()
        registry = MEASURES
    sections = _sections(old, registry)
    changes = list(_head(old, new))
    for section in sections:
        changes += _compare(section, _by_name(old, section.name), _by_name(new, section.name))
    return tuple(changes)


def _sections(old: Policy, registry: Mapping[str, Measure]) -> tuple[_Section, ...]:
    levels: tuple[Level, ...] = old.levels
    return (
        _Section("errors", words_of.error_fields, lambda _a, _b: (), "none", "none"),
        _Section("ways_out", words_of.way_fields, lambda _a, _b: (), "none", "none"),
        _Section("levels", words_of.level_fields, level_looser, "either", "either"),
        _Section(
            "group_ceilings",
            words_of.ceiling_fields,
            lambda a, b: ceiling_looser(a, b, levels),
            "stricter",
            "looser",
        ),
        _Section(
            "factors",
            lambda clause: words_of.factor_fields(clause, registry),
            lambda a, b: factor_looser(a, b, registry[a.measure], levels),
            "stricter",
            "looser",
        ),
        _Section(
            "limits",
            lambda clause: words_of.limit_fields(clause, registry),
            lambda a, b: limit_looser(a, b, registry[a.measure]),
            "stricter",
            "looser",
        ),
        _Section(
            "combinations",
            lambda clause: words_of.combination_fields(clause, registry),
            lambda a, b: combination_looser(a, b, registry, levels),
            "stricter",
            "looser",
        ),
        _Section("mitigations", words_of.mitigation_fields, mitigation_looser, "looser", "stricter"),
        _Section("worksheets", _worksheet_fields, lambda _a, _b: (), "none", "none"),
        _Section("tests", words_of.test_fields, lambda _a, _b: (), "none", "none"),
    )


def _by_name(policy: Policy, section: str) -> dict[str, Any]:
    value = getattr(policy.alternatives if section in {"errors", "ways_out"} else policy, section)
    if isinstance(value, Mapping):
        return dict(value)
    return {str(getattr(clause, "group" if section == "group_ceilings" else "name")): clause for clause in value}


def _worksheet_fields(data: Mapping[str, Any]) -> Mapping[str, str]:
    fields: dict[str, str] = {}
    for part, value in data.items():
        if isinstance(value, Mapping):
            fields |= {f"{part}.{key}": repr(item) for key, item in value.items()} or {part: "{}"}
        else:
            fields[part] = repr(value)
    return fields


def _head(old: Policy, new: Policy) -> Iterator[Change]:
    for field in ("id", "version", "title", "effective_from", "review_by", "weather_age_max_min"):
        before, after = getattr(old, field), getattr(new, field)
        if before != after:
            effect: Effect = "none"
            if field == "weather_age_max_min":
                effect = "stricter" if after < before else "looser"
            sentence = f"{field} changes from {before} to {after}."
            yield Change("policy", "", "changed", field, str(before), str(after), effect, sentence)
    yield from _overdue(old, new)
    yield from _alternatives(old, new)


def _alternatives(old: Policy, new: Policy) -> Iterator[Change]:
    """What is called fragile, and the words for a no: no decision hangs on either."""
    share = old.alternatives.fragile_below_pct, new.alternatives.fragile_below_pct
    if share[0] != share[1]:
        sentence = f"A go is called fragile below {share[1]} % of its copies, before it was {share[0]} %."
        texts = f"{share[0]} %", f"{share[1]} %"
        yield Change("policy", "", "changed", "fragile_below_pct", *texts, "none", sentence)
    said = words_of.when_no_fields(old.alternatives.when_no), words_of.when_no_fields(new.alternatives.when_no)
    for key in {**said[0], **said[1]}:
        before, after = said[0].get(key, words_of.NOTHING), said[1].get(key, words_of.NOTHING)
        if before != after:
            sentence = f"The words for a no: {key} changes from {before} to {after}."
            yield Change("policy", "", "changed", f"when_no.{key}", before, after, "none", sentence)


def _overdue(old: Policy, new: Policy) -> Iterator[Change]:
    before, after = old.overdue_margin_min, new.overdue_margin_min
    if before != after:
        effect: Effect = "stricter" if after < before else "looser"
        sentence = f"A flight is overdue {after} min after its planned landing, before it was {before} min."
        yield Change("policy", "", "changed", "overdue.margin_min", f"{before} min", f"{after} min", effect, sentence)
    if old.overdue_steps != new.overdue_steps:
        texts = words_of.steps_words(old.overdue_steps), words_of.steps_words(new.overdue_steps)
        sentence = f"The steps for an overdue flight change from {texts[0]} to {texts[1].removesuffix('.')}."
        effect = _steps_effect(old.overdue_steps, new.overdue_steps)
        yield Change("policy", "", "changed", "overdue.steps", *texts, effect, sentence)


def _steps_effect(old: tuple[str, ...], new: tuple[str, ...]) -> Effect:
    """More steps in the same order are stricter; of others a program cannot tell."""
    if tuple(step for step in new if step in old) == old:
        return "stricter"
    return "looser" if tuple(step for step in old if step in new) == new else "either"


def _compare(section: _Section, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Change]:
    what = _SINGULAR[section.name]
    for name, clause in old.items():
        if name not in new:
            words = "; ".join(f"{key}: {value}" for key, value in section.fields(clause).items())
            sentence = f"{what} {name} is removed ({words})."
            yield Change(section.name, name, "removed", "", words, "", section.removed, sentence)
        else:
            yield from _changed(section, name, clause, new[name])
    for name, clause in new.items():
        if name not in old:
            words = "; ".join(f"{key}: {value}" for key, value in section.fields(clause).items())
            sentence = f"{what} {name} is added ({words})."
            yield Change(section.name, name, "added", "", "", words, section.added, sentence)
    before = [name for name in old if name in new]
    after = [name for name in new if name in old]
    if before != after:
        effect: Effect = "either" if section.name == "levels" else "none"
        sentence = f"The order of the {section.name.replace('_', ' ')} changes to {', '.join(after)}."
        yield Change(section.name, "", "changed", "order", ", ".join(before), ", ".join(after), effect, sentence)


def _changed(section: _Section, name: str, old: Any, new: Any) -> Iterator[Change]:
    before, after = section.fields(old), section.fields(new)
    effect = _effect(section, old, new)
    keys = [*before, *(key for key in after if key not in before)]
    if list(before) != list(after) and {*before} == {*after}:
        yield _order_inside(section, name, before, after)
    for key in keys:
        if before.get(key) != after.get(key):
            here: Effect = "none" if key in _WORDING else effect
            yield _field_change(section, name, key, (before.get(key, ""), after.get(key, "")), here)


def _order_inside(section: _Section, name: str, before: Mapping[str, str], after: Mapping[str, str]) -> Change:
    sentence = f"{_SINGULAR[section.name]} {name}: the order of its entries changes."
    return Change(section.name, name, "changed", "order", ", ".join(before), ", ".join(after), "none", sentence)


def _field_change(section: _Section, name: str, key: str, values: tuple[str, str], effect: Effect) -> Change:
    before, after = values
    what = f"{_SINGULAR[section.name]} {name}: {key}"
    if not before:
        sentence = f"{what} is new ({after})."
    elif not after:
        sentence = f"{what} is gone (it was {before})."
    else:
        sentence = f"{what} changes from {before} to {after}."
    return Change(section.name, name, "changed", key, before, after, effect, sentence)


def _effect(section: _Section, old: Any, new: Any) -> Effect:
    looser, stricter = any(section.looser(old, new)), any(section.looser(new, old))
    if looser and stricter:
        return "either"
    return "looser" if looser else "stricter" if stricter else "none"
