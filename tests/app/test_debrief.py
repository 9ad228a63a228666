"""The debrief page without a browser."""

import pytest
from streamlit.testing.v1 import AppTest

from riskboard import jobs
from riskboard.words import Difference
from riskboard.worksheet.debrief import Condition
from tests.app.out_app import Opened, html, made_out, open_out, store_of
from tests.jobs.school_day import AIRCRAFT, FLIGHT

__all__ = ["made_out", "open_out"]  # fixtures: pytest finds them here by their names

KEY = f"d:{FLIGHT}"


def close(app: AppTest, blank: str = "") -> AppTest:
    """Press once, and once more where something stays blank and the page says so."""
    app.button(key="d:close").click().run()
    assert not app.exception
    if blank:
        assert f"Still blank: {blank}." in html(app)
        app.button(key="d:close").click().run()
        assert not app.exception
    return app


def labels(app: AppTest) -> set[str]:
    drawn = [*app.pills, *app.number_input, *app.text_input, *app.text_area]
    return {each.label for each in drawn}


def test_two_taps_and_the_meter_close_a_flight_that_went_as_planned(open_out: Opened) -> None:
    app = open_out("debrief")
    assert not app.exception
    assert "LRS-01 · Circuits at Larkfield · left" in html(app)
    app.pills(key=f"{KEY}:outcome").set_value("Came back as planned").run()
    app.number_input(key=f"{KEY}:meter_h").set_value(2232.5).run()
    app.pills(key=f"{KEY}:condition").set_value("All in place").run()
    close(app)
    assert "LRS-01: closed, as planned" in html(app)
    with store_of(app) as office:
        state = jobs.flight_state(office, FLIGHT)
        document = jobs.document(office, "aircraft", AIRCRAFT)
    assert state is not None
    assert state.status.value == "debriefed"
    assert document["aircraft"]["meter_h"] == 2232.5
    assert document["condition_left"]["items"]["rotor_brake"] == "not_fitted"
    assert document["condition_left"]["items"]["battery_master"] == "in_place"


def test_nothing_is_answered_before_it_is_touched_and_nothing_complains(open_out: Opened) -> None:
    app = open_out("debrief")
    assert app.pills(key=f"{KEY}:outcome").value is None
    assert app.pills(key=f"{KEY}:condition").value is None
    assert app.number_input(key=f"{KEY}:meter_h").value is None
    assert 'role="alert"' not in html(app)
    assert "Before the flight: 2231.4 h" in html(app)


def test_closing_without_the_one_answer_says_so_and_keeps_what_was_typed(open_out: Opened) -> None:
    app = open_out("debrief")
    app.number_input(key=f"{KEY}:meter_h").set_value(2230.0).run()
    close(app)
    assert "say whether the flight came back as planned" in html(app)
    assert "below the 2231.4 h known before the flight" in html(app)
    assert app.number_input(key=f"{KEY}:meter_h").value == 2230.0
    with store_of(app) as office:
        assert [entry.header.kind for entry in office.store.entries(subject=FLIGHT)][-1] == "took_off"


def test_what_differed_opens_more_and_is_weighed(open_out: Opened) -> None:
    app = open_out("debrief")
    assert "What differed" not in labels(app)
    app.pills(key=f"{KEY}:outcome").set_value("Something differed").run()
    offered = app.pills(key=f"{KEY}:differed")
    assert {str(each) for each in offered.options} == {str(word.value).replace("_", " ") for word in Difference}
    offered.set_value(["weather_worse", "precautionary_landing"]).run()
    app.text_area(key=f"{KEY}:note").set_value("Sea fog from the south").run()
    close(app, "the hour meter and how it was left")
    assert "noted for the safety officer as serious" in html(app)
    with store_of(app) as office:
        *_, last = office.store.entries(subject=FLIGHT)
    assert last.body is not None
    assert last.body.value["severity"] == "serious"
    assert last.body.value["debrief"]["note"] == "Sea fog from the south"


def test_what_was_left_out_of_place_is_told_item_by_item(open_out: Opened) -> None:
    app = open_out("debrief")
    app.pills(key=f"{KEY}:outcome").set_value("Came back as planned").run()
    app.pills(key=f"{KEY}:condition").set_value("Not all in place").run()
    assert {info.label for info in Condition.facts().values()} <= labels(app)
    app.pills(key=f"{KEY}:condition:battery_master").set_value("out_of_place").run()
    close(app, "the hour meter and how it was left")
    assert "unknown to the next pilot: the hour meter and how it was left" in html(app)
    app = open_out("brief")
    app.selectbox(key="flight:aircraft_id").select(AIRCRAFT).run()
    app.selectbox(key="flight:route_id").select("larkfield-circuits").run()
    assert not app.exception
    assert "Battery master off: out of place" in html(app)
    assert "left by Mara Oduya" in html(app)


def test_a_flight_is_not_closed_with_a_blank_that_nobody_was_told_of(open_out: Opened) -> None:
    app = open_out("debrief")
    app.pills(key=f"{KEY}:outcome").set_value("Came back as planned").run()
    close(app)
    assert "Not closed yet. Still blank: the hour meter and how it was left." in html(app)
    app.pills(key=f"{KEY}:condition").set_value("All in place").run()
    assert "Not closed yet" not in html(app)
    close(app)  # something else is blank now than what was said: it is said first
    assert "Still blank: the hour meter." in html(app)
    assert app.button(key="d:close").label == "Close without it"
    with store_of(app) as office:
        assert [entry.header.kind for entry in office.store.entries(subject=FLIGHT)][-1] == "took_off"
    app.number_input(key=f"{KEY}:meter_h").set_value(2232.5).run()
    close(app)
    assert "LRS-01: closed, as planned" in html(app)


def test_a_reload_loses_nothing(open_out: Opened) -> None:
    app = open_out("debrief")
    app.pills(key=f"{KEY}:outcome").set_value("Came back as planned").run()
    app.number_input(key=f"{KEY}:meter_h").set_value(2232.5).run()
    again = open_out("debrief")
    assert again.pills(key=f"{KEY}:outcome").value == "Came back as planned"
    assert again.number_input(key=f"{KEY}:meter_h").value == 2232.5


def test_a_defect_and_the_fuel_are_told_in_what_opens(open_out: Opened) -> None:
    app = open_out("debrief")
    app.pills(key=f"{KEY}:outcome").set_value("Came back as planned").run()
    app.number_input(key=f"{KEY}:fuel_left_gal").set_value(11.0).run()
    app.button(key=f"{KEY}:defects:add").click().run()
    app.text_area(key=f"{KEY}:defects:0:text").set_value("Horn <b>rattles</b>").run()
    app.pills(key=f"{KEY}:defects:0:effect").set_value("watch").run()
    assert f"{KEY}:defects:0:deferred_until" not in {str(each.key) for each in app.date_input}
    close(app, "the hour meter and how it was left")
    with store_of(app) as office:
        (defect,) = jobs.document(office, "aircraft", AIRCRAFT)["aircraft"]["open_defects"]
    assert (defect["text"], defect["effect"]) == ("Horn <b>rattles</b>", "watch")


@pytest.mark.parametrize(("who", "seen"), [("tobin", False), ("noor", False), ("wendell", True)])
def test_others_see_no_flight_that_is_not_theirs_to_close(open_out: Opened, who: str, seen: bool) -> None:
    app = open_out("debrief", who)
    assert not app.exception
    assert "LRS-01 · Circuits" not in html(app)
    assert [box.label for box in app.selectbox] == (["Flight"] if seen else [])
    assert ("No flight of yours is out" in " ".join(text.value for text in app.text)) is not seen


def test_the_desk_closes_it_for_its_crew(open_out: Opened) -> None:
    app = open_out("debrief", "wendell", flight=FLIGHT)
    assert "For its crew: Mara Oduya" in html(app)
    app.pills(key=f"{KEY}:outcome").set_value("Came back as planned").run()
    close(app, "the hour meter and how it was left")
    with store_of(app) as office:
        *_, last = office.store.entries(subject=FLIGHT)
    assert (last.header.actor, last.header.role) == ("wendell-achterberg", "dispatcher")
