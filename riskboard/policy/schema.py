"""What may stand in a policy file: which keys, of which kind, required or not. Reader and editor schema follow from it.

Only the shape is here. What must hold between values (bounds in order, levels reachable, cases right) is proved in
``checks.py`` and its neighbours.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from riskboard.words import Decision, Group, Role
from riskboard.yaml_record import Choice, Day, Key, ListOf, MapOf, Record, Text, Whole

__all__ = [
    "ERROR_INPUTS",
    "EXTENSION",
    "FRAGILE_BELOW_PCT",
    "MAX_CLAUSES",
    "MAX_LIMITS",
    "MAX_POINTS",
    "OVERDUE_MARGIN_MIN",
    "POLICY",
    "SCHEMA",
    "SECOND_PERSONS",
    "SOURCE_KINDS",
    "WAYS_OUT",
    "CaseRows",
    "Choice",
    "Day",
    "Entries",
    "Guards",
    "Instant",
    "Key",
    "Kind",
    "ListOf",
    "MapOf",
    "MeasureName",
    "Number",
    "Record",
    "Text",
    "Waiver",
    "Whole",
    "WorksheetData",
]

SCHEMA = "riskboard-policy/1"
SOURCE_KINDS = ("regulation", "published guidance", "flight manual", "common practice", "school")
MAX_LIMITS = 150
MAX_CLAUSES = 300
"""Nothing breaks above these; a policy that needs more is no longer read by anybody."""
MAX_POINTS = 1000
MAX_VALID_MIN = 24 * 60
OVERDUE_MARGIN_MIN = 30
"""Common practice, no source: what a policy without ``overdue`` means."""

FRAGILE_BELOW_PCT = 90
"""Common practice, no source: what a policy without ``fragile_below_pct`` means."""

ERROR_INPUTS = (
    "temperature_c", "dew_point_c", "wind_kt", "gust_kt", "wind_from_deg", "visibility_sm", "route_visibility_sm",
    "ceiling_ft_agl", "lowest_cloud_ft_agl", "route_ceiling_ft_agl", "altimeter_inhg", "thunderstorm_nm",
    "fuel_usable_gal", "fuel_burn_gal_h", "meter_h", "station_loads_lb", "sleep_min", "landing_at_min",
)  # fmt: skip
"""Inputs whose error a policy may state; a test holds them to ``assessment.robustness.Errors``."""

WAYS_OUT = (
    "later", "shorter", "no_night_part", "less_fuel", "more_fuel", "lighter", "passenger_less", "instructor",
    "other_site", "other_aircraft", "other_exercise", "preparation", "mitigation",
)  # fmt: skip
"""Kinds of ways out that a policy may price; a test holds them to ``assessment.ways_out.Kind``."""

SECOND_PERSONS = tuple(role for role in Role if role not in {Role.pilot, Role.student, Role.renter})
"""Roles that may sign for somebody else's flight. Nobody signs their own exception."""


@dataclass(frozen=True)
class Number:
    """A plain decimal."""


@dataclass(frozen=True)
class Instant:
    """A moment with its zone."""


@dataclass(frozen=True)
class MeasureName:
    """The name of a registered measure that policies may use."""


@dataclass(frozen=True)
class Guards:
    """Guard words with the truth they need."""

    only_true: bool = False


@dataclass(frozen=True)
class Waiver:
    """``none``, or the roles that may waive a limit."""


@dataclass(frozen=True)
class CaseRows:
    """Rows ``[value, expected]``; the value may be the word ``unknown``. ``words`` may be expected beside points."""

    words: tuple[str, ...]
    points: bool


@dataclass(frozen=True)
class WorksheetData:
    """A base worksheet: the parts of a worksheet file, and ``decided_at``."""


@dataclass(frozen=True)
class Entries:
    """Entries of a worksheet by field name."""


Kind = (
    Text
    | Whole
    | Number
    | Choice
    | Day
    | Instant
    | MeasureName
    | Guards
    | Waiver
    | CaseRows
    | WorksheetData
    | Entries
    | ListOf
    | MapOf
    | Record
)

NAME = Text(60, "[a-z][a-z0-9_]*", "small letters, digits and _, first a letter")
ID = Text(60, "[a-z][a-z0-9-]*", "small letters, digits and -, first a letter")
# The worksheet states a mitigation by its name in at most 80 characters.
SENTENCE = Text(80, "[^\\W\\d_][\\w ,.'()/-]*", "letters, digits, spaces and , . ' ( ) / - _, first a letter")
WHY = Text(1000)

_POINTS = Whole(0, MAX_POINTS)
_TOTAL = Whole(0, MAX_POINTS * MAX_CLAUSES)
_GROUP = Choice(tuple(group.value for group in Group))
_DECISION = Choice(tuple(decision.name for decision in Decision))
_ROLES = ListOf(Choice(tuple(role.value for role in Role)))
_IF_UNKNOWN = Choice(("no_go", "sign_off"))


def _optional(kind: Kind, about: str) -> Key:
    return Key(kind, about, required=False)


def _record(name: str, keys: Mapping[str, Key]) -> Record:
    return Record(name, keys, article=True)


SOURCE = _record(
    "source",
    {
        "text": Key(Text(300), "Where the clause comes from, as a reader can find it."),
        "kind": Key(Choice(SOURCE_KINDS), "What sort of source that is."),
        "checked_on": Key(Day(), "When somebody last compared the clause with its source."),
    },
)

_WHY_AND_SOURCE = {
    "why": Key(WHY, "Why the clause is there, in a sentence for the pilot."),
    "source": Key(SOURCE, "Where the clause comes from."),
}
_WHEN = _optional(Guards(), "The clause applies unless one of these is surely otherwise.")

LEVEL = _record(
    "level",
    {
        "name": Key(NAME, "The school's word for this level of risk."),
        "up_to": _optional(_TOTAL, "Highest total that still is this level; the last level has none."),
        "decision": Key(_DECISION, "What follows from it."),
        "accepted_by": _optional(_ROLES, "Roles that may accept a flight at this level; none for no_go."),
        "valid_min": _optional(Whole(1, MAX_VALID_MIN), "Minutes that an acceptance holds; none for no_go."),
    },
)

CEILING = _record(
    "group ceiling",
    {
        "up_to": Key(_TOTAL, "Points of the group that are still fine."),
        "else": Key(NAME, "Level that the flight has at least when the group has more."),
    },
)

BAND = _record(
    "band",
    {
        "up_to": _optional(Number(), "Highest value of this band, where higher is worse."),
        "at_least": _optional(Number(), "Lowest value of this band, where lower is worse."),
        "points": Key(_POINTS, "Points of this band."),
        "floor": _optional(NAME, "Level that the flight has at least in this band."),
    },
)

FACTOR = _record(
    "factor",
    {
        "group": Key(_GROUP, "PAVE group that the points belong to."),
        "measure": Key(MeasureName(), "The measure it looks at."),
        "bands": Key(ListOf(BAND, at_least=2), "Bands, best first; the last has no bound."),
        "if_unknown": _optional(_IF_UNKNOWN, "What an unknown measure does; no_go where not given."),
        "when": _WHEN,
        "non_monotone": _optional(Text(300), "Why points fall toward worse; only where they do."),
        **_WHY_AND_SOURCE,
        "cases": Key(CaseRows(("no_go", "sign_off"), points=True), "Values with the points they must give."),
    },
)

LIMIT = _record(
    "limit",
    {
        "measure": Key(MeasureName(), "The measure it looks at."),
        "up_to": _optional(Number(), "Highest value that passes, where higher is worse."),
        "at_least": _optional(Number(), "Lowest value that passes, where lower is worse."),
        "waiver": Key(Waiver(), "Who may waive it: none, or roles."),
        "when": _WHEN,
        **_WHY_AND_SOURCE,
        "cases": Key(CaseRows(("pass", "stop"), points=False), "Values with what they must give."),
    },
)

PART = _record(
    "part",
    {
        "measure": Key(MeasureName(), "The measure it looks at."),
        "beyond": Key(Number(), "The part holds strictly on the worse side of this."),
    },
)

COMBINATION = _record(
    "combination",
    {
        "name": Key(SENTENCE, "What compounds."),
        "group": Key(_GROUP, "PAVE group that the points belong to."),
        "all_of": _optional(ListOf(PART), "Parts that must all hold; may be left out where `when` is given."),
        "when": _WHEN,
        "points": Key(_POINTS, "Points when it holds."),
        "floor": _optional(NAME, "Level that the flight has at least when it holds."),
        "if_unknown": _optional(_IF_UNKNOWN, "What an unknown part does; sign_off where not given."),
        **_WHY_AND_SOURCE,
    },
)

MITIGATION = _record(
    "mitigation",
    {
        "name": Key(SENTENCE, "What is done."),
        "off": Key(ListOf(NAME, at_least=1), "Factors it may take points off."),
        "at_most": Key(Whole(1, MAX_POINTS), "Most points it takes off."),
        "needs": _optional(Guards(only_true=True), "Guard words that must be surely true."),
        **_WHY_AND_SOURCE,
    },
)

GIVEN = _record(
    "given",
    {
        "worksheet": Key(NAME, "Name of a base worksheet."),
        "but": _optional(Entries(), "Entries replaced in it; null blanks one."),
    },
)

EXPECT = _record(
    "expect",
    {
        "decision": Key(_DECISION, "The decision that must come out."),
        "level": _optional(NAME, "The level that must come out."),
        "because": _optional(ListOf(Text(80)), "Factors, limits and combinations that must be among the reasons."),
        "accepted_by": _optional(_ROLES, "Exactly the roles that may accept the level that comes out."),
        "waived_by": _optional(_ROLES, "Exactly the roles that may waive every limit among the reasons."),
    },
)

TEST = _record(
    "test",
    {
        "name": Key(Text(), "A sentence that says what is shown."),
        "given": Key(GIVEN, "The flight."),
        "expect": Key(EXPECT, "What must come out."),
    },
)

EXTENDS = _record(
    "extends",
    {
        "id": Key(ID, "Which policy is extended."),
        "version": Key(Whole(1, 1_000_000), "Which version of it."),
    },
)

_STEPS = ListOf(Text(200), at_least=1, at_most=12)

OVERDUE = _record(
    "overdue plan",
    {
        "margin_min": Key(
            Whole(5, 240), "Minutes after the planned landing, and no word, from when a flight is overdue."
        ),
        "steps": _optional(_STEPS, "What the desk does then, in this order."),
    },
)

ENTRY_ERROR = replace(
    _record(
        "error",
        {
            "size": _optional(Number(), "Size of the error, in the unit of the entry."),
            "pct": _optional(Number(), "Size of the error, in percent of the value."),
            **_WHY_AND_SOURCE,
        },
    ),
    one_of=(("size", "pct"),),
)

WAY_COST = _record(
    "way out",
    {
        "cost": Key(Whole(0, MAX_POINTS), "What it costs the pilot, in points of the school's own; cheapest first."),
        **_WHY_AND_SOURCE,
    },
)

WHEN_NO = _record(
    "word for a no",
    {
        "tell_customer": Key(Text(400), "What a pilot can tell whoever waits, in a sentence or two."),
        "call": Key(Text(200), "Whom to call: a role, and where its number hangs."),
        **_WHY_AND_SOURCE,
    },
)

POLICY = _record(
    "policy",
    {
        "schema": Key(Choice((SCHEMA,)), "The format of this file."),
        "id": Key(ID, "Which policy this is, over all its versions."),
        "version": Key(Whole(1, 1_000_000), "Its version; another text needs another version."),
        "title": Key(Text(), "What people call it."),
        "extends": _optional(EXTENDS, "The policy that this one tightens."),
        "effective_from": Key(Instant(), "From when it is in force."),
        "review_by": Key(Day(), "When it must have been looked at again."),
        "weather_age_max_min": Key(Whole(1, 180), "Minutes after which a weather fact counts as unknown."),
        "overdue": _optional(OVERDUE, "From when a flight is overdue, and what the desk does then; 30 min without it."),
        "fragile_below_pct": _optional(
            Whole(50, 100), "A go that holds in a smaller share of its copies is called fragile; 90 where not given."
        ),
        "errors": _optional(
            MapOf(ENTRY_ERROR, words=ERROR_INPUTS), "How far hand-entered values may be from the truth."
        ),
        "ways_out": _optional(MapOf(WAY_COST, words=WAYS_OUT), "What can be offered instead, and what it costs."),
        "when_no": _optional(WHEN_NO, "What to tell a customer at a no, and whom to call."),
        "levels": Key(ListOf(LEVEL, at_least=2), "Levels of risk, best first."),
        "group_ceilings": _optional(
            MapOf(CEILING, words=_GROUP.words), "So that a bad group cannot hide in a good total."
        ),
        "factors": Key(MapOf(FACTOR, NAME, at_least=1), "Clauses that give points."),
        "limits": _optional(MapOf(LIMIT, NAME), "Clauses that by themselves mean no-go."),
        "combinations": _optional(ListOf(COMBINATION), "Hazards that compound."),
        "mitigations": _optional(ListOf(MITIGATION), "Stated actions that take points off."),
        "worksheets": _optional(MapOf(WorksheetData(), NAME), "Base worksheets of the tests."),
        "tests": _optional(ListOf(TEST), "Named examples."),
    },
)

_TIGHTER_LEVEL = replace(LEVEL, keys={key: replace(rule, required=key == "name") for key, rule in LEVEL.keys.items()})
_TIGHTER_OVERDUE = replace(OVERDUE, keys={key: replace(rule, required=False) for key, rule in OVERDUE.keys.items()})
_INHERITED = ("weather_age_max_min", "levels", "factors")

EXTENSION = _record(
    "policy",
    {
        **{key: replace(rule, required=rule.required and key not in _INHERITED) for key, rule in POLICY.keys.items()},
        "extends": Key(EXTENDS, "The policy that this one tightens."),
        "overdue": _optional(_TIGHTER_OVERDUE, "A shorter margin, other steps; the rest is inherited."),
        "levels": _optional(ListOf(_TIGHTER_LEVEL), "Levels that are tightened; the others are inherited."),
        "factors": _optional(MapOf(FACTOR, NAME), "Clauses added, or replaced by ones at least as severe."),
        "without_mitigations": _optional(ListOf(SENTENCE), "Mitigations of the extended policy that are removed."),
        "without_tests": _optional(ListOf(Text()), "Tests of the extended policy whose flights come out worse here."),
    },
)
"""A policy that extends another: everything that is inherited may be left out."""
