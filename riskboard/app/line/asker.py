"""Who asks for a page at the aircraft, when, about which flight; and what their forms carry."""

import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from riskboard import jobs
from riskboard.app import clock
from riskboard.app.line.pieces import Kept
from riskboard.assessment.phrases import clock_time
from riskboard.jobs import FlightCard

__all__ = ["Asker"]

_Texts = Mapping[str, Sequence[str]]
_NOTHING: _Texts = {}


@dataclass(frozen=True)
class Asker:
    """Who asks.

    Attributes:
        office: The school, acting for the caller.
        caller: Who.
        flight_id: As in the address.
        at: Now.
        proof: Makes the proof for a form that is sent to an address.
    """

    office: jobs.Office
    caller: jobs.Caller
    flight_id: str
    at: datetime
    proof: Callable[[str], str]

    def form(self, action: str, typed: _Texts = _NOTHING, problems: _Texts = _NOTHING) -> Kept:
        """A form for a press that has not been made yet."""
        return Kept(action, self.caller.person_id, self.proof(action), secrets.token_hex(16), typed, problems)

    def school(self) -> str:
        """The line at the top of every page: whose school, and whether it is invented or its clock held."""
        school = jobs.school(self.office) or {}
        said = [str(school.get("name", "No school set up yet"))]
        if school.get("invented"):
            said.append("Invented data")
        held = clock.held()
        if held is not None:
            said.append(f"Clock held at {held:%Y-%m-%d %H:%M}Z")
        return " · ".join(said)

    def zone(self) -> ZoneInfo:
        """The school's zone."""
        return ZoneInfo(jobs.school_zone(self.office))

    def clock(self, moment: datetime) -> str:
        """A moment as a clock at the school shows it."""
        return clock_time(moment, self.zone().key)

    def facts(self, card: FlightCard, *, until: bool = True) -> str:
        """A flight in a few words, with the time until which the release of one that has not left holds."""
        said = [card.pilot_name, card.route]
        if card.took_off_at is not None:
            said.append(f"left {self.clock(card.took_off_at)}")
        elif card.take_off_at is not None:
            said.append(f"planned {self.clock(card.take_off_at)}")
        if until and card.took_off_at is None and card.valid_until is not None and not card.void:
            said.append(f"the release holds until {self.clock(card.valid_until)}")
        if card.took_off_at is not None and card.landing_at is not None:
            said.append(f"planned back {self.clock(card.landing_at)}")
        return " · ".join(each for each in said if each)
