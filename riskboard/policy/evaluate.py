"""One clause at one value: what a policy's own cases are held against, before any engine is involved.

This is not scoring: no sums, no levels, no guards. A test compares it with the engine on generated clauses.
"""

from collections.abc import Iterable

from riskboard.measures.registry import Measure
from riskboard.policy.model import Factor, Limit
from riskboard.words import Direction

__all__ = [
    "band_of",
    "better_word",
    "case_result",
    "factor_result",
    "limit_bound",
    "limit_result",
    "probes",
    "resolution",
    "rounded",
    "spoken",
]


def resolution(measure: Measure) -> float:
    """The smallest step of a measure, in its unit."""
    return float(10.0**-measure.decimals)


def rounded(measure: Measure, value: float) -> float:
    """A value as the registry hands it to a policy: as ``np.round`` does it, half to even after scaling."""
    scale = 10.0**measure.decimals
    return round(value * scale) / scale + 0.0


def spoken(measure: Measure, value: float) -> str:
    """A value with its unit, as people write it."""
    number = f"{value:.{max(measure.decimals, 0)}f}" if rounded(measure, value) == value else f"{value:.15g}"
    return f"{number} {measure.unit}".rstrip()


def band_of(factor: Factor, value: float) -> int:
    """The band a known value falls into, 0 best. The named bound belongs to the better side."""
    for position, band in enumerate(factor.bands):
        if band.bound is not None and (value <= band.bound if factor.ascending else value >= band.bound):
            return position
    return len(factor.bands) - 1


def factor_result(factor: Factor, value: float | None) -> int | str:
    """Points of a known value; ``if_unknown`` of an unknown one (None)."""
    return factor.if_unknown if value is None else factor.bands[band_of(factor, value)].points


def limit_bound(limit: Limit) -> float:
    """The bound of a limit, whatever its word.

    Raises:
        ValueError: The limit has none.
    """
    bound = limit.at_least if limit.up_to is None else limit.up_to
    if bound is None:
        raise ValueError(f"limit {limit.name} has no bound")
    return bound


def limit_result(limit: Limit, value: float | None) -> str:
    """``pass`` only when known and within."""
    if value is None:
        return "stop"
    bound = limit_bound(limit)
    within = value >= bound if limit.up_to is None else value <= bound
    return "pass" if within else "stop"


def case_result(clause: Factor | Limit, measure: Measure, value: float | None) -> int | str:
    """What a case of a clause really gives: the value is rounded first, as the registry does."""
    known = None if value is None else rounded(measure, value)
    return factor_result(clause, known) if isinstance(clause, Factor) else limit_result(clause, known)


def probes(measure: Measure, bounds: Iterable[float]) -> tuple[float, ...]:
    """Values that tell any two step functions with these bounds apart: each bound, a step to either side, both ends.

    Between two neighbouring bounds a step function is constant, so equality (or order) at the probes is equality (or
    order) at every value the registry can hand over.
    """
    step = resolution(measure)
    values = {measure.low, measure.high}
    for bound in bounds:
        values |= {rounded(measure, bound + shift) for shift in (-step, 0.0, step)}
    return tuple(sorted(value for value in values if measure.low <= value <= measure.high))


def better_word(measure: Measure) -> str:
    """The word that bounds of this measure use: ``up_to``, ``at_least``, or "" where either will do."""
    return {Direction.higher: "up_to", Direction.lower: "at_least", Direction.neither: ""}[measure.worse]
