"""Which hard limits a pilot reads off again at the aircraft, how much room each had, and which is nearest.

Works on what the record holds: the measures and guards of the decision, and the policy it was made under.
"""

from collections.abc import Mapping

from riskboard.assessment.phrases import amount, must_be, upper_first
from riskboard.measures.registry import MEASURES, load_all, rests_on_airframe
from riskboard.policy.evaluate import limit_bound, limit_result
from riskboard.policy.model import Limit, Policy
from riskboard.sheets.release import LimitLine
from riskboard.words import Group

__all__ = ["limits_left"]

_SEEN_AGAIN = frozenset({Group.aircraft, Group.environment})
_OF_PAPERS = frozenset({"", "d"})
"""Units of what does not change between desk and aircraft: dates, counts, yes or no."""

_NOTICED = {"kt": 5.0, "SM": 1.0, "ft": 500.0, "ft AGL": 500.0, "NM": 5.0, "min": 10.0, "h": 5.0, "lb": 50.0, "in": 0.5}
"""A change that a pilot would notice, by unit: only the order on paper follows from it. Common practice, no source."""


def limits_left(
    policy: Policy, measures: Mapping[str, float | None], guards: Mapping[str, bool | None]
) -> tuple[LimitLine, ...]:
    """The limits in force that were kept and can be looked at again at the aircraft, the nearest first.

    Args:
        policy: The policy of the decision.
        measures: The measures on record; None is unknown.
        guards: The guard words on record; None is unknown, and a clause counts as in force then.

    Returns:
        One line for each; a measure with two limits in force gives the tighter one.
    """
    load_all()
    nearest: dict[str, tuple[float, LimitLine]] = {}
    for limit in policy.limits:
        value = measures.get(limit.measure)
        if value is None or not _looked_at_again(limit) or not _in_force(limit, guards):
            continue
        if limit_result(limit, value) != "pass":
            continue
        room = abs(value - limit_bound(limit))
        entry = MEASURES[limit.measure]
        beyond = " or more" if value == entry.high else ""  # "no ceiling" and "no storm" count as the highest value
        line = LimitLine(
            upper_first(entry.label),
            amount(limit.measure, value) + beyond,
            must_be(limit.measure, limit_bound(limit)),
            amount(limit.measure, room) + beyond,
        )
        near = room / _NOTICED.get(entry.unit, 1.0)
        if limit.measure not in nearest or near < nearest[limit.measure][0]:
            nearest[limit.measure] = (near, line)
    return tuple(line for _, line in sorted(nearest.values(), key=lambda each: each[0]))


def _looked_at_again(limit: Limit) -> bool:
    """Wind, weather, fuel and the meter; also a student's written limits. Not a person's hours.

    Weight, balance and hover have lines of their own on the same paper, and no gauge shows them.
    """
    entry = MEASURES[limit.measure]
    if entry.words or entry.unit in _OF_PAPERS:
        return False
    if entry.group is Group.aircraft and rests_on_airframe(limit.measure):
        return False
    return entry.group in _SEEN_AGAIN or entry.unit != "h"


def _in_force(limit: Limit, guards: Mapping[str, bool | None]) -> bool:
    return all(guards.get(word.value) in {None, wanted} for word, wanted in limit.when.items())
