"""The groups of routine reports and aerodrome forecasts, exactly as published; whatever has another form is unread.

The forms are those of WMO-No. 306 (FM 15 METAR, FM 51 TAF) and of the US national practice in FMH-1 (statute miles,
inches of mercury, remarks). A gate of our own stands before the decoding packages because those read more than they
should ("OVC0O5" as OVC005, "240155KT" as 15 kt) or skip in silence what they do not know.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from riskboard.worksheet.kinds import shown

__all__ = [
    "CLEAR_SKY",
    "FORMS",
    "SLACK",
    "Weather",
    "is_weather",
    "joined_miles",
    "kind_of",
    "newest_before",
    "present_weather",
    "quoted",
]

SLACK = timedelta(minutes=15)
"""A report may carry a time this far ahead: it is stamped with the full hour and sent some minutes before."""

_MONTHS_BACK = 13
_LAST_MONTH = 12

CLEAR_SKY = frozenset({"SKC", "CLR", "NSC", "NCD"})

_D = "[0-9]"
FORMS: Mapping[str, re.Pattern[str]] = {
    name: re.compile(form)
    for name, form in {
        "time": rf"{_D}{{6}}Z",
        "wind": rf"(?:{_D}{{3}}|VRB){_D}{{2,3}}(?:G{_D}{{2,3}})?(?:KT|MPS|KMH)",
        "wind_beyond": rf"(?:{_D}{{3}}|VRB)(?:P{_D}{{2,3}}(?:GP?{_D}{{2,3}})?|{_D}{{2,3}}GP{_D}{{2,3}})(?:KT|MPS|KMH)",
        "wind_missing": rf"(?:///|{_D}{{3}})(?://|{_D}{{2}})(?:KT|MPS|KMH)",
        "varying": rf"{_D}{{3}}V{_D}{{3}}",
        "visibility": rf"CAVOK|{_D}{{4}}(?:NDV)?|P?{_D}{{1,2}}SM|(?:[PM]|{_D}{{1,2}} )?{_D}/{_D}{{1,2}}SM",
        "visibility_sector": rf"{_D}{{4}}(?:N|NE|E|SE|S|SW|W|NW)",
        "visibility_missing": r"////(?:SM)?",
        "runway": rf"R{_D}{{2}}[LCR]?/(?:[PM]?{_D}{{4}}|////|CLRD|SNOCLO).*|R/SNOCLO|R(?:WY)?{_D}{{2}}[LCR]?|RWY|ALL",
        "shear": r"WS",
        "cloud": rf"(?:FEW|SCT|BKN|OVC){_D}{{3}}(?:CB|TCU|///)?|VV{_D}{{3}}|SKC|CLR|NSC|NCD",
        "cloud_missing": rf"(?:FEW|SCT|BKN|OVC|///)(?:{_D}{{3}}|///)(?:CB|TCU|///)?|VV///|///",
        "temperature": rf"M?{_D}{{2}}/M?{_D}{{2}}",
        "temperature_missing": rf"(?:M?{_D}{{2}}|//|XX|MM)/(?:M?{_D}{{2}}|//|XX|MM)?",
        "altimeter": rf"[AQ]{_D}{{4}}",
        "altimeter_missing": r"[AQ]////",
        "weather_missing": r"//",
        "recent": r"RE[A-Z]{2,6}",
        "tenths": rf"T[01]{_D}{{3}}[01]{_D}{{3}}",
    }.items()
}
"""Each form matches a whole group; the order is the order in which they are tried."""

_DESCRIPTORS = ("MI", "PR", "BC", "DR", "BL", "SH", "TS", "FZ")
_FALLING = ("DZ", "RA", "SN", "SG", "IC", "PL", "GR", "GS", "UP")
_OBSCURING = ("BR", "FG", "FU", "VA", "DU", "SA", "HZ", "PY")
_OTHER = ("PO", "SQ", "FC", "SS", "DS")
_WEATHER = re.compile(
    rf"(?P<near>VC)?(?P<strength>[-+])?(?P<how>{'|'.join(_DESCRIPTORS)})?"
    rf"(?P<falls>(?:{'|'.join(_FALLING)}){{0,3}})(?P<dims>{'|'.join(_OBSCURING)})?(?P<other>{'|'.join(_OTHER)})?"
)


@dataclass(frozen=True)
class Weather:
    """What the present-weather groups of a report say together.

    Attributes:
        intensity: 0 no precipitation, 1 light, 2 moderate, 3 heavy.
        freezing: Freezing rain or drizzle, or ice pellets.
        unknown_sort: Precipitation whose sort the station could not tell (UP): freezing or not is open.
        fog: Fog or mist in any form, patches and vicinity too.
        thunderstorm: At the station.
        thunderstorm_near: In the vicinity.
        showers_near: Showers in the vicinity: whether they reach the field is open.
        no_entry: Groups that matter and that no entry of the worksheet holds (squall, funnel cloud, dust, ash).
    """

    intensity: int = 0
    freezing: bool = False
    unknown_sort: bool = False
    fog: bool = False
    thunderstorm: bool = False
    thunderstorm_near: bool = False
    showers_near: bool = False
    no_entry: tuple[str, ...] = ()


def kind_of(group: str) -> str | None:
    """The form a group has, or None when it has none of them."""
    if is_weather(group):
        return "weather"
    return next((name for name, form in FORMS.items() if form.fullmatch(group)), None)


def is_weather(group: str) -> bool:
    """Whether a group is a present-weather group (``NSW`` too, which a forecast uses)."""
    if group == "NSW":
        return True
    found = _WEATHER.fullmatch(group)
    if found is None:
        return False
    carried = found["falls"] or found["dims"] or found["other"]
    # TS stands alone or near; SH only near, or with what falls.
    return bool(carried) or found["how"] == "TS" or (found["how"] == "SH" and found["near"] is not None)


def present_weather(groups: Iterable[str]) -> Weather:
    """Read present-weather groups together; the worst of each thing counts."""
    read = [_one_weather(group) for group in groups if group != "NSW"]
    return Weather(
        intensity=max((one.intensity for one in read), default=0),
        freezing=any(one.freezing for one in read),
        unknown_sort=any(one.unknown_sort for one in read),
        fog=any(one.fog for one in read),
        thunderstorm=any(one.thunderstorm for one in read),
        thunderstorm_near=any(one.thunderstorm_near for one in read),
        showers_near=any(one.showers_near for one in read),
        no_entry=tuple(group for one in read for group in one.no_entry),
    )


def _one_weather(group: str) -> Weather:
    found = _WEATHER.fullmatch(group)
    if found is None:
        raise ValueError(f"{shown(group)} is no present-weather group")
    near, how, falls = found["near"] is not None, found["how"], found["falls"]
    falling = bool(falls) and how not in {"BL", "DR"} and not near  # blown or drifting snow does not fall
    strength = {"-": 1, None: 2, "+": 3}[found["strength"]]
    return Weather(
        intensity=strength if falling else 0,
        freezing=(how == "FZ" and bool(falls)) or "PL" in falls,
        unknown_sort="UP" in falls,
        fog=found["dims"] in {"BR", "FG"},
        thunderstorm=how == "TS" and not near,
        thunderstorm_near=how == "TS" and near,
        showers_near=near and (how == "SH" or bool(falls)),
        no_entry=(group,) if found["other"] or how == "BL" or found["dims"] in {"VA", "DU", "SA", "FU"} else (),
    )


def joined_miles(groups: list[str]) -> list[str]:
    """Join the two halves of a mixed number of miles: "1", "1/2SM" is one group."""
    joined: list[str] = []
    for group in groups:
        if joined and re.fullmatch(r"[0-9]{1,2}", joined[-1]) and re.fullmatch(r"[0-9]/[0-9]{1,2}SM", group):
            joined[-1] = f"{joined[-1]} {group}"
        else:
            joined.append(group)
    return joined


def newest_before(day: int, hour: int, minute: int, limit: datetime) -> datetime | None:
    """The newest instant with this day of the month and time of day, in UTC, that is not after ``limit``.

    Returns:
        The instant, or None when no month has it (day 32, hour 25).
    """
    year, month = limit.year, limit.month
    for _ in range(_MONTHS_BACK):
        try:
            found = datetime(year, month, day, hour, minute, tzinfo=UTC)
        except ValueError:
            found = None
        if found is not None and found <= limit:
            return found
        year, month = (year, month - 1) if month > 1 else (year - 1, _LAST_MONTH)
    return None


def quoted(groups: Iterable[str]) -> str:
    """Groups as a sentence names them: short and harmless."""
    return ", ".join(shown(group) for group in groups)
