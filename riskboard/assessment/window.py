"""The departure window: what a briefing at each later take-off would say, if the weather comes as it is forecast.

Each step moves the take-off and the landing along, and the moment of decision with them: fatigue grows, daylight
shrinks, papers lapse, and the weather is what ``outlook.py`` makes of the observation and the forecast lines. A step
that says go is no permission: it says that a briefing then finds no listed reason to stop, if what was forecast came
true. All steps are scored in one call of the engine.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import groupby, pairwise
from operator import itemgetter
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from riskboard.assessment.assess import Assessment, assess_facts
from riskboard.assessment.deciding import deciding_clauses
from riskboard.assessment.engine import Facts, Scores
from riskboard.assessment.outlook import CARRIED, FOLLOWED, Outlook, outlook
from riskboard.assessment.reasons import field_info
from riskboard.assessment.variations import Base, on_top_of, scored
from riskboard.words import NONE, Decision, Precipitation, Turbulence
from riskboard.worksheet.columns import Columns, FloatArray
from riskboard.worksheet.entries import ForecastLine, Span
from riskboard.worksheet.fact import FactClock
from riskboard.worksheet.model import Worksheet

__all__ = ["Morning", "Step", "Stretch", "Wall", "Window", "departure_window"]

STEP_MIN: Final = 10
_NEEDED: Final = ("take_off_at", "landing_at", "time_zone")
_NOON_H: Final = 12
_SHARES: Final = (0.0, 0.5, 1.0)
"""Temperature and dew point have no single worse end: the lowest said, the middle and the highest are all tried."""
_MOST_DAYS_IN_ROW: Final = 60
_FLAGS: Final = frozenset({"freezing_precipitation", "fog_or_mist"})
_INF: Final = float("inf")


@dataclass(frozen=True, slots=True)
class Morning:
    """What a pilot plans before a flight of the next morning; without it the facts of today are carried on.

    Attributes:
        sleep: The night's sleep.
        meal_at: Breakfast.
        duty_starts_at: Start of that day's work.
    """

    sleep: Span
    meal_at: datetime
    duty_starts_at: datetime

    @property
    def from_at(self) -> datetime:
        """From when all of it has happened."""
        return max(self.sleep.end_at, self.meal_at, self.duty_starts_at)


@dataclass(frozen=True, slots=True)
class Step:
    """One take-off.

    Attributes:
        take_off_at: Take-off and moment of decision, UTC.
        landing_at: Landing, UTC.
        decision: What a briefing then would say.
        level: Name of the level.
        total: Points after mitigations.
        clauses: The clauses that make the level, limits first.
        limits: Hard limits that stop it.
        unknown: Clauses in force with an unknown measure.
        forecast: Whether the forecast stands in for an observation that would be too old by then.
    """

    take_off_at: datetime
    landing_at: datetime
    decision: Decision
    level: str
    total: int
    clauses: tuple[str, ...]
    limits: tuple[str, ...]
    unknown: tuple[str, ...]
    forecast: bool


@dataclass(frozen=True, slots=True)
class Stretch:
    """Steps in a row with one decision.

    Attributes:
        first_at: First take-off of the stretch, UTC.
        last_at: Last one.
        decision: Their decision.
        why: What makes it so at its first step, a sentence of the reasons; "" where it is a go.
    """

    first_at: datetime
    last_at: datetime
    decision: Decision
    why: str


@dataclass(frozen=True, slots=True)
class Wall:
    """A hard limit that stops take-offs in a row.

    Attributes:
        limit: Name of the limit.
        first_at: First take-off it stops, UTC.
        last_at: Last one.
        known: Whether it is surely broken at each of them; else something it needs is unknown.
    """

    limit: str
    first_at: datetime
    last_at: datetime
    known: bool


@dataclass(frozen=True, eq=False)
class Window:
    """The decision as a function of the take-off.

    Attributes:
        steps: One for each whole ten minutes of local time, from now on.
        planned: The planned take-off as a step of its own; it may lie between two others.
        stretches: The steps by decision.
        walls: The hard limits in the way.
        sentences: What a pilot would say of it, most useful first.
        assumptions: What was taken for granted, in sentences.
        missing: Entries without which there is no window; then there are no steps.
        unsaid: Entries that are known now, that a forecast line could state, and that none does for some later step.
        zone: Time zone of the sentences.
    """

    steps: tuple[Step, ...]
    planned: Step | None
    stretches: tuple[Stretch, ...]
    walls: tuple[Wall, ...]
    sentences: tuple[str, ...]
    assumptions: tuple[str, ...]
    missing: tuple[str, ...]
    unsaid: tuple[str, ...]
    zone: str
    _rows: "_Rows | None" = None

    def worksheet(self, step: Step) -> tuple[Worksheet, datetime]:
        """The changed worksheet that a step speaks of, and its moment of decision.

        Raises:
            KeyError: The step is of another window.
        """
        if self._rows is None:
            raise KeyError("this window has no steps")
        return self._rows.worksheet(self._rows.row_of(step.take_off_at))


def departure_window(
    base: Base, *, next_morning: bool = False, morning: Morning | None = None, step_min: int = STEP_MIN
) -> Window:
    """What a briefing at each later take-off would say.

    Args:
        base: The worksheet, from ``base_of``.
        next_morning: Go on to noon of the next local day.
        morning: What the pilot plans before a flight of that morning.
        step_min: Minutes between take-offs.

    Returns:
        The window, from the moment of decision to the end of the local day.

    Raises:
        ValueError: ``step_min`` is below 1, or the morning's sleep overlaps one on the worksheet.
    """
    if step_min < 1:
        raise ValueError(f"step_min must be at least 1; found {step_min}")
    missing = tuple(field for field in _NEEDED if base.sheet.value(field) is None)
    if missing:
        return Window((), None, (), (), (), (), missing, (), base.sheet.plan.time_zone or "UTC")
    rows = _Rows(base, _moments(base, step_min, next_morning=next_morning), morning)
    steps = rows.steps()
    planned, grid = steps[-1], steps[:-1]
    stretches = tuple(_stretches(rows, grid))
    return Window(
        grid,
        planned,
        stretches,
        tuple(_walls(grid)),
        tuple(_sentences(rows, stretches, planned)),
        (*_assumptions(base, grid, rows.zone), *_unsaid_sentence(rows)),
        (),
        tuple(rows.unsaid()),
        rows.zone,
        rows,
    )


def _moments(base: Base, step_min: int, *, next_morning: bool) -> list[datetime]:
    """Whole steps of local time from now to the end of the day, and the planned take-off at the end of the list."""
    zone = ZoneInfo(base.sheet.plan.time_zone or "UTC")
    now = base.at.astimezone(zone)
    midnight = (now + timedelta(days=1)).replace(hour=0, minute=0, second=0, microsecond=0)
    until = midnight.replace(hour=_NOON_H) if next_morning else midnight - timedelta(microseconds=1)
    day = now.replace(hour=0, minute=0, second=0, microsecond=0).astimezone(UTC)
    step = timedelta(minutes=step_min)
    first = day - ((day - base.at.astimezone(UTC)) // step) * step
    steps = int((until.astimezone(UTC) - first) / step)
    moments = [first + i * step for i in range(steps + 1)]
    planned = base.sheet.plan.take_off_at
    return [*moments, planned if planned is not None else first]


class _Rows:
    """The steps as rows of the engine; temperature and dew point may take several rows, of which the worst counts."""

    def __init__(self, base: Base, moments: Sequence[datetime], morning: Morning | None) -> None:
        self.base = base
        self.zone = base.sheet.plan.time_zone or "UTC"
        self.morning = morning
        self.moments = tuple(moments)
        take_off, landing = base.sheet.plan.take_off_at, base.sheet.plan.landing_at
        if take_off is None or landing is None:
            raise ValueError("a window needs the planned take-off and landing")
        self.length = landing - take_off
        starts = np.array([moment.timestamp() for moment in self.moments])
        self.out = outlook(base, starts, starts + self.length.total_seconds())
        self.tried = _tried(self.out)
        # Where the sun stands, how tired the pilot is, is worked out once a step and not once a try.
        temperature, dew_point = (np.concatenate(each) for each in zip(*self.tried, strict=True))
        air = {"temperature_c": temperature, "dew_point_c": dew_point}
        self.facts, self.scores = scored(on_top_of(base, self._columns(starts)), air, keep=True)
        worst = _worst(self.scores, len(self.tried), len(self.moments))
        self.choice = worst
        picked = worst * len(self.moments) + np.arange(len(self.moments))
        self.facts, self.scores = _picked(self.facts, picked), _picked_scores(self.scores, picked)

    # -- columns ------------------------------------------------------------------------------------------------------

    def _columns(self, starts: FloatArray) -> Columns:
        zone = ZoneInfo(self.zone)
        offsets = [moment.astimezone(zone).utcoffset() or timedelta(0) for moment in self.moments]
        return {
            "take_off_at": starts,
            "landing_at": starts + self.length.total_seconds(),
            "decided_at": starts,
            "utc_offset_s": np.array([offset.total_seconds() for offset in offsets]),
            "weather_true_at": self._weather_true_at(starts),
            **self.out.entries,
            **self._next_day(starts),
        }

    def _weather_true_at(self, starts: FloatArray) -> FloatArray:
        """The oldest weather entry of each step; what may not count any more is unknown already."""
        oldest = np.full(starts.size, _INF)
        for field in FOLLOWED:
            true_at = self.out.true_at[field]
            oldest = np.where(np.isnan(true_at), oldest, np.minimum(oldest, true_at))
        return np.where(np.isinf(oldest), np.nan, oldest)

    def _next_day(self, starts: FloatArray) -> Columns:
        """What the planned morning changes, in the steps after it."""
        plan, base = self.morning, self.base
        if plan is None:
            return {}
        later = starts >= plan.from_at.timestamp()
        columns: Columns = {}
        for column, moment in (("last_meal_at", plan.meal_at), ("duty_started_at", plan.duty_starts_at)):
            columns[column] = np.where(later, moment.timestamp(), base.value(column))
        columns["flights_today"] = np.where(later, 0.0, base.value("flights_today"))
        worked = float(np.minimum(base.value("days_in_row") + 1.0, float(_MOST_DAYS_IN_ROW)))
        columns["days_in_row"] = np.where(later, worked, base.value("days_in_row"))
        count = base.value("sleeps_count")
        if not np.isnan(count):
            columns["sleeps_count"] = np.where(later, count + 1.0, count)
            for column, moment in (("start_at", plan.sleep.start_at), ("end_at", plan.sleep.end_at)):
                recorded = base.columns[f"sleeps_{column}"][:, : int(count)]
                before = np.repeat(recorded, starts.size, axis=0)
                night = np.where(later, moment.timestamp(), np.nan)[:, None]
                columns[f"sleeps_{column}"] = np.concatenate([before, night], axis=1)
        return columns

    # -- worksheets ---------------------------------------------------------------------------------------------------

    def row_of(self, take_off_at: datetime) -> int:
        """The row of a take-off.

        Raises:
            KeyError: There is none.
        """
        if take_off_at not in self.moments:
            raise KeyError(f"no step of this window takes off at {take_off_at}")
        return self.moments.index(take_off_at)

    def worksheet(self, row: int) -> tuple[Worksheet, datetime]:
        """The changed worksheet of a row, and its moment of decision."""
        at, sheet = self.moments[row], self.base.sheet
        entries = {field: float(self.out.entries[field][row]) for field in FOLLOWED}
        temperature, dew_point = self.tried[int(self.choice[row])]
        entries["temperature_c"], entries["dew_point_c"] = float(temperature[row]), float(dew_point[row])
        # What would be too old, and nobody has said, is blank: left standing it could contradict what was said.
        said = {field: None if np.isnan(value) else _decoded(field, value) for field, value in entries.items()}
        fresh = [field for field in said if self.out.fresh[field][row]]
        clocks = dict(sheet.clocks) | {field: FactClock(true_at=at) for field in fresh}
        changes = {**said, "take_off_at": at, "landing_at": at + self.length, **self._morning_entries(at)}
        return sheet.model_copy(update={"clocks": clocks}).but(**changes), at

    def _morning_entries(self, at: datetime) -> Mapping[str, object]:
        plan, pilot = self.morning, self.base.sheet.pilot
        if plan is None or at < plan.from_at:
            return {}
        changes: dict[str, object] = {"last_meal_at": plan.meal_at, "duty_started_at": plan.duty_starts_at}
        changes["flights_today"] = 0
        if pilot.days_in_row is not None:
            changes["days_in_row"] = pilot.days_in_row + (pilot.days_in_row < _MOST_DAYS_IN_ROW)
        if pilot.sleeps is not None:
            changes["sleeps"] = (*pilot.sleeps, plan.sleep)
        return changes

    def assessment(self, row: int) -> Assessment:
        """A row read out with its reasons: the facts are worked out already."""
        sheet, at = self.worksheet(row)
        expired = tuple(field for field in FOLLOWED if field in self.base.known and sheet.value(field) is None)
        return assess_facts(self.facts.block(slice(row, row + 1)), sheet, self.base.prepared, at, expired=expired)

    # -- steps --------------------------------------------------------------------------------------------------------

    def steps(self) -> tuple[Step, ...]:
        prepared, scores = self.base.prepared, self.scores
        compiled = prepared.compiled
        deciding = deciding_clauses(prepared, scores)
        hit = np.unpackbits(scores.limits_hit, axis=0, count=len(compiled.limit_names)).astype(np.bool_)
        unknown = np.unpackbits(scores.unknown, axis=0, count=len(compiled.names)).astype(np.bool_)
        forecast = np.any([self.out.fresh[field] for field in FOLLOWED if field not in CARRIED], axis=0)
        return tuple(
            Step(
                moment.astimezone(UTC),
                (moment + self.length).astimezone(UTC),
                Decision(int(scores.decision[row])),
                prepared.policy.levels[int(scores.level[row])].name,
                int(scores.total[row]),
                deciding[row],
                tuple(compiled.limit_names[i] for i in np.flatnonzero(hit[:, row])),
                tuple(compiled.names[i] for i in np.flatnonzero(unknown[:, row])),
                bool(forecast[row]),
            )
            for row, moment in enumerate(self.moments)
        )

    def unsaid(self) -> dict[str, int]:
        """Entries that a forecast line could state and that are unknown at some step, and the first such row."""
        found = {}
        for field in (each for each in ForecastLine.model_fields if each in FOLLOWED and each in self.base.known):
            unknown = np.flatnonzero(np.isnan(self.out.entries[field][:-1]))
            if unknown.size:
                found[field] = int(unknown[0])
        return found

    def why(self, step: Step) -> str:
        """The sentence of the first clause that makes the level, a known one before an unknown; "" at the best."""
        if not step.clauses:
            return ""
        row = self.row_of(step.take_off_at)
        lines = {line.clause: line.sentence for line in self.assessment(row).lines}
        known = [clause for clause in step.clauses if clause not in step.unknown]
        return lines.get((known or step.clauses)[0], "")


def _tried(out: Outlook) -> tuple[tuple[FloatArray, FloatArray], ...]:
    """The pairs of temperature and dew point to try: one where nothing is said to change, else three by three."""
    low = {field: out.entries[field] for field in ("temperature_c", "dew_point_c")}
    same = all(np.array_equal(low[field], out.highest[field], equal_nan=True) for field in low)
    shares = (0.0,) if same else _SHARES
    pairs = []
    for warm in shares:
        for moist in shares:
            temperature = _between(low["temperature_c"], out.highest["temperature_c"], warm)
            dew_point = _between(low["dew_point_c"], out.highest["dew_point_c"], moist)
            # No air holds more water than at saturation: a dew point above the temperature is that temperature.
            dew_point = np.where(dew_point > temperature, temperature, dew_point)
            pairs.append((temperature, dew_point))
    return tuple(pairs)


def _between(low: FloatArray, high: FloatArray, share: float) -> FloatArray:
    if share in {0.0, 1.0}:
        return low if share == 0.0 else high
    return np.asarray(np.rint((low + (high - low) * share) * 10.0) / 10.0)


def _worst(scores: Scores, many: int, rows: int) -> NDArray[np.intp]:
    """Which of the tries is the worst of each step: by level, then by points; the first of equals."""
    weight = scores.level * np.int64(100_000) + scores.total
    return np.asarray(weight.reshape(many, rows).argmax(axis=0))


def _picked(facts: Facts, rows: NDArray[np.intp]) -> Facts:
    return Facts(
        {name: values[rows] for name, values in facts.measures.items()},
        {word: truths[rows] for word, truths in facts.guards.items()},
        {name: stated[rows] for name, stated in facts.taken.items()},
        {name: signed[rows] for name, signed in facts.waived.items()},
    )


def _picked_scores(scores: Scores, rows: NDArray[np.intp]) -> Scores:
    parts: list[Any] = [None if part is None else part[..., rows] for part in vars(scores).values()]
    return Scores(*parts)


_CHOICES: Final = {"precipitation": tuple(Precipitation), "turbulence": tuple(Turbulence)}


def _decoded(field: str, value: float) -> object:
    """An encoded entry as the worksheet holds it."""
    if field in _CHOICES:
        return _CHOICES[field][int(value)]
    if field in _FLAGS:
        return bool(value)
    if value == _INF:
        return "variable" if field == "wind_from_deg" else NONE
    return value


# -- words ------------------------------------------------------------------------------------------------------------


def _stretches(rows: _Rows, steps: Sequence[Step]) -> list[Stretch]:
    found = []
    for decision, group in groupby(steps, key=lambda step: step.decision):
        members = list(group)
        found.append(Stretch(members[0].take_off_at, members[-1].take_off_at, decision, rows.why(members[0])))
    return found


def _walls(steps: Sequence[Step]) -> list[Wall]:
    walls = []
    hit = {limit for step in steps for limit in step.limits}
    for limit in sorted(hit):
        stands = [(step.take_off_at, limit in step.limits, limit in step.unknown) for step in steps]
        for (stops, open_), group in groupby(stands, key=itemgetter(1, 2)):
            moments = [moment for moment, _, _ in group]
            if stops:
                walls.append(Wall(limit, moments[0], moments[-1], not open_))
    return sorted(walls, key=lambda wall: (wall.first_at, wall.limit))


def _local(moment: datetime, zone: str, today: datetime) -> str:
    local, now = moment.astimezone(ZoneInfo(zone)), today.astimezone(ZoneInfo(zone))
    return f"{local:%H:%M}" if local.date() == now.date() else f"{local:%H:%M} tomorrow"


def _sentences(rows: _Rows, stretches: Sequence[Stretch], planned: Step) -> list[str]:
    """Where it is better, until when it stays as good, and why not later; nothing is said that no step shows."""

    def clock(moment: datetime) -> str:
        return _local(moment, rows.zone, rows.base.at)

    said = [
        _better(stretch, planned, clock(stretch.first_at), clock(stretch.last_at))
        for stretch in stretches
        if stretch.decision < planned.decision
    ]
    for stretch, after in pairwise(stretches):
        good = stretch.decision <= planned.decision and stretch.decision is not Decision.no_go
        if good and after.decision > stretch.decision and after.first_at > planned.take_off_at:
            why = f" {after.why}" if after.why else ""
            said.append(
                f"No later than {clock(stretch.last_at)}: at {clock(after.first_at)} "
                f"it is {after.decision.phrase.lower()}.{why}"
            )
    if not said:
        said.append(_all_alike(stretches, planned))
    return said


def _better(stretch: Stretch, planned: Step, first: str, last: str) -> str:
    when = f"between {first} and {last}" if stretch.first_at != stretch.last_at else f"at {first}"
    if stretch.first_at > planned.take_off_at:
        return f"Better from {first}: {stretch.decision.phrase.lower()} {when}."
    return f"Better until {last}: {stretch.decision.phrase.lower()} {when}."


def _all_alike(stretches: Sequence[Stretch], planned: Step) -> str:
    if planned.decision is Decision.no_go:
        why = f" {stretches[0].why}" if stretches and stretches[0].why else ""
        return f"No take-off of this window is better.{why}"
    return f"No later take-off of this window is worse than {planned.decision.phrase.lower()}."


def _unsaid_sentence(rows: _Rows) -> Iterator[str]:
    unsaid = rows.unsaid()
    if unsaid:
        names = [field_info(field).label.lower() for field in unsaid]
        from_at = _local(rows.moments[min(unsaid.values())], rows.zone, rows.base.at)
        yield f"From {from_at} nobody has said what will be: {', '.join(names)}. A forecast line can."


def _assumptions(base: Base, steps: Sequence[Step], zone: str) -> tuple[str, ...]:
    said = ["Each take-off is judged as if briefed at that time; brief again before you go."]
    beyond = next((step for step in steps if step.forecast), None)
    if beyond is not None:
        said.append(
            f"From {_local(beyond.take_off_at, zone, base.at)} the weather is the worst that the forecast says from "
            "take-off to an hour after landing; wind of no stated direction may come from anywhere."
        )
        said.append(
            "Turbulence and the altimeter setting are in no forecast line: turbulence stays as entered, the setting "
            "is let fall by 0.06 inHg an hour, at most 0.30."
        )
    return tuple(said)
