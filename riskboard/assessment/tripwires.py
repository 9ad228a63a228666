"""Tripwires: for each input that somebody can still observe, the value at which the decision gets worse.

Every value within reason is tried, at the input's practical resolution and in both directions, all inputs in one call
of the engine. So a tripwire is no estimate: the engine said so of that value, of the one before it, and of each beyond
it that the sentence speaks of. What moves along with an input (a gust is never below the wind) is stated with it.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import groupby
from typing import Final, Literal
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from riskboard.assessment.deciding import deciding_clauses
from riskboard.assessment.engine import Scores
from riskboard.assessment.variations import Base, drivers_of_airframe, scored_together
from riskboard.words import NONE, Decision
from riskboard.worksheet.columns import Columns, FloatArray
from riskboard.worksheet.entries import StationLoad
from riskboard.worksheet.fact import FactInfo
from riskboard.worksheet.model import FIELD_PART, PARTS, Worksheet

__all__ = ["INPUTS", "Input", "Run", "Tripwire", "Tripwires", "tripwires"]

Way = Literal["up", "down"]
MATTER_MOST: Final = 6
"""Tripwires that go to the screen and to the kneeboard card."""

_INF: Final = float("inf")
_MINUTE_S: Final = 60.0
_LONGEST_FLIGHT_S: Final = 12 * 3600.0
_LATER_S: Final = 4 * 3600.0
_NOISE: Final = 1e-9
ADDED_WEIGHT: Final = "added_weight_lb"


@dataclass(frozen=True, slots=True)
class Input:
    """One number that somebody can still observe.

    Attributes:
        field: Entry of the worksheet, or ``added_weight_lb``.
        name: How a pilot says it.
        unit: Unit as said; "" for a rating or a time.
        step: Practical resolution.
        low: Lowest value within reason.
        high: Highest value within reason.
        usual: A change that a flight may well bring; how near a tripwire is is measured in it. Common practice, no
            source.
        up: Word for "or more" in this input.
        down: Word for "or less".
        none: What the answer "none" is tried from: the end it lies at.
        decimals: Of the value as said.
    """

    field: str
    name: str
    unit: str
    step: float
    low: float
    high: float
    usual: float
    up: str = "or more"
    down: str = "or less"
    none: float = float("nan")
    decimals: int = 0


INPUTS: Final = (
    Input("wind_kt", "Wind", "kt", 1, 0, 60, 5),
    Input("gust_kt", "Gust", "kt", 1, 0, 80, 5),
    Input("ceiling_ft_agl", "Ceiling", "ft", 100, 0, 10_000, 1_000, "or higher", "or lower", 10_100),
    Input("lowest_cloud_ft_agl", "Lowest cloud", "ft", 100, 0, 10_000, 1_000, "or higher", "or lower", 10_100),
    Input("route_ceiling_ft_agl", "Ceiling on the way", "ft", 100, 0, 10_000, 1_000, "or higher", "or lower", 10_100),
    Input("visibility_sm", "Visibility", "SM", 0.5, 0, 10, 2, decimals=1),
    Input("route_visibility_sm", "Visibility on the way", "SM", 0.5, 0, 10, 2, decimals=1),
    Input("temperature_c", "Temperature", "°C", 1, -40, 50, 4, "or warmer", "or colder"),
    Input("dew_point_c", "Dew point", "°C", 1, -40, 40, 3, "or higher", "or lower"),
    Input("altimeter_inhg", "Altimeter setting", "inHg", 0.01, 28.0, 31.2, 0.15, "or higher", "or lower", decimals=2),
    Input("thunderstorm_nm", "Thunderstorm", "NM", 1, 0, 60, 10, "or farther", "or nearer", 61),
    Input("fuel_usable_gal", "Usable fuel", "gal", 1, 0, 200, 3),
    Input("fuel_burn_gal_h", "Fuel burn", "gal/h", 1, 1, 60, 2),
    Input(ADDED_WEIGHT, "Added weight", "lb", 5, 0, 300, 25),
    Input("take_off_at", "Take-off", "", 300, 0, _INF, 1_800, "or later", "or earlier"),
    Input("landing_at", "Landing", "", 300, 0, _INF, 1_800, "or later", "or earlier"),
    Input("sleepiness_rating", "Sleepiness rating", "", 1, 1, 9, 2, "or higher", "or lower"),
    Input("stress_level", "Stress rating", "", 1, 1, 5, 2, "or higher", "or lower"),
    Input("pressure_felt", "Pressure felt", "", 1, 1, 5, 2, "or higher", "or lower"),
)
"""What is tried, in reading order. Bounds and usual changes: common practice, no source; steps follow the entries."""


@dataclass(frozen=True, slots=True)
class Run:
    """Values in a row at which the decision is worse than now.

    Attributes:
        first: The value nearest to the present one: the tripwire, in the units of its column.
        last: The farthest of the run.
        open: Whether the run goes on to the last value tried.
        decision: The decision at ``first``.
        clauses: The clauses that make it so there.
        stops_at: The first value of the run that is a no-go; None where none is, or where it is ``first``.
        stops_on: Whether every value tried from ``stops_at`` on is a no-go.
    """

    first: float
    last: float
    open: bool
    decision: Decision
    clauses: tuple[str, ...]
    stops_at: float | None
    stops_on: bool


@dataclass(frozen=True, eq=False)
class Tripwire:
    """One input, and what makes the decision worse in one direction.

    Attributes:
        input: The input.
        way: Toward higher or lower values.
        now: Its value now; +inf is the answer "none", 0 for added weight.
        run: The nearest values at which the decision is worse; None where there is none within reason.
        short: The last value before the run, of the same decision as now or a better one; None without a run.
        tried_to: The farthest value tried.
        sentence: What a pilot would say of it.
        start: Where the trying started: ``now``, or what the answer "none" is worth.
        health: Only the pilot and whoever must sign may see it.
        station: For added weight, the place where it is put.
    """

    input: Input
    way: Way
    now: float
    run: Run | None
    short: float | None
    tried_to: float
    sentence: str
    start: float
    health: bool = False
    station: str = ""

    @property
    def nearness(self) -> float:
        """How far the tripwire is, in usual changes of the input; infinite without one."""
        if self.run is None:
            return _INF
        return abs(self.run.first - self.start) / self.input.usual


@dataclass(frozen=True, eq=False)
class Tripwires:
    """The tripwires of one worksheet.

    Attributes:
        all: Each input and direction tried, nearest first, those without a tripwire last.
        left_out: Inputs that were not tried because nobody knows their value now.
        already: True where the decision is no-go already: nothing can make it worse.
    """

    all: tuple[Tripwire, ...]
    left_out: tuple[str, ...]
    already: bool
    _base: Base = field(repr=False)

    @property
    def six(self) -> tuple[Tripwire, ...]:
        """The six that matter most: the nearest, one for each input, those that speak of different clauses first."""
        found: dict[str, Tripwire] = {}
        for wire in self.all:
            if wire.run is not None:
                found.setdefault(wire.input.field, wire)
        seen: set[tuple[str, ...]] = set()
        first: list[Tripwire] = []
        rest: list[Tripwire] = []
        for wire in found.values():
            clauses = wire.run.clauses[:1] if wire.run else ()
            (rest if clauses in seen else first).append(wire)
            seen.add(clauses)
        return (*first, *rest)[:MATTER_MOST]

    def worksheet(self, wire: Tripwire, value: float) -> Worksheet:
        """The worksheet with the input of a tripwire at another value, and what moves along with it."""
        return changed_worksheet(self._base.sheet, wire.input.field, value, station=wire.station)


def tripwires(base: Base, inputs: Sequence[Input] = INPUTS) -> Tripwires:
    """Find every tripwire in one call of the engine.

    Args:
        base: The worksheet, from ``base_of``.
        inputs: What to try.

    Returns:
        The tripwires; the moment of decision stays as it is.
    """
    blocks = [block for each in inputs for block in _blocks(base, each)]
    tried = {block.input.field for block in blocks}
    left_out = tuple(each.name for each in inputs if each.field not in tried)
    already = base.decision == int(Decision.no_go)
    if not blocks or already:
        return Tripwires((), left_out, already, base)
    # Alike blocks lie together: only those that move the times ask where the sun stands.
    blocks.sort(key=_kind)
    groups = [list(group) for _, group in groupby(blocks, key=_kind)]
    _, scores = scored_together(base, [_together(base, group) for group in groups], keep=True)
    clauses = _Clauses(base, scores)
    found, start = [], 0
    for block in blocks:
        rows = slice(start, start + block.values.size)
        found += [wire for way in ("up", "down") if (wire := _wire(base, block, way, scores, clauses, rows))]
        start += block.values.size
    merged = _one_place_for_weight(found)
    merged.sort(key=lambda wire: (wire.nearness, -int(wire.run.decision) if wire.run else 0))
    return Tripwires(tuple(merged), left_out, already, base)


# -- what is tried ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Block:
    """The values tried of one input, downward from now and then upward, and the columns they change."""

    input: Input
    now: float
    start: float
    down: int
    values: FloatArray
    columns: Columns
    station: str = ""


def _blocks(base: Base, each: Input) -> Iterator[_Block]:
    if each.field == ADDED_WEIGHT:
        yield from _weight_blocks(base, each)
        return
    if each.field not in base.known:
        return
    now = base.value(each.field)
    if np.isnan(now):
        return
    low, high = _bounds(base, each)
    start = _from(base, each, now)
    below = _grid(start, low, -each.step, each)
    above = _grid(start, high, each.step, each) if now != _INF or each.field == "gust_kt" else np.empty(0)
    values = np.concatenate([below, above])
    if values.size:
        yield _Block(each, now, start, below.size, values, _moved_along(base, each.field, values))


def _from(base: Base, each: Input, now: float) -> float:
    """Where the trying starts; "no gust" is a gust as strong as the wind."""
    if now != _INF:
        return now
    return base.value("wind_kt") if each.field == "gust_kt" else each.none


def _bounds(base: Base, each: Input) -> tuple[float, float]:
    """How far an input can go, beside what is within reason."""
    low, high = each.low, each.high
    if each.field == "temperature_c":
        low = _higher(low, _entered(base, "dew_point_c"))
    elif each.field == "dew_point_c":
        high = _lower(high, _entered(base, "temperature_c"))
    elif each.field == "lowest_cloud_ft_agl":
        high = _lower(high, _entered(base, "ceiling_ft_agl"))
    elif each.field == "gust_kt":
        low = _higher(low, _entered(base, "wind_kt"))
    elif each.field == "fuel_usable_gal":
        aircraft = base.prepared.type_of(base.sheet)
        if aircraft is not None:
            high = _lower(high, float(aircraft.fuel.usable_gal))
    elif each.field == "take_off_at":
        low, high = base.at.timestamp(), _end_of_day(base)
    elif each.field == "landing_at":
        take_off = base.value("take_off_at")
        low, high = take_off + each.step, _lower(base.value("landing_at") + _LATER_S, take_off + _LONGEST_FLIGHT_S)
    return low, high


def _entered(base: Base, entry: str) -> float:
    """A number as entered, too old to count or not: a worksheet may not contradict it either way."""
    value = base.sheet.value(entry)
    return float(value) if isinstance(value, float | int) else _INF if value == NONE else float("nan")


def _higher(one: float, other: float) -> float:
    return one if np.isnan(other) or other <= one or other == _INF else other


def _lower(one: float, other: float) -> float:
    return one if np.isnan(other) or other >= one else other


def _end_of_day(base: Base) -> float:
    zone = ZoneInfo(base.sheet.plan.time_zone or "UTC")
    planned = base.sheet.plan.take_off_at or base.at
    local = planned.astimezone(zone)
    midnight = (local + timedelta(days=1)).replace(hour=0, minute=0, second=0, microsecond=0)
    return midnight.timestamp() - 1.0


def _grid(start: float, end: float, step: float, each: Input) -> FloatArray:
    """Whole multiples of the resolution strictly beyond ``start``, up to ``end``."""
    size = abs(step)
    if np.isnan(start) or np.isnan(end):
        return np.empty(0)
    if step > 0:
        first, last = np.floor(start / size + _NOISE) + 1.0, np.floor(end / size + _NOISE)
    else:
        first, last = np.ceil(start / size - _NOISE) - 1.0, np.ceil(end / size - _NOISE)
    count = (last - first) * (1.0 if step > 0 else -1.0) + 1.0
    if count < 1.0:
        return np.empty(0)
    found: FloatArray = (first + np.arange(count) * (1.0 if step > 0 else -1.0)) * size
    return np.asarray(np.round(found, 6)) if each.decimals else found


def _moved_along(base: Base, entry: str, values: FloatArray) -> Columns:
    """The input's column, and those of entries that cannot stay behind."""
    columns: Columns = {entry: values}
    if entry == "wind_kt":
        gust = base.value("gust_kt")
        columns["gust_kt"] = np.where(gust == _INF, _INF, np.maximum(values, gust))
    elif entry == "ceiling_ft_agl":
        columns["lowest_cloud_ft_agl"] = np.minimum(values, base.value("lowest_cloud_ft_agl"))
    elif entry == "take_off_at":
        columns["landing_at"] = values + (base.value("landing_at") - base.value("take_off_at"))
        zone = ZoneInfo(base.sheet.plan.time_zone or "UTC")
        offsets = [datetime.fromtimestamp(value, UTC).astimezone(zone).utcoffset() or timedelta(0) for value in values]
        known = np.isnan(base.value("utc_offset_s"))
        columns["utc_offset_s"] = np.array([np.nan if known else offset.total_seconds() for offset in offsets])
    return columns


def _weight_blocks(base: Base, each: Input) -> Iterator[_Block]:
    """More weight on each place in turn; the place where it hurts first is the one that counts."""
    aircraft = base.prepared.type_of(base.sheet)
    if aircraft is None or not base.prepared.needs_airframe:
        return
    values = _grid(0.0, each.high, each.step, each)
    for place, entry in enumerate(base.sheet.plan.station_loads or ()):
        if entry.load_lb is not None:
            loads = np.repeat(base.columns["station_loads_load_lb"], values.size, axis=0)
            loads[:, place] += values
            yield _Block(each, 0.0, 0.0, 0, values, {"station_loads_load_lb": loads}, entry.station)


def _kind(block: _Block) -> str:
    """What a block moves: the times, what the type looks at, or the rest."""
    if {"take_off_at", "landing_at"} & block.columns.keys():
        return "times"
    return "airframe" if block.columns.keys() & drivers_of_airframe() else "rest"


def _together(base: Base, blocks: Sequence[_Block]) -> Columns:
    """One set of columns for all blocks: each changes its own, and holds the others as they are."""
    changed = {name for block in blocks for name in block.columns}
    return {
        name: np.concatenate(
            [block.columns.get(name, np.repeat(base.columns[name], block.values.size, axis=0)) for block in blocks]
        )
        for name in sorted(changed)
    }


# -- what was found ---------------------------------------------------------------------------------------------------


class _Clauses:
    """The clauses that decide a row, worked out only for the rows that are asked for."""

    def __init__(self, base: Base, scores: Scores) -> None:
        self.base, self.scores = base, scores

    def __call__(self, row: int) -> tuple[str, ...]:
        return deciding_clauses(self.base.prepared, self.scores.block(slice(row, row + 1)))[0]


def _wire(
    base: Base, block: _Block, way: str, scores: Scores, clauses: Callable[[int], tuple[str, ...]], rows: slice
) -> Tripwire | None:
    """What the values of a block in one direction come to; None where none was tried that way."""
    part = slice(rows.start, rows.start + block.down) if way == "down" else slice(rows.start + block.down, rows.stop)
    values = block.values[: block.down] if way == "down" else block.values[block.down :]
    if not values.size:
        return None
    decisions = scores.decision[part]
    worse = np.flatnonzero(decisions > base.decision)
    run, short = None, None
    if worse.size:
        first = int(worse[0])
        run = _run(values, decisions, base.decision, first, clauses(part.start + first))
        short = float(values[first - 1]) if first else block.now
    direction: Way = "up" if way == "up" else "down"
    return Tripwire(
        block.input,
        direction,
        block.now,
        run,
        short,
        float(values[-1]),
        _sentence(base, block, direction, run, float(values[-1])),
        block.start,
        _health(block.input.field),
        block.station,
    )


def _run(values: FloatArray, decisions: NDArray[np.int8], now: int, first: int, clauses: tuple[str, ...]) -> Run:
    after = np.flatnonzero(decisions[first:] <= now)
    end = first + int(after[0]) if after.size else values.size
    stops = np.flatnonzero(decisions[first:end] == int(Decision.no_go))
    stops_at = first + int(stops[0]) if stops.size else -1
    return Run(
        float(values[first]),
        float(values[end - 1]),
        end == values.size,
        Decision(int(decisions[first])),
        clauses,
        float(values[stops_at]) if stops_at > first else None,
        bool(stops_at >= 0 and (decisions[stops_at:] == int(Decision.no_go)).all()),
    )


def _one_place_for_weight(found: Sequence[Tripwire]) -> list[Tripwire]:
    """Of the places where weight was added, the one where the least of it makes the decision worse."""
    weights = sorted((wire for wire in found if wire.input.field == ADDED_WEIGHT), key=lambda wire: wire.nearness)
    return [wire for wire in found if wire.input.field != ADDED_WEIGHT] + weights[:1]


def _health(entry: str) -> bool:
    return entry in FIELD_PART and _info(entry).health


def _info(entry: str) -> FactInfo:
    return PARTS[FIELD_PART[entry]].facts()[entry]


# -- words ------------------------------------------------------------------------------------------------------------


def _sentence(base: Base, block: _Block, way: Way, run: Run | None, tried_to: float) -> str:
    each = block.input
    on = f" on {block.station.replace('_', ' ')}" if block.station else ""
    if run is None:
        return f"{each.name}{on}: none within reason (tried {way} to {_said(base, each, tried_to)})."
    worse = _worse(base, each, way, run)
    if run.open:
        return f"{each.name} {_said(base, each, run.first)} {each.up if way == 'up' else each.down}{on}: {worse}."
    low, high = (run.first, run.last) if way == "up" else (run.last, run.first)
    if low == high:
        return f"{each.name} {_said(base, each, low)}{on}: {worse}."
    return f"{each.name} {_bare(base, each, low)} to {_said(base, each, high)}{on}: {worse}."


def _worse(base: Base, each: Input, way: Way, run: Run) -> str:
    said = run.decision.phrase.lower()
    if run.stops_at is None:
        return said
    onward = (each.up if way == "up" else each.down) if run.stops_on and run.open else ""
    stops = f"{_said(base, each, run.stops_at)}{' ' + onward if onward else ''}: {Decision.no_go.phrase.lower()}"
    return f"{said}; {stops}"


def _said(base: Base, each: Input, value: float) -> str:
    text = _bare(base, each, value)
    return f"{text} {each.unit}" if each.unit else text


def _bare(base: Base, each: Input, value: float) -> str:
    if each.field in {"take_off_at", "landing_at"}:
        zone = ZoneInfo(base.sheet.plan.time_zone or "UTC")
        local, today = datetime.fromtimestamp(value, UTC).astimezone(zone), base.at.astimezone(zone)
        return f"{local:%H:%M}" if local.date() == today.date() else f"{local:%H:%M on %d %b}"
    text = f"{value:,.{each.decimals}f}"
    if each.decimals == 1:
        text = text.removesuffix(".0")
    return text.replace("-", "\N{MINUS SIGN}")


# -- one changed worksheet --------------------------------------------------------------------------------------------


def changed_worksheet(sheet: Worksheet, entry: str, value: float, *, station: str = "") -> Worksheet:
    """The worksheet with one input at another value, and what cannot stay behind moved along.

    Args:
        sheet: The worksheet.
        entry: Field of an input.
        value: In the units of its column; a time in UNIX s; +inf is "none".
        station: For added weight, the place where it is put.

    Returns:
        The changed worksheet.

    Raises:
        ValidationError: The changed worksheet is impossible.
    """
    if entry == ADDED_WEIGHT:
        loads = tuple(
            StationLoad(station=each.station, load_lb=(each.load_lb or 0.0) + value)
            if each.station == station
            else each
            for each in sheet.plan.station_loads or ()
        )
        return sheet.but(station_loads=loads)
    if entry in {"take_off_at", "landing_at"}:
        return _at_another_time(sheet, entry, datetime.fromtimestamp(value, UTC))
    answer: object = NONE if value == _INF else value
    if entry in {"sleepiness_rating", "stress_level", "pressure_felt"}:
        answer = round(value)
    changes: dict[str, object] = {entry: answer}
    if entry == "wind_kt" and isinstance(sheet.weather.gust_kt, float):
        changes["gust_kt"] = float(np.maximum(sheet.weather.gust_kt, value))
    if entry == "ceiling_ft_agl" and value != _INF:
        lowest = sheet.weather.lowest_cloud_ft_agl
        if lowest == NONE or (isinstance(lowest, float) and lowest > value):
            changes["lowest_cloud_ft_agl"] = value
    return sheet.but(**changes)


def _at_another_time(sheet: Worksheet, entry: str, moment: datetime) -> Worksheet:
    take_off, landing = sheet.plan.take_off_at, sheet.plan.landing_at
    if entry == "landing_at" or take_off is None or landing is None:
        return sheet.but(**{entry: moment})
    return sheet.but(take_off_at=moment, landing_at=moment + (landing - take_off))
