"""The briefing page without a browser: what it asks, what it never assumes, what it lets people sign."""

from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from riskboard import demo, jobs
from riskboard.worksheet.model import PARTS, facts
from riskboard.worksheet.quick import QUICK_SETS
from tests.app.conftest import NOW, Opener

TYPED_ONLY = {field for quick in QUICK_SETS.values() for field in quick.fields} - {"route_flown_before"}


def html(app: AppTest) -> str:
    return "\n".join(str(each.proto.body) for each in app.get("html"))


def started(app: AppTest, aircraft: str = "LRS-01") -> AppTest:
    app.selectbox(key="flight:aircraft_id").select(aircraft).run()
    app.selectbox(key="flight:route_id").select("larkfield-circuits").run()
    assert not app.exception
    return app


def draft(app: AppTest) -> dict[str, Any]:
    return dict(briefing(app).data)


def briefing(app: AppTest) -> jobs.Briefing:
    import os  # noqa: PLC0415  - the store of this test is named in its environment

    office = jobs.open_office(os.environ["RISKBOARD_DATABASE_URL"], now=NOW)
    named = app.query_params["flight"]
    return jobs.brief(office, named if isinstance(named, str) else named[0], at=NOW)


def test_an_empty_store_leads_to_the_way_in(open_app: Opener, empty_store: Any) -> None:
    app = open_app(empty_store)
    assert not app.exception
    assert "You are not signed in." in html(app)
    assert 'href="/enter?next=' in html(app)
    assert not app.selectbox


def test_the_pilot_is_who_is_signed_in_and_no_list_offers_another(open_app: Opener, demo_store: Any) -> None:
    app = started(open_app(demo_store, "tobin"))
    assert "Tobin Reyes-Hall" in html(app)
    assert briefing(app).pilot_id == "tobin-reyes-hall"
    assert briefing(app).sheet.pilot.pilot_name == "Tobin Reyes-Hall"
    assert "flight:pilot_id" not in {str(box.key) for box in app.selectbox}


def test_what_every_screen_says(demo_app: AppTest) -> None:
    assert "Invented data" in html(demo_app)
    assert "It does not mean safe" in html(demo_app)
    assert "Clock held" in html(demo_app)


def test_the_flight_is_named_in_the_address_from_the_start(demo_app: AppTest) -> None:
    named = demo_app.query_params["flight"]
    started(demo_app)
    assert demo_app.query_params["flight"] == named


def test_nothing_is_answered_before_it_is_touched(demo_app: AppTest) -> None:
    data = draft(started(demo_app))
    answered = {name for part in PARTS for name, value in data.get(part, {}).items() if value is not None}
    assert not answered & TYPED_ONLY
    assert not answered & {"sleeps", "sleepiness_rating", "fuel_usable_gal", "take_off_at", "observed_at"}
    assert demo_app.number_input(key="e:main:fuel_usable_gal").value is None


def test_every_entry_widget_carries_the_worksheets_own_label(demo_app: AppTest) -> None:
    started(demo_app)
    known = {f"{info.label} ({info.unit})" if info.unit else info.label for _, _, info in facts()}
    entries = [*demo_app.number_input, *demo_app.text_area, *demo_app.date_input]
    entries += [each for each in demo_app.text_input if str(each.key).startswith(("e:", "q:"))]
    labels = {each.label for each in entries} - {"Report and forecast, pasted (METAR, TAF)"}
    places = {"Right seat, pilot (lb)", "Left seat (lb)", "Under the right seat (lb)", "Under the left seat (lb)"}
    assert places < labels  # the type's own words
    assert labels - places <= known


def test_a_quick_answer_fills_the_entries_behind_it(demo_app: AppTest) -> None:
    started(demo_app).pills(key="q:pressures").set_value(["_bulk"]).run()
    pressures = draft(demo_app)["pressures"]
    assert pressures["pressure_felt"] == 2
    assert pressures["anything_else"] == "none"
    assert demo_app.pills(key="q:pressures").value == ["_bulk"]
    demo_app.pills(key="q:pressures").set_value(["_bulk", "closing"]).run()
    assert demo_app.pills(key="q:pressures").value == ["closing"]
    assert draft(demo_app)["pressures"]["weather_closing"] is True
    demo_app.pills(key="q:pressures").set_value([]).run()
    assert draft(demo_app)["pressures"]["weather_closing"] is None


def test_the_landing_follows_from_the_usual_length(demo_app: AppTest) -> None:
    started(demo_app).pills(key="q:take_off").set_value("2026-05-04T16:30:00Z").run()
    plan = draft(demo_app)["plan"]
    assert (plan["take_off_at"], plan["landing_at"]) == ("2026-05-04T16:30:00Z", "2026-05-04T17:30:00Z")


def test_another_aircraft_takes_the_old_ones_fuel_back(demo_app: AppTest) -> None:
    started(demo_app).number_input(key="e:main:fuel_usable_gal").set_value(30.0).run()
    demo_app.pills(key="q:prepared").set_value(["_bulk"]).run()
    assert draft(demo_app)["aircraft"]["fuel_usable_gal"] == 30
    demo_app.selectbox(key="flight:aircraft_id").select("LRS-03").run()
    after = briefing(demo_app)
    assert after.sheet.aircraft.registration == "LRS-03"
    assert after.sheet.aircraft.fuel_usable_gal is None
    assert after.sheet.aircraft.preflight_done is None
    assert after.sheet.plan.wires_studied is None


def loads(app: AppTest) -> dict[str, float | None]:
    prefix = "e:main:station_loads:"
    found = {str(each.key): each.value for each in app.number_input}
    return {key.removeprefix(prefix): value for key, value in found.items() if key.startswith(prefix)}


def test_loads_stand_filled_in_by_place_and_each_can_be_typed_over(demo_app: AppTest) -> None:
    app = started(demo_app)
    assert loads(app) == {"right_seat": 172, "left_seat": None, "right_baggage": 0, "left_baggage": 6}
    app.pills(key="q:kind").set_value("lesson").run()
    assert loads(app)["left_seat"] is None, "somebody sits there, and nobody has said who"
    app.selectbox(key="flight:instructor_id").select("sigrun-palo").run()
    assert loads(app)["left_seat"] == 149
    app.number_input(key="e:main:station_loads:left_seat").set_value(163.0).run()
    app.number_input(key="e:main:station_loads:left_baggage").set_value(None).run()
    assert draft(app)["plan"]["station_loads"] == [
        {"station": "right_seat", "load_lb": 172.0},
        {"station": "right_baggage", "load_lb": 0.0},
        {"station": "left_seat", "load_lb": 163.0},
    ]
    assert loads(app) == {"right_seat": 172, "left_seat": 163, "right_baggage": 0, "left_baggage": None}
    app.pills(key="q:kind").set_value("rental").run()
    assert loads(app)["left_seat"] == 163, "typed, so it stays"


def test_a_rental_alone_has_an_empty_seat(demo_app: AppTest) -> None:
    app = started(demo_app)
    app.pills(key="q:kind").set_value("rental").run()
    assert loads(app) == {"right_seat": 172, "left_seat": 0, "right_baggage": 0, "left_baggage": 6}


def test_an_unsound_entry_is_kept_as_typed_and_nothing_is_decided(demo_app: AppTest) -> None:
    started(demo_app).text_input(key="q:sleep").set_value("late till early").run()
    assert draft(demo_app)["pilot"]["sleeps"] == "late till early"
    assert "Cannot decide: mend these first" in html(demo_app)
    assert demo_app.text_input(key="q:sleep").value == "late till early"
    assert not [button for button in demo_app.button if button.key == "flight:do:accepted"]


def test_a_no_go_has_no_accept_button_and_a_decline_button(demo_app: AppTest) -> None:
    started(demo_app, "LRS-06")
    keys = {str(button.key) for button in demo_app.button}
    assert not [key for key in keys if "accepted" in key or "sign_off" in key]
    assert [key for key in keys if "declined" in key]


def test_a_decline_without_a_reason_is_refused_in_a_sentence(demo_app: AppTest) -> None:
    started(demo_app).text_input(key="flight:pin:declined").set_value(demo.DEMO_PIN)
    next(button for button in demo_app.button if "declined" in str(button.key)).click().run()
    assert "the record needs a reason" in html(demo_app)
    assert "What you signed" not in html(demo_app)


@pytest.mark.parametrize("part", list(PARTS))
def test_every_entry_can_be_changed_by_hand(demo_app: AppTest, part: str) -> None:
    """Each part's full list of widgets draws, whatever is known and whatever is blank."""
    started(demo_app)
    box = next(each for each in demo_app.expander if each.label.startswith("All entries here"))
    assert box is not None
    demo_app.session_state[f"s:all:{part}"] = True
    demo_app.run()
    assert not demo_app.exception


def test_the_record_shows_a_decline_in_plain_words(demo_app: AppTest) -> None:
    started(demo_app).text_input(key="flight:text:declined").set_value("Gusts at the ridge")
    demo_app.text_input(key="flight:pin:declined").set_value(demo.DEMO_PIN)
    next(button for button in demo_app.button if "declined" in str(button.key)).click().run()
    assert "What you signed" in html(demo_app)
    demo_app.switch_page("pages/record.py").run()
    assert not demo_app.exception
    assert "Mara Oduya (pilot) declined flight" in html(demo_app)
    assert "Gusts at the ridge" in html(demo_app)
    next(button for button in demo_app.button if button.label == "Verify the record").click().run()
    assert "Nothing found" in html(demo_app)


def test_what_presses_is_asked_before_a_decision_is_shown_and_a_changed_answer_leaves_its_trace(
    demo_app: AppTest,
) -> None:
    app = started(demo_app)
    shown = html(app)
    assert "Say what presses first" in shown
    assert "entries still blank" in shown
    for told in ("rb-band rb-no", "rb-band rb-go", "rb-band rb-sign", "No-go", "rb-reasons rb", 'id="why"', "level "):
        assert told not in shown.replace(".rb-reasons", ""), told
    labels = [button.label for button in app.button]
    assert "Decline" in labels
    assert not any(label.startswith(("Accept", "Ask for")) for label in labels)
    app.pills(key="q:pressures").set_value(["waits"]).run()
    shown = html(app)
    assert "rb-band rb-no" in shown
    assert 'id="why"' in shown
    app.pills(key="q:pressures").set_value(["_bulk"]).run()
    (edit,) = [each for each in briefing(app).edits if each["field"] == "someone_waits"]
    assert (edit["before"], edit["after"]) == (True, False)
    app.pills(key="q:pressures").set_value([]).run()
    assert "Say what presses first" in html(app)
    assert [each["field"] for each in briefing(app).edits].count("someone_waits") == 2
