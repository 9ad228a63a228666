"""The gate at the aircraft: every tolerance at both sides of its bound, blanks, and no way to get better by worse."""

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.aircraft_types import AircraftType
from riskboard.run_up import (
    Cause,
    Clearance,
    RunUpSeen,
    asked_of,
    check_run_up,
    partial_run_up,
    run_up_data,
    run_up_decision,
)
from riskboard.run_up.rule import finding_data, finding_of
from riskboard.words import Decision
from riskboard.worksheet.shape import shape_of
from tests.aircraft_types.samples import good, other
from tests.measures.flown_loads import tarnwick
from tests.run_up.samples import RUN_UP

FINE = {**RUN_UP}


def seen(**changed: Any) -> RunUpSeen:
    return RunUpSeen(**(FINE | changed))


def items(aircraft: AircraftType, what: RunUpSeen) -> set[str]:
    return {finding.item for finding in check_run_up(aircraft, what)}


def test_a_sound_run_up_goes() -> None:
    assert check_run_up(tarnwick(), seen()) == ()
    assert run_up_decision(check_run_up(tarnwick(), seen())) is Decision.go


def test_every_entry_has_a_fine_value() -> None:
    assert set(FINE) == set(RunUpSeen.model_fields)


def test_every_entry_says_what_it_is_and_why() -> None:
    for name, info in RunUpSeen.facts().items():
        assert info.label
        assert info.why
        assert shape_of(RunUpSeen, name)


@pytest.mark.parametrize("item", FINE)
def test_a_blank_never_passes(item: str) -> None:
    (finding,) = check_run_up(tarnwick(), seen(**{item: None}))
    assert (finding.item, finding.cause, finding.clearance) == (item, Cause.not_done, Clearance.do_it)
    assert finding.sentence.startswith("Not ")
    assert run_up_decision((finding,)) is Decision.no_go


def test_nothing_entered_names_everything_that_the_type_has() -> None:
    assert items(tarnwick(), RunUpSeen()) == set(FINE)
    assert items(good(), RunUpSeen()) == set(FINE) - {"hydraulics_good"}
    magnetos = {name for name in FINE if name.startswith("magneto")}
    assert items(other(), RunUpSeen()) == set(FINE) - magnetos - {"hydraulics_good", "carburettor_heat_rise_c"}


@pytest.mark.parametrize(
    ("item", "right", "wrong", "tolerance"),
    [
        ("oil_pressure_after_s", 30, 31, "at most 30 s"),
        ("rotor_turning_after_s", 5, 6, "at most 5 s"),
        ("clutch_light_out_after_s", 90, 91, "at most 90 s"),
        ("magneto_check_rpm_pct", 74, 73.5, "74 to 76 %"),
        ("magneto_check_rpm_pct", 76, 76.5, "74 to 76 %"),
        ("magneto_left_held_s", 1, 0, "1 to 4 s"),
        ("magneto_right_held_s", 4, 5, "1 to 4 s"),
        ("carburettor_heat_rise_c", 15, 14, "at least 15 °C"),
        ("governor_rpm_pct", 101, 100.5, "101 to 102 %"),
        ("governor_rpm_pct", 102, 102.5, "101 to 102 %"),
        ("low_rotor_warning_rpm_pct", 96, 95.5, "96 to 98 %"),
        ("low_rotor_warning_rpm_pct", 98, 98.5, "96 to 98 %"),
    ],
)
def test_both_sides_of_each_bound(item: str, right: float, wrong: float, tolerance: str) -> None:
    assert check_run_up(tarnwick(), seen(**{item: right})) == ()
    (finding,) = check_run_up(tarnwick(), seen(**{item: wrong}))
    assert (finding.item, finding.value, finding.cause) == (item, wrong, Cause.out_of_tolerance)
    assert finding.clearance is Clearance.maintenance_signs
    assert f": {wrong:g} " in finding.sentence
    assert f"{tolerance} is right (Tarnwick 2 handbook, section 4, run-up (invented))." in finding.sentence


def test_a_bad_magneto_in_words() -> None:
    found = check_run_up(tarnwick(), seen(magneto_left_drop_pct=9, magneto_right_drop_pct=2.5))
    where = "(Tarnwick 2 handbook, section 4, run-up (invented))"
    assert [finding.sentence for finding in found] == [
        f"Drop on the left magneto: 9 %; at most 7 % is right {where}.",
        f"Difference between the drops: 6.5 %; at most 3 % is right {where}.",
    ]
    assert {finding.clearance for finding in found} == {Clearance.maintenance_signs}


def test_the_difference_of_typed_decimals() -> None:
    """6.4 - 3.4 is a hair above 3 in binary; typed, it is exactly 3."""
    assert check_run_up(tarnwick(), seen(magneto_left_drop_pct=3.4, magneto_right_drop_pct=6.4)) == ()
    assert items(tarnwick(), seen(magneto_left_drop_pct=3.3, magneto_right_drop_pct=6.4)) == {"magneto_difference_pct"}


@pytest.mark.parametrize(
    "item", ["oil_pressure_after_s", "rotor_turning_after_s", "clutch_light_out_after_s", "low_rotor_warning_rpm_pct"]
)
def test_what_never_came_is_out_of_tolerance(item: str) -> None:
    (finding,) = check_run_up(tarnwick(), seen(**{item: "none"}))
    assert (finding.item, finding.cause) == (item, Cause.out_of_tolerance)
    assert "never" in finding.sentence


@pytest.mark.parametrize(
    "item", ["magnetos_smooth", "hydraulics_good", "warning_lights_out", "gauges_normal", "fuel_as_briefed"]
)
def test_a_no_is_a_finding(item: str) -> None:
    (finding,) = check_run_up(tarnwick(), seen(**{item: False}))
    assert (finding.item, finding.cause) == (item, Cause.out_of_tolerance)
    wanted = Clearance.brief_again if item == "fuel_as_briefed" else Clearance.maintenance_signs
    assert finding.clearance is wanted


def test_something_odd_is_maintenances_to_clear() -> None:
    (finding,) = check_run_up(tarnwick(), seen(anything_odd="A whine that rises with rpm"))
    assert finding.clearance is Clearance.maintenance_signs
    assert "A whine that rises with rpm" in finding.sentence


def test_what_the_type_has_not_does_not_matter() -> None:
    wrong = seen(hydraulics_good=False, magneto_left_drop_pct=50, magnetos_smooth=False, carburettor_heat_rise_c=-3)
    assert items(other(), wrong) & {"hydraulics_good", "magneto_left_drop_pct", "carburettor_heat_rise_c"} == set()
    assert items(other(), wrong) & {"magnetos_smooth", "magneto_difference_pct"} == set()


DROPS = st.integers(0, 24).map(lambda half: half / 2)
TYPES = st.sampled_from([tarnwick(), good(), other()])


@st.composite
def runs(draw: st.DrawFn) -> RunUpSeen:
    """Some run-up: entries fine, wrong or blank."""
    changed: dict[str, Any] = {"magneto_left_drop_pct": draw(DROPS), "magneto_right_drop_pct": draw(DROPS)}
    for item, value in FINE.items():
        if item not in changed:
            wild = st.integers(0, 120) if not isinstance(value, bool | str) else st.booleans()
            choices: list[st.SearchStrategy[Any]] = [st.just(value), st.none()]
            choices += [wild] if not isinstance(value, str) else [st.just("A rattle")]
            changed[item] = draw(st.one_of(choices))
    return RunUpSeen(**changed)


@given(TYPES, runs(), DROPS)
def test_a_larger_drop_is_never_better(aircraft: AircraftType, what: RunUpSeen, more: float) -> None:
    """The greater of the two drops raised, or both alike: nothing that stood before goes away.

    Raising the smaller one alone can mend a difference that is too great; the finding about the drop itself never goes.
    """
    left, right = float(what.magneto_left_drop_pct or 0), float(what.magneto_right_drop_pct or 0)
    before = items(aircraft, what)
    greater = "magneto_left_drop_pct" if left >= right else "magneto_right_drop_pct"
    raised = what.model_copy(update={greater: getattr(what, greater) + more})
    assert before <= items(aircraft, raised)
    both = {"magneto_left_drop_pct": left + more, "magneto_right_drop_pct": right + more}
    assert before <= items(aircraft, what.model_copy(update=both))
    for item, value in both.items():
        after = items(aircraft, what.model_copy(update={item: value}))
        assert before - {"magneto_difference_pct"} <= after


@given(TYPES, runs(), st.floats(0, 200))
def test_later_and_colder_are_never_better(aircraft: AircraftType, what: RunUpSeen, more: float) -> None:
    before = items(aircraft, what)
    for item in (
        "oil_pressure_after_s",
        "rotor_turning_after_s",
        "clutch_light_out_after_s",
        "carburettor_heat_rise_c",
    ):
        value = getattr(what, item)
        if value is not None:
            sign = -1 if item == "carburettor_heat_rise_c" else 1
            assert before <= items(aircraft, what.model_copy(update={item: value + sign * more}))


@given(TYPES, runs(), st.sampled_from(sorted(FINE)))
def test_forgetting_never_helps(aircraft: AircraftType, what: RunUpSeen, item: str) -> None:
    forgotten = check_run_up(aircraft, what.model_copy(update={item: None}))
    assert run_up_decision(forgotten) >= run_up_decision(check_run_up(aircraft, what))


@given(TYPES, runs())
def test_every_finding_says_where_and_who_clears_it(aircraft: AircraftType, what: RunUpSeen) -> None:
    for finding in check_run_up(aircraft, what):
        assert finding.stated_in == aircraft.run_up.stated_in
        assert finding.sentence.endswith((".", "A rattle"))
        assert (finding.cause is Cause.not_done) is (finding.clearance is Clearance.do_it)


@given(TYPES, runs())
def test_a_run_up_and_its_findings_come_back_from_plain_data(aircraft: AircraftType, what: RunUpSeen) -> None:
    again, problems = partial_run_up(json.loads(json.dumps(run_up_data(what))))
    assert (again, problems) == (what, ())
    for finding in check_run_up(aircraft, what):
        assert finding_of(json.loads(json.dumps(finding_data(finding)))) == finding


@given(TYPES)
def test_what_is_asked_is_what_a_blank_is_held_against(aircraft: AircraftType) -> None:
    asked = [each.item for each in asked_of(aircraft)]
    assert asked == [item for item in RunUpSeen.model_fields if item in items(aircraft, RunUpSeen())]
    assert all(each.right for each in asked_of(aircraft))


def test_what_cannot_be_read_is_named_and_left_blank() -> None:
    read, problems = partial_run_up({"magneto_left_drop_pct": 300, "gauges_normal": True, "wings": 2})
    assert read.magneto_left_drop_pct is None
    assert read.gauges_normal is True
    assert len(problems) == 2
