"""What is left of a decision when the health answers are taken out: the level, the decision, and the class of reason.

Health answers are the worksheet entries marked ``health``. Whatever is worked out from one of them says something of
it, so every measure that needs one goes too, and of a clause that reads such a measure only its class stays.
"""

from collections.abc import Mapping
from functools import cache
from typing import Any

from riskboard.measures.registry import GUARDS, MEASURES, inputs_of, load_all
from riskboard.policy.model import Policy
from riskboard.worksheet.model import PARTS

__all__ = [
    "HEALTH_FIELDS",
    "HIDDEN",
    "health_clauses",
    "health_measures",
    "without_health",
    "without_health_entries",
]

HEALTH_FIELDS: frozenset[str] = frozenset(
    name for part in PARTS.values() for name, info in part.facts().items() if info.health
)
"""Names of the worksheet entries that only the pilot and whoever must sign may see."""

HIDDEN = "Something about the pilot's condition; only the pilot and whoever must sign see what."
"""What stands in the place of a sentence."""


@cache
def health_measures() -> frozenset[str]:
    """Measures and guard words that are worked out from a health answer."""
    load_all()
    names = [*MEASURES, *(word.value for word in GUARDS)]
    return frozenset(name for name in names if inputs_of(name) & HEALTH_FIELDS)


def health_clauses(policy: Policy) -> frozenset[str]:
    """Names of the clauses of a policy that read a health answer."""
    measures = health_measures()
    found = [factor.name for factor in policy.factors if factor.measure in measures]
    found += [limit.name for limit in policy.limits if limit.measure in measures]
    found += [each.name for each in policy.combinations if any(part.measure in measures for part in each.all_of)]
    return frozenset(found)


def without_health(assessment: Mapping[str, Any], clauses: frozenset[str]) -> dict[str, Any]:
    """An assessment's plain data without anything that tells a health answer.

    Args:
        assessment: As ``Assessment.as_data`` gives it.
        clauses: Clauses that read a health answer, from :func:`health_clauses` of the policy it was decided under.

    Returns:
        A new mapping: decision, level, total and group points stay; health measures are gone; of a health clause its
        group and what it forces stay, under one and the same sentence.
    """
    hidden = health_measures()
    kept = dict(assessment)
    kept["measures"] = {name: value for name, value in assessment["measures"].items() if name not in hidden}
    kept["guards"] = {name: value for name, value in assessment["guards"].items() if name not in hidden}
    kept["expired"] = [name for name in assessment.get("expired", []) if name not in HEALTH_FIELDS]
    kept["reasons"] = [_hidden(reason) if _tells(reason, clauses) else reason for reason in assessment["reasons"]]
    return kept


def _tells(reason: Mapping[str, Any], clauses: frozenset[str]) -> bool:
    return reason["clause"] in clauses or bool(HEALTH_FIELDS.intersection(reason["blank"]))


def _hidden(reason: Mapping[str, Any]) -> dict[str, Any]:
    told = {"clause": "", "sentence": HIDDEN, "points": 0, "value": "", "margin": "", "blank": [], "why": ""}
    return dict(reason) | told | {"source": "", "source_kind": "", "line": 0}


def without_health_entries(entries: Mapping[str, Any]) -> dict[str, Any]:
    """Worksheet data (part -> field -> value, and the clocks) without the health answers."""
    return {
        part: {name: value for name, value in content.items() if name not in HEALTH_FIELDS}
        if isinstance(content, Mapping)
        else content
        for part, content in entries.items()
    }
