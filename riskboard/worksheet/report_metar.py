"""One METAR or SPECI -> proposed entries. Anything doubtful becomes a blank and a sentence, never a guess.

The ``metar`` package decodes; the gate before it (``report_groups``) lets only exact groups through, and the
worksheet's own range checks and contradictions come after it. An answer that rests on the *absence* of a group
("no gust", "no ceiling", "no precipitation") is given only when every group of the report's body has been read.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from metar.Metar import Metar, ParserError

from riskboard.words import NONE, Precipitation
from riskboard.worksheet.report_groups import (
    CLEAR_SKY,
    FORMS,
    SLACK,
    is_weather,
    joined_miles,
    kind_of,
    newest_before,
    present_weather,
    quoted,
)

__all__ = ["MetarReading", "read_metar"]

_TRENDS = frozenset({"NOSIG", "BECMG", "TEMPO", "FCST"})
_CEILINGS = frozenset({"BKN", "OVC", "VV"})
_VICINITY_NM = 5.0
"""Where "in the vicinity" begins (FMH-1, from memory); the nearest edge is taken."""
_TENTHS_AGREE_C = 0.6
_METERS_AND_MORE = "9999"
_ONE_EACH = ("wind", "varying", "visibility", "temperature", "altimeter")
_SHOWN_ONLY = frozenset({"runway", "shear", "recent", "weather_missing"})
_LABELS = {
    "wind": "wind",
    "visibility": "visibility",
    "cloud": "cloud",
    "temperature": "temperature and dew point",
    "altimeter": "altimeter setting",
}


@dataclass
class MetarReading:
    """What one report gives.

    Attributes:
        entries: Entry name (possibly in another unit, ``visibility_m``) -> (value, the group it comes from).
        unread: Groups that fed no entry.
        problems: Sentences about what is doubtful or missing.
        observed_at: Time of the observation, UTC, or None.
        station: Station as given, or None.
    """

    entries: dict[str, tuple[Any, str]] = field(default_factory=dict)
    unread: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    observed_at: datetime | None = None
    station: str | None = None


@dataclass
class _Body:
    """The body's groups by form, in the order of the report."""

    found: dict[str, list[str]] = field(default_factory=dict)
    strange: list[str] = field(default_factory=list)
    automatic: bool = False

    def all_of(self, form: str) -> list[str]:
        return self.found.get(form, [])

    def first(self, form: str) -> str:
        return self.all_of(form)[0]


def read_metar(groups: list[str], seen_at: datetime) -> MetarReading:
    """Read the groups of one report.

    Args:
        groups: The report split at white space, upper case, without a trailing "=".
        seen_at: When somebody looked at it, aware; gives month and year.

    Returns:
        What was read. Values have passed no range check yet.
    """
    reading = MetarReading()
    body_groups, remarks = _without_remarks(joined_miles(groups))
    rest = _head(body_groups, reading, seen_at)
    if rest is None:
        reading.unread += [*body_groups, *remarks]
        return reading
    body = _sorted(rest, reading)
    decoded = _decoded(body, reading)
    if decoded is None:
        reading.unread += [*rest, *remarks]
        return reading
    whole = not body.strange
    _wind(decoded, body, reading, whole=whole)
    _visibility(decoded, body, reading)
    _cloud(decoded, body, reading, whole=whole)
    _temperature(decoded, body, remarks, reading)
    _altimeter(decoded, body, reading)
    _weather(body, remarks, reading, whole=whole)
    if body.all_of("shear"):
        reading.problems.append("Wind shear is reported, and no entry of the worksheet holds it. Judge it yourself.")
    if body.strange:
        reading.problems.append(
            f"Not read: {quoted(body.strange)}. Answers that rest on nothing else being reported are left blank."
        )
    # INVARIANT: every group has fed an entry or is shown as unread.
    used = {part for _, group in reading.entries.values() for part in (group, *group.split())}
    reading.unread += [
        group
        for group in (*rest, *remarks)
        if group not in used and group not in reading.unread and group not in {"AUTO", "COR"}
    ]
    return reading


def _without_remarks(groups: list[str]) -> tuple[list[str], list[str]]:
    """Body and remarks. A lone "$" at the end says that the station wants maintenance; it belongs to the remarks."""
    end = len(groups) - 1 if groups and groups[-1] == "$" else len(groups)
    start = groups.index("RMK") if "RMK" in groups else end
    return groups[: min(start, end)], groups[start + 1 if start < end else end :]


def _head(groups: list[str], reading: MetarReading, seen_at: datetime) -> list[str] | None:
    """Station and time; the groups after them, or None when this is no report."""
    rest = [group for group in groups if group not in {"METAR", "SPECI", "COR"}]
    if len(rest) < 2 or len(rest[0]) != 4 or not rest[0].isalnum() or not rest[0].isascii():  # noqa: PLR2004
        reading.problems.append(
            "This is no METAR: it should begin with a station of four letters and a time like 041453Z."
        )
        return None
    if not FORMS["time"].fullmatch(rest[1]):
        reading.problems.append(
            f"The time {quoted(rest[1:2])} is not of the form 041453Z: age unknown, nothing is read."
        )
        return None
    if "NIL" in rest:
        reading.problems.append("The report says NIL: the station sent no observation.")
        return None
    reading.station = rest[0]
    stamp = rest[1]
    observed = newest_before(int(stamp[:2]), int(stamp[2:4]), int(stamp[4:6]), seen_at + SLACK)
    if observed is None:
        reading.problems.append(f"The time {quoted([stamp])} does not exist: age unknown, nothing is read.")
        return None
    reading.observed_at = observed
    reading.entries["observed_at"] = (observed, stamp)
    return rest[2:]


def _sorted(groups: list[str], reading: MetarReading) -> _Body:
    body = _Body()
    for position, group in enumerate(groups):
        if group in _TRENDS:
            reading.unread += groups[position:]
            break
        form = kind_of(group)
        if group in {"AUTO", "COR"}:
            body.automatic = body.automatic or group == "AUTO"
        elif form in _SHOWN_ONLY:
            reading.unread.append(group)
            body.found.setdefault(str(form), []).append(group)
        elif form is None or form in {"time", "tenths"} or (form in _ONE_EACH and body.all_of(form)):
            body.strange.append(group)
            reading.unread.append(group)
        else:
            body.found.setdefault(form, []).append(group)
    return body


def _decoded(body: _Body, reading: MetarReading) -> Metar | None:
    """The package's reading of the gated groups, or None when it disagrees with the gate."""
    observed = reading.observed_at
    if observed is None:
        return None
    order = ("wind", "varying", "visibility", "weather", "cloud", "temperature", "altimeter")
    groups = [group for form in order for group in body.all_of(form)]
    text = " ".join([reading.station or "", f"{observed:%d%H%M}Z", *groups])
    try:
        decoded = Metar(text, month=observed.month, year=observed.year, strict=True)
    except ParserError:
        reading.problems.append("The report could not be decoded; enter the weather by hand.")
        return None
    if not _agrees(decoded, body) or decoded.time != observed.replace(tzinfo=None):  # the package's time has no zone
        reading.problems.append("The report was understood in two ways; enter the weather by hand.")
        return None
    return decoded


def _agrees(decoded: Metar, body: _Body) -> bool:
    """Whether the package read as much as the gate let through."""
    held = {
        "wind": decoded.wind_speed is not None,
        "varying": decoded.wind_dir_from is not None and decoded.wind_dir_to is not None,
        "visibility": decoded.vis is not None,
        "temperature": decoded.temp is not None and decoded.dewpt is not None,
        "altimeter": decoded.press is not None,
    }
    counted = {"cloud": len(decoded.sky), "weather": len(decoded.weather)}
    same = all(is_held == bool(body.all_of(form)) for form, is_held in held.items())
    return same and all(count == len(body.all_of(form)) for form, count in counted.items())


def _of(quantity: Any, unit: str | None = None) -> float:
    """The number of one of the package's quantities; :func:`_agrees` has seen that it is there."""
    return float(quantity.value(unit) if unit else quantity.value())


def _missing(form: str, body: _Body, reading: MetarReading) -> bool:
    """Say that a group is not there, or there but empty."""
    if body.all_of(form) and not body.all_of(f"{form}_missing"):
        return False
    empty = body.all_of(f"{form}_missing")
    reading.unread += empty
    what = (
        f"The {_LABELS[form]} group {quoted(empty)} holds no complete value" if empty else f"No {_LABELS[form]} group"
    )
    reading.problems.append(f"{what}: left blank.")
    return True


def _wind(decoded: Metar, body: _Body, reading: MetarReading, *, whole: bool) -> None:
    beyond = body.all_of("wind_beyond")
    if beyond:
        reading.unread += beyond
        reading.problems.append(f"The wind {quoted(beyond)} is beyond what the station can measure: left blank.")
        return
    if _missing("wind", body, reading):
        reading.unread += body.all_of("varying")
        return
    group = body.first("wind")
    ending = {"KT": "kt", "MPS": "ms", "KMH": "kmh"}[group.lstrip("VRB0123456789G")]
    speed, direction = _of(decoded.wind_speed), _direction(group, decoded)
    if direction is None or (direction == 0 and speed > 0):
        reading.problems.append(f"The wind direction in {quoted([group])} does not exist: left blank.")
    else:
        reading.entries["wind_from_deg"] = (direction, group)
    reading.entries[f"wind_{ending}"] = (speed, group)
    if decoded.wind_gust is not None:
        reading.entries[f"gust_{ending}"] = (_of(decoded.wind_gust), group)
    elif whole:
        reading.entries["gust_kt"] = (NONE, group)
    _wind_range(decoded, body, reading, whole=whole)


def _direction(group: str, decoded: Metar) -> Any:
    if group.startswith("VRB"):
        return "variable"
    degrees = _of(decoded.wind_dir)
    # Reports give tens of degrees, 360 for north; anything else is a slip of the pen.
    return degrees if degrees <= 360 and degrees % 10 == 0 else None  # noqa: PLR2004


def _wind_range(decoded: Metar, body: _Body, reading: MetarReading, *, whole: bool) -> None:
    if not body.all_of("varying"):
        if whole:
            reading.entries["wind_variable_from_deg"] = (NONE, body.first("wind"))
            reading.entries["wind_variable_to_deg"] = (NONE, body.first("wind"))
        return
    group = body.first("varying")
    ends = (_of(decoded.wind_dir_from), _of(decoded.wind_dir_to))
    if any(end > 360 or end % 10 for end in ends) or ends[0] == ends[1]:  # noqa: PLR2004
        reading.unread.append(group)
        reading.problems.append(f"The range of wind directions {quoted([group])} does not exist: left blank.")
        return
    reading.entries["wind_variable_from_deg"] = (ends[0], group)
    reading.entries["wind_variable_to_deg"] = (ends[1], group)


def _visibility(decoded: Metar, body: _Body, reading: MetarReading) -> None:
    if _missing("visibility", body, reading):
        reading.unread += body.all_of("visibility_sector")
        return
    group = body.first("visibility")
    sectors = body.all_of("visibility_sector")
    if group.startswith("M"):
        reading.entries["visibility_sm"] = (
            0.0,
            group,
        )  # less than the least the station reports: the bound below is zero
    elif group.endswith("SM"):
        reading.entries["visibility_sm"] = (_of(decoded.vis, "SM"), group)
        reading.unread += sectors
    else:
        lowest = min([(_of(decoded.vis, "M"), group), *((float(sector[:4]), sector) for sector in sectors)])
        reading.entries["visibility_m"] = lowest
        reading.unread += [other for other in (group, *sectors) if other != lowest[1]]


def _layers(decoded: Metar) -> Iterator[tuple[str, float]]:
    for cover, height, _ in decoded.sky:
        if height is not None:
            yield cover, height.value("FT")


def _cloud(decoded: Metar, body: _Body, reading: MetarReading, *, whole: bool) -> None:
    groups = body.all_of("cloud")
    cavok = body.all_of("visibility") == ["CAVOK"]
    if cavok and not groups and not body.all_of("cloud_missing"):
        groups = ["CAVOK"]
    elif _missing("cloud", body, reading):
        reading.unread += groups
        return
    clear = [group for group in groups if group in CLEAR_SKY]
    if (clear or cavok) and len(groups) > 1:
        reading.unread += groups
        reading.problems.append(
            f"The sky is clear and is not: {quoted(groups)}. Ceiling and lowest cloud are left blank."
        )
        return
    if not whole:
        reading.unread += groups
        return
    layers = (
        sorted(zip((height for _, height in _layers(decoded)), groups, strict=False)) if not (clear or cavok) else []
    )
    ceilings = [layer for layer in layers if layer[1].startswith(tuple(_CEILINGS))]
    reading.entries["ceiling_ft_agl"] = ceilings[0] if ceilings else (NONE, " ".join(groups))
    reading.entries["lowest_cloud_ft_agl"] = layers[0] if layers else (NONE, " ".join(groups))
    used = {reading.entries["ceiling_ft_agl"][1], reading.entries["lowest_cloud_ft_agl"][1], " ".join(groups)}
    reading.unread += [group for group in groups if ceilings and group not in used]


def _temperature(decoded: Metar, body: _Body, remarks: list[str], reading: MetarReading) -> None:
    if _missing("temperature", body, reading):
        return
    group = body.first("temperature")
    pair = (_of(decoded.temp, "C"), _of(decoded.dewpt, "C"))
    tenths = [remark for remark in remarks if FORMS["tenths"].fullmatch(remark)]
    if tenths:
        group = tenths[0]
        fine = (_tenths(group[1:5]), _tenths(group[5:9]))
        if any(abs(exact - whole) > _TENTHS_AGREE_C for exact, whole in zip(fine, pair, strict=True)):
            reading.unread.append(body.first("temperature"))
            reading.problems.append(
                f"Temperatures disagree: {quoted([body.first('temperature'), group])}. Both are left blank."
            )
            return
        pair = fine
    reading.entries["temperature_c"] = (pair[0] + 0.0, group)
    reading.entries["dew_point_c"] = (pair[1] + 0.0, group)


def _tenths(digits: str) -> float:
    return int(digits[1:]) / 10 * (-1 if digits[0] == "1" else 1)


def _altimeter(decoded: Metar, body: _Body, reading: MetarReading) -> None:
    if _missing("altimeter", body, reading):
        return
    group = body.first("altimeter")
    if group.startswith("A"):
        reading.entries["altimeter_inhg"] = (round(_of(decoded.press, "IN"), 2), group)
    else:
        reading.entries["altimeter_hpa"] = (_of(decoded.press, "HPA"), group)


def _no_look(body: _Body, remarks: list[str]) -> str:
    """Why the absence of a weather group says nothing, or ""."""
    if body.all_of("weather_missing"):
        return "the station did not observe the present weather (//)"
    if "PWINO" in remarks:
        return "the station's weather sensor is out (PWINO)"
    us_practice = any(group.startswith("A") for group in body.all_of("altimeter"))
    if body.automatic and us_practice and "AO2" not in remarks:
        return "an automatic station without AO2 in its remarks does not tell precipitation"
    return ""


def _weather(body: _Body, remarks: list[str], reading: MetarReading, *, whole: bool) -> None:
    groups = [group for group in body.all_of("weather") if is_weather(group)]
    weather = present_weather(groups)
    text = " ".join(groups) or "no weather group"
    blind = _no_look(body, remarks) or ("" if whole else "not every group was read")
    say = reading.problems.append
    if weather.intensity:
        reading.entries["precipitation"] = (list(Precipitation)[weather.intensity], text)
    elif weather.showers_near:
        say("Showers in the vicinity: whether they reach the field must be looked up. Precipitation is left blank.")
    elif blind:
        say(f"Precipitation is left blank: {blind}.")
    else:
        reading.entries["precipitation"] = (Precipitation.none, text)
    if weather.freezing:
        reading.entries["freezing_precipitation"] = (True, text)
    elif weather.unknown_sort or weather.showers_near or blind or "FZRANO" in remarks:
        say("Freezing precipitation is left blank: this report cannot rule it out.")
    else:
        reading.entries["freezing_precipitation"] = (False, text)
    if weather.fog:
        reading.entries["fog_or_mist"] = (True, text)
    elif blind:
        say(f"Fog or mist is left blank: {blind}.")
    else:
        reading.entries["fog_or_mist"] = (False, text)
    used = {group for _, group in reading.entries.values()}
    reading.unread += [] if text in used else groups
    if weather.no_entry:
        say(f"Reported, and no entry of the worksheet holds it: {quoted(weather.no_entry)}. Judge it yourself.")
    _thunderstorm(weather.thunderstorm, weather.thunderstorm_near, groups, body, remarks, reading)


def _thunderstorm(
    here: bool, near: bool, groups: list[str], body: _Body, remarks: list[str], reading: MetarReading
) -> None:
    """TS at the station is 0 NM, VCTS 5 NM (common practice, the nearest edge).

    No TS is never the answer "none": a station sees some miles, the entry asks for the nearest storm anywhere.
    """
    text = " ".join(group for group in groups if "TS" in group)
    if here or near:
        reading.entries["thunderstorm_nm"] = (0.0 if here else _VICINITY_NM, text)
        return
    signs = [group for group in body.all_of("cloud") if group.endswith(("CB", "TCU"))]
    signs += [remark for remark in remarks if remark.startswith(("LTG", "CB", "TS"))]
    hint = f" Signs of one: {quoted(signs)}." if signs else ""
    reading.problems.append(
        f"Nearest thunderstorm is left blank: a report sees only its own station, look at a wider picture.{hint}"
    )
