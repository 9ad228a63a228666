"""Registered measures of the air, one worked check each; the formulas have their own tests."""

from typing import Any

import numpy as np
import pytest

from riskboard.measures.atmosphere import density_altitude_ft, pressure_altitude_ft
from tests.measures.columns_of import NAN, NONE, one
from tests.measures.reference import document, topic

CLASSES = {"B": 0.0, "C": 1.0, "D": 2.0, "E": 3.0, "G": 4.0}  # the order of words.AirspaceClass, as columns.py states

LEGAL: dict[str, Any] = {
    "airspace": CLASSES["G"],
    "cruise_ft_agl": 800.0,
    "departure_elevation_ft": 500.0,
    "highest_site_elevation_ft": 700.0,
    "civil_night_min": 0.0,
    "special_vfr": 0.0,
    "surface_area": 0.0,
    "certificate": 1.0,  # private
    "instructor_aboard": 0.0,
    "purpose": 2.0,  # rental
    "visibility_sm": 6.0,
    "route_visibility_sm": 4.0,
}
STUDENT = {"certificate": 0.0, "purpose": 1.0}


def test_density_altitude_departure_ft() -> None:
    # FAA-H-8083-25 chapter 11, sample problem 1: 5,883 ft, 30.10 inHg, 70 F is 7,700 ft dry, read off a chart (+-150).
    dry = {"departure_elevation_ft": 5883.0, "highest_site_elevation_ft": 5883.0, "altimeter_inhg": 30.10}
    found = one("density_altitude_departure_ft", **dry, temperature_c=21.11, dew_point_c=-40.0)
    assert found == pytest.approx(7700, abs=150)
    # The reference file's moist case at sea level: 30 C, saturated, 2,260 ft.
    wet = {"departure_elevation_ft": 0.0, "highest_site_elevation_ft": 0.0, "altimeter_inhg": 29.9213}
    assert one("density_altitude_departure_ft", **wet, temperature_c=30.0, dew_point_c=30.0) == pytest.approx(
        2260, abs=40
    )
    assert np.isnan(one("density_altitude_departure_ft", **wet, temperature_c=30.0, dew_point_c=31.0))


def test_density_altitude_highest_ft() -> None:
    # ICAO Doc 7488: standard air at sea level carried up by the standard lapse is standard air: 8,000 ft stays 8,000 ft
    # but for the vapour, which 15 C and a dew point of -40 C holds to a few ft.
    air = {"temperature_c": 15.0, "dew_point_c": -40.0, "altimeter_inhg": 29.9213}
    sites = {"departure_elevation_ft": 0.0, "highest_site_elevation_ft": 8000.0}
    assert one("density_altitude_highest_ft", **air, **sites) == pytest.approx(8000, abs=10)
    lower = {"departure_elevation_ft": 8000.0, "highest_site_elevation_ft": 0.0}
    cold = air | {"temperature_c": -0.85}
    assert one("density_altitude_highest_ft", **cold, **lower) == pytest.approx(8000, abs=10)


def test_saturated_air_carried_up_stays_saturated() -> None:
    # The dew point may not stand above the temperature up there: 10 C less 9.906 C in 5,000 ft (ICAO Doc 7488).
    air = {"temperature_c": 10.0, "dew_point_c": 10.0, "altimeter_inhg": 29.9213}
    sites = {"departure_elevation_ft": 0.0, "highest_site_elevation_ft": 5000.0}
    expected = density_altitude_ft(pressure_altitude_ft(5000.0, 29.9213), 0.094, 0.094)
    assert one("density_altitude_highest_ft", **air, **sites) == pytest.approx(expected, abs=1.0)


def test_dew_point_spread_c() -> None:
    assert one("dew_point_spread_c", temperature_c=12.5, dew_point_c=10.0) == 2.5
    assert np.isnan(one("dew_point_spread_c", temperature_c=10.0, dew_point_c=12.0))


def test_carb_icing_code() -> None:
    # The worked example printed on the chart of DMI Technical Report 04-25, and two points every chart agrees on.
    assert one("carb_icing_code", temperature_c=12.0, dew_point_c=2.0) == 3.0
    for point in document("carb_icing")["interior_points"]:
        found = one("carb_icing_code", temperature_c=point["temperature_c"], dew_point_c=point["dew_point_c"])
        assert found == point["expected_code"]


def test_frost_possible() -> None:
    # FAA AC 00-6 (from memory): surface at or below the dew point and 0 C; the surface is taken 4 C below the air.
    assert one("frost_possible", temperature_c=3.0, dew_point_c=0.0) == 1.0
    assert one("frost_possible", temperature_c=3.0, dew_point_c=-2.0) == 0.0
    assert one("frost_possible", temperature_c=6.0, dew_point_c=5.0) == 0.0


def test_airframe_icing_possible() -> None:
    moist = {"fog_or_mist": 0.0, "freezing_precipitation": 0.0, "lowest_cloud_ft_agl": NONE}
    for case in topic("atmosphere", "icing_and_fog_indicators"):
        if "icing_conditions_plus2" in case["expected"]:
            given = case["inputs"]
            found = one(
                "airframe_icing_possible",
                **moist,
                temperature_c=given["temperature_c"],
                cruise_ft_agl=0.0,
                precipitation=float(given["visible_moisture"]),
            )
            assert found == float(case["expected"]["icing_conditions_plus2"])
    # ICAO Doc 7488: 1.98 C per 1,000 ft, so 5 C below is 1.04 C at 2,000 ft.
    wet = moist | {"precipitation": 1.0, "temperature_c": 5.0}
    assert one("airframe_icing_possible", **wet, cruise_ft_agl=2000.0) == 1.0
    assert one("airframe_icing_possible", **wet, cruise_ft_agl=1000.0) == 0.0
    # A cloud at the cruise height is moisture too.
    dry = moist | {"precipitation": 0.0, "temperature_c": 0.0, "cruise_ft_agl": 1000.0}
    assert one("airframe_icing_possible", **dry | {"lowest_cloud_ft_agl": 1000.0}) == 1.0
    assert one("airframe_icing_possible", **dry) == 0.0


def test_airframe_icing_unknown_unless_settled() -> None:
    dry = {"precipitation": 0.0, "fog_or_mist": NAN, "freezing_precipitation": 0.0, "lowest_cloud_ft_agl": NONE}
    cold = one("airframe_icing_possible", **dry, temperature_c=0.0, cruise_ft_agl=500.0)
    assert np.isnan(cold)
    assert one("airframe_icing_possible", **dry, temperature_c=20.0, cruise_ft_agl=500.0) == 0.0


def test_fog_possible() -> None:
    # FAA AC 00-6 and FAA-H-8083-28 (from memory): 2 to 3 C; the reference file's two cases.
    for case in topic("atmosphere", "icing_and_fog_indicators"):
        if "fog_indicator" in case["expected"]:
            assert one("fog_possible", **case["inputs"], fog_or_mist=0.0) == float(case["expected"]["fog_indicator"])
    assert one("fog_possible", temperature_c=18.0, dew_point_c=2.0, fog_or_mist=1.0) == 1.0


def test_cloud_base_estimate_ft() -> None:
    # AFMAN 15-111 table 11.4: a spread of 10.5 C gives 4,200 ft.
    assert one("cloud_base_estimate_ft", temperature_c=20.5, dew_point_c=10.0) == 4200.0


def test_visibility_lowest_sm() -> None:
    assert one("visibility_lowest_sm", visibility_sm=6.0, route_visibility_sm=2.25) == 2.25
    assert one("visibility_lowest_sm", visibility_sm=1.5, route_visibility_sm=8.0) == 1.5


def test_ceiling_lowest_ft() -> None:
    assert one("ceiling_lowest_ft", ceiling_ft_agl=NONE, route_ceiling_ft_agl=2300.0) == 2300.0
    assert one("ceiling_lowest_ft", ceiling_ft_agl=NONE, route_ceiling_ft_agl=NONE) == 60_000.0


def test_visibility_margin_sm() -> None:
    # 14 CFR 91.155(a): class G at 1,200 ft or less, 1/2 SM by day and 1 SM at night; E 3 SM; D 3 SM.
    assert one("visibility_margin_sm", **LEGAL) == 3.5
    assert one("visibility_margin_sm", **LEGAL | {"civil_night_min": 10.0}) == 3.0
    assert one("visibility_margin_sm", **LEGAL | {"airspace": CLASSES["E"]}) == 1.0
    # 10,000 ft MSL and up: 5 SM; the altitude is counted over the higher site.
    high = {"airspace": CLASSES["E"], "highest_site_elevation_ft": 9300.0}
    assert one("visibility_margin_sm", **LEGAL | high) == -1.0
    # 61.89(a)(6): a student alone 3 SM by day, 5 SM at night, also under special VFR (91.157).
    assert one("visibility_margin_sm", **LEGAL | STUDENT) == 1.0
    assert one("visibility_margin_sm", **LEGAL | STUDENT | {"civil_night_min": 10.0}) == -1.0
    special = {"airspace": CLASSES["D"], "special_vfr": 1.0, "surface_area": 1.0}
    assert one("visibility_margin_sm", **LEGAL | special) == 4.0
    assert one("visibility_margin_sm", **LEGAL | special | STUDENT) == 1.0


def test_visibility_margin_is_unknown_when_a_fact_that_matters_is() -> None:
    for name in ("airspace", "civil_night_min", "cruise_ft_agl", "certificate"):
        margin = one("visibility_margin_sm", **LEGAL | {name: NAN, "purpose": 0.0 if name == "certificate" else 2.0})
        assert np.isnan(margin), name


def test_cloud_clearance_margin_ft() -> None:
    # 14 CFR 91.155(a): clear of clouds in class G low by day; 500 ft below in class E. VM11: 400 ft below is 100 short.
    clouds = {"lowest_cloud_ft_agl": 1200.0, "route_ceiling_ft_agl": NONE}
    assert one("cloud_clearance_margin_ft", **LEGAL, **clouds) == 400.0
    assert one("cloud_clearance_margin_ft", **LEGAL | {"airspace": CLASSES["E"]}, **clouds) == -100.0
    assert one("cloud_clearance_margin_ft", **LEGAL, lowest_cloud_ft_agl=NONE, route_ceiling_ft_agl=NONE) == 60_000.0
    assert one("cloud_clearance_margin_ft", **LEGAL, lowest_cloud_ft_agl=NONE, route_ceiling_ft_agl=900.0) == 100.0


def test_surface_ceiling_margin_ft() -> None:
    # 14 CFR 91.155(c), cases VM12 and VM13 of rules_more.
    inside = {"surface_area": 1.0, "special_vfr": 0.0}
    assert one("surface_ceiling_margin_ft", ceiling_ft_agl=900.0, **inside) == -100.0
    assert one("surface_ceiling_margin_ft", ceiling_ft_agl=1000.0, **inside) == 0.0
    assert one("surface_ceiling_margin_ft", ceiling_ft_agl=900.0, surface_area=1.0, special_vfr=1.0) == 60_000.0
    assert one("surface_ceiling_margin_ft", ceiling_ft_agl=900.0, surface_area=0.0, special_vfr=0.0) == 60_000.0
    unknown = one("surface_ceiling_margin_ft", ceiling_ft_agl=900.0, surface_area=NAN, special_vfr=0.0)
    assert np.isnan(unknown)


def test_obstacle_clearance_ft() -> None:
    assert one("obstacle_clearance_ft", cruise_ft_agl=800.0, highest_obstacle_ft_agl=450.0) == 350.0
    assert one("obstacle_clearance_ft", cruise_ft_agl=800.0, highest_obstacle_ft_agl=NONE) == 800.0


def test_obstacle_clearance_margin_ft() -> None:
    # 14 CFR 135.615(b) as a model: 300 ft by day, 500 ft at night.
    path = {"cruise_ft_agl": 800.0, "highest_obstacle_ft_agl": 450.0}
    assert one("obstacle_clearance_margin_ft", **path, civil_night_min=0.0) == 50.0
    assert one("obstacle_clearance_margin_ft", **path, civil_night_min=1.0) == -150.0


def test_thunderstorm_distance_nm() -> None:
    assert one("thunderstorm_distance_nm", thunderstorm_nm=12.0) == 12.0
    assert one("thunderstorm_distance_nm", thunderstorm_nm=NONE) == 300.0


def test_freezing_precipitation_reported() -> None:
    assert one("freezing_precipitation_reported", freezing_precipitation=1.0) == 1.0


def test_precipitation_intensity() -> None:
    assert one("precipitation_intensity", precipitation=3.0) == 3.0


def test_turbulence_level() -> None:
    assert one("turbulence_level", turbulence=2.0) == 2.0


def test_observation_age_min() -> None:
    assert one("observation_age_min", decided_at=7200.0, weather_true_at=3600.0) == 60.0
    future = one("observation_age_min", decided_at=3600.0, weather_true_at=7200.0)
    assert np.isnan(future)  # an observation from the future is not a fresh one


def test_observation_age_at_take_off_min() -> None:
    assert one("observation_age_at_take_off_min", take_off_at=9000.0, weather_true_at=3600.0) == 90.0


def test_observation_distance_nm() -> None:
    assert one("observation_distance_nm", station_distance_nm=17.5) == 17.5
