"""Ways out of a sign-off or a no-go: the smallest sets of things that people can actually do, each verified anew.

What can be done is offered by the caller, who knows the fleet, the sites and the price: an :class:`Offer` changes
entries of the plan and costs something. Offers that follow from the worksheet alone (later, less or more fuel, one
passenger less, shorter, a mitigation) are made here. A way out is one offer or two together; it counts only where a
fresh assessment of the changed worksheet gives a better level, and where nothing less of it does. A fact is never
changed: who slept badly does not sleep well by looking for a way out. Staying on the ground is always one of the ways.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import combinations, islice
from typing import Final
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from riskboard.assessment.airframe import airframe_columns, airframe_problems
from riskboard.assessment.assess import Assessment, CannotAssessError, assess
from riskboard.assessment.engine import score
from riskboard.assessment.facts import facts_from_columns
from riskboard.assessment.variations import Base
from riskboard.assessment.window import Step, Window
from riskboard.measures.registry import evaluate_together
from riskboard.words import Decision
from riskboard.worksheet.checks import clock_contradictions
from riskboard.worksheet.columns import expire_weather, to_columns
from riskboard.worksheet.entries import MitigationTaken, StationLoad
from riskboard.worksheet.fact import FactClock
from riskboard.worksheet.model import FIELD_PART, Worksheet

__all__ = ["STAY", "Kind", "Offer", "Way", "WaysOut", "usual_offers", "ways_out"]

MOST_WAYS: Final = 3
STAY: Final = "Stay on the ground today."
"""Always one of the ways, with the weight of any other."""

_SECONDS_PER_MIN: Final = 60.0


class Kind(StrEnum):
    """What people can do about a flight."""

    later = "later"
    shorter = "shorter"
    no_night_part = "no_night_part"
    less_fuel = "less_fuel"
    more_fuel = "more_fuel"
    lighter = "lighter"
    passenger_less = "passenger_less"
    instructor = "instructor"
    other_site = "other_site"
    other_aircraft = "other_aircraft"
    other_exercise = "other_exercise"
    preparation = "preparation"
    mitigation = "mitigation"


_PLAN: Final = frozenset(name for name, part in FIELD_PART.items() if part == "plan")
_AIRCRAFT: Final = frozenset(name for name, part in FIELD_PART.items() if part == "aircraft")
_WEATHER: Final = frozenset(name for name, part in FIELD_PART.items() if part == "weather")
_INSTRUCTOR: Final = frozenset(
    {"instructor_name", "instructor_experience_on", "instructor_period_ends_on", "instructor_in_type_h",
     "instructor_exercise_last_on", "first_flight_together", "instructor_aboard", "station_loads", "passengers"}
)  # fmt: skip
_DONE_TO_IT: Final = frozenset({"fuel_usable_gal", "fuel_checked_by_sight", "preflight_done"})
_NOT_PLANNED: Final = frozenset({"time_zone", "route_flown_before"})
"""Entries of the plan that are facts: nobody changes them by planning otherwise, only by going elsewhere."""

MAY_CHANGE: Final[Mapping[Kind, frozenset[str]]] = {
    Kind.later: frozenset({"take_off_at", "landing_at"}) | _WEATHER,
    Kind.shorter: frozenset({"landing_at", "distance_from_base_nm"}),
    Kind.no_night_part: frozenset({"take_off_at", "landing_at"}),
    Kind.less_fuel: frozenset({"fuel_usable_gal"}),
    Kind.more_fuel: frozenset({"fuel_usable_gal"}),
    Kind.lighter: frozenset({"station_loads"}),
    Kind.passenger_less: frozenset({"passengers", "station_loads"}),
    Kind.instructor: _INSTRUCTOR,
    Kind.other_site: _PLAN - {"take_off_at", "instructor_aboard", "passengers", "mitigations"},
    Kind.other_aircraft: _AIRCRAFT | {"station_loads", "transponder_used"},
    Kind.other_exercise: frozenset({"exercise", "exercise_last_flown_on", "instructor_exercise_last_on"}),
    Kind.preparation: (_PLAN - _NOT_PLANNED - {"take_off_at", "landing_at", "mitigations"}) | _DONE_TO_IT,
    Kind.mitigation: frozenset({"mitigations"}),
}
"""Which entries each kind of offer may touch. The weather changes only with the time of the flight, as forecast; no
offer touches the pilot's sleep, health, papers, practice or the pressures."""


@dataclass(frozen=True, eq=False)
class Offer:
    """One thing that can be done.

    Attributes:
        kind: What sort of thing.
        said: What a person reads, such as "Take off at 11:30".
        cost: What it costs the pilot, in the school's own points; lower is tried and shown first.
        changes: Entries of the worksheet and what they become. For ``mitigation`` one more entry is added to those
            stated.
        at: When the decision would be made; None for now. Only an offer to fly later has one.
        clocks: When changed weather entries would be true; only for an offer to fly later.

    Raises:
        ValueError: The offer changes an entry that its kind may not touch, or costs less than nothing.
    """

    kind: Kind
    said: str
    cost: float
    changes: Mapping[str, object]
    at: datetime | None = None
    clocks: Mapping[str, FactClock] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse what would change a fact."""
        facts = sorted(set(self.changes) - MAY_CHANGE[self.kind])
        if facts:
            raise ValueError(f"an offer of kind {self.kind.value!r} must not change {facts[0]!r}: that is a fact")
        if not self.changes:
            raise ValueError("an offer changes something")
        if not self.cost >= 0.0:
            raise ValueError(f"the cost of an offer is a number from 0 up; found {self.cost}")
        if (self.at is not None or self.clocks) and self.kind is not Kind.later:
            raise ValueError("only an offer to fly later moves the moment of decision")


@dataclass(frozen=True, eq=False)
class Way:
    """A way out.

    Attributes:
        offers: The one or two things to do; none for staying.
        said: What a person reads.
        cost: Sum of the costs; 0 for staying.
        sheet: The changed worksheet; None for staying.
        assessment: Its fresh assessment; None for staying.
    """

    offers: tuple[Offer, ...]
    said: str
    cost: float
    sheet: Worksheet | None
    assessment: Assessment | None


@dataclass(frozen=True, eq=False)
class WaysOut:
    """What could be done instead.

    Attributes:
        ways: At most three ways to a better level, cheapest first, and staying on the ground.
        needed: False for a go: nothing has to change, and staying is still a choice.
    """

    ways: tuple[Way, ...]
    needed: bool


def ways_out(base: Base, offers: Sequence[Offer]) -> WaysOut:
    """The smallest sets of offers that give a better level.

    Args:
        base: The worksheet, from ``base_of``.
        offers: What can be done.

    Returns:
        At most three ways, ranked by cost, then by level, then by number of things to do; and staying.
    """
    needed = base.decision != int(Decision.go)
    if not needed:
        return WaysOut((_stay(),), needed=False)
    singles = _ranked(_better(base, [(offer,) for offer in offers]))
    alone = {id(offer): level for (offer,), level in singles}
    found = list(singles)
    dearest = [_cost(chosen) for chosen, _ in _one_of_a_kind(singles)][:MOST_WAYS][MOST_WAYS - 1 :]
    pairs = [pair for pair in combinations(offers, 2) if _fit(*pair) and all(_cost(pair) <= cost for cost in dearest)]
    # Two things are offered only where they reach a level that neither reaches alone.
    found += [
        (pair, level)
        for pair, level in _better(base, pairs)
        if all(level < alone.get(id(offer), base.level) for offer in pair)
    ]
    best = _verified_ways(base, _one_of_a_kind(_ranked(found)))
    return WaysOut((*islice(best, MOST_WAYS), _stay()), needed=True)


_Found = tuple[tuple[Offer, ...], int]


def _ranked(found: Sequence[_Found]) -> list[_Found]:
    return sorted(found, key=lambda each: (_cost(each[0]), each[1], len(each[0])))


def _verified_ways(base: Base, found: Iterable[_Found]) -> Iterator[Way]:
    for chosen, level in found:
        way = _verified(base, chosen, level)
        if way is not None:
            yield way


def _stay() -> Way:
    return Way((), STAY, 0.0, None, None)


def _cost(offers: Sequence[Offer]) -> float:
    return sum(offer.cost for offer in offers)


def _fit(one: Offer, other: Offer) -> bool:
    """Two offers go together where they do not both say what one entry becomes; mitigations add up."""
    both = set(one.changes) & set(other.changes)
    if one.kind is Kind.mitigation and other.kind is Kind.mitigation:
        return one.changes["mitigations"] != other.changes["mitigations"]
    return not both


def _one_of_a_kind(found: Iterable[_Found]) -> Iterator[_Found]:
    """Of ways that differ only in how far they go (11:30 or 11:40) the first; three such would hide the others."""
    seen: set[frozenset[Kind | str]] = set()
    for offers, level in found:
        kinds = frozenset(_sort_of(offer) for offer in offers)
        if kinds not in seen:
            seen.add(kinds)
            yield offers, level


def _sort_of(offer: Offer) -> Kind | str:
    """Offers that are a matter of degree are one sort; two aircraft or two mitigations are not."""
    by_degree = {Kind.later, Kind.shorter, Kind.no_night_part, Kind.less_fuel, Kind.more_fuel, Kind.lighter}
    return offer.kind if offer.kind in by_degree else offer.said


# -- the engine -------------------------------------------------------------------------------------------------------


def changed_by(sheet: Worksheet, at: datetime, offers: Sequence[Offer]) -> tuple[Worksheet, datetime]:
    """The worksheet after some offers were taken, and when it would be decided.

    Raises:
        ValidationError: The changed worksheet is impossible.
    """
    changes: dict[str, object] = {}
    clocks = dict(sheet.clocks)
    stated: list[object] = list(sheet.plan.mitigations or ())
    for offer in offers:
        for entry, value in offer.changes.items():
            if offer.kind is Kind.mitigation:
                stated.append(value)
                changes[entry] = tuple(stated)
            else:
                changes[entry] = value
        clocks.update(offer.clocks)
        at = at if offer.at is None else offer.at
    return sheet.model_copy(update={"clocks": clocks}).but(**changes), at


def _better(base: Base, sets: Sequence[tuple[Offer, ...]]) -> list[_Found]:
    """Those sets of offers whose worksheet comes to a better level, all scored in one call.

    The copies are put together from parts that were checked one by one; what the two of a pair make impossible together
    is found when the way is verified.
    """
    each = {id(offer): offer for offers in sets for offer in offers}
    single = {key: _checked(base, offer) for key, offer in each.items()}
    made = [
        (offers, *_put_together(base, [part for offer in offers if (part := single[id(offer)])]))
        for offers in sets
        if all(single[id(offer)] for offer in offers)
    ]
    if not made:
        return []
    prepared = base.prepared
    kept = [expire_weather(sheet, at, prepared.policy.weather_age_max_min)[0] for _, sheet, at in made]
    columns = to_columns(kept, [at for _, _, at in made])
    if prepared.needs_airframe:
        columns |= airframe_columns(kept, prepared.types)
    taken = [frozenset(m.name for m in sheet.plan.mitigations or ()) for sheet in kept]
    facts = facts_from_columns(prepared, columns, taken, [base.waived] * len(made))
    levels = score(prepared.compiled, facts).level.tolist()
    return [(offers, level) for (offers, _, _), level in zip(made, levels, strict=True) if level < base.level]


@dataclass(frozen=True, eq=False)
class _Part:
    """An offer whose worksheet has been read: its values as the worksheet holds them."""

    offer: Offer
    values: Mapping[str, object]
    sheet: Worksheet
    at: datetime


def _checked(base: Base, offer: Offer) -> _Part | None:
    """An offer by itself; None where it makes an impossible worksheet."""
    try:
        sheet, at = changed_by(base.sheet, base.at, (offer,))
    except ValidationError:
        return None
    if clock_contradictions(sheet, at) or airframe_problems(sheet, base.prepared.types):
        return None
    return _Part(offer, {entry: sheet.value(entry) for entry in offer.changes}, sheet, at)


def _put_together(base: Base, parts: Sequence[_Part]) -> tuple[Worksheet, datetime]:
    if len(parts) == 1:
        return parts[0].sheet, parts[0].at
    by_part: dict[str, dict[str, object]] = {}
    stated = list(base.sheet.plan.mitigations or ())
    clocks, at = dict(base.sheet.clocks), base.at
    for part in parts:
        for entry, value in part.values.items():
            if part.offer.kind is Kind.mitigation:
                stated += (part.sheet.plan.mitigations or ())[-1:]
                by_part.setdefault("plan", {})[entry] = tuple(stated)
            else:
                by_part.setdefault(FIELD_PART[entry], {})[entry] = value
        clocks.update(part.offer.clocks)
        at = at if part.offer.at is None else part.at
    changed = {name: getattr(base.sheet, name).model_copy(update=values) for name, values in by_part.items()}
    return base.sheet.model_copy(update={**changed, "clocks": clocks}), at


def _verified(base: Base, offers: tuple[Offer, ...], level: int) -> Way | None:
    """A way with its fresh assessment; None where that does not say the same, which must never be shown."""
    try:
        sheet, at = changed_by(base.sheet, base.at, offers)
        fresh = assess(sheet, base.prepared, at, waived=base.waived)
    except (ValidationError, CannotAssessError):
        return None  # together they make an impossible flight
    if base.prepared.policy.level_index(fresh.level) != level:
        return None
    done = " and ".join(
        offer.said if i == 0 else offer.said[:1].lower() + offer.said[1:] for i, offer in enumerate(offers)
    )
    return Way(offers, f"{done}: {fresh.decision.phrase.lower()} (level {fresh.level}).", _cost(offers), sheet, fresh)


# -- offers that follow from the worksheet ----------------------------------------------------------------------------


def usual_offers(base: Base, costs: Mapping[Kind, float], *, window: Window | None = None) -> tuple[Offer, ...]:
    """Offers that need nothing but the worksheet. Another aircraft, site or instructor is the caller's to add.

    Args:
        base: The worksheet.
        costs: What each kind costs; a kind that is missing is not offered. What is a matter of degree costs a little
            more the farther it goes, so that the smallest change comes first.
        window: The departure window, for take-offs at another time.

    Returns:
        The offers, the smallest of each kind first.
    """
    made = (
        *_later(base, window),
        *_shorter(base),
        *_by_daylight(base),
        *_fuel(base),
        *_lighter(base),
        *_fewer(base),
        *_preparation(base),
        *_mitigations(base),
    )
    return tuple(
        Offer(kind, said, costs[kind] * (1.0 + degree), changes, at, clocks)
        for kind, said, degree, changes, at, clocks in made
        if kind in costs
    )


_Made = tuple[Kind, str, float, Mapping[str, object], datetime | None, Mapping[str, FactClock]]


def _later(base: Base, window: Window | None) -> Iterator[_Made]:
    """The nearest take-off of each better stretch of the window, earlier or later than planned."""
    planned = base.sheet.plan.take_off_at
    if window is None or planned is None:
        return
    levels = base.prepared.policy.level_index
    best: dict[tuple[str, bool], Step] = {}
    for step in sorted(window.steps, key=lambda step: abs(step.take_off_at - planned)):
        if levels(step.level) < base.level:
            best.setdefault((step.level, step.take_off_at < planned), step)
    for step in best.values():
        sheet, at = window.worksheet(step)
        entries = ("take_off_at", "landing_at", *sorted(_WEATHER))
        changes = {name: sheet.value(name) for name in entries if sheet.value(name) != base.sheet.value(name)}
        clocks = {name: clock for name, clock in sheet.clocks.items() if base.sheet.clocks.get(name) != clock}
        local = at.astimezone(ZoneInfo(base.sheet.plan.time_zone or "UTC"))
        hours = abs((step.take_off_at - planned).total_seconds()) / 3_600.0
        yield Kind.later, f"Take off at {local:%H:%M}", hours / 24.0, changes, at, clocks


_SHORTER_MIN: Final = (15, 30, 45, 60)
_LEAST_FLIGHT_MIN: Final = 15.0


def _shorter(base: Base) -> Iterator[_Made]:
    take_off, landing = base.sheet.plan.take_off_at, base.sheet.plan.landing_at
    if take_off is None or landing is None:
        return
    for minutes in _SHORTER_MIN:
        earlier = landing - timedelta(minutes=minutes)
        if (earlier - take_off).total_seconds() >= _LEAST_FLIGHT_MIN * _SECONDS_PER_MIN:
            yield Kind.shorter, f"Fly {minutes} min less", minutes / 1_000.0, {"landing_at": earlier}, None, {}


def _by_daylight(base: Base) -> Iterator[_Made]:
    """Landing at the end of evening civil twilight, where the flight begins before it and ends after it."""
    names = ("landing_before_civil_dusk_min", "civil_night_min")
    measured = evaluate_together(base.columns, names, ())[0]
    to_dusk, in_night = (float(measured[name][0]) for name in names)
    take_off, landing = base.sheet.plan.take_off_at, base.sheet.plan.landing_at
    if take_off is None or landing is None or not (to_dusk < 0.0 < in_night):
        return
    dusk = landing + timedelta(minutes=to_dusk)
    whole = dusk - timedelta(minutes=dusk.minute % 5, seconds=dusk.second, microseconds=dusk.microsecond)
    if (whole - take_off).total_seconds() >= _LEAST_FLIGHT_MIN * _SECONDS_PER_MIN:
        local = whole.astimezone(ZoneInfo(base.sheet.plan.time_zone or "UTC"))
        said = f"Land by {local:%H:%M}, before it is night"
        yield Kind.no_night_part, said, 0.0, {"landing_at": whole}, None, {}


_FUEL_STEPS_GAL: Final = (2.0, 4.0, 6.0, 8.0, 10.0)


def _fuel(base: Base) -> Iterator[_Made]:
    usable = base.sheet.aircraft.fuel_usable_gal
    if usable is None:
        return
    aircraft = base.prepared.type_of(base.sheet)
    tanks = None if aircraft is None else float(aircraft.fuel.usable_gal)
    for gallons in _FUEL_STEPS_GAL:
        if usable > gallons:
            less = {"fuel_usable_gal": usable - gallons}
            yield Kind.less_fuel, f"Take {gallons:g} gal less fuel", gallons / 1_000.0, less, None, {}
        if tanks is not None and usable + gallons <= tanks:
            more = {"fuel_usable_gal": usable + gallons}
            yield Kind.more_fuel, f"Take {gallons:g} gal more fuel", gallons / 1_000.0, more, None, {}


def _lighter(base: Base) -> Iterator[_Made]:
    """Baggage left behind, place by place; seats are for :func:`_fewer`."""
    loads = base.sheet.plan.station_loads or ()
    for entry in loads:
        if entry.load_lb and "baggage" in entry.station.lower():
            place = entry.station.replace("_", " ")
            less = {"station_loads": _emptied(loads, entry.station)}
            yield Kind.lighter, f"Leave what is on {place} behind", entry.load_lb / 10_000.0, less, None, {}


def _emptied(loads: Sequence[StationLoad], station: str) -> tuple[StationLoad, ...]:
    return tuple(StationLoad(station=e.station, load_lb=0.0) if e.station == station else e for e in loads)


def _fewer(base: Base) -> Iterator[_Made]:
    """One passenger less. Whose seat that is, nobody here knows; without loads the number says it all."""
    aboard = base.sheet.plan.passengers
    if not aboard or base.sheet.plan.station_loads:
        return
    yield Kind.passenger_less, "Take one passenger less", 0.0, {"passengers": aboard - 1}, None, {}


_TO_DO: Final = (
    ("preflight_done", "Do the preflight inspection"),
    ("fuel_checked_by_sight", "Check the fuel by sight or dip"),
    ("notices_checked", "Check notices and flight restrictions"),
    ("wires_studied", "Study wires and obstacles"),
    ("flight_following", "Arrange for somebody to follow the flight"),
)


def _preparation(base: Base) -> Iterator[_Made]:
    """What was answered with no and can still be done. A blank is for the person to answer, not for an offer."""
    for entry, said in _TO_DO:
        if base.sheet.value(entry) is False:
            yield Kind.preparation, said, 0.0, {entry: True}, None, {}


def _mitigations(base: Base) -> Iterator[_Made]:
    """Each mitigation of the policy that is not stated yet; whoever does it has to say so."""
    for mitigation in base.prepared.policy.mitigations:
        if mitigation.name not in base.taken:
            entry = MitigationTaken(name=mitigation.name, by="to be named", done=mitigation.why)
            said = f"Put in place: {mitigation.name.replace('_', ' ')}"
            yield Kind.mitigation, said, 0.0, {"mitigations": entry}, None, {}
