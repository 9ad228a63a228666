"""Quick answers: one tap that says several things at once, spelled out as ordinary worksheet entries.

A set is a question ("Which of these are true?") with plain statements. Answering it fills every entry behind it: what
is ticked, and what is not. INVARIANT: an entry gets the worst value that fits what was said, never a better one ("not
more than 4 h ago" becomes exactly 4 h ago); where what was said leaves the entry open at its bad end, the entry stays
blank, which never scores better than the worst. Nothing is answered before the person touches the set.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Literal

from riskboard.words import NONE, Medicines, Purpose, Turbulence
from riskboard.worksheet.model import Worksheet
from riskboard.worksheet.typed_times import iso_utc

__all__ = ["MISREAD", "QUICK_SETS", "QuickSet", "Statement", "answer_entries", "quick_set_of"]

MISREAD = "misread"
"""Of the weather set: the decoded report is not right, and none of it is to be used."""

Rule = Callable[[Worksheet, datetime], Mapping[str, Any]]
"""Entries, as plain data, given the worksheet as it stands and the moment of the answer. None blanks an entry."""


@dataclass(frozen=True)
class Statement:
    """One line that a person may tick.

    Attributes:
        key: Stable name, kept with the draft.
        text: What the person reads.
        fields: The entries that this line fills.
        said: What they become when it is ticked.
        unsaid: What they become when the set is answered without it.
    """

    key: str
    text: str
    fields: tuple[str, ...]
    said: Rule
    unsaid: Rule


@dataclass(frozen=True)
class QuickSet:
    """A question with its statements.

    Attributes:
        key: Stable name.
        part: Where it stands: a part of the worksheet, or "prepared", which belongs to plan and aircraft both.
        question: What is asked.
        bulk: The one tap that ends it: "all" statements are true, or "none" is; "one" where exactly one is chosen.
        bulk_text: What that tap says; "" for "one".
        statements: The lines.
    """

    key: str
    part: str
    question: str
    bulk: Literal["all", "none", "one"]
    bulk_text: str
    statements: tuple[Statement, ...]

    @property
    def fields(self) -> tuple[str, ...]:
        """Every entry that an answer fills."""
        return tuple(dict.fromkeys(field for statement in self.statements for field in statement.fields))


def _is(**entries: Any) -> Rule:
    return lambda _sheet, _at: entries


def _ago(field: str, hours: float) -> Rule:
    return lambda _sheet, at: {field: iso_utc(at - timedelta(hours=hours))}


def _trouble(key: str, text: str, field: str) -> Statement:
    """A bad thing that is either so or not."""
    return Statement(key, text, (field,), _is(**{field: True}), _is(**{field: False}))


def _done(key: str, text: str, field: str) -> Statement:
    """A good thing that is either done or not."""
    return _trouble(key, text, field)


def _told_exactly(key: str, text: str, field: str, otherwise: Rule) -> Statement:
    """Ticked, the entry is left blank to be told exactly; not ticked, it becomes the worst that is still not ticked."""
    return Statement(key, text, (field,), _is(**{field: None}), otherwise)


def _route_as_reported(sheet: Worksheet, _at: datetime) -> Mapping[str, Any]:
    weather = sheet.weather
    return {"route_visibility_sm": weather.visibility_sm, "route_ceiling_ft_agl": weather.ceiling_ft_agl}


_STORM_NM = 30


def _no_storm_within(sheet: Worksheet, _at: datetime) -> Mapping[str, Any]:
    """30 NM, or what the report itself said if that is nearer."""
    reported = sheet.weather.thunderstorm_nm
    nearer = isinstance(reported, float | int) and reported < _STORM_NM
    return {"thunderstorm_nm": reported if nearer else _STORM_NM}


def _storm_within(sheet: Worksheet, at: datetime) -> Mapping[str, Any]:
    """Blank, to be told exactly, unless the report itself gives a distance."""
    reported = _no_storm_within(sheet, at)["thunderstorm_nm"]
    return {"thunderstorm_nm": reported if reported < _STORM_NM else None}


_SLACK = timedelta(minutes=60)


def _hour_after_landing(sheet: Worksheet, _at: datetime) -> Mapping[str, Any]:
    landing_at = sheet.plan.landing_at
    return {"must_be_back_at": None if landing_at is None else iso_utc(landing_at + _SLACK)}


def _kind(key: str, text: str, purpose: Purpose | None, instructor: bool | None, passengers: int | None) -> Statement:
    entries = {
        "purpose": None if purpose is None else purpose.value,
        "instructor_aboard": instructor,
        "passengers": passengers,
    }
    return Statement(key, text, tuple(entries), _is(**entries), _is())


_KIND = QuickSet(
    "kind",
    "plan",
    "What kind of flight?",
    "one",
    "",
    (
        _kind("lesson", "Lesson, instructor aboard", Purpose.instruction, True, 0),  # noqa: FBT003
        _kind("rental", "Rental, nobody else aboard", Purpose.rental, False, 0),  # noqa: FBT003
        _kind("rental_with_others", "Rental with passengers", Purpose.rental, False, None),  # noqa: FBT003
        _kind("student_solo", "Student solo", Purpose.student_solo, False, 0),  # noqa: FBT003
        _kind("check", "Check flight, instructor aboard", Purpose.check_flight, True, 0),  # noqa: FBT003
        _kind("other", "Something else", None, None, None),
    ),
)

_PREPARED = QuickSet(
    "prepared",
    "prepared",
    "Which of these are done?",
    "all",
    "All done",
    (
        _done("preflight", "Preflight inspection", "preflight_done"),
        _done("fuel_seen", "Fuel seen or dipped", "fuel_checked_by_sight"),
        _done("notices", "Notices and restrictions read", "notices_checked"),
        _done("wires", "Wires and obstacles studied", "wires_studied"),
        _done("followed", "Somebody follows the flight", "flight_following"),
        _done("area", "Area flown within 12 months", "route_flown_before"),
    ),
)

_BEYOND = QuickSet(
    "beyond",
    "weather",
    "Compare with the report and look beyond it: which of these are true?",
    "none",
    "None of these",
    (
        Statement(MISREAD, "A value above was read wrongly", (), _is(), _is()),
        _told_exactly("far", "Station more than 5 NM away", "station_distance_nm", _is(station_distance_nm=5)),
        Statement(
            "route",
            "Worse somewhere on the route",
            ("route_visibility_sm", "route_ceiling_ft_agl"),
            _is(route_visibility_sm=None, route_ceiling_ft_agl=None),
            _route_as_reported,
        ),
        _told_exactly(
            "turbulence", "Turbulence reported or forecast", "turbulence", _is(turbulence=Turbulence.none.value)
        ),
        Statement(
            "storm",
            "Thunderstorm within 30 NM",
            ("thunderstorm_nm",),
            _storm_within,
            _no_storm_within,
        ),
    ),
)

_FITNESS = QuickSet(
    "fitness",
    "pilot",
    "Which of these are true of you?",
    "none",
    "None of these",
    (
        _trouble("ill", "Ill, in pain or recovering", "ill_today"),
        _told_exactly("medicine", "Medicine that may still act", "medicines", _is(medicines=Medicines.none.value)),
        _told_exactly("drink", "A drink in the last 24 h", "last_drink_at", _ago("last_drink_at", 24)),
        _told_exactly("stress", "More than a little stress", "stress_level", _is(stress_level=2)),
        _trouble("life_event", "A life event weighs on me", "life_event"),
        _told_exactly("meal", "Last meal over 4 h ago", "last_meal_at", _ago("last_meal_at", 4)),
        _told_exactly("duty", "At work for over 4 h", "duty_started_at", _ago("duty_started_at", 4)),
        _told_exactly("flights", "Over 2 flights flown today", "flights_today", _is(flights_today=2)),
        _told_exactly("days", "Over 5 days worked in a row", "days_in_row", _is(days_in_row=5)),
    ),
)

_PRESSURES = QuickSet(
    "pressures",
    "pressures",
    "Which of these are true today?",
    "none",
    "None of these",
    (
        _trouble("waits", "Somebody waits for this flight", "someone_waits"),
        _told_exactly("back", "Due back within 1 h of landing", "must_be_back_at", _hour_after_landing),
        _trouble("exam", "A check or exam depends on it", "check_or_exam"),
        _trouble("closing", "Go now or the weather closes", "weather_closing"),
        _trouble("money", "Somebody loses money by a no", "money_at_stake"),
        _told_exactly("cancelled", "It was cancelled before", "cancelled_before", _is(cancelled_before=0)),
        _trouble("refused", "Somebody said no to it today", "refused_today"),
        _told_exactly("pushed", "I feel more than a little pushed", "pressure_felt", _is(pressure_felt=2)),
        Statement(
            "not_agreed",
            "Staying has not been agreed as fine",
            ("no_go_is_fine",),
            _is(no_go_is_fine=False),
            _is(no_go_is_fine=True),
        ),
        _told_exactly("else", "Something else worries me", "anything_else", _is(anything_else=NONE)),
    ),
)

QUICK_SETS: Mapping[str, QuickSet] = {each.key: each for each in (_KIND, _PREPARED, _BEYOND, _FITNESS, _PRESSURES)}
"""Every set, in the order in which people meet them."""


def quick_set_of(field: str) -> QuickSet | None:
    """The set that can fill an entry, or None."""
    return next((each for each in QUICK_SETS.values() if field in each.fields), None)


def answer_entries(key: str, ticked: Collection[str], sheet: Worksheet, at: datetime) -> dict[str, Any]:
    """What an answered set fills in.

    Args:
        key: The set.
        ticked: Keys of the statements said; may be empty, which is an answer too.
        sheet: The worksheet as it stands; some lines refer to other entries of it.
        at: The moment of the answer, aware.

    Returns:
        Field name -> plain value for every entry of the set; None is a blank. Of a set with one choice, only that
        choice's entries.

    Raises:
        KeyError: No set, or no statement of it, is called so.
        ValueError: More than one choice of a set that takes one, or ``at`` has no zone.
    """
    if at.tzinfo is None:
        raise ValueError("the moment of the answer needs a time zone")
    asked = QUICK_SETS[key]
    unknown = sorted(set(ticked) - {statement.key for statement in asked.statements})
    if unknown:
        raise KeyError(f"the quick answers {key!r} have no statement {unknown[0]!r}")
    if asked.bulk == "one" and len(ticked) > 1:
        raise ValueError(f"the quick answers {key!r} take one choice, not {len(ticked)}")
    if asked.bulk == "one" and not ticked:
        return dict.fromkeys(asked.fields)
    entries: dict[str, Any] = {}
    for statement in asked.statements:
        rule = statement.said if statement.key in ticked else statement.unsaid
        entries.update(rule(sheet, at))
    return entries
