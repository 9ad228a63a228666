"""The second go or no-go, at the aircraft: what was seen against the tolerances of the type.

Anything out of tolerance is a no-go until maintenance has signed; anything not done is a no-go until it is done. A
blank never passes, and "none" never passes for a thing that should have come.
"""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any

from riskboard.aircraft_types.model import AircraftType, Interval, RunUp
from riskboard.run_up.seen import RunUpSeen
from riskboard.words import NONE, Decision

__all__ = [
    "Asked",
    "Cause",
    "Clearance",
    "Finding",
    "asked_of",
    "check_run_up",
    "finding_data",
    "finding_of",
    "run_up_decision",
]

_NOISE_DIGITS = 6


class Cause(StrEnum):
    """Why a finding stands."""

    out_of_tolerance = "out_of_tolerance"
    not_done = "not_done"


class Clearance(StrEnum):
    """What takes a finding away."""

    maintenance_signs = "maintenance_signs"
    do_it = "do_it"
    brief_again = "brief_again"


@dataclass(frozen=True)
class Finding:
    """One reason not to take off.

    Attributes:
        item: Entry of :class:`RunUpSeen` it is about, or ``magneto_difference_pct``.
        cause: Out of tolerance, or not done.
        clearance: What takes it away.
        sentence: What was seen, what is right, and where that is stated.
        value: What was seen, where it is a number.
        unit: Its unit.
        at_least: Lowest value allowed; None for no bound.
        at_most: Highest value allowed; None for no bound.
        stated_in: Where the tolerance is stated.
    """

    item: str
    cause: Cause
    clearance: Clearance
    sentence: str
    value: float | None
    unit: str
    at_least: float | None
    at_most: float | None
    stated_in: str


@dataclass(frozen=True)
class Asked:
    """One entry that a type asks for.

    Attributes:
        item: Entry of :class:`RunUpSeen`.
        right: What is right, in words.
        at_least: Lowest value allowed; None for no bound, and for what is no number.
        at_most: Highest value allowed; None likewise.
    """

    item: str
    right: str
    at_least: float | None = None
    at_most: float | None = None


@dataclass(frozen=True)
class _Check:
    """One number and its tolerance. ``never`` says what the answer "none" means there."""

    item: str
    label: str
    unit: str
    at_least: float | None = None
    at_most: float | None = None
    never: str = ""

    @property
    def right(self) -> str:
        """The tolerance in words."""
        unit = f" {self.unit}" if self.unit else ""
        if self.at_least is None:
            return f"at most {self.at_most:g}{unit}"
        if self.at_most is None:
            return f"at least {self.at_least:g}{unit}"
        return f"{self.at_least:g} to {self.at_most:g}{unit}"

    def holds(self, value: float) -> bool:
        """Whether a value is within, bounds included."""
        low = self.at_least is None or value >= self.at_least
        return low and (self.at_most is None or value <= self.at_most)


def check_run_up(aircraft: AircraftType, seen: RunUpSeen) -> tuple[Finding, ...]:
    """Everything that stands against taking off, in the order of the run-up.

    What the type has not (hydraulics, a carburettor) is not asked for, and what is entered about it does not matter.

    Args:
        aircraft: The type with its tolerances.
        seen: What was seen.

    Returns:
        Findings; none means that nothing listed stands against taking off, not that the aircraft is airworthy.

    Source: the type's own flight manual; that a blank does not pass is this project's rule.
    """
    found = [*_numbers(aircraft.run_up, seen), *_magneto_difference(aircraft.run_up, seen), *_answers(aircraft, seen)]
    order = {item: place for place, item in enumerate(RunUpSeen.model_fields)}
    return tuple(sorted(found, key=lambda finding: order.get(finding.item, order["magneto_right_drop_pct"])))


def asked_of(aircraft: AircraftType) -> tuple[Asked, ...]:
    """Every entry that this type asks for, with what is right, in the order of the run-up."""
    checks = [Asked(check.item, check.right, check.at_least, check.at_most) for check in _checks(aircraft.run_up)]
    answers = [Asked(item, label) for item, (_, label) in _FLAGS.items() if _fitted(aircraft).get(item, True)]
    order = {item: place for place, item in enumerate(RunUpSeen.model_fields)}
    odd = Asked("anything_odd", '"none" is an answer')
    return tuple(sorted([*checks, *answers, odd], key=lambda asked: order[asked.item]))


def finding_data(finding: Finding) -> dict[str, Any]:
    """A finding as plain data that JSON can hold."""
    return asdict(finding) | {"cause": finding.cause.value, "clearance": finding.clearance.value}


def finding_of(data: Mapping[str, Any]) -> Finding:
    """The finding that :func:`finding_data` wrote.

    Raises:
        KeyError, ValueError, TypeError: It is none.
    """
    return Finding(**{**data, "cause": Cause(data["cause"]), "clearance": Clearance(data["clearance"])})


def run_up_decision(findings: tuple[Finding, ...]) -> Decision:
    """No-go while anything stands; there is no "but" at the aircraft."""
    return Decision.no_go if findings else Decision.go


def _checks(run_up: RunUp) -> Iterator[_Check]:
    yield _Check(
        "oil_pressure_after_s",
        "oil pressure",
        "s",
        at_most=run_up.oil_pressure_within_s,
        never="Oil pressure never showed",
    )
    yield _Check(
        "rotor_turning_after_s",
        "rotor turning",
        "s",
        at_most=run_up.rotor_turning_within_s,
        never="The rotor never turned",
    )
    if run_up.clutch_light_out_within_s is not None:
        yield _Check(
            "clutch_light_out_after_s",
            "clutch light out",
            "s",
            at_most=run_up.clutch_light_out_within_s,
            never="The clutch light never went out",
        )
    yield from _magneto_checks(run_up)
    if run_up.carburettor_heat_rise_min_c is not None:
        yield _Check(
            "carburettor_heat_rise_c", "rise with carburettor heat", "°C", at_least=run_up.carburettor_heat_rise_min_c
        )
    if run_up.governor_rpm_pct is not None:
        yield _within("governor_rpm_pct", "speed that the governor holds", "%", run_up.governor_rpm_pct)
    low, high = run_up.low_rotor_warning_rpm_pct
    yield _Check(
        "low_rotor_warning_rpm_pct", "low-rotor warning", "%", low, high, never="The low-rotor warning never came on"
    )


def _magneto_checks(run_up: RunUp) -> Iterator[_Check]:
    if run_up.magneto_check_rpm_pct is not None:
        yield _within("magneto_check_rpm_pct", "engine speed at the magneto check", "%", run_up.magneto_check_rpm_pct)
    for side in ("left", "right"):
        if run_up.magneto_drop_max_pct is not None:
            item, label = f"magneto_{side}_drop_pct", f"drop on the {side} magneto"
            yield _Check(item, label, "%", at_most=run_up.magneto_drop_max_pct)
        if run_up.magneto_hold_s is not None:
            yield _within(f"magneto_{side}_held_s", f"time on the {side} magneto alone", "s", run_up.magneto_hold_s)


def _within(item: str, label: str, unit: str, interval: Interval) -> _Check:
    return _Check(item, label, unit, at_least=interval[0], at_most=interval[1])


def _numbers(run_up: RunUp, seen: RunUpSeen) -> Iterator[Finding]:
    for check in _checks(run_up):
        value = getattr(seen, check.item)
        if value is None:
            sentence = f"Not done or not entered: {check.label}; {check.right} is right ({run_up.stated_in})."
            yield _finding(run_up, check, Cause.not_done, sentence)
        elif value == NONE:
            sentence = f"{check.never}; {check.right} is right ({run_up.stated_in})."
            yield _finding(run_up, check, Cause.out_of_tolerance, sentence)
        elif not check.holds(value):
            yield _finding(run_up, check, Cause.out_of_tolerance, _out(run_up, check, value), value)


def _out(run_up: RunUp, check: _Check, value: float) -> str:
    label = check.label[0].upper() + check.label[1:]
    return f"{label}: {value:g} {check.unit}; {check.right} is right ({run_up.stated_in})."


def _finding(run_up: RunUp, check: _Check, cause: Cause, sentence: str, value: float | None = None) -> Finding:
    clearance = Clearance.do_it if cause is Cause.not_done else Clearance.maintenance_signs
    return Finding(
        check.item, cause, clearance, sentence, value, check.unit, check.at_least, check.at_most, run_up.stated_in
    )


def _magneto_difference(run_up: RunUp, seen: RunUpSeen) -> Iterator[Finding]:
    """Between the two drops. Where one is blank, that is said already."""
    left, right = seen.magneto_left_drop_pct, seen.magneto_right_drop_pct
    if run_up.magneto_difference_max_pct is None or left is None or right is None:
        return
    difference = round(abs(left - right), _NOISE_DIGITS)
    check = _Check(
        "magneto_difference_pct", "difference between the drops", "%", at_most=run_up.magneto_difference_max_pct
    )
    if not check.holds(difference):
        yield _finding(run_up, check, Cause.out_of_tolerance, _out(run_up, check, difference), difference)


_FLAGS = {
    "magnetos_smooth": ("Rough on a magneto", "running smooth on each magneto"),
    "hydraulics_good": ("Hydraulics: not as they should be with the switch off and on", "hydraulics off and on"),
    "warning_lights_out": ("A warning light is on", "warning lights out"),
    "gauges_normal": ("A gauge is outside its normal range", "gauges in their normal range"),
    "fuel_as_briefed": ("Fuel is not as briefed", "fuel as briefed"),
}


def _fitted(aircraft: AircraftType) -> dict[str, bool]:
    """Answers that only some types ask for, and whether this one does."""
    run_up = aircraft.run_up
    return {"magnetos_smooth": run_up.magneto_drop_max_pct is not None, "hydraulics_good": run_up.hydraulics}


def _answers(aircraft: AircraftType, seen: RunUpSeen) -> Iterator[Finding]:
    run_up, fitted = aircraft.run_up, _fitted(aircraft)
    for item, (wrong, label) in _FLAGS.items():
        value = getattr(seen, item)
        if value is True or not fitted.get(item, True):
            continue
        if value is None:
            yield _answer(run_up, item, Cause.not_done, f"Not done or not entered: {label} ({run_up.stated_in}).")
        else:
            yield _answer(run_up, item, Cause.out_of_tolerance, f"{wrong} ({run_up.stated_in}).")
    if seen.anything_odd is None:
        sentence = 'Not entered: anything odd heard, felt or smelt; "none" is an answer.'
        yield _answer(run_up, "anything_odd", Cause.not_done, sentence)
    elif seen.anything_odd != NONE:
        yield _answer(run_up, "anything_odd", Cause.out_of_tolerance, f"Odd: {seen.anything_odd}")


def _answer(run_up: RunUp, item: str, cause: Cause, sentence: str) -> Finding:
    clearance = Clearance.do_it if cause is Cause.not_done else Clearance.maintenance_signs
    if item == "fuel_as_briefed" and cause is Cause.out_of_tolerance:
        clearance = Clearance.brief_again
    return Finding(item, cause, clearance, sentence, None, "", None, None, run_up.stated_in)
