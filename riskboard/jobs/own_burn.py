"""What an aircraft really burns: its own flights beside its type's figure, and what the next plan begins with."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from riskboard.aircraft_types import AircraftType
from riskboard.jobs.aircraft_log import Flown, Past
from riskboard.jobs.office import Office
from riskboard.jobs.type_texts import types_of
from riskboard.measures.fuel_burn import BurnEstimate, own_burn
from riskboard.worksheet.typed_times import iso_utc

__all__ = ["Burn", "burn_of", "planned_burn_gal_h", "with_own_burn"]

_PHASE = "training"
_BURN, _TYPE = "fuel_burn_gal_h", "type_name"

Clock = Mapping[str, str]
"""When a fact was true, and when it was typed."""


@dataclass(frozen=True)
class Burn:
    """Fuel burn of one aircraft.

    Attributes:
        phase: Phase of flight of the type's figure.
        estimate: The type's figure and the aircraft's own, side by side.
        kept_gal_h: What the school keeps of the aircraft, as somebody typed it; None for nothing.
        planned_gal_h: What the next plan begins with, rounded up to a tenth.
    """

    phase: str
    estimate: BurnEstimate
    kept_gal_h: float | None
    planned_gal_h: float

    @property
    def sentence(self) -> str:
        """Both figures in words."""
        found = self.estimate
        base = f"The type's figure ({self.phase}) is {found.type_gal_per_h:.1f} gal/h."
        if not found.flights:
            return f"{base} No flight of this aircraft says what it burned yet."
        flights = "1 flight" if found.flights == 1 else f"{found.flights} flights"
        return (
            f"{base} This aircraft's own is about {found.own_gal_per_h:.1f} gal/h, from {flights} "
            f"(± {found.sd_gal_per_h:.1f})."
        )


def burn_of(kind: AircraftType, past: Past, kept_gal_h: float | None) -> Burn | None:
    """The burn of an aircraft; None where its type states no figure.

    Args:
        kind: Its type.
        past: What the log says of it.
        kept_gal_h: What the school keeps of it.
    """
    phases = dict(kind.fuel.burn_gal_per_h)
    if not phases:
        return None
    phase = _PHASE if _PHASE in phases else max(phases, key=lambda each: phases[each])
    known = [(flight.used_gal, flight.flown_h) for flight in past.flown]
    estimate = own_burn(phases[phase], kind.fuel.spread, [used for used, _ in known], [hours for _, hours in known])
    return Burn(phase, estimate, kept_gal_h, planned_burn_gal_h(estimate, kept_gal_h))


def planned_burn_gal_h(estimate: BurnEstimate, kept_gal_h: float | None) -> float:
    """What the next plan begins with: the higher of kept and own.

    Where nothing is kept it is never below the type's figure: only a person goes below that, by typing it. An own
    figure without a flight is the type's, and no reason to correct that person.
    """
    if kept_gal_h is not None and not estimate.flights:
        return kept_gal_h
    floor = estimate.type_gal_per_h if kept_gal_h is None else kept_gal_h
    higher = max(floor, estimate.own_gal_per_h)
    return math.ceil(round(higher * 10, 6)) / 10


def with_own_burn(
    office: Office, aircraft_id: str, facts: Mapping[str, Any], clocks: Mapping[str, Clock]
) -> tuple[Mapping[str, Any], Mapping[str, Clock]]:
    """Stored facts of an aircraft as the next plan begins with them: the burn is the more cautious of kept and own.

    Args:
        office: The school.
        aircraft_id: The aircraft.
        facts: Its stored facts.
        clocks: When each was true and typed. An own figure is as old as the last flight that speaks for it.
    """
    kind = types_of(office.store).by_title.get(str(facts.get(_TYPE) or ""))
    past = office.log.look().past.get(aircraft_id, Past())
    kept = facts.get(_BURN)
    known = float(kept) if isinstance(kept, int | float) and not isinstance(kept, bool) else None
    burn = None if kind is None else burn_of(kind, past, known)
    if burn is None or burn.planned_gal_h == known:
        return facts, clocks
    since = max((flight.at for flight in past.flown if _speaks(flight)), default=None)
    clock = clocks.get(_TYPE, {}) if since is None else dict.fromkeys(("true_at", "typed_at"), iso_utc(since))
    return {**facts, _BURN: burn.planned_gal_h}, {**clocks, _BURN: clock}


def _speaks(flight: Flown) -> bool:
    return flight.used_gal is not None and flight.flown_h is not None
