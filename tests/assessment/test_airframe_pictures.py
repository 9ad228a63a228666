"""What people see of loading and performance, against sums done by hand and against shapely."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon

from riskboard.aircraft_types import AircraftType
from riskboard.assessment.airframe import Airframe, airframe_of
from riskboard.assessment.airframe_pictures import INVENTED, AirframePicture, Said, airframe_picture, hovers_asked
from riskboard.assessment.airframe_words import at_most, feet, gallons, inches, listed, pounds
from riskboard.assessment.envelope_pictures import EnvelopePicture, envelope_pictures
from riskboard.jobs.files import shipped_book
from riskboard.measures.loading import Load, loading
from riskboard.measures.registry import load_all
from riskboard.shipped import shipped
from riskboard.worksheet import Worksheet
from riskboard.worksheet.entries import FittedItem, StationLoad
from riskboard.worksheet.file import read_worksheet_file
from tests.measures.flown_loads import TYPES, loads, one, tarnwick

IGE = frozenset({"hover_ige_departure", "hover_ige_site"})
STATIONS = {"right_seat": 170.0, "left_seat": 0.0, "right_baggage": 0.0, "left_baggage": 0.0}
FITTED = {"right_door": True, "left_door": True, "dual_controls": True, "floats": False}
INHG = 29.92126


def sheet_of(
    *, loads_lb: dict[str, float] | None = None, fitted: dict[str, bool] | None = None, **but: Any
) -> Worksheet:
    """The invented type as its typical weighing has it: a cool day, half an hour of flight at 12 gal/h."""
    sheet, _ = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    take_off_at = sheet.plan.take_off_at
    assert take_off_at is not None
    facts: dict[str, Any] = {
        "type_name": tarnwick().title,
        "empty_weight_lb": 985.0,
        "empty_longitudinal_moment_in_lb": 84907.0,
        "empty_lateral_moment_in_lb": 100.0,
        "equipment_fitted": tuple(FittedItem(name=n, fitted=f) for n, f in (FITTED | (fitted or {})).items()),
        "station_loads": tuple(StationLoad(station=n, load_lb=v) for n, v in (STATIONS | (loads_lb or {})).items()),
        "fuel_usable_gal": 32.0,
        "start_and_taxi_gal": 0.0,
        "fuel_burn_gal_h": 16.0,
        "landing_at": take_off_at + timedelta(hours=1),
        "reserve_min": 20.0,
        "temperature_c": 15.0,
        "altimeter_inhg": INHG,
        "departure_elevation_ft": 0.0,
        "highest_site_elevation_ft": 0.0,
    }
    return sheet.but(**(facts | but))


def picture(sheet: Worksheet, asked: frozenset[str] = IGE) -> AirframePicture:
    frame = airframe_of(sheet, {tarnwick().title: tarnwick()})
    assert frame is not None
    return airframe_picture(frame, sheet, asked)


HOT: dict[str, Any] = {
    "loads_lb": {"right_seat": 220.0, "left_seat": 215.0},
    "fuel_usable_gal": 21.0,
    "start_and_taxi_gal": 1.0,
    "fuel_burn_gal_h": 12.0,
    "temperature_c": 34.0,
    "departure_elevation_ft": 1240.0,
    "highest_site_elevation_ft": 6900.0,
}
"""A hot afternoon, two large people, a high site."""


def test_both_envelopes_by_hand() -> None:
    """One person of 170 lb on the right, 32 gal, 16 burned.

    Zero fuel: 1,155 lb at (84907 + 10540) / 1155 = 82.638 in and 2055 / 1155 = 1.779 in to the right.
    Take-off: 1,347 lb at 112529 / 1347 = 83.540 in and 1368 / 1347 = 1.016 in.
    Landing: 1,251 lb at 103988 / 1251 = 83.124 in and 1711.5 / 1251 = 1.368 in.
    Aft edge 84.4 in up to 1,320 lb, then to 82.8 in at 1,560 lb: at 1,347 lb 84.4 - 1.6 * 27 / 240 = 84.22 in, so
    0.680 in at take-off; 1.762 in and 1.276 in elsewhere. Right edge 2.6 in up to 1,320 lb: 0.821 in at zero fuel;
    2.6 - 27 / 240 - 1.016 = 1.472 in at take-off, 1.232 in at landing.
    """
    along, aside = picture(sheet_of()).envelopes
    assert along.title == "Inside at take-off, landing and zero fuel; nearest edge 0.67 in aft (take-off)"
    assert aside.title == "Inside at take-off, landing and zero fuel; nearest edge 0.82 in to the right (zero fuel)"
    assert (along.inside, aside.inside) == (True, True)
    expected = {"take-off": (83.540, 1.016, 1347), "landing": (83.124, 1.368, 1251), "zero fuel": (82.638, 1.779, 1155)}
    for found, column in ((along, 0), (aside, 1)):
        assert {spot.what: (round(spot.across, 3), spot.up) for spot in found.spots} == {
            what: (numbers[column], numbers[2]) for what, numbers in expected.items()
        }
    assert along.gap is not None
    assert along.gap[1] == pytest.approx((84.22, 1347))
    assert aside.gap is not None
    assert aside.gap[1] == pytest.approx((2.6, 1155))


def test_the_line_runs_from_take_off_to_landing_and_on_to_no_fuel() -> None:
    for found in picture(sheet_of()).envelopes:
        ends = {spot.what: (spot.across, spot.up) for spot in found.spots}
        assert found.way[0] == pytest.approx(ends["take-off"], abs=1e-5)
        assert found.way[-1] == found.rest[0] == pytest.approx(ends["landing"], abs=1e-5)
        assert found.rest[-1] == pytest.approx(ends["zero fuel"], abs=1e-5)


def test_the_outline_is_that_of_the_doors_as_fitted() -> None:
    """Doors on: up to 1,560 lb. Doors off: 1,520 lb. One off: both are shown, by name."""

    def tops(**fitted: bool) -> dict[str, float]:
        first = picture(sheet_of(fitted=fitted)).envelopes[0]
        return {each.name: max(corner[1] for corner in each.corners) for each in first.outlines}

    assert tops() == {"": 1560}
    assert tops(right_door=False, left_door=False) == {"": 1520}
    assert tops(right_door=False) == {"doors fitted": 1560, "doors removed": 1520}


def test_outside_says_where_how_far_and_on_which_side() -> None:
    """Too heavy: 985 + 240 + 240 + 150 = 1,615 lb, 55 lb over 1,560, landing at 1,519 lb inside.

    Too far right: 985 + 240 + 45 = 1,270 lb at (100 + 285 * 11.5) / 1270 = 2.6594 in without fuel; 0.0594 in over.
    """
    heavy = picture(sheet_of(loads_lb={"right_seat": 240.0, "left_seat": 240.0}, fuel_usable_gal=25.0))
    assert heavy.envelopes[0].title == "Outside at take-off: 55 lb too heavy for this envelope"
    assert heavy.envelopes[0].inside is False
    assert heavy.weights[0] == Said("Take-off weight", "1,615 lb, 55 lb over the highest (1,560 lb)", holds=False)
    right = picture(sheet_of(loads_lb={"right_seat": 240.0, "right_baggage": 45.0})).envelopes[1]
    assert right.title == "Outside at zero fuel: 0.06 in too far right"
    assert right.margin == "outside at zero fuel, 0.06 in too far right"


def test_seats_and_baggage_that_are_over_their_limit_are_named() -> None:
    """Left seat 240 lb at most; seat and baggage under it 250 lb together."""
    found = picture(sheet_of(loads_lb={"left_seat": 245.0, "left_baggage": 10.0})).weights[1]
    assert found.text == "Left seat 245 lb, at most 240 lb; Left seat + Under the left seat 255 lb, at most 250 lb"
    assert found.holds is False
    light = picture(sheet_of(loads_lb={"right_seat": 100.0}, fuel_usable_gal=20.0))
    assert "Right seat 100 lb, at least 110 lb" in light.weights[1].text


def test_too_light_without_fuel_is_said() -> None:
    """Doors and dual controls out, 110 lb aboard: 985 - 20 + 110 = 1,075 lb, 15 over; at 90 lb 5 lb under 1,060."""
    bare = {"right_door": False, "left_door": False, "dual_controls": False}
    (line,) = (
        each
        for each in picture(sheet_of(loads_lb={"right_seat": 90.0}, fitted=bare)).weights
        if each.name == "Weight without fuel"
    )
    assert line == Said("Weight without fuel", "1,055 lb, 5 lb under the lowest (1,060 lb)", holds=False)


def test_a_hot_afternoon_by_hand() -> None:
    """985 + 220 + 215 + 120 = 1,540 lb; 22.79 C at the site. Ceiling there 6,381 ft, 518.6 ft short, 1,475.2 lb hovers.

    At departure, 34 C and 1,240 ft: by the table 6300 - 0.4 * 900 = 5,940 ft at 1,460 lb and 5500 - 0.4 * 1000 =
    5,100 ft at 1,560 lb, so 5,268 ft at 1,540 lb: 4,028 ft above. The heaviest weight of the table hovers: 20 lb to it.
    """
    found = {each.name: each for each in picture(sheet_of(**HOT)).hover}
    assert found["In ground effect, departure"].text == "ceiling 4,028 ft above, 20 lb to spare"
    assert found["In ground effect, departure"].holds is True
    assert found["In ground effect, highest site"].text == "519 ft short: 64.9 lb too heavy"
    assert found["In ground effect, highest site"].holds is False
    assert found["Out of ground effect, departure"].holds is None
    assert found["Out of ground effect, departure"].text.startswith("unknown: outside the table; ")
    assert not found["Out of ground effect, highest site"].counts


def test_power_limits_by_hand() -> None:
    """1,240 ft, 34 C: continuous 23.68 at sea level and 23.11 at 2,000 ft, so 23.327; take-off 25.08 and 24.51: 24.727.

    Cut down to what the gauge shows. At the site the table is blank beside the point: unknown.
    """
    assert [(each.name, each.text) for each in picture(sheet_of(**HOT)).power] == [
        ("Manifold pressure limit at departure", "Maximum continuous 23.3 inHg, take-off 24.7 inHg for 5 min"),
        ("Manifold pressure limit at highest site", "outside the table: unknown"),
    ]
    (only,) = picture(sheet_of()).power
    assert only.name == "Manifold pressure limit at departure"


def test_what_would_fix_it_counts_fuel_as_it_is_dipped() -> None:
    """1,475.17 lb less 985 and 435 lb leave 55.17 lb: 9.1 gal at take-off, 10.1 gal before start, 10.9 less than 21.

    A flight of 20 min at 12 gal/h needs 4 gal and as much for its reserve: 9.1 gal will do. One of an hour needs 16.
    """
    take_off_at = sheet_of().plan.take_off_at
    assert take_off_at is not None
    short = picture(sheet_of(**HOT, landing_at=take_off_at + timedelta(minutes=20)))
    assert short.fixes[0] == "Usable fuel 10.1 US gal before start, 10.9 US gal less."
    assert short.fuel == Said(
        "Fuel that can be carried", "10.1 US gal before start, 10.9 US gal less than entered", holds=False
    )
    long = picture(sheet_of(**HOT))
    assert long.fixes == ("Leave behind who is on the left seat (215 lb).",)
    assert long.fuel.text.endswith("less than entered; flight and reserve need 17 US gal")


def test_a_fix_in_fuel_is_one_that_can_be_entered() -> None:
    """15.8 gal may be aboard at take-off, as above; with 0.75 gal for the start that is 16.55, entered as 16.5."""
    heavy: dict[str, Any] = {"loads_lb": {"right_seat": 240.0, "left_seat": 240.0}, "fuel_burn_gal_h": 10.0}
    found = picture(sheet_of(**heavy, fuel_usable_gal=25.8, start_and_taxi_gal=0.75))
    assert found.fixes[0] == "Usable fuel 16.5 US gal before start, 9.3 US gal less."
    assert found.fuel.text.startswith("16.5 US gal before start, 9.3 US gal less than entered")
    mended = picture(sheet_of(**heavy, fuel_usable_gal=16.5, start_and_taxi_gal=0.75))
    assert (mended.fixes, mended.fuel.holds) == ((), True)


def test_without_a_known_reserve_less_fuel_is_never_the_answer() -> None:
    for found in (picture(sheet_of(**HOT, reserve_min=None)), picture(sheet_of(**HOT | {"fuel_burn_gal_h": None}))):
        assert not any("fuel" in fix for fix in found.fixes)


def test_a_hover_that_no_limit_asks_for_is_told_and_mends_nothing() -> None:
    found = picture(sheet_of(**HOT), frozenset())
    assert found.fixes == ()
    assert found.no_fix == ""
    assert not any(each.counts for each in found.hover)


def test_where_nothing_helps_it_says_so() -> None:
    """At 14,000 ft not even the lightest weight of the table hovers; how light it would have to be nobody knows."""
    found = picture(sheet_of(**HOT | {"highest_site_elevation_ft": 14000.0}))
    assert found.hover[2].text.endswith("short: no weight of the table hovers here")
    assert found.fixes == ()
    assert found.no_fix == "In ground effect, highest site: what weight would hover there, the table does not say."
    pilot = picture(sheet_of(loads_lb={"right_seat": 250.0}, fuel_usable_gal=10.0, fuel_burn_gal_h=5.0))
    none = "Weight, balance and hover: no change of seats, baggage, fuel or people that was tried brings them inside."
    assert (pilot.fixes, pilot.no_fix) == ((), none)


def test_weight_and_balance_are_mended_while_nobody_knows_what_hovers() -> None:
    """1,615 lb, 55 lb over: 9.2 gal less than 25 leave 15.8. Without a temperature nothing is said of the hover."""
    heavy: dict[str, Any] = {"loads_lb": {"right_seat": 240.0, "left_seat": 240.0}, "fuel_usable_gal": 25.0}
    fix = "fit again with: Usable fuel 15.8 US gal before start, 9.2 US gal less."
    cold = picture(sheet_of(**heavy, temperature_c=None, fuel_burn_gal_h=10.0))
    assert cold.mend.startswith(f"Weight and balance {fix}")
    known = picture(sheet_of(**heavy, fuel_burn_gal_h=10.0))
    assert known.mend.startswith(f"Weight, balance and hover {fix}")
    assert picture(sheet_of(**heavy, fuel_burn_gal_h=10.0), frozenset()).mends == "Weight and balance"


def test_the_fuel_that_fits_is_full_tanks_where_they_fit() -> None:
    found = picture(sheet_of(fuel_usable_gal=20.0, start_and_taxi_gal=1.0)).fuel
    assert found == Said("Fuel that can be carried", "full tanks, 32 US gal", holds=True)


@pytest.mark.parametrize(
    ("blank", "label"),
    [
        ({"station_loads": ()}, "Right seat"),
        ({"equipment_fitted": ()}, "Floats: fitted or not"),
        ({"fuel_usable_gal": None}, "Usable fuel"),
        ({"empty_longitudinal_moment_in_lb": None}, "Empty longitudinal moment"),
        ({"temperature_c": None}, "Temperature"),
        ({"fuel_burn_gal_h": None}, "Fuel burn"),
    ],
)
def test_what_is_blank_is_named_and_nothing_is_claimed(blank: dict[str, Any], label: str) -> None:
    found = picture(sheet_of(**blank))
    assert label in found.needs
    lines = [*found.weights, *found.balance, *found.hover, found.fuel]
    assert any(each.holds is None for each in lines) or "landing" not in found.balance[0].text
    assert found.fixes == ()


def test_blank_loads_leave_no_chart_and_no_margin() -> None:
    found = picture(sheet_of(station_loads=None))
    assert found.envelopes == ()
    assert [each.holds for each in (*found.weights, *found.balance, *found.hover, found.fuel)] == [None] * 9
    assert found.balance[0].text.startswith("unknown, needs ")


def test_an_unknown_landing_is_not_called_inside() -> None:
    along, _ = picture(sheet_of(fuel_burn_gal_h=None)).envelopes
    assert along.title == "Inside at take-off and zero fuel; nearest edge 0.67 in aft (take-off)"
    assert [spot.what for spot in along.spots] == ["take-off", "zero fuel"]


def test_an_invented_type_says_so_and_a_real_one_does_not() -> None:
    assert picture(sheet_of()).note == INVENTED
    real = replace(tarnwick(), invented=False)
    frame = airframe_of(sheet_of(), {real.title: real})
    assert frame is not None
    assert airframe_picture(frame, sheet_of(), IGE).note == ""


def test_paper_gets_weight_margins_hovers_and_power_in_a_line_each() -> None:
    """1,540 lb; see the hot afternoon above. At one place and another alike, a text is said once."""
    lines = dict(picture(sheet_of(**HOT)).lines)
    assert list(lines) == [
        "Take-off weight", "Longitudinal", "Lateral", "Hover in ground effect", "Hover out of ground effect",
        "Manifold pressure limit", "Loads",
    ]  # fmt: skip
    assert lines["Take-off weight"] == "1,540 lb, 20 lb under the highest (1,560 lb)"
    assert lines["Hover in ground effect"] == (
        "departure: ceiling 4,028 ft above, 20 lb to spare; highest site: 519 ft short: 64.9 lb too heavy"
    )
    assert lines["Manifold pressure limit"].startswith("departure: Maximum continuous 23.3 inHg, take-off 24.7 inHg")
    assert lines["Loads"] == "Right seat 220 lb, Left seat 215 lb, Under the right seat 0 lb, Under the left seat 0 lb"
    flat = dict(picture(sheet_of()).lines)
    assert flat["Hover in ground effect"].startswith("departure and highest site: ceiling ")
    assert ";" not in flat["Hover in ground effect"]


def test_the_hovers_that_the_shipped_policy_asks_for() -> None:
    """In ground effect everywhere; out of it among mountains, and where nobody knows whether it is among mountains."""
    load_all()
    policy = shipped_book().in_force("rotor-school-vfr", datetime(2026, 5, 4, tzinfo=UTC))
    words = {word.value: False for limit in policy.limits for word in limit.when}
    assert hovers_asked(policy, words) == IGE
    everywhere = IGE | {"hover_oge_departure", "hover_oge_site"}
    assert hovers_asked(policy, words | {"mountainous": True}) == everywhere
    assert hovers_asked(policy, {}) == everywhere
    assert hovers_asked(replace(policy, limits=()), {}) == frozenset()


def framed(aircraft: AircraftType, load: Load) -> Airframe:
    base = airframe_of(sheet_of(), {tarnwick().title: tarnwick()})
    assert base is not None
    return replace(base, aircraft=aircraft, load=load, loading=loading(aircraft, load))


def touches(found: EnvelopePicture) -> bool:
    assert found.gap is not None
    return any(LineString(each.corners).distance(Point(found.gap[1])) < 1e-4 for each in found.outlines)


@pytest.mark.parametrize("aircraft", TYPES, ids=lambda each: each.id)
@given(data=st.data())
def test_spots_and_gaps_agree_with_shapely(aircraft: AircraftType, data: st.DataObject) -> None:
    """Inside is what the outlines say; the gap ends on an outline, and is as long as the margin along the arm."""
    for found in envelope_pictures(framed(aircraft, data.draw(loads(aircraft)))):
        areas = [Polygon(each.corners) for each in found.outlines]
        for spot in found.spots:
            point = Point(spot.across, spot.up)
            if all(area.boundary.distance(point) > 1e-5 for area in areas):
                assert spot.inside == all(area.contains(point) for area in areas)
        if found.gap is not None:
            assert touches(found)
        word = "nside" if found.inside else "utside"
        assert word in found.title


@pytest.mark.parametrize("aircraft", TYPES, ids=lambda each: each.id)
def test_a_word_for_each_side(aircraft: AircraftType) -> None:
    """More on the left or right moves the lateral finding that way."""
    heavy = one(aircraft, fuel_gal=5.0, burn_gal=1.0)
    moment = 30 * float(aircraft.empty.weight_lb)
    for sign, word in ((1, "right"), (-1, "left")):
        pushed = replace(heavy, empty_lateral_moment_in_lb=sign * moment)
        found = envelope_pictures(framed(aircraft, pushed))[1]
        assert found.inside is False
        assert found.title.endswith(f"too far {word}")


def test_words() -> None:
    assert (pounds(1521.5), pounds(-0.04), pounds(1560)) == ("1,521.5 lb", "0 lb", "1,560 lb")
    assert (inches(0.3), feet(-1200), gallons(9.1)) == ("0.3 in", "\N{MINUS SIGN}1,200 ft", "9.1 US gal")
    assert (at_most(0.679, 2), at_most(-0.0594, 2), at_most(23.3266, 1), at_most(0.3, 1)) == (0.67, -0.06, 23.3, 0.3)
    assert [listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])] == ["a", "a and b", "a, b and c"]
