"""What an aircraft really burns: its own flights beside its type's figure, and what the next plan begins with."""

import math
from dataclasses import dataclass

from riskboard.aircraft_types import AircraftType
from riskboard.jobs.aircraft_log import Past
from riskboard.measures.fuel_burn import BurnEstimate, own_burn

__all__ = ["Burn", "burn_of", "planned_burn_gal_h"]

_PHASE = "training"


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

    Where nothing is kept it is never below the type's figure: only a person goes below that, by typing it.
    """
    floor = estimate.type_gal_per_h if kept_gal_h is None else kept_gal_h
    higher = max(floor, estimate.own_gal_per_h)
    return math.ceil(round(higher * 10, 6)) / 10
