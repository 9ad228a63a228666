"""Medians of alternated runs: the two sides of a ratio see the same machine at the same time."""

import statistics
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass

__all__ = ["Row", "alternated", "table"]


@dataclass(frozen=True)
class Row:
    """One line of the result: what was compared with what, in seconds, and how much is allowed."""

    what: str
    own_s: float
    against: str
    rival_s: float
    bound: float | None
    aim: str = ""

    @property
    def ratio(self) -> float:
        """Own time over the rival's."""
        return self.own_s / self.rival_s

    @property
    def over(self) -> bool:
        """Whether the bound is broken."""
        return self.bound is not None and self.ratio > self.bound


def alternated(sides: Mapping[str, Callable[[], object]], *, rounds: int, calls: int = 1) -> dict[str, float]:
    """Median seconds of one call of each side; every round runs every side once, in turn."""
    for run in sides.values():
        run()  # warm up: imports, caches, compiled validators
    spent: dict[str, list[float]] = {name: [] for name in sides}
    for _ in range(rounds):
        for name, run in sides.items():
            start = time.perf_counter()
            for _ in range(calls):
                run()
            spent[name].append((time.perf_counter() - start) / calls)
    return {name: statistics.median(times) for name, times in spent.items()}


def _seconds(value: float) -> str:
    for unit, scale in (("s", 1.0), ("ms", 1e3), ("µs", 1e6)):
        if value * scale >= 1:
            return f"{value * scale:.3g} {unit}"
    return f"{value * 1e6:.2g} µs"


def table(rows: list[Row]) -> str:
    """The result as text."""
    cells = [("what", "time", "against", "time", "ratio", "bound", "")]
    for row in rows:
        bound = "-" if row.bound is None else f"{row.bound:g}"
        verdict = "" if row.bound is None else "OVER" if row.over else "ok"
        judged = f"{verdict}{' ' if verdict and row.aim else ''}{row.aim}"
        cells.append(
            (row.what, _seconds(row.own_s), row.against, _seconds(row.rival_s), f"{row.ratio:.2f}", bound, judged)
        )
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    return "\n".join("  ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)).rstrip() for line in cells)
