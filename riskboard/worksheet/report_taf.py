"""One aerodrome forecast (TAF) -> forecast lines. A forecast that is not understood as a whole gives no line at all.

The ``metar-taf-parser-mivek`` package decodes what the gate of ``report_groups`` lets through. One group that cannot be
read blanks the whole forecast: a line without it would state less than the forecast does, and an unstated quantity of a
later line is taken from the line before.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from metar_taf_parser.parser.parser import TAFParser

from riskboard import units
from riskboard.words import NONE, LineKind, Precipitation
from riskboard.worksheet.report_groups import (
    CLEAR_SKY,
    FORMS,
    SLACK,
    is_weather,
    joined_miles,
    newest_before,
    present_weather,
    quoted,
)

__all__ = ["TafReading", "read_taf"]

_VALIDITY = re.compile(r"([0-9]{2})([0-9]{2})/([0-9]{2})([0-9]{2})")
_FROM = re.compile(r"FM([0-9]{2})([0-9]{2})([0-9]{2})")
_WIND = re.compile(r"(?:[0-9]{3}|VRB)[0-9]{2}(?:G[0-9]{2})?(?:KT|MPS)")
_PROBABILITY = re.compile(r"PROB[0-9]{2}")
_NOT_CARRIED = re.compile(r"T[XN]M?[0-9]{2}/[0-9]{4}Z|QNH[0-9]{4}INS|[56][0-9]{5}|NOSIG")
_SHEAR = re.compile(r"WS[0-9]{3}/[0-9]{5}(?:G[0-9]{2})?(?:KT|MPS)")
_CEILINGS = frozenset({"BKN", "OVC"})
_LONGEST = timedelta(hours=36)
_CAVOK_M = 10_000.0
_SPEED_UNITS = {"KT": "kt", "MPS": "ms"}
_INFINITE = float("inf")
_VARIABLE = "variable"


class _NotUnderstood(Exception):  # noqa: N818  - never leaves this module
    """The forecast cannot be read as a whole; the text says why."""


@dataclass
class TafReading:
    """What one forecast gives.

    Attributes:
        issued_at: When it was issued, UTC, or None.
        issued_group: The group that says so.
        lines: Entries of ``forecast_lines`` as plain data; None when the forecast was not understood.
        unread: Groups that fed no line.
        problems: Sentences about what is doubtful.
    """

    issued_at: datetime | None = None
    issued_group: str = ""
    lines: list[dict[str, Any]] | None = None
    unread: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class _State:
    """What a line states; None is not stated."""

    wind_kt: float | None = None
    gust_kt: float | str | None = None
    visibility_sm: float | None = None
    ceiling_ft_agl: float | str | None = None
    thunderstorm: bool | None = None
    wind_from_deg: float | str | None = None
    lowest_cloud_ft_agl: float | str | None = None
    precipitation: Precipitation | None = None

    def replaced_by(self, later: "_State") -> "_State":
        """What holds after a change: the later state where it says something, else this one."""
        stated = {name: value for name, value in vars(later).items() if value is not None}
        return replace(self, **stated)

    def worse_of(self, later: "_State") -> "_State":
        """What may hold while the change goes on: of each quantity the worse; not known where either is not known."""
        after = self.replaced_by(later)
        return _State(
            wind_kt=_worse(self.wind_kt, after.wind_kt, higher=True),
            gust_kt=_worse(self.gust_kt, after.gust_kt, higher=True),
            visibility_sm=_worse(self.visibility_sm, after.visibility_sm, higher=False),
            ceiling_ft_agl=_worse(self.ceiling_ft_agl, after.ceiling_ft_agl, higher=False),
            thunderstorm=_worse(self.thunderstorm, after.thunderstorm, higher=True),
            wind_from_deg=_either_way(self.wind_from_deg, after.wind_from_deg),
            lowest_cloud_ft_agl=_worse(self.lowest_cloud_ft_agl, after.lowest_cloud_ft_agl, higher=False),
            precipitation=_heavier(self.precipitation, after.precipitation),
        )

    def stated(self) -> dict[str, Any]:
        """The quantities that are stated, by the names of a forecast line."""
        return {name: value for name, value in vars(self).items() if value is not None}


def _worse(before: Any, after: Any, *, higher: bool) -> Any:
    if before is None or after is None:
        return None
    nothing = -_INFINITE if higher else _INFINITE  # no gust is the least gust, no ceiling the highest
    pair = sorted((before, after), key=lambda value: nothing if value == NONE else value)
    return pair[-1 if higher else 0]


def _either_way(before: float | str | None, after: float | str | None) -> float | str | None:
    """A wind that turns may come from anywhere while it does."""
    if before is None or after is None:
        return None
    return before if before == after else _VARIABLE


def _heavier(before: Precipitation | None, after: Precipitation | None) -> Precipitation | None:
    if before is None or after is None:
        return None
    return max(before, after, key=list(Precipitation).index)


@dataclass
class _Line:
    """One change group with its groups; ``kind`` is MAIN, FM, BECMG or TEMPO (probabilities too)."""

    kind: str
    lead: list[str]
    groups: list[str] = field(default_factory=list)
    start_at: datetime | None = None
    end_at: datetime | None = None
    state: _State = field(default_factory=_State)

    def span(self) -> tuple[datetime, datetime]:
        """Start and end, which every line has once its head has been read."""
        if self.start_at is None or self.end_at is None:
            raise _NotUnderstood("a change group has no times")
        return self.start_at, self.end_at


def read_taf(groups: list[str], seen_at: datetime) -> TafReading:
    """Read the groups of one forecast.

    Args:
        groups: The forecast split at white space, upper case, without "TAF" and without a trailing "=".
        seen_at: When somebody looked at it, aware; gives month and year.

    Returns:
        What was read. A BECMG counts from its start for anything worse and from its end for anything better; FM begins
        anew; TEMPO and PROB are temporary lines.
    """
    reading = TafReading()
    body, remarks = _without_remarks(joined_miles(groups))
    reading.unread += remarks
    try:
        lines = _lines(body, seen_at, reading)
        for line in lines:
            _gate(line, reading)
        _fill(lines, [*_station(body), *_validity_groups(body)])
        reading.lines = list(_rows(lines))
    except _NotUnderstood as error:
        reading.lines = None
        reading.unread += [group for group in body if group not in reading.unread]
        reading.problems.append(f"The forecast is left blank: {error}.")
    return reading


def _without_remarks(groups: list[str]) -> tuple[list[str], list[str]]:
    if "RMK" not in groups:
        return groups, []
    start = groups.index("RMK")
    return groups[:start], groups[start + 1 :]


def _station(body: list[str]) -> list[str]:
    return [group for group in body if group not in {"AMD", "COR"}][:1]


def _validity_groups(body: list[str]) -> list[str]:
    return [group for group in body if group not in {"AMD", "COR"}][1:3]


def _lines(body: list[str], seen_at: datetime, reading: TafReading) -> list[_Line]:
    """The main line and the change groups with their times."""
    head = [group for group in body if group not in {"AMD", "COR"}]
    if {"CNL", "NIL"} & set(head):
        raise _NotUnderstood("it says CNL or NIL, there is none in force")
    issued_at = _issued(head, seen_at)
    reading.issued_at, reading.issued_group = issued_at, head[1]
    found = _VALIDITY.fullmatch(head[2]) if len(head) > 2 else None  # noqa: PLR2004
    if found is None:
        raise _NotUnderstood("its validity is not of the form 0412/0512")
    main = _Line("MAIN", [])
    main.start_at, main.end_at = _span(found, issued_at - timedelta(days=1))
    if main.end_at - main.start_at > _LONGEST or not timedelta(hours=-6) <= main.start_at - issued_at <= _LONGEST:
        raise _NotUnderstood(f"its times {quoted(head[1:3])} do not fit each other")
    lines = [main]
    for line in _split(head[3:], main):
        _date(line, main)
        lines.append(line)
    return lines


def _issued(head: list[str], seen_at: datetime) -> datetime:
    if len(head) < 2 or len(head[0]) != 4 or not FORMS["time"].fullmatch(head[1]):  # noqa: PLR2004
        raise _NotUnderstood("it should begin with a station of four letters and its time of issue like 041130Z")
    stamp = head[1]
    issued_at = newest_before(int(stamp[:2]), int(stamp[2:4]), int(stamp[4:6]), seen_at + SLACK)
    if issued_at is None:
        raise _NotUnderstood(f"its time of issue {quoted([stamp])} does not exist")
    return issued_at


def _on_day(day: str, hour: str, minute: str, not_before: datetime) -> datetime:
    """The first such day and time that is not before an instant; hour 24 is the end of the day."""
    start = not_before.replace(hour=0, minute=0, second=0, microsecond=0)
    for ahead in range(4):
        midnight = start + timedelta(days=ahead)
        if midnight.day == int(day) and int(hour) <= 24 and int(minute) < 60:  # noqa: PLR2004
            found = midnight + timedelta(hours=int(hour), minutes=int(minute))
            if found >= not_before:
                return found
    raise _NotUnderstood(f"the time {day}{hour}{minute} does not exist near its other times")


def _span(found: re.Match[str], not_before: datetime) -> tuple[datetime, datetime]:
    start_at = _on_day(found[1], found[2], "00", not_before)
    end_at = _on_day(found[3], found[4], "00", start_at)
    if end_at <= start_at:
        raise _NotUnderstood(f"the times {quoted([found[0]])} have no length")
    return start_at, end_at


def _split(groups: Sequence[str], main: _Line) -> Iterator[_Line]:
    """Cut the groups at the change groups; what stands before the first one belongs to the main line."""
    current = main
    for group in groups:
        probability = _PROBABILITY.fullmatch(group) is not None
        if group in {"TEMPO", "INTER"} and current.lead and not current.groups and current.lead[-1].startswith("PROB"):
            current.lead.append(group)
        elif group in {"TEMPO", "INTER", "BECMG"} or probability or _FROM.fullmatch(group):
            if current is not main:
                yield current
            kind = "FM" if group.startswith("FM") else "BECMG" if group == "BECMG" else "TEMPO"
            current = _Line(kind, [group])
        else:
            current.groups.append(group)
    if current is not main:
        yield current


def _date(line: _Line, main: _Line) -> None:
    first, last = main.span()
    if line.kind == "FM":
        found = _FROM.fullmatch(line.lead[0])
        if found is None:
            raise _NotUnderstood(f"{quoted(line.lead)} is no time")
        line.start_at, line.end_at = _on_day(found[1], found[2], found[3], first), last
    else:
        validity = _VALIDITY.fullmatch(line.groups[0]) if line.groups else None
        if validity is None:
            raise _NotUnderstood(f"{quoted(line.lead)} is not followed by its times")
        line.lead.append(line.groups.pop(0))
        line.start_at, line.end_at = _span(validity, first)
    if not first <= line.start_at < last or line.end_at > last:
        raise _NotUnderstood(f"{quoted(line.lead)} is outside the validity of the forecast")


def _is_read(group: str) -> bool:
    if FORMS["wind"].fullmatch(group):
        return _WIND.fullmatch(group) is not None
    return is_weather(group) or any(FORMS[form].fullmatch(group) for form in ("visibility", "cloud"))


def _is_held(group: str) -> bool:
    """Whether a line holds all that a present-weather group says: what falls, unless it freezes, and storms."""
    weather = present_weather([group])
    if weather.freezing or weather.fog or weather.no_entry:
        return False
    return group == "NSW" or "TS" in group or bool(weather.intensity)


def _gate(line: _Line, reading: TafReading) -> None:
    """Refuse what has no published form; say what no line of the worksheet holds."""
    kept = []
    for group in line.groups:
        if _NOT_CARRIED.fullmatch(group) or _SHEAR.fullmatch(group):
            reading.unread.append(group)
            if _SHEAR.fullmatch(group):
                reading.problems.append(
                    f"Wind shear is forecast ({quoted([group])}): no entry holds it, judge it yourself."
                )
        elif not _is_read(group):
            raise _NotUnderstood(f"{quoted([group])} is not read")
        else:
            kept.append(group)
    line.groups = kept
    weather = [group for group in kept if is_weather(group)]
    reading.unread += [group for group in weather if not _is_held(group)]
    freezing = [group for group in weather if present_weather([group]).freezing]
    if freezing:
        reading.problems.append(
            f"Freezing precipitation is forecast ({quoted(freezing)}): no line holds it, judge it yourself."
        )
    for forms, name in ((("wind",), "wind"), (("visibility",), "visibility")):
        found = [group for group in kept if any(FORMS[form].fullmatch(group) for form in forms)]
        if len(found) > 1:
            raise _NotUnderstood(f"one line gives the {name} twice: {quoted(found)}")


def _fill(lines: list[_Line], head: list[str]) -> None:
    """Let the package decode wind, visibility and cloud of every line."""
    texts = []
    for line in lines:
        lead = head if line.kind == "MAIN" else [group.replace("INTER", "TEMPO") for group in line.lead]
        texts.append(" ".join([*lead, *(group for group in line.groups if not is_weather(group))]))
    try:
        decoded = TAFParser().parse("TAF " + " ".join(texts))
    except Exception as error:  # the package raises whatever it stumbles over
        raise _NotUnderstood("it could not be decoded") from error
    containers = [decoded, *decoded.trends] if decoded is not None else []
    if len(containers) != len(lines):
        raise _NotUnderstood("it was understood in two ways")
    for line, container in zip(lines, containers, strict=True):
        line.state = _state(line, container)


def _state(line: _Line, decoded: Any) -> _State:
    groups = line.groups
    complete = line.kind in {"MAIN", "FM"}
    cavok = "CAVOK" in groups
    winds = [group for group in groups if FORMS["wind"].fullmatch(group)]
    if len(winds) != (decoded.wind is not None):
        raise _NotUnderstood(f"the wind {quoted(winds)} was understood in two ways")
    return _State(
        wind_kt=_speed(decoded.wind.speed, decoded.wind.unit) if winds else None,
        gust_kt=_gust(decoded.wind) if winds else None,
        visibility_sm=_visibility(decoded.visibility),
        ceiling_ft_agl=_ceiling(groups, decoded, cavok=cavok),
        thunderstorm=_storm(groups, complete=complete, cavok=cavok),
        wind_from_deg=_direction(winds[0]) if winds else None,
        lowest_cloud_ft_agl=_lowest_cloud(groups, decoded, cavok=cavok),
        precipitation=_precipitation(groups, complete=complete, cavok=cavok),
    )


def _direction(group: str) -> float | str:
    return _VARIABLE if group.startswith("VRB") else float(group[:3])


def _speed(value: float, unit: str) -> float:
    return units.convert_rounded(float(value), _SPEED_UNITS[unit], "kt", 1)


def _gust(wind: Any) -> float | str:
    if wind.gust is None:
        return NONE
    if wind.gust < wind.speed:
        raise _NotUnderstood(f"gusts of {wind.gust} are below the wind of {wind.speed}")
    return _speed(wind.gust, wind.unit)


def _visibility(decoded: Any) -> float | None:
    if decoded is None:
        return None
    text = str(decoded.distance)
    if text.startswith("M"):
        return 0.0  # less than the least reported: the bound below is zero
    if decoded.unit.value == "SM":
        whole, _, part = text.removeprefix("P").rpartition(" ")
        return float(whole or 0) + _fraction(part)
    return units.convert_rounded(float(text.removeprefix(">")), "m", "sm", 0.05)


def _fraction(text: str) -> float:
    above, _, below = text.partition("/")
    return float(above) / float(below or 1)


def _ceiling(groups: list[str], decoded: Any, *, cavok: bool) -> float | str | None:
    clouds = [group for group in groups if FORMS["cloud"].fullmatch(group)]
    if not clouds:
        return NONE if cavok else None
    heights = [float(cloud.height) for cloud in decoded.clouds if cloud.quantity.name in _CEILINGS]
    if decoded.vertical_visibility is not None:
        heights.append(float(decoded.vertical_visibility))
    expected = [group for group in clouds if group.startswith((*_CEILINGS, "VV"))]
    if len(heights) != len(expected) or (len(clouds) > 1 and CLEAR_SKY & set(clouds)):
        raise _NotUnderstood(f"the clouds {quoted(clouds)} were understood in two ways")
    return min(heights) if heights else NONE


def _lowest_cloud(groups: list[str], decoded: Any, *, cavok: bool) -> float | str | None:
    """The lowest cloud of any amount; a ceiling is one too."""
    if not any(FORMS["cloud"].fullmatch(group) for group in groups):
        return NONE if cavok else None
    heights = [float(cloud.height) for cloud in decoded.clouds if cloud.height is not None]
    if decoded.vertical_visibility is not None:
        heights.append(float(decoded.vertical_visibility))
    return min(heights) if heights else NONE


def _precipitation(groups: list[str], *, complete: bool, cavok: bool) -> Precipitation | None:
    """As for thunderstorms, a line that begins anew or speaks of the weather says whether anything falls.

    Showers in the vicinity may reach the field: light (common practice, no source).
    """
    weather = present_weather(group for group in groups if is_weather(group))
    if weather.intensity:
        return list(Precipitation)[weather.intensity]
    if weather.showers_near:
        return Precipitation.light
    said = complete or cavok or any(is_weather(group) for group in groups)
    return Precipitation.none if said else None


def _storm(groups: list[str], *, complete: bool, cavok: bool) -> bool | None:
    """A line that begins anew or speaks of the weather says whether there are thunderstorms; another does not.

    Cumulonimbus counts as one (common practice, no source): a forecaster who expects the cloud expects what it does.
    """
    weather = present_weather(group for group in groups if is_weather(group))
    if weather.thunderstorm or weather.thunderstorm_near or any(group.endswith("CB") for group in groups):
        return True
    return False if complete or cavok or any(is_weather(group) for group in groups) else None


def _rows(lines: list[_Line]) -> Iterator[dict[str, Any]]:
    first, last = lines[0].span()
    steps = [(first, lines[0].state)]
    busy_until = first
    for line in lines[1:]:
        start_at, end_at = line.span()
        if line.kind == "TEMPO":
            continue
        if start_at < busy_until:
            raise _NotUnderstood(f"{quoted(line.lead)} begins before an earlier change has ended")
        now = steps[-1][1]
        if line.kind == "FM":
            steps.append((start_at, line.state))
            busy_until = start_at
        else:
            steps += [(start_at, now.worse_of(line.state)), (end_at, now.replaced_by(line.state))]
            busy_until = end_at
    ends = [start for start, _ in steps[1:]] + [last]
    for (start_at, state), end_at in zip(steps, ends, strict=True):
        if start_at < end_at:
            yield {"start_at": start_at, "end_at": end_at, "kind": LineKind.prevailing, **state.stated()}
    for line in lines[1:]:
        if line.kind == "TEMPO":
            start_at, end_at = line.span()
            yield {"start_at": start_at, "end_at": end_at, "kind": LineKind.temporary, **line.state.stated()}
