"""A policy read aloud: every clause as plain sentences, with the same words that the reasons of a decision use."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from riskboard.assessment.phrases import amount, beyond_word, guard_phrase, points_phrase, upper_first, within_word
from riskboard.measures.registry import MEASURES, load_all
from riskboard.policy.model import Band, Combination, Factor, IfUnknown, Level, Limit, Mitigation, Policy, Source, When
from riskboard.words import Decision, Role

__all__ = ["ClauseText", "alternatives_in_words", "clauses_in_words", "policy_in_words"]


@dataclass(frozen=True)
class ClauseText:
    """One clause in words.

    Attributes:
        name: Its name in the policy.
        kind: "limit", "factor", "combination", "mitigation" or "group ceiling".
        group: PAVE group, "" for limits and mitigations.
        sentence: What it does.
        why: The policy's reason.
        source: The policy's source, with its kind and the day it was checked.
        line: Line in the policy file; 0 when not from a file.
    """

    name: str
    kind: str
    group: str
    sentence: str
    why: str
    source: str
    line: int = 0


def policy_in_words(policy: Policy) -> tuple[str, ...]:
    """What a policy says as a whole: its dates, its age of weather, its levels, what an overdue flight sets going."""
    return (
        f"{policy.title} ({policy.id} version {policy.version}, {policy.digest[:12]}).",
        f"In force from {policy.effective_from:%Y-%m-%d %H:%MZ}; to be reviewed by {policy.review_by}.",
        f"Weather older than {policy.weather_age_max_min} min counts as unknown.",
        *_levels(policy.levels),
        f"A flight is overdue {policy.overdue_margin_min} min after its planned landing without word of it.",
        *(f"Overdue, step {i}: {step}" for i, step in enumerate(policy.overdue_steps, 1)),
    )


def _levels(levels: Sequence[Level]) -> Iterator[str]:
    start = 0
    for level in levels:
        points = f"{start} points or more" if level.up_to is None else f"{start} to {points_phrase(level.up_to)}"
        start = start if level.up_to is None else level.up_to + 1
        told = f"Level {level.name}: {points}: {level.decision.phrase.lower()}"
        if level.decision is not Decision.no_go:
            told += f", accepted by {_roles(level.accepted_by)}, valid for {level.valid_min} min"
        yield told + "."


def alternatives_in_words(policy: Policy) -> tuple[ClauseText, ...]:
    """What a policy says beside its decisions: errors of entries, costs of ways out, words for a no."""
    stated = policy.alternatives
    fragile = f"A go that holds in less than {stated.fragile_below_pct} % of its copies is called fragile."
    return (
        ClauseText("fragile_below_pct", "fragile", "", fragile, "It never improves a decision.", "this policy"),
        *(
            ClauseText(
                f"errors.{error.name}",
                "error of an entry",
                "",
                f"{error.name} may be off by {error.size:g}{' % of its value' if error.relative else ''}.",
                error.why,
                _source(error.source),
            )
            for error in stated.errors
        ),
        *(
            ClauseText(
                f"ways_out.{cost.name}",
                "way out",
                "",
                f"{upper_first(cost.name.replace('_', ' '))} costs {points_phrase(cost.cost)} among ways out.",
                cost.why,
                _source(cost.source),
            )
            for cost in stated.ways_out
        ),
        *(
            ClauseText(
                "when_no",
                "words for a no",
                "",
                f"Tell a customer: {said.tell_customer} Call: {said.call}",
                said.why,
                _source(said.source),
            )
            for said in [stated.when_no]
            if said is not None
        ),
    )


def clauses_in_words(policy: Policy) -> tuple[ClauseText, ...]:
    """Every clause of a policy in words: limits first, then factors, combinations, ceilings and mitigations."""
    load_all()
    return (
        *(_limit(limit) for limit in policy.limits),
        *(_factor(factor) for factor in policy.factors),
        *(_combination(combination) for combination in policy.combinations),
        *(
            ClauseText(
                f"group_ceilings.{ceiling.group.value}",
                "group ceiling",
                ceiling.group.value,
                f"More than {points_phrase(ceiling.up_to)} in the group {ceiling.group.value}: "
                f"at least level {ceiling.floor}.",
                "A bad group cannot hide in a good total.",
                "this policy",
            )
            for ceiling in policy.group_ceilings
        ),
        *(_mitigation(mitigation) for mitigation in policy.mitigations),
    )


def _roles(roles: Sequence[Role]) -> str:
    return " or ".join(role.value.replace("_", " ") for role in roles)


def _when(when: When) -> str:
    if not when:
        return ""
    return f" Only for: {', '.join(guard_phrase(word, wanted) for word, wanted in when.items())} (or not known)."


def _unknown(choice: IfUnknown) -> str:
    return "no-go" if choice == "no_go" else "the worst points, and a sign-off"


def _source(source: Source) -> str:
    return f"{source.text} ({source.kind}, checked {source.checked_on})"


def _label(measure: str) -> str:
    return upper_first(MEASURES[measure].label)


def _band(factor: Factor, band: Band) -> str:
    bound = "otherwise"
    if band.bound is not None:
        bound = f"{'up to' if factor.ascending else 'at least'} {amount(factor.measure, band.bound)}"
    floor = f" and at least level {band.floor}" if band.floor else ""
    return f"{bound}: {points_phrase(band.points)}{floor}"


def _factor(factor: Factor) -> ClauseText:
    bands = "; ".join(_band(factor, band) for band in factor.bands)
    sentence = f"{_label(factor.measure)}: {bands}. Unknown: {_unknown(factor.if_unknown)}.{_when(factor.when)}"
    if factor.non_monotone:
        sentence += f" Not ordered from better to worse: {factor.non_monotone.rstrip('.')}."
    return ClauseText(
        factor.name, "factor", factor.group.value, sentence, factor.why, _source(factor.source), factor.line
    )


def _limit(limit: Limit) -> ClauseText:
    bound = limit.up_to if limit.up_to is not None else limit.at_least
    waiver = f"May be waived by signature of {_roles(limit.waiver)}" if limit.waiver else "Nobody may waive it"
    sentence = (
        f"{_label(limit.measure)} must be {within_word(limit.measure)} {amount(limit.measure, bound)}, else no-go. "
        f"Unknown: no-go. {waiver}.{_when(limit.when)}"
    )
    return ClauseText(limit.name, "limit", "", sentence, limit.why, _source(limit.source), limit.line)


def _combination(combination: Combination) -> ClauseText:
    parts = " together with ".join(
        f"{MEASURES[part.measure].label} {beyond_word(part.measure)} {amount(part.measure, part.beyond)}"
        for part in combination.all_of
    )
    effect = points_phrase(combination.points)
    if combination.floor:
        effect += f" and at least level {combination.floor}"
    counted = f" An unknown part counts as met: {_unknown(combination.if_unknown)}." if parts else ""
    sentence = f"{upper_first(parts) + ': ' if parts else ''}{upper_first(effect)}.{counted}{_when(combination.when)}"
    return ClauseText(
        combination.name,
        "combination",
        combination.group.value,
        sentence,
        combination.why,
        _source(combination.source),
        combination.line,
    )


def _mitigation(mitigation: Mitigation) -> ClauseText:
    needs = ", ".join(guard_phrase(word, wanted) for word, wanted in mitigation.needs.items())
    sentence = f"Takes at most {points_phrase(mitigation.at_most)} off: {', '.join(mitigation.off)}."
    if needs:
        sentence += f" Only when surely: {needs}."
    return ClauseText(
        mitigation.name, "mitigation", "", sentence, mitigation.why, _source(mitigation.source), mitigation.line
    )
