"""What a good type file becomes."""

from datetime import UTC, date, datetime

import pytest

from riskboard.aircraft_types import load_type
from riskboard.aircraft_types.model import AltitudeKind, DoorState, Feed, LateralAgainst, PowerUnit, StationKind
from riskboard.demo.school import school_documents
from riskboard.shipped import AIRCRAFT_TYPE_NAMES, aircraft_type_files, shipped
from riskboard.words import Induction, RotorDirection
from tests.aircraft_types.samples import GOOD, good, other


def test_every_part_is_there() -> None:
    wren = good()
    assert (wren.id, wren.version, wren.title, wren.invented) == ("wren-3", 2, "Wren 3 (invented)", True)
    assert wren.source.checked_on == date(2026, 10, 1)
    assert (wren.engine.induction, wren.rotor_direction) == (Induction.carburetted, RotorDirection.clockwise)
    assert (wren.limits.gross_max_lb, wren.limits.tailwind_max_kt) == (1400.0, None)
    assert wren.station("baggage").kind is StationKind.baggage
    assert wren.station("left_seat").min_lb == 0.0
    assert wren.together[0].stations == ("left_seat", "baggage")
    assert wren.empty.longitudinal_arm_in == pytest.approx(101.0)
    assert [door.name for door in wren.doors] == ["left_door"]
    assert [envelope.doors for envelope in wren.envelopes] == [DoorState.fitted, DoorState.removed]
    assert wren.hover_out_of_ground_effect.ceilings_ft[2] == (6000.0, 4000.0, None)
    assert [(table.name, table.unit, table.held_max_min) for table in wren.power_tables] == [
        ("continuous", PowerUnit.inhg, None),
        ("take_off", PowerUnit.inhg, 5.0),
    ]
    assert wren.fuel.feed is Feed.in_order
    assert wren.fuel.usable_gal == pytest.approx(26.3)
    assert (wren.fuel.burn_in("cruise"), wren.fuel.burn_in("climb")) == (9.0, None)
    assert wren.run_up.magneto_hold_s == (1.0, 5.0)
    assert wren.inspections[0].every_months == 12
    with pytest.raises(KeyError):
        wren.station("roof")


def test_the_other_forms() -> None:
    turbine = other()
    assert turbine.envelopes[0].lateral_against is LateralAgainst.longitudinal_cg
    assert turbine.hover_in_ground_effect.altitude is AltitudeKind.density
    assert turbine.power_tables[0].unit is PowerUnit.pct
    assert turbine.run_up.magneto_drop_max_pct is None


def test_the_digest_is_that_of_the_data() -> None:
    digest = good().digest
    assert load_type(f"# a remark\n{GOOD}", name="t").digest == digest
    assert load_type(GOOD.replace("max_lb: 230}", "max_lb: 229}"), name="t").digest != digest


@pytest.mark.parametrize(("name", "text"), aircraft_type_files())
def test_shipped_types_are_good_and_say_that_they_are_invented(name: str, text: str) -> None:
    found = load_type(text, name=name)
    assert found.invented
    assert "invented" in found.title
    assert "invented" in found.source.text.lower()


def test_every_type_file_travels_along() -> None:
    assert {path.name for path in (shipped("policies") / "aircraft_types").iterdir()} == set(AIRCRAFT_TYPE_NAMES)


def test_the_invented_school_flies_a_shipped_type() -> None:
    """What its aircraft say about themselves agrees with the type."""
    types = {found.title: found for found in (load_type(text, name=name) for name, text in aircraft_type_files())}
    documents = [
        document for kind, _, document in school_documents(datetime(2026, 11, 2, 15, tzinfo=UTC)) if kind == "aircraft"
    ]
    assert documents
    for document in documents:
        facts = document["aircraft"]
        found = types[facts["type_name"]]
        assert facts["induction"] == found.engine.induction
        assert facts["rotor_direction"] == found.rotor_direction
        assert {item["name"] for item in facts["loose_equipment"]} == {item.name for item in found.loose_equipment}
        assert facts["start_and_taxi_gal"] == found.fuel.start_and_taxi_gal
