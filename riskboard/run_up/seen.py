"""What was seen at the run-up, as the pilot enters it at the aircraft. A blank was not done, or not seen."""

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from riskboard.words import Group
from riskboard.worksheet.checks import WorksheetProblem
from riskboard.worksheet.fact import Part, fact
from riskboard.worksheet.kinds import Flag, NoneAnswer, Note, within
from riskboard.worksheet.read import partial_facts
from riskboard.worksheet.write import entry_data

__all__ = ["RunUpSeen", "partial_run_up", "run_up_data"]

_Seconds = Annotated[float, within(0, 600)]
_Speed = Annotated[float, within(0, 130)]
_Drop = Annotated[float, within(0, 100)]


class RunUpSeen(Part):
    """One run-up. "none" is the answer where something that should have come never came."""

    group: ClassVar[Group] = Group.aircraft

    oil_pressure_after_s: _Seconds | NoneAnswer | None = fact(
        "Oil pressure showed after", "s", why="An engine without oil pressure is stopped at once.", step=1
    )
    rotor_turning_after_s: _Seconds | NoneAnswer | None = fact(
        "Rotor turned after engaging the clutch", "s", why="Late belts slip or are slack.", step=1
    )
    clutch_light_out_after_s: _Seconds | NoneAnswer | None = fact(
        "Clutch light went out after", "s", why="Burning on, the drive is not under tension.", step=1
    )
    magneto_check_rpm_pct: _Speed | None = fact(
        "Engine speed at the magneto check", "%", why="A drop means nothing at another speed.", step=0.5
    )
    magneto_left_drop_pct: _Drop | None = fact("Drop on the left magneto alone", "%", why="Ignition wears.", step=0.5)
    magneto_right_drop_pct: _Drop | None = fact("Drop on the right magneto alone", "%", why="Ignition wears.", step=0.5)
    magneto_left_held_s: _Seconds | None = fact(
        "Left magneto alone for", "s", why="Too short shows too little, too long fouls plugs.", step=1
    )
    magneto_right_held_s: _Seconds | None = fact(
        "Right magneto alone for", "s", why="Too short shows too little, too long fouls plugs.", step=1
    )
    magnetos_smooth: Flag | None = fact("Ran smooth on each magneto", why="Roughness tells more than the drop.")
    carburettor_heat_rise_c: Annotated[float, within(-50, 150)] | None = fact(
        "Rise with carburettor heat applied", "°C", why="No rise, no way out of ice.", step=1
    )
    governor_rpm_pct: _Speed | None = fact(
        "Speed that the governor holds", "%", why="It holds it in flight too.", step=0.5
    )
    low_rotor_warning_rpm_pct: _Speed | NoneAnswer | None = fact(
        "Low-rotor warning came on at", "%", why="The one warning with no second chance.", step=0.5
    )
    hydraulics_good: Flag | None = fact(
        "Hydraulics off and on: controls heavy, then light", why="A leak shows here first."
    )
    warning_lights_out: Flag | None = fact("All warning lights out", why="Each light has a reason.")
    gauges_normal: Flag | None = fact("All gauges in their normal range", why="Temperatures, pressures, charge.")
    fuel_as_briefed: Flag | None = fact("Fuel as briefed", why="Loading and reserve rest on it.")
    anything_odd: Note | NoneAnswer | None = fact(
        "Anything odd heard, felt or smelt", why="People notice before gauges do."
    )


def partial_run_up(data: object) -> tuple[RunUpSeen, tuple[WorksheetProblem, ...]]:
    """Read a run-up as typed: what is sound of it, and what to mend. Reads strictly, as a worksheet is read."""
    sound, problems = partial_facts(RunUpSeen, data, "the run-up")
    return RunUpSeen(**sound), problems


def run_up_data(seen: RunUpSeen) -> Mapping[str, Any]:
    """A run-up as plain data that JSON can hold; blanks are left out."""
    found = {name: getattr(seen, name) for name in RunUpSeen.model_fields}
    return {name: entry_data(value) for name, value in found.items() if value is not None}
