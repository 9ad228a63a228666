"""Loading and hover on the briefing page: what is asked, what is shown, what would help, and when nothing is known."""

import json
import os
from typing import Any

from streamlit.testing.v1 import AppTest

from riskboard import jobs
from tests.app.conftest import NOW, Opener
from tests.app.test_brief import briefing, html, started

LEFT, RIGHT = "e:main:station_loads:left_seat", "e:main:station_loads:right_seat"
FUEL = "e:main:fuel_usable_gal"
HOT = "METAR XLKF 041553Z 17008KT 10SM FEW060 34/06 A2992 RMK AO2 T03400061"
INSIDE = "Inside at take-off, landing and zero fuel; nearest edge "


def charts(app: AppTest) -> int:
    return len(app.get("arrow_vega_lite_chart") or app.get("vega_lite_chart"))


def alone(app: AppTest) -> AppTest:
    """An hour of circuits with nobody else aboard."""
    started(app).pills(key="q:kind").set_value("rental").run()
    app.pills(key="q:take_off").set_value(app.pills(key="q:take_off").options[2]).run()
    app.number_input(key=FUEL).set_value(30.0).run()
    assert not app.exception
    return app


def test_until_a_load_is_known_it_says_what_it_waits_for_and_draws_nothing(demo_app: AppTest) -> None:
    app = started(demo_app)
    shown = html(app)
    assert "Weight, balance and hover are unknown without: Left seat, Usable fuel" in shown
    assert "Invented type" in shown
    assert charts(app) == 0


def test_both_envelopes_stand_below_the_loads(demo_app: AppTest) -> None:
    """988.5 lb empty, 172 + 6 lb, 29 gal: 1,340.5 lb."""
    app = alone(demo_app)
    shown = html(app)
    assert shown.count(INSIDE) == 2
    assert "1,340.5 lb, 219.5 lb under the highest (1,560 lb)" in shown
    assert "Fitted: Right door, Left door, Dual controls. Not fitted: Floats." in shown
    assert charts(app) == 2
    assert "rb-fix" not in shown.replace(".rb-fix", "")


def test_a_load_outside_is_refused_with_the_way_out_at_the_verdict(demo_app: AppTest) -> None:
    """988.5 + 215 + 238 + 6 lb leave 112.5 lb: 18.7 gal after start, 19.7 before; with 29 gal it is 61.5 lb over."""
    app = alone(demo_app)
    app.pills(key="q:kind").set_value("rental_with_others").run()
    app.pills(key="q:pressures").set_value(["_bulk"]).run()
    app.number_input(key=RIGHT).set_value(215.0).run()
    app.number_input(key=LEFT).set_value(238.0).run()
    shown = html(app)
    fix = "Usable fuel 19.7 US gal before start, 10.3 US gal less."
    band = shown[shown.index("rb-band rb-no") :]
    assert "No-go" in band
    assert f"Weight and balance fit again with: {fix}" in band[: band.index("go-to")]
    assert "Room below the highest weight allowed: \N{MINUS SIGN}61.5 lb" in shown
    assert "Outside at take-off: 61.5 lb too heavy for this envelope" in shown
    app.number_input(key=FUEL).set_value(19.7).run()
    after = html(app)
    assert "fit again with" not in after
    assert "61.5 lb" not in after


def test_a_table_without_a_value_is_no_blank_entry(demo_app: AppTest) -> None:
    """At 1,621.5 lb the hover tables end: unknown, and nothing to fill in would help."""
    app = alone(demo_app)
    app.pills(key="q:pressures").set_value(["_bulk"]).run()
    app.number_input(key=RIGHT).set_value(215.0).run()
    app.number_input(key=LEFT).set_value(238.0).run()
    office = jobs.open_office(os.environ["RISKBOARD_DATABASE_URL"], now=NOW)
    named = briefing(app).draft_id
    jobs.paste_report(office, named, HOT, at=NOW)
    jobs.say(office, named, "beyond", [], at=NOW)
    office.store.close()
    shown = html(app.run())
    assert "the hover table of the Tarnwick 2 (invented) has no value" in shown
    assert "Fill in: Type" not in shown
    assert 'href="#loading"' in shown
    found = briefing(app).assessment
    assert found is not None
    wanted = {field for line in found.unknown for field in line.blank}
    assert "type_name" in wanted
    assert f"{len(wanted) - 1} entries still blank" in shown


def test_a_type_that_is_not_on_file_is_said_and_nothing_is_claimed(open_app: Opener, demo_store: Any) -> None:
    app = open_app(demo_store)
    office = jobs.open_office(os.environ["RISKBOARD_DATABASE_URL"], now=NOW)
    kept = jobs.document(office, "aircraft", "LRS-01")
    kept["aircraft"]["type_name"] = "Wren 9"
    office.store.put_document("aircraft", "LRS-01", json.dumps(kept), at=NOW)
    office.store.close()
    app.run()
    app.selectbox(key="flight:aircraft_id").select("LRS-01").run()
    app.selectbox(key="flight:route_id").select("larkfield-circuits").run()
    assert not app.exception
    assert "Wren 9: no aircraft type of this name is on file" in html(app)
    assert charts(app) == 0
    assert LEFT not in {str(each.key) for each in app.number_input}


def test_a_piece_of_which_nobody_knows_is_asked_for(demo_app: AppTest) -> None:
    app = alone(demo_app)
    assert "e:main:equipment_fitted:floats" not in {str(each.key) for each in app.pills}
    named = briefing(app).draft_id
    office = jobs.open_office(os.environ["RISKBOARD_DATABASE_URL"], now=NOW)
    jobs.save_entries(office, named, "aircraft", {"equipment_fitted": [{"name": "right_door", "fitted": True}]}, at=NOW)
    office.store.close()
    app.run()
    assert app.pills(key="e:main:equipment_fitted:floats").value is None
    assert "Left door: fitted or not" in html(app)
