"""The debrief: what happened, told after the flight, and how the aircraft was left for whoever flies it next.

One answer is needed to close a flight: whether it came back as planned. Everything else may stay blank; a blank is
unknown, and the next pilot's briefing shows it as unknown.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import chain
from types import MappingProxyType
from typing import Annotated, Any

from riskboard.words import DefectEffect, Difference, ItemLeft, ItemState, Severity
from riskboard.worksheet.checks import WorksheetProblem
from riskboard.worksheet.entries import Defect, Differed
from riskboard.worksheet.fact import FactInfo, FactSheet, fact
from riskboard.worksheet.kinds import Flag, Instant, Note, shown, within
from riskboard.worksheet.read import WorksheetError, partial_facts
from riskboard.worksheet.write import entry_data, instant_text

__all__ = [
    "LOOSE_ITEMS",
    "MOST_METER_H",
    "SEVERITY",
    "Condition",
    "Debrief",
    "FlightFacts",
    "Told",
    "all_in_place",
    "debrief_data",
    "debrief_problems",
    "flown_h",
    "left_items",
    "partial_debrief",
    "read_debrief",
    "severity_of",
]

MOST_METER_H = 24.0
"""More hours than these on the meter since it was last read are a misreading, until maintenance has looked."""

SEVERITY: Mapping[Difference, Severity] = MappingProxyType(
    {
        Difference.later_back: Severity.minor,
        Difference.cut_short: Severity.minor,
        Difference.other_route: Severity.minor,
        Difference.weather_worse: Severity.minor,
        Difference.weather_below_minima: Severity.serious,
        Difference.fuel_lower: Severity.minor,
        Difference.fuel_into_reserve: Severity.serious,
        Difference.warning_light: Severity.minor,
        Difference.technical_trouble: Severity.minor,
        Difference.limit_exceeded: Severity.serious,
        Difference.close_encounter: Severity.serious,
        Difference.precautionary_landing: Severity.serious,
        Difference.incident: Severity.serious,
        Difference.injury_or_damage: Severity.serious,
    }
)
"""How much each difference weighs (common practice, no source): serious is what used up a margin that should stay."""


class Condition(FactSheet):
    """How the aircraft was left. Each label names the state that is right."""

    battery_master: ItemLeft | None = fact("Battery master off", why="A battery left on is flat in the morning.")
    doors: ItemLeft | None = fact("Doors", why="A door left off or unlatched is missed by the next pilot.")
    dual_controls: ItemLeft | None = fact(
        "Dual controls or their covers", why="A bare control stub beside a passenger jams or is knocked."
    )
    cyclic_lock: ItemLeft | None = fact("Cyclic locked", why="Wind moves a free cyclic and the blades with it.")
    collective_lock: ItemLeft | None = fact("Collective locked", why="A free collective rises in the wind.")
    rotor_brake: ItemLeft | None = fact("Rotor brake set", why="As the flight manual wants it for parking.")
    tie_downs: ItemLeft | None = fact("Rotor tied down", why="Blades flap and sail in gusts and other rotors' wash.")
    fuel_caps: ItemLeft | None = fact("Fuel caps on", why="An open tank takes in rain and loses fuel.")
    cabin_clean: ItemLeft | None = fact("Cabin clean", why="Loose things find their way under the pedals.")


LOOSE_ITEMS = ("doors", "dual_controls")
"""Items of :class:`Condition` that are loose equipment of the next flight as well."""


class Told(FactSheet):
    """What the person tells, apart from the condition."""

    as_planned: Flag | None = fact("Came back as planned", why="The one answer that closes a flight.")
    differed: tuple[Differed, ...] | None = fact("What differed", why="What really happens is what the policy learns.")
    landed_at: Instant | None = fact("Landed at", why="Blank: before this was entered.")
    meter_h: Annotated[float, within(0, 100_000)] | None = fact(
        "Hour meter after the flight", "h", why="Every hour limit of the aircraft is measured from it.", step=0.1
    )
    fuel_left_gal: Annotated[float, within(0, 500)] | None = fact(
        "Fuel left", "US gal", why="What the plan promised, against what was left.", step=0.5, resolution=0.1
    )
    refuelled: Flag | None = fact("Fuel taken on the way", why="Then more may be left than was aboard at the start.")
    defects: tuple[Defect, ...] | None = fact(
        "Defects found", why="They stay open, with what they forbid, until maintenance closes them."
    )
    note: Note | None = fact("Anything else the next person should know", why="In your own words.")


class Debrief(Told):
    """What happened on one flight. ``condition`` holds how the aircraft was left."""

    condition: Condition = Condition()

    @classmethod
    def facts(cls) -> dict[str, FactInfo]:
        """Every input but those of the condition, in reading order."""
        return Told.facts()


@dataclass(frozen=True)
class FlightFacts:
    """What is known about a flight and its aircraft when it is debriefed. None is unknown.

    Attributes:
        left_at: Take-off as noted, or the release where no take-off was noted.
        meter_h: The aircraft's meter as last known.
        later_at: Since when the aircraft is known from somebody else, if that is after this flight had left: another
            flight came after it.
        fuel_gal: Usable fuel at the start.
        tank_gal: Usable fuel of full tanks.
    """

    left_at: datetime | None = None
    meter_h: float | None = None
    later_at: datetime | None = None
    fuel_gal: float | None = None
    tank_gal: float | None = None

    def is_late(self, told: Debrief) -> bool:
        """Whether the aircraft is known from after this flight had landed, and so better than from this flight."""
        return self.later_at is not None and told.landed_at is not None and told.landed_at < self.later_at


def partial_debrief(data: Any) -> tuple[Debrief, tuple[WorksheetProblem, ...]]:
    """Read what is sound of a debrief and report the rest.

    Args:
        data: Entries by name; ``condition`` is a map of its own. A blank (None or an empty text) is unknown.

    Returns:
        The debrief with every unsound entry blank, and what to mend.
    """
    if not isinstance(data, Mapping):
        return Debrief(), (WorksheetProblem("debrief", f"the debrief is a map of entries, not {shown(data)}"),)
    told, problems = partial_facts(Told, {k: v for k, v in data.items() if k != "condition"}, "the debrief")
    left, more = partial_facts(Condition, data.get("condition") or {}, "the condition")
    read = Debrief.model_validate({**told, "condition": Condition.model_validate(left)})
    return read, (*problems, *more, *_contradictions(read))


def read_debrief(data: Any) -> Debrief:
    """Read a debrief from plain data.

    Raises:
        WorksheetError: Something must be mended; all problems are listed.
    """
    read, problems = partial_debrief(data)
    if problems:
        raise WorksheetError(problems)
    return read


def debrief_data(told: Debrief) -> dict[str, Any]:
    """The debrief as plain data that JSON can hold and :func:`read_debrief` reads back as an equal one."""
    data = {name: entry_data(getattr(told, name)) for name in Told.model_fields if getattr(told, name) is not None}
    condition = {name: state.value for name, state in told.condition if state is not None}
    return data | ({"condition": condition} if condition else {})


def _contradictions(told: Debrief) -> Iterator[WorksheetProblem]:
    """What cannot be true together, whatever the flight."""
    differed = told.differed or ()
    if told.as_planned is True and differed:
        yield WorksheetProblem(
            "as_planned",
            "came back as planned, and yet something differed; say no to the first, or take the differences back",
            ("differed",),
        )
    named = [each.what for each in differed]
    for twice in sorted({what for what in named if named.count(what) > 1}):
        yield WorksheetProblem("differed", f"{twice.replace('_', ' ')} is given more than once; say it in one entry")
    for defect in told.defects or ():
        if defect.deferred_until is not None:
            yield WorksheetProblem(
                "defects", "a debrief reports defects; only maintenance defers one, so leave the deferral blank"
            )


def debrief_problems(told: Debrief, flight: FlightFacts, at: datetime) -> tuple[WorksheetProblem, ...]:
    """What is missing, or cannot be true of this flight at the moment of the debrief. Pure.

    Args:
        told: The debrief.
        flight: What is known about the flight and its aircraft.
        at: Now, aware.

    Raises:
        ValueError: ``at`` has no zone.
    """
    if at.tzinfo is None:
        raise ValueError("the moment of the debrief needs a time zone")
    checks = (_missing(told), _times(told, flight, at), _meter(told, flight), _fuel(told, flight))
    return tuple(chain.from_iterable(checks))


def _missing(told: Debrief) -> Iterator[WorksheetProblem]:
    if told.as_planned is None:
        yield WorksheetProblem("as_planned", "say whether the flight came back as planned, or what differed")
    if told.as_planned is False and not told.differed and told.note is None:
        yield WorksheetProblem("differed", "not as planned: say what differed, or tell it in your own words")


def _times(told: Debrief, flight: FlightFacts, at: datetime) -> Iterator[WorksheetProblem]:
    landed_at = told.landed_at
    if landed_at is not None and landed_at > at:
        yield WorksheetProblem(
            "landed_at",
            f"landing {instant_text(landed_at)} is in the future, now it is {instant_text(at)}; check the time",
        )
    if landed_at is None and flight.later_at is not None:
        yield WorksheetProblem(
            "landed_at",
            f"the aircraft is known from {instant_text(flight.later_at)}, after this flight had left; say when this "
            "one landed, so that the later word counts",
        )
    if landed_at is not None and flight.left_at is not None and landed_at <= flight.left_at:
        yield WorksheetProblem(
            "landed_at",
            f"landing {instant_text(landed_at)} is not after the aircraft left at {instant_text(flight.left_at)}; "
            "check the time and the date",
        )
    for defect in told.defects or ():
        if defect.reported_at is not None and defect.reported_at > at:
            yield WorksheetProblem(
                "defects", f"a defect was reported at {instant_text(defect.reported_at)}, in the future; check the time"
            )


def _meter(told: Debrief, flight: FlightFacts) -> Iterator[WorksheetProblem]:
    read, known = told.meter_h, flight.meter_h
    if read is None or known is None:
        return
    if flight.is_late(told):
        if read > known:
            yield WorksheetProblem(
                "meter_h",
                f"meter {read:g} h is above the {known:g} h read after a later flight; read this flight's entry again",
            )
    elif read < known:
        yield WorksheetProblem(
            "meter_h",
            f"meter {read:g} h is below the {known:g} h known before the flight; read the meter again",
        )
    elif read - known > MOST_METER_H:
        yield WorksheetProblem(
            "meter_h",
            f"meter {read:g} h is {read - known:.1f} h above the {known:g} h known before the flight; read the meter "
            "again, or leave it blank and tell maintenance",
        )


def _fuel(told: Debrief, flight: FlightFacts) -> Iterator[WorksheetProblem]:
    left = told.fuel_left_gal
    if left is None:
        return
    if flight.tank_gal is not None and left > flight.tank_gal:
        yield WorksheetProblem(
            "fuel_left_gal", f"fuel left {left:g} gal is more than the {flight.tank_gal:g} gal of full tanks; check it"
        )
    elif flight.fuel_gal is not None and left > flight.fuel_gal and told.refuelled is not True:
        yield WorksheetProblem(
            "fuel_left_gal",
            f"fuel left {left:g} gal is more than the {flight.fuel_gal:g} gal aboard at the start; correct it, or say "
            "that fuel was taken on the way",
            ("refuelled",),
        )


def severity_of(told: Debrief) -> Severity:
    """How the flight came out, for whoever compares decisions with outcomes. Pure.

    The worst of: each difference as :data:`SEVERITY` weighs it; a defect found that grounds, or of which nobody said
    what it forbids (serious), or any other (minor); and "not as planned" without a word of the list (minor). How the
    aircraft was left is no outcome of the flight and does not count. Not answered whether it came back as planned:
    serious, for an unknown never counts as better than the worst. (Common practice, no source.)
    """
    found = [SEVERITY[each.what] for each in told.differed or ()]
    found += [
        Severity.serious if defect.effect in {None, DefectEffect.grounding} else Severity.minor
        for defect in told.defects or ()
    ]
    if told.as_planned is None:
        found.append(Severity.serious)
    if told.as_planned is False:
        found.append(Severity.minor)
    return max(found, default=Severity.none)


def flown_h(told: Debrief, flight: FlightFacts) -> float | None:
    """Hours on the meter since it was last known, to a tenth; None where that cannot be told."""
    if told.meter_h is None or flight.meter_h is None or flight.is_late(told):
        return None
    return round(told.meter_h - flight.meter_h, 1)


def all_in_place(not_fitted: tuple[str, ...] = ()) -> dict[str, str]:
    """The condition of the one tap "all in place", plain data; what an aircraft does not have is said to be not fitted.

    Raises:
        KeyError: There is no such item.
    """
    unknown = [name for name in not_fitted if name not in Condition.model_fields]
    if unknown:
        raise KeyError(f"the condition of an aircraft has no item {unknown[0]!r}")
    return {
        name: (ItemLeft.not_fitted if name in not_fitted else ItemLeft.in_place).value
        for name in Condition.model_fields
    }


_STATES = {ItemLeft.in_place: ItemState.in_place, ItemLeft.out_of_place: ItemState.not_in_place}


def left_items(left: Condition) -> list[dict[str, Any]]:
    """The condition as the worksheet entry ``left_by_last_user`` takes it, plain data.

    What is not fitted is left out; what nobody said has no state, which is unknown.
    """
    items = []
    for name, info in Condition.facts().items():
        state: ItemLeft | None = getattr(left, name)
        if state is not ItemLeft.not_fitted:
            item = {"name": info.label, "required": True}
            items.append(item if state is None else item | {"state": _STATES[state].value})
    return items
