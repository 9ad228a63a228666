"""A small invented registry, so that these tests do not depend on which real measures exist."""

import numpy as np

from riskboard.measures.registry import Measure
from riskboard.words import Direction, Group
from riskboard.worksheet.columns import FloatArray

__all__ = ["REGISTRY"]


def _no_value(*columns: FloatArray) -> FloatArray:
    return np.full(len(columns[0]) if columns else 1, np.nan)


def _measure(
    name: str,
    unit: str,
    worse: Direction,
    valid: tuple[float, float],
    group: Group,
    decimals: int = 0,
    needs: tuple[str, ...] = (),
    *,
    internal: bool = False,
) -> Measure:
    source = "common practice, no source"
    return Measure(name, name, unit, worse, *valid, group, source, needs, _no_value, decimals, {}, internal)


_ALL = (
    _measure("gust_kt_spread", "kt", Direction.higher, (0, 60), Group.environment),
    _measure("fuel_spare_min", "min", Direction.lower, (-600, 600), Group.aircraft, 1),
    _measure("moon_pct", "%", Direction.lower, (0, 100), Group.environment),
    _measure("night_gap_d", "d", Direction.higher, (0, 40_000), Group.pilot),
    _measure("type_h", "h", Direction.lower, (0, 30_000), Group.pilot, 1, ("hours_in_type_h",)),
    _measure("slept_h", "h", Direction.lower, (0, 24), Group.pilot, 1, ("sleep_sum",)),
    _measure("load_arm_in", "in", Direction.neither, (80, 120), Group.aircraft, 1),
    _measure("defects", "", Direction.higher, (0, 50), Group.aircraft),
    _measure(
        "sleep_sum", "", Direction.neither, (-np.inf, np.inf), Group.environment, 0, ("sleeps_start_at",), internal=True
    ),
)

REGISTRY = {measure.name: measure for measure in _ALL}
