"""What a school keeps between flights: which facts of whom, and in what sheet each is read.

A person, an aircraft, a site and a usual flight each keep facts of one part of the worksheet, and a few of their own
that are no input of a flight. What a pilot answers afresh for every flight is never kept: a stored "preflight done"
would be a lie by the next morning. That holds of every health answer too.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated

from riskboard.words import Units
from riskboard.worksheet.fact import FactInfo, FactSheet, fact
from riskboard.worksheet.kinds import Text, within
from riskboard.worksheet.model import PARTS
from riskboard.worksheet.plan import Zone
from riskboard.worksheet.quick import QUICK_SETS

__all__ = ["HEALTH", "KEPT", "TODAY_ONLY", "KeptKind"]


class School(FactSheet):
    """The school itself."""

    name: Text | None = fact("Name of the school", why="It stands on every screen and sheet.")
    time_zone: Zone | None = fact("Time zone of the school", why="Days begin and end by it, such as America/Denver.")
    units: Units | None = fact("Units for fuel after a flight", why="us: US gallons; metric: litres.")
    idle_min: Annotated[int, within(1, 720)] | None = fact(
        "Sign-in ends after idling for", "min", why="Blank is 30 min. A screen left open signs for whoever sits down."
    )


class _Person(FactSheet):
    name: Text | None = fact("Name", why="As it stands on every record.")


class _Aircraft(FactSheet):
    tank_gal: Annotated[float, within(1, 500)] | None = fact(
        "Usable fuel of full tanks", "US gal", why="Nobody lands with more than that.", step=0.5, resolution=0.1
    )


class _Site(FactSheet):
    name: Text | None = fact("Name of the airfield or site", why="As pilots choose it.")


class _Route(FactSheet):
    name: Text | None = fact("Name of the usual flight", why="As pilots choose it.")
    site: Text | None = fact("Leaves from", why="Its site comes along.")
    duration_min: Annotated[int, within(5, 720)] | None = fact(
        "Usual length", "min", why="Take-off plus this is the planned landing.", step=5
    )


HEALTH: frozenset[str] = frozenset(
    name for part in PARTS.values() for name, info in part.facts().items() if info.health
)
"""Health answers."""

_TODAY = frozenset(
    {"fuel_usable_gal", "take_off_at", "landing_at", "must_be_back_at", "mitigations", "flights_today", "days_in_row"}
)
TODAY_ONLY: frozenset[str] = HEALTH | _TODAY | frozenset(name for quick in QUICK_SETS.values() for name in quick.fields)
"""Entries that are answered afresh for every flight and never kept."""

_SITE = frozenset(
    {
        "time_zone", "departure_name", "departure_latitude_deg", "departure_longitude_deg", "departure_elevation_ft",
        "airspace", "surface_area", "transponder_used",
    }
)  # fmt: skip


@dataclass(frozen=True)
class KeptKind:
    """One kind of document.

    Attributes:
        kind: "school", "person", "aircraft", "site" or "route".
        sheet: Facts of its own, at the top of the document.
        part: Part of the worksheet whose facts it keeps, "" for none.
        fields: Names of those.
        needed: Facts without which it is of no use to anybody.
    """

    kind: str
    sheet: type[FactSheet]
    part: str
    fields: tuple[str, ...]
    needed: tuple[str, ...]

    def info(self, name: str) -> FactInfo:
        """Label, unit and why of one fact.

        Raises:
            KeyError: This kind keeps no such fact.
        """
        own = self.sheet.facts()
        return own[name] if name in own else PARTS[self.part].facts()[name]

    @property
    def names(self) -> tuple[str, ...]:
        """Every fact it keeps, its own first, in reading order."""
        return (*self.sheet.model_fields, *self.fields)


def _fields(part: str, but: frozenset[str] = frozenset()) -> tuple[str, ...]:
    return tuple(name for name in PARTS[part].model_fields if name not in TODAY_ONLY | but)


KEPT: Mapping[str, KeptKind] = MappingProxyType(
    {
        "school": KeptKind("school", School, "", (), ("name", "time_zone")),
        "aircraft": KeptKind("aircraft", _Aircraft, "aircraft", _fields("aircraft"), ("registration", "type_name")),
        "site": KeptKind(
            "site",
            _Site,
            "plan",
            tuple(name for name in PARTS["plan"].model_fields if name in _SITE),
            ("name", "departure_name", "time_zone"),
        ),
        "route": KeptKind("route", _Route, "plan", _fields("plan", _SITE), ("name",)),
        "person": KeptKind(
            "person",
            _Person,
            "pilot",
            _fields("pilot", frozenset({"pilot_name"})),
            ("name",),
        ),
    }
)
"""Every kind of document, in the order in which a school meets them."""
