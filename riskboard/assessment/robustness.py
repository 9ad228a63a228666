"""How robust a decision is: thousands of copies of the worksheet with the errors that entries have, through the engine.

A temperature is read to a degree, a gauge to some gallons, sleep is remembered. The copies say how often the decision
would be another one if the true values lay where they may lie. It is never used to improve a decision: a go that often
falls is called fragile, and a no-go that sometimes would not be one stays a no-go.

Which input makes it fragile is the share of the variance that it explains by itself: the first-order index of variance-
based sensitivity analysis (Sobol 1993; Saltelli et al. 2008, chapter 4; from memory), estimated from the same copies by
sorting them along each input into classes (the correlation ratio, Pearson 1905, with the correction for chance known as
epsilon squared, Kelley 1935; from memory).
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from riskboard.assessment.variations import Base, scored
from riskboard.words import Decision
from riskboard.worksheet.columns import Columns, FloatArray

__all__ = ["COPIES", "SEED", "Error", "Errors", "Robustness", "first_order", "perturbed", "robustness"]

COPIES: Final = 2_000
SEED: Final = 20_260_504
"""Fixed, so that the same worksheet always gives the same answer."""
_CLASSES: Final = 20
_INF: Final = float("inf")
_NAN: Final = float("nan")
_SECONDS_PER_MIN: Final = 60.0
_LEAST_SLEEP_S: Final = 60.0
_PRACTICE: Final = "common practice, no source"
_STATIONS: Final = "ASOS User's Guide (1998), accuracy of sensors, from memory"


@dataclass(frozen=True, slots=True)
class Error:
    """The error of one input.

    Attributes:
        size: Standard deviation if ``normal``, else half the width of an even spread; in the input's unit, or a share
            of the value if ``relative``.
        source: Where the size comes from.
        normal: Bell-shaped; otherwise even.
        relative: The size is a share of the value.
    """

    size: float
    source: str
    normal: bool = True
    relative: bool = False

    def __post_init__(self) -> None:
        """Refuse what is no error.

        Raises:
            ValueError: The size is negative or no number.
        """
        if not self.size >= 0.0 or self.size == _INF:
            raise ValueError(f"the size of an error is a number from 0 up; found {self.size}")


@dataclass(frozen=True, slots=True)
class Errors:
    """How far entries may be from the truth. 0 leaves an input as it is.

    Attributes are entries of the worksheet, except ``station_loads_lb`` (each load on a seat or baggage place) and
    ``sleep_min`` (the length of each sleep, begun later and ended earlier by half of it, or the other way round).
    """

    temperature_c: Error = Error(1.0, _STATIONS)
    dew_point_c: Error = Error(1.5, _STATIONS)
    wind_kt: Error = Error(2.0, _STATIONS)
    gust_kt: Error = Error(3.0, f"wind and half as much again: {_PRACTICE}")
    wind_from_deg: Error = Error(10.0, f"reported to ten degrees, and it turns: {_PRACTICE}", normal=False)
    visibility_sm: Error = Error(0.10, _PRACTICE, relative=True)
    route_visibility_sm: Error = Error(0.15, _PRACTICE, relative=True)
    ceiling_ft_agl: Error = Error(0.10, _PRACTICE, relative=True)
    lowest_cloud_ft_agl: Error = Error(0.10, _PRACTICE, relative=True)
    route_ceiling_ft_agl: Error = Error(0.15, _PRACTICE, relative=True)
    altimeter_inhg: Error = Error(0.02, _STATIONS)
    thunderstorm_nm: Error = Error(0.20, _PRACTICE, relative=True)
    fuel_usable_gal: Error = Error(1.0, f"gauge or dip stick: {_PRACTICE}", normal=False)
    fuel_burn_gal_h: Error = Error(0.05, _PRACTICE, relative=True)
    meter_h: Error = Error(0.1, f"read to a tenth: {_PRACTICE}", normal=False)
    station_loads_lb: Error = Error(6.0, f"weights as people say them: {_PRACTICE}")
    sleep_min: Error = Error(30.0, "sleep as reported against measured: Lauderdale 2008 (from memory), halved")
    landing_at_min: Error = Error(0.0, "a longer flight is another plan: the tripwire of the landing speaks of it")

    def given(self) -> Mapping[str, Error]:
        """The errors by input."""
        return {each.name: getattr(self, each.name) for each in fields(self)}


_BOUNDS: Final[Mapping[str, tuple[float, float]]] = {
    "temperature_c": (-60, 55), "dew_point_c": (-80, 40), "wind_kt": (0, 120), "gust_kt": (0, 160),
    "visibility_sm": (0, 100), "route_visibility_sm": (0, 100), "ceiling_ft_agl": (0, 60_000),
    "lowest_cloud_ft_agl": (0, 60_000), "route_ceiling_ft_agl": (0, 60_000), "altimeter_inhg": (26, 32),
    "thunderstorm_nm": (0, 300), "fuel_usable_gal": (0, 500), "fuel_burn_gal_h": (0.1, 300), "meter_h": (0, 100_000),
}  # fmt: skip
"""What a worksheet accepts; a perturbed value outside is held at the bound."""

_SAID: Final[Mapping[str, str]] = {
    "temperature_c": "temperature", "dew_point_c": "dew point", "wind_kt": "wind", "gust_kt": "gust",
    "wind_from_deg": "wind direction", "visibility_sm": "visibility", "route_visibility_sm": "visibility on the way",
    "ceiling_ft_agl": "ceiling", "lowest_cloud_ft_agl": "lowest cloud", "route_ceiling_ft_agl": "ceiling on the way",
    "altimeter_inhg": "altimeter setting", "thunderstorm_nm": "distance of the thunderstorm",
    "fuel_usable_gal": "usable fuel", "fuel_burn_gal_h": "fuel burn", "meter_h": "hour meter",
    "station_loads_lb": "weights aboard", "sleep_min": "sleep", "landing_at_min": "duration of the flight",
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Perturbed:
    """Copies of a worksheet with errors.

    Attributes:
        columns: The changed columns, one row a copy.
        drawn: Input -> (copies,) the error drawn for it, before anything impossible was put right.
        clipped: Sentences about what could not be and was held at its worse side, with how often.
    """

    columns: Columns
    drawn: Mapping[str, FloatArray]
    clipped: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Robustness:
    """How often the decision would be another one.

    Attributes:
        copies: Copies scored.
        by_level: Level -> share of the copies at it, every level of the policy, best first.
        by_decision: Decision -> share.
        worse: Share with a worse decision than the worksheet's own.
        fragile: A go (or a go with sign-off) of which more than ``allowed`` falls.
        allowed: That share.
        by_input: Input -> share of the variance of falling that it explains by itself, largest first; empty where
            nothing falls or everything does.
        sentence: What a pilot would say of it.
        clipped: What was held at its worse side, in sentences.
    """

    copies: int
    by_level: Mapping[str, float]
    by_decision: Mapping[Decision, float]
    worse: float
    fragile: bool
    allowed: float
    by_input: Mapping[str, float]
    sentence: str
    clipped: tuple[str, ...]


def robustness(
    base: Base, errors: Errors | None = None, *, copies: int = COPIES, seed: int = SEED, allowed: float = 0.10
) -> Robustness:
    """Score many copies of the worksheet, each with errors of its own.

    Args:
        base: The worksheet, from ``base_of``.
        errors: How far entries may be from the truth; usual ones where not given.
        copies: How many.
        seed: Of the random numbers.
        allowed: Share of worse copies above which a decision that is no no-go is called fragile (the default is common
            practice, no source).

    Returns:
        The shares. The decision itself is never touched.

    Raises:
        ValueError: ``copies`` is below 1, or ``allowed`` is no share.
    """
    if copies < 1:
        raise ValueError(f"copies must be at least 1; found {copies}")
    if not 0.0 <= allowed <= 1.0:
        raise ValueError(f"allowed must be a share from 0 to 1; found {allowed}")
    made = perturbed(base, Errors() if errors is None else errors, copies=copies, seed=seed)
    scores = scored(base, made.columns)[1] if made.columns else base.scores
    levels = base.prepared.policy.levels
    worse = scores.decision > base.decision
    share = float(worse.mean())
    fragile = base.decision != int(Decision.no_go) and share > allowed
    by_input = _explained(made.drawn, worse) if made.columns else {}
    return Robustness(
        copies,
        {level.name: _share(scores.level, i) for i, level in enumerate(levels)},
        {decision: _share(scores.decision, int(decision)) for decision in Decision},
        share,
        fragile,
        allowed,
        by_input,
        _sentence(base, copies, share, fragile=fragile, by_input=by_input),
        made.clipped,
    )


def _share(found: NDArray[np.int8], wanted: int) -> float:
    return float((found == wanted).mean())


# -- copies -----------------------------------------------------------------------------------------------------------


def perturbed(base: Base, errors: Errors, *, copies: int = COPIES, seed: int = SEED) -> Perturbed:
    """Copies of the worksheet with errors, as columns.

    An entry that is blank, too old or "none" has no value to be wrong and stays as it is.

    Args:
        base: The worksheet.
        errors: How far entries may be from the truth.
        copies: How many.
        seed: Of the random numbers; each input draws from a stream of its own, so that another error of one input
            leaves the others' draws alone.

    Returns:
        The copies.
    """
    maker = _Maker(base, copies, seed)
    for name, error in errors.given().items():
        maker.disturb(name, error)
    maker.put_right()
    return Perturbed(maker.columns, maker.drawn, tuple(maker.clipped))


class _Maker:
    def __init__(self, base: Base, copies: int, seed: int) -> None:
        self.base, self.copies = base, copies
        names = list(Errors().given())
        self.streams = dict(zip(names, np.random.default_rng(seed).spawn(len(names)), strict=True))
        self.columns: Columns = {}
        self.drawn: dict[str, FloatArray] = {}
        self.clipped: list[str] = []

    def draw(self, name: str, error: Error, value: float) -> FloatArray:
        """(copies,) errors, in the unit of the input."""
        stream, size = self.streams[name], error.size * (value if error.relative else 1.0)
        drawn = stream.standard_normal(self.copies) if error.normal else stream.uniform(-1.0, 1.0, self.copies)
        self.drawn[name] = drawn * size
        return self.drawn[name]

    def disturb(self, name: str, error: Error) -> None:
        if error.size == 0.0:
            return
        special = {"station_loads_lb": self.loads, "sleep_min": self.sleep, "landing_at_min": self.landing}
        if name in special:
            special[name](name, error)
            return
        value = self.base.value(name) if name in self.base.known else _NAN
        if np.isfinite(value):
            self.columns[name] = value + self.draw(name, error, value)

    def loads(self, name: str, error: Error) -> None:
        """All weights aboard are off together, as the same people say them all; an empty seat stays empty."""
        loads = self.base.columns["station_loads_load_lb"]
        occupied = loads > 0.0
        if "station_loads" in self.base.known and occupied.any():
            off = self.draw(name, error, 1.0)[:, None]
            moved = np.maximum(np.repeat(loads, self.copies, axis=0) + off * occupied, 0.0)
            self.columns["station_loads_load_lb"] = np.minimum(moved, 1_000.0)

    def sleep(self, name: str, error: Error) -> None:
        count = self.base.value("sleeps_count")
        if np.isnan(count) or count == 0.0:
            return
        half = self.draw(name, error, 1.0)[:, None] * (_SECONDS_PER_MIN / 2.0)
        half = np.rint(half)
        self.columns["sleeps_start_at"] = np.repeat(self.base.columns["sleeps_start_at"], self.copies, axis=0) - half
        self.columns["sleeps_end_at"] = np.repeat(self.base.columns["sleeps_end_at"], self.copies, axis=0) + half

    def landing(self, name: str, error: Error) -> None:
        landing, take_off = self.base.value("landing_at"), self.base.value("take_off_at")
        if np.isfinite(landing) and np.isfinite(take_off):
            moved = landing + np.rint(self.draw(name, error, 1.0) * _SECONDS_PER_MIN)
            self.columns["landing_at"] = np.minimum(np.maximum(moved, take_off + 60.0), take_off + 12 * 3_600.0)

    # -- what cannot be -----------------------------------------------------------------------------------------------

    def held(self, name: str, low: float | FloatArray, high: float | FloatArray, said: str) -> None:
        """Hold a column between two values, and say how often that was needed."""
        values = self.columns[name]
        put = np.minimum(np.maximum(values, low), high)
        times = int((put != values).sum())
        if times:
            self.clipped.append(f"{said} in {times} of {self.copies} copies.")
        self.columns[name] = put

    def at(self, name: str) -> FloatArray:
        """A column of the copies, or the worksheet's own value in each."""
        return self.columns.get(name, np.full(self.copies, self.base.value(name)))

    def put_right(self) -> None:
        """Hold what cannot be at its worse side: saturated air, a gust as strong as the wind, the lower cloud."""
        for name, (low, high) in _BOUNDS.items():
            if name in self.columns:
                self.held(name, low, high, f"The {_SAID[name]} was held within what a worksheet accepts")
        if "wind_from_deg" in self.columns:
            self.columns["wind_from_deg"] = np.mod(self.columns["wind_from_deg"], 360.0)
        self._air()
        self._wind_and_cloud()
        self._meter_and_fuel()
        if "sleeps_start_at" in self.columns:
            self._sleeps()

    def _air(self) -> None:
        if not {"temperature_c", "dew_point_c"} & self.columns.keys():
            return
        temperature, dew_point = self.at("temperature_c"), self.at("dew_point_c")
        if "dew_point_c" in self.columns:
            above = "The dew point came out above the temperature and was taken as equal to it, saturated air,"
            self.held("dew_point_c", -_INF, np.where(np.isnan(temperature), _INF, temperature), above)
        else:
            below = "The temperature came out below the dew point and was taken as equal to it, saturated air,"
            self.held("temperature_c", np.where(np.isnan(dew_point), -_INF, dew_point), _INF, below)

    def _wind_and_cloud(self) -> None:
        gust = self.base.value("gust_kt")
        if np.isfinite(gust) and {"wind_kt", "gust_kt"} & self.columns.keys():
            self.columns["gust_kt"] = self.at("gust_kt")
            wind = self.at("wind_kt")
            below = "The gust came out below the wind and was taken as strong as the wind"
            self.held("gust_kt", np.where(np.isnan(wind), -_INF, wind), _INF, below)
        lowest, ceiling = self.base.value("lowest_cloud_ft_agl"), self.base.value("ceiling_ft_agl")
        if (
            np.isfinite(lowest)
            and np.isfinite(ceiling)
            and {"ceiling_ft_agl", "lowest_cloud_ft_agl"} & set(self.columns)
        ):
            if lowest == ceiling:  # one cloud, told twice: it has one error
                self.columns["lowest_cloud_ft_agl"] = self.at("ceiling_ft_agl")
            self.columns["lowest_cloud_ft_agl"] = self.at("lowest_cloud_ft_agl")
            above = "The lowest cloud came out above the ceiling and was taken at the ceiling"
            self.held("lowest_cloud_ft_agl", -_INF, self.at("ceiling_ft_agl"), above)

    def _meter_and_fuel(self) -> None:
        inspected = self.base.value("last_inspection_at_h")
        if "meter_h" in self.columns and np.isfinite(inspected):
            self.held("meter_h", inspected, _INF, "The meter came out below the last inspection and was held there")
        aircraft = self.base.prepared.type_of(self.base.sheet)
        if "fuel_usable_gal" in self.columns and aircraft is not None:
            full = "Usable fuel came out above what the tanks hold and was taken as full"
            self.held("fuel_usable_gal", -_INF, float(aircraft.fuel.usable_gal), full)

    def _sleeps(self) -> None:
        """A sleep cannot go on after now, run into the one before it, or end before it began: it is cut shorter."""
        starts, ends = self.columns["sleeps_start_at"], self.columns["sleeps_end_at"]
        count = int(self.base.value("sleeps_count"))
        order = np.argsort(self.base.columns["sleeps_start_at"][0, :count], kind="stable")
        now, before, cut = self.base.at.timestamp(), np.full(self.copies, -_INF), np.zeros(self.copies, np.bool_)
        for i in order:
            first, last = self.base.columns["sleeps_start_at"][0, i], self.base.columns["sleeps_end_at"][0, i]
            middle = np.floor((first + last) / 2.0)
            longest = np.minimum(ends[:, i], now)
            end = np.maximum(longest, middle + _LEAST_SLEEP_S / 2.0)
            end = np.where(end > now, np.maximum(last, middle), end)
            start = np.minimum(np.maximum(starts[:, i], before), end - _LEAST_SLEEP_S)
            start = np.where(start < before, np.maximum(before, first), start)
            end = np.maximum(end, start + _LEAST_SLEEP_S)
            cut |= (start != starts[:, i]) | (end != ends[:, i])
            starts[:, i], ends[:, i], before = start, end, end
        times = int(cut.sum())
        if times:
            self.clipped.append(
                f"A sleep was cut where it ran past now or into another one, or came out empty in {times} of "
                f"{self.copies} copies."
            )


# -- which input ------------------------------------------------------------------------------------------------------


def first_order(inputs: Mapping[str, FloatArray], output: FloatArray, classes: int = _CLASSES) -> dict[str, float]:
    """The share of the variance of an output that each input explains by itself.

    Args:
        inputs: Name -> (n,) values drawn independently of each other.
        output: (n,) what came of them.
        classes: Classes of equal size along each input; many blur nothing and need many values.

    Returns:
        Name -> first-order index, 0 to 1, largest first. Empty where the output does not vary.

    Raises:
        ValueError: Fewer than two values a class.

    Source: the first-order index V(E[Y|X]) / V(Y) (Saltelli et al. 2008, from memory), estimated as the correlation
    ratio of classes less what chance alone would give it (epsilon squared, Kelley 1935, from memory).
    """
    if output.size < 2 * classes:
        raise ValueError(f"{classes} classes need at least {2 * classes} values; found {output.size}")
    total = float(((output - output.mean()) ** 2).sum())
    if total == 0.0:
        return {}
    found = {name: _index(values, output, total, classes) for name, values in inputs.items()}
    return dict(sorted(found.items(), key=lambda each: -each[1]))


def _index(values: FloatArray, output: FloatArray, total: float, classes: int) -> float:
    ordered = output[np.argsort(values, kind="stable")]
    parts = np.array_split(ordered, classes)
    within = float(sum(((part - part.mean()) ** 2).sum() for part in parts))
    freedom = output.size - classes
    explained = 1.0 - (within / freedom) / (total / (output.size - 1))
    return float(np.maximum(explained, 0.0))


def _explained(drawn: Mapping[str, FloatArray], worse: NDArray[np.bool_]) -> dict[str, float]:
    if worse.size < 2 * _CLASSES:
        return {}
    return first_order(drawn, np.where(worse, 1.0, 0.0))


# -- words ------------------------------------------------------------------------------------------------------------


def _sentence(base: Base, copies: int, share: float, *, fragile: bool, by_input: Mapping[str, float]) -> str:
    decision = Decision(base.decision)
    if decision is Decision.no_go:
        return "It is no-go as entered; errors of the entries do not change that."
    held = _percent(1.0 - share)
    said = f"{decision.phrase} in {held} of {copies:,} copies with the usual errors of the entries."
    if not fragile:
        return said
    names = [_SAID[name] for name, part in by_input.items() if part > 0.0][:1]
    by = f" What makes it so, most of all: {names[0]}." if names else ""
    return f"Fragile: {decision.phrase.lower()} in only {held} of {copies:,} copies.{by}"


def _percent(share: float) -> str:
    """Never 100 % where one copy fell, never 0 % where one held."""
    if 0.99 < share < 1.0:  # noqa: PLR2004  - where whole percent would say "all"
        return "more than 99 %"
    if 0.0 < share < 0.01:  # noqa: PLR2004  - where whole percent would say "none"
        return "less than 1 %"
    return f"{round(share * 100)} %"
