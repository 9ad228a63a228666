"""Time since the last drink, and the three parts of the alcohol rule.

The rule is 8 h; the federal information manual advises 12 to 24 h depending on the amount (AIM 8-1-1). A blood
alcohol that was not measured is unknown, never zero: it leaves the answer unknown unless another part fails.
"""

from datetime import datetime
from typing import Final

import numpy.typing as npt

from riskboard.measures.duty import hours_between
from riskboard.measures.known import Number, all_of, checked, not_below, not_of

__all__ = ["alcohol_free_h", "alcohol_rule_met"]

_RULE_H: Final = 8.0
_RULE_PCT: Final = 0.04


def alcohol_free_h(last_drink: datetime | None, flight_start: datetime | None) -> float:
    """Hours from the last alcoholic drink to the start of the flight, a difference of instants; NaN if unknown.

    Raises:
        ValueError: The drink is after the start of the flight, or clocks are mixed.
    """
    return hours_between("last_drink", last_drink, flight_start)


def alcohol_rule_met(
    free_h: npt.ArrayLike, concentration_pct: npt.ArrayLike | None, under_influence: npt.ArrayLike | None
) -> Number:
    """Whether 8 h have passed, the concentration is below 0.04 %, and the person is not under the influence.

    Args:
        free_h: Hours since the last drink, 0 or more.
        concentration_pct: Blood alcohol in g/dL; None or NaN when it was not measured.
        under_influence: 1, 0 or NaN.

    Returns:
        1, 0 or NaN: known failure beats unknown beats pass.

    Source: 14 CFR 91.17(a). Exactly 8.0 h meets the words "within 8 hours" only just: give a policy more.
    """
    hours = not_below(checked("free_h", free_h, at_least=0), _RULE_H)
    too_much = not_below(checked("concentration_pct", concentration_pct, at_least=0, up_to=1), _RULE_PCT)
    return all_of(hours, not_of(too_much), not_of(checked("under_influence", under_influence)))
