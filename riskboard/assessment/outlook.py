"""What the weather entries would read at a later take-off, as far as somebody has said: never better than was said.

While the observation may still count, the worse of it and the forecast lines for the flight counts. After that the
lines alone count, over the whole time from take-off to an hour after landing (or to the end of the reserve, if that is
longer); what no line states is unknown. Between the observation and the first line, or two lines, both count
and the worse one is taken: nothing is ever interpolated toward the better. Temperature and dew point have no single
worse end, so the lowest and the highest said are both given, and whoever asks tries both.

The reading of lines is that of ``measures/register_forecast.py``: a prevailing line that does not state a quantity
keeps what an earlier one said, a temporary line counts fully and only in what it states.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from riskboard.assessment.variations import Base
from riskboard.measures.known import limited
from riskboard.words import LineKind, Precipitation
from riskboard.worksheet.columns import Columns, FloatArray

if TYPE_CHECKING:
    from riskboard.worksheet.fact import FactClock

__all__ = ["CARRIED", "FOLLOWED", "Outlook", "outlook"]

_AFTER_LANDING_S: Final = 3_600.0
"""As the measures of the forecast count it."""
_MINUTE_S: Final = 60.0
_HOUR_S: Final = 3_600.0
_NAN: Final = float("nan")
_INF: Final = float("inf")
_PREVAILING: Final = float(list(LineKind).index(LineKind.prevailing))
_MIST_BELOW_SM: Final = 6.0
"""Mist is reported up to 6 SM (FMH-1) or 5,000 m (ICAO Annex 3), from memory; "more than 6 SM" is kept as 6."""
_NO_FREEZING_ABOVE_C: Final = 3.0
"""Freezing precipitation needs a surface at or below 0 C; three degrees of room: common practice, no source."""
_FALL_INHG_H: Final = 0.06
"""A fall that is remarked as rapid (FMH-1, PRESFR: 0.06 inch an hour or more), taken against the flight each hour."""
_MOST_FALL_INHG: Final = 0.30
"""A deep low passing within half a day: common practice, no source."""
_LOWEST_INHG: Final = 26.0

CARRIED: Final = ("turbulence", "station_distance_nm", "altimeter_inhg")
"""Entries taken to stay: turbulence is asked as reported or forecast, the station stays where it is, and the altimeter
setting is let fall as fast as a rapid fall goes."""

_WORSE_HIGH: Final = ("wind_kt", "gust_kt", "thunderstorm", "precipitation")
_WORSE_LOW: Final = ("visibility_sm", "ceiling_ft_agl", "lowest_cloud_ft_agl")

FOLLOWED: Final = (
    "wind_kt", "gust_kt", "wind_from_deg", "wind_variable_from_deg", "wind_variable_to_deg", "visibility_sm",
    "ceiling_ft_agl", "lowest_cloud_ft_agl", "route_visibility_sm", "route_ceiling_ft_agl", "temperature_c",
    "dew_point_c", "precipitation", "freezing_precipitation", "fog_or_mist", "thunderstorm_nm", *CARRIED,
)  # fmt: skip
"""Every weather entry that a later take-off changes."""


@dataclass(frozen=True, eq=False)
class Outlook:
    """The weather entries at n later take-offs, encoded as columns; NaN is unknown.

    Attributes:
        entries: Each entry of :data:`FOLLOWED` -> (n,), of temperature and dew point the lowest said.
        highest: ``temperature_c`` and ``dew_point_c`` -> (n,) the highest said.
        fresh: Each entry -> (n,) whether the forecast stands in for an observation that may no longer count.
        true_at: Each entry -> (n,) when it is taken to be true, UNIX s; NaN where it is unknown.
    """

    entries: Columns
    highest: Columns
    fresh: dict[str, NDArray[np.bool_]]
    true_at: Columns


@dataclass(frozen=True, eq=False)
class _Lines:
    """The forecast lines in order of time, widened over gaps, each quantity as the line leaves it.

    Attributes:
        start: (lines,) when a line begins to count, UNIX s.
        end: (lines,) when it ceases.
        main: (lines,) whether it is prevailing.
        observed: (lines,) whether it is the observation, which counts as a line while it may count at all.
        values: Quantity -> (lines,); NaN where a line leaves it open.
    """

    start: FloatArray
    end: FloatArray
    main: NDArray[np.bool_]
    observed: NDArray[np.bool_]
    values: Columns


_QUANTITIES: Final = (*_WORSE_HIGH, *_WORSE_LOW, "wind_from_deg", "temperature_c", "dew_point_c")


def outlook(base: Base, take_off_at: FloatArray, landing_at: FloatArray) -> Outlook:
    """The weather entries at later take-offs.

    Args:
        base: The worksheet.
        take_off_at: (n,) UNIX s, none before the moment of decision.
        landing_at: (n,) UNIX s.

    Returns:
        The entries.
    """
    reader = _Reader(base, take_off_at, landing_at)
    return reader.outlook()


class _Reader:
    def __init__(self, base: Base, take_off_at: FloatArray, landing_at: FloatArray) -> None:
        self.base = base
        self.start = take_off_at
        reserve_min = base.value("reserve_min")
        after = _AFTER_LANDING_S if np.isnan(reserve_min) else float(np.maximum(_AFTER_LANDING_S, reserve_min * 60.0))
        self.until = landing_at + after
        self.life_s = base.prepared.policy.weather_age_max_min * _MINUTE_S
        self.lines = _lines(base)
        self.rows = take_off_at.size

    # -- lines --------------------------------------------------------------------------------------------------------

    def seen(self, field: str) -> tuple[float, float]:
        """The observed value, NaN where blank or too old, and when it was true."""
        value = self.base.value(field) if field in self.base.known else _NAN
        return value, _true_at_s(self.base, field)

    def counts(self, field: str) -> NDArray[np.bool_]:
        """(n,) may the observation of this entry, or the question of it, still count at take-off?"""
        true_at = _true_at_s(self.base, field)
        now = self.base.at.timestamp()
        ends = now if np.isnan(true_at) else float(np.maximum(true_at + self.life_s, now))
        return self.start <= ends

    def said(self, quantity: str) -> tuple[FloatArray, FloatArray]:
        """(n,) lowest and (n,) highest that the lines say of a quantity during each flight; NaN where one is silent."""
        lines = self.lines
        inside = (lines.start < self.until[:, None]) & (lines.end > self.start[:, None])
        value = lines.values[quantity]
        silent = np.isnan(value)
        open_ = (inside & (lines.main & silent)).any(axis=1) | ~self.covered()
        told = inside & ~silent
        low = np.where(told, value, _INF).min(axis=1, initial=_INF)
        high = np.where(told, value, -_INF).max(axis=1, initial=-_INF)
        unknown = open_ | ~told.any(axis=1)
        return np.where(unknown, _NAN, low), np.where(unknown, _NAN, high)

    def said_by_any(self, quantity: str) -> tuple[FloatArray, FloatArray]:
        """As :meth:`said`, of a quantity that any kind of line may state: together they must cover the whole flight."""
        lines = self.lines
        value = lines.values[quantity]
        stated = ~np.isnan(value)
        inside = (lines.start < self.until[:, None]) & (lines.end > self.start[:, None]) & stated
        reached = self.start.copy()
        for i in np.argsort(lines.start, kind="stable"):
            if stated[i]:
                reached = np.where(lines.start[i] <= reached, np.maximum(reached, lines.end[i]), reached)
        whole = reached >= self.until
        low = np.where(inside, value, _INF).min(axis=1, initial=_INF)
        high = np.where(inside, value, -_INF).max(axis=1, initial=-_INF)
        return np.where(whole, low, _NAN), np.where(whole, high, _NAN)

    def touched(self, quantity: str, *, high: bool) -> FloatArray:
        """(n,) the worst that forecast lines during the flight state; the neutral infinity where none does."""
        lines = self.lines
        inside = (lines.start < self.until[:, None]) & (lines.end > self.start[:, None]) & ~lines.observed
        value = lines.values[quantity]
        told = inside & ~np.isnan(value)
        if high:
            return np.asarray(np.where(told, value, -_INF).max(axis=1, initial=-_INF))
        return np.asarray(np.where(told, value, _INF).min(axis=1, initial=_INF))

    def covered(self) -> NDArray[np.bool_]:
        """(n,) do prevailing lines, widened over gaps, cover the whole flight?"""
        reached = self.start.copy()
        for start, end, main in zip(self.lines.start, self.lines.end, self.lines.main, strict=True):
            if main:
                reached = np.where(start <= reached, np.maximum(reached, end), reached)
        return np.asarray(reached >= self.until)

    # -- entries ------------------------------------------------------------------------------------------------------

    def worse_high(self, field: str, *, none: float = _NAN) -> FloatArray:
        """An entry that gets worse upward; ``none`` is what the answer "none" weighs."""
        value, _ = self.seen(field)
        weighed = none if value == _INF else value
        both = np.where(np.isnan(weighed), _NAN, np.maximum(weighed, self.touched(field, high=True)))
        return np.where(self.counts(field), both, self.said(field)[1])

    def worse_low(self, field: str, *, quantity: str | None = None) -> FloatArray:
        """An entry that gets worse downward; "none" is +inf, the best end."""
        value, _ = self.seen(field)
        told = quantity or field
        both = np.where(np.isnan(value), _NAN, np.minimum(value, self.touched(told, high=False)))
        return np.where(self.counts(field), both, self.said(told)[0])

    def outlook(self) -> Outlook:
        entries: Columns = {}
        self._wind(entries)
        self._cloud_and_visibility(entries)
        self._moisture(entries)
        highest = self._air(entries)
        entries["freezing_precipitation"] = self._freezing()
        self._carried(entries)
        fresh, true_at = {}, {}
        for field in FOLLOWED:
            later = ~self.counts(field)
            fresh[field] = later & ~np.isnan(entries[field])
            moment = np.full(self.rows, _true_at_s(self.base, field))
            true_at[field] = np.where(np.isnan(entries[field]), _NAN, np.where(later, self.start, moment))
        return Outlook(entries, highest, fresh, true_at)

    def _wind(self, entries: Columns) -> None:
        wind = self.worse_high("wind_kt")
        gust = self.worse_high("gust_kt", none=0.0)
        # "No gust" weighs nothing; a gust below the wind that another line brings is as strong as that wind.
        entries["wind_kt"] = wind
        entries["gust_kt"] = np.where(gust <= 0.0, _INF, np.maximum(gust, wind))
        entries["gust_kt"] = np.where(np.isnan(gust), _NAN, entries["gust_kt"])
        self._direction(entries)

    def _direction(self, entries: Columns) -> None:
        """Where lines or observation differ in direction, or nobody states one, the wind may come from anywhere."""
        value, _ = self.seen("wind_from_deg")
        counts = self.counts("wind_from_deg")
        low, high = self.touched("wind_from_deg", high=False), self.touched("wind_from_deg", high=True)
        stated = np.isfinite(low) & np.isfinite(high)
        agree = (low == high) & stated
        silent = ~stated & (high == -_INF)
        both = np.where(silent | (agree & (low == value)), value, _INF)
        both = np.where(np.isnan(value), _NAN, both)
        told_low, told_high = self.said("wind_from_deg")
        later = np.where((told_low == told_high) & np.isfinite(told_low), told_low, _INF)
        entries["wind_from_deg"] = np.where(counts, both, later)
        for end in ("wind_variable_from_deg", "wind_variable_to_deg"):
            seen, _ = self.seen(end)
            # A range that was seen counts while the direction does; "variable" and a forecast have none of their own.
            entries[end] = np.where(counts & (entries["wind_from_deg"] == value), seen, _INF)
            entries[end] = np.where(counts & np.isnan(seen), _NAN, entries[end])

    def _cloud_and_visibility(self, entries: Columns) -> None:
        ceiling = entries["ceiling_ft_agl"] = self.worse_low("ceiling_ft_agl")
        visibility = entries["visibility_sm"] = self.worse_low("visibility_sm")
        lowest = np.minimum(self.worse_low("lowest_cloud_ft_agl"), np.where(np.isnan(ceiling), _INF, ceiling))
        entries["lowest_cloud_ft_agl"] = lowest
        entries["route_visibility_sm"] = self._on_the_way("route_visibility_sm", "visibility_sm", visibility)
        entries["route_ceiling_ft_agl"] = self._on_the_way("route_ceiling_ft_agl", "ceiling_ft_agl", ceiling)

    def _on_the_way(self, field: str, at_field: str, later: FloatArray) -> FloatArray:
        """The way stays as much worse than the field as it was seen to be: common practice, no source."""
        route, here = self.seen(field)[0], self.seen(at_field)[0]
        both = self.worse_low(field, quantity=at_field)
        if np.isnan(route) or np.isnan(here):
            apart = np.full(self.rows, _NAN)
        elif here == _INF:
            apart = np.minimum(later, route)
        else:
            apart = limited(later - float(np.maximum(here - route, 0.0)), 0.0, _INF)
        return np.where(self.counts(field), both, np.where(np.isnan(later), _NAN, apart))

    def _moisture(self, entries: Columns) -> None:
        entries["precipitation"] = self.worse_high("precipitation")
        fog = np.where(self.touched("visibility_sm", high=False) < _MIST_BELOW_SM, 1.0, 0.0)
        seen, _ = self.seen("fog_or_mist")
        told = self.said("visibility_sm")[0]
        later = np.where(np.isnan(told), _NAN, told < _MIST_BELOW_SM)
        both = np.where(np.isnan(seen), _NAN, np.maximum(seen, fog))
        entries["fog_or_mist"] = np.where(self.counts("fog_or_mist"), both, later)
        storm = self.said("thunderstorm")[1]
        seen, _ = self.seen("thunderstorm_nm")
        later = np.where(np.isnan(storm), _NAN, np.where(storm > 0.0, 0.0, _INF))
        entries["thunderstorm_nm"] = np.where(self.counts("thunderstorm_nm"), seen, later)

    def _air(self, entries: Columns) -> Columns:
        highest: Columns = {}
        for field in ("temperature_c", "dew_point_c"):
            value, _ = self.seen(field)
            low, high = self.said_by_any(field)
            counts = self.counts(field)
            both_low = np.minimum(value, self.touched(field, high=False))
            both_high = np.maximum(value, self.touched(field, high=True))
            entries[field] = np.where(counts, both_low, low)
            highest[field] = np.where(counts, both_high, high)
        return highest

    def _freezing(self) -> FloatArray:
        """Ruled out where no precipitation is forecast, or where it stays too warm; else nobody has said."""
        seen, _ = self.seen("freezing_precipitation")
        rain, coldest = self.said("precipitation")[1], self.said_by_any("temperature_c")[0]
        dry = float(list(Precipitation).index(Precipitation.none))
        later = np.where((rain == dry) | (coldest > _NO_FREEZING_ABOVE_C), 0.0, _NAN)
        return np.where(self.counts("freezing_precipitation"), seen, later)

    def _carried(self, entries: Columns) -> None:
        for field in CARRIED:
            value, true_at = self.seen(field)
            entries[field] = np.full(self.rows, value)
            if field == "altimeter_inhg":
                hours = np.maximum(self.start - true_at, 0.0) / _HOUR_S
                fall = np.minimum(hours * _FALL_INHG_H, _MOST_FALL_INHG)
                low = np.maximum(np.floor((value - fall) * 100.0 + 1e-6) / 100.0, _LOWEST_INHG)
                entries[field] = np.where(self.counts(field), value, low)


def _true_at_s(base: Base, field: str) -> float:
    clock: FactClock | None = base.sheet.clocks.get(field)
    moment = clock.true_at if clock is not None and clock.true_at is not None else base.sheet.weather.observed_at
    return _NAN if moment is None else moment.timestamp()


def _lines(base: Base) -> _Lines:
    """The lines in order of time, the observation among them; each prevailing one is widened to meet its neighbours.

    In a gap, then, what stood before it and what comes after it both count.
    """
    columns = base.columns
    count = base.value("forecast_lines_count")
    used = 0 if np.isnan(count) else int(count)
    parts = {name: columns[f"forecast_lines_{name}"][0, :used] for name in ("start_at", "end_at", "kind", *_QUANTITIES)}
    seen_at = base.value("observed_at")
    if not np.isnan(seen_at):
        life_s = base.prepared.policy.weather_age_max_min * _MINUTE_S
        own = {"start_at": seen_at, "end_at": seen_at + life_s, "kind": _PREVAILING, **_observed(base)}
        parts = {name: np.append(values, own[name]) for name, values in parts.items()}
    order = np.argsort(parts["start_at"], kind="stable")
    parts = {name: values[order] for name, values in parts.items()}
    observed = np.asarray(order == used)
    main = parts["kind"] == _PREVAILING
    values = {name: _held(name, parts[name], main & ~observed) for name in _QUANTITIES}
    return _Lines(*_widened(parts["start_at"], parts["end_at"], main), main, observed, values)


def _observed(base: Base) -> dict[str, float]:
    """The observation in the quantities of a line; a thunderstorm anywhere near is one."""
    own = {name: base.value(name) for name in _QUANTITIES if name != "thunderstorm"}
    storm = base.value("thunderstorm_nm")
    return own | {"thunderstorm": _NAN if np.isnan(storm) else float(storm != _INF)}


def _held(quantity: str, stated: FloatArray, main: NDArray[np.bool_]) -> FloatArray:
    """A quantity as each line leaves it: a prevailing line that is silent keeps what an earlier one said.

    Not so temperature and dew point: they change by the hour, and a line that is silent on them says nothing of them.
    """
    value = np.where(stated == _INF, 0.0, stated) if quantity == "gust_kt" else stated.copy()
    held = _NAN
    for i in np.flatnonzero(main):
        held = held if np.isnan(value[i]) else float(value[i])
        if quantity not in {"temperature_c", "dew_point_c"}:
            value[i] = held
    return value


def _widened(start: FloatArray, end: FloatArray, main: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
    """Starts and ends of the lines with the gaps between prevailing ones closed from both sides."""
    wide_start, wide_end = start.copy(), end.copy()
    reached, last = _NAN, -1
    for i in np.flatnonzero(main):
        if last >= 0 and start[i] > reached:
            wide_start[i] = reached
            wide_end[last] = np.maximum(wide_end[last], start[i])
        if last < 0 or end[i] > reached:
            reached, last = float(end[i]), int(i)
    return wide_start, wide_end
