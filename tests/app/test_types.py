"""Aircraft types and weighings on the school page, without a browser."""

import pytest
from streamlit.testing.v1 import AppTest

from riskboard import jobs
from riskboard.shipped import aircraft_type_files
from tests.app.out_app import Opened, html, made_out, open_out, store_of
from tests.app.test_school import LRS, looking_at, save
from tests.jobs.school_day import AIRCRAFT

__all__ = ["made_out", "open_out"]  # fixtures: pytest finds them here by their names

((_, TEXT),) = aircraft_type_files()
SECOND = TEXT.replace("\nversion: 1\n", "\nversion: 2\n").replace("gross_max_lb: 1560", "gross_max_lb: 1550")
FITTED = f"e:{LRS}:equipment_fitted"


def pasted(app: AppTest, text: str) -> AppTest:
    app.pills(key="school:kind").set_value("aircraft_type").run()
    app.text_area(key="types:text").set_value(text).run()
    assert not app.exception
    return app


def publish(app: AppTest, why: str = "Revision 4 of the handbook") -> AppTest:
    app.text_input(key="types:why").set_value(why)
    app.button(key="types:publish").click().run()
    assert not app.exception
    return app


OUTLINE = ("78.6, 1560", "82.8, 1560", "-1.4, 1560", "1.6, 1560")


def lighter(text: str) -> str:
    """A limit of 1,550 lb, its envelopes cut off there."""
    for corner in OUTLINE:
        text = text.replace(corner, corner.replace("1560", "1550"))
    return text


def test_a_type_is_checked_published_with_a_reason_and_in_force(open_out: Opened) -> None:
    app = pasted(open_out("school", "joss"), lighter(SECOND))
    assert "The text can be published" in html(app)
    assert "1060 to 1550 lb" in html(app)
    publish(app)
    assert "Published: Tarnwick 2 (invented), version 2. It is in force now." in html(app)
    assert app.text_area(key="types:text").value == ""
    assert "Earlier versions, kept" in html(app)
    with store_of(app) as office:
        assert jobs.types_in_force(office)["Tarnwick 2 (invented)"].limits.gross_max_lb == 1550
        *_, last = office.store.entries(kinds=["type_published"])
    assert last.body is not None
    assert (last.header.actor, last.body.value["why"]) == ("joss-okonjo-lind", "Revision 4 of the handbook")


def test_every_error_stands_with_its_line_column_and_text_and_nothing_can_be_published(open_out: Opened) -> None:
    text = TEXT.replace("lb_per_gal: 6", "lb_per_gal: <b>six</b>").replace("gross_min_lb: 1060", "gross_min_lb: ten")
    app = pasted(open_out("school", "sigrun"), text)
    shown = html(app)
    line = text.split("\n").index("  lb_per_gal: <b>six</b>") + 1
    assert "2 things to mend" in shown
    assert f"Line {line}, column 15" in shown
    assert "lb_per_gal: &lt;b&gt;six&lt;/b&gt;" in shown
    assert "<b>six" not in shown
    assert "types:publish" not in {str(button.key) for button in app.button}
    assert app.text_area(key="types:text").value == text


@pytest.mark.parametrize(
    ("text", "why", "said"),
    [
        (TEXT, "again", "in force already, word for word"),
        (lighter(SECOND), "", "Say in a few words where the figures come from"),
    ],
)
def test_what_is_refused_says_why_and_keeps_the_text(open_out: Opened, text: str, why: str, said: str) -> None:
    app = publish(pasted(open_out("school", "edda"), text), why)
    assert said in html(app)
    assert app.text_area(key="types:text").value == text
    with store_of(app) as office:
        assert [kept.version for kept in office.store.list_types()] == [1]


def test_who_keeps_no_types_sees_them_and_has_no_form(open_out: Opened) -> None:
    app = open_out("school", "wendell")
    app.pills(key="school:kind").set_value("aircraft_type").run()
    assert "LRS-01, LRS-02, LRS-03" in html(app)
    assert not app.text_area
    assert "Aircraft type facts kept by" in " ".join(text.value for text in app.text)


def test_a_weighing_and_what_is_fitted_are_changed_by_the_types_own_words(open_out: Opened) -> None:
    app = looking_at(
        open_out("school", "joss"), "aircraft", AIRCRAFT, "empty_weight_lb", "weighed_on", "equipment_fitted"
    )
    assert app.pills(key=f"{FITTED}:floats").value is False
    assert app.pills(key=f"{FITTED}:floats").label == "Floats fitted"
    app.pills(key=f"{FITTED}:floats").set_value(True).run()
    app.number_input(key=f"e:{LRS}:empty_weight_lb").set_value(1036.5).run()
    save(app, LRS, "Floats put on, weighed anew")
    assert "Saved: LRS-01" in html(app)
    with store_of(app) as office:
        facts = jobs.document(office, "aircraft", AIRCRAFT)["aircraft"]
    assert facts["empty_weight_lb"] == 1036.5
    assert {each["name"]: each["fitted"] for each in facts["equipment_fitted"]} == {
        "right_door": True, "left_door": True, "dual_controls": True, "floats": True,
    }  # fmt: skip


def test_a_usual_flight_carries_loads_by_the_places_of_the_types(open_out: Opened) -> None:
    app = looking_at(open_out("school", "sigrun"), "route", "south-area", "station_loads")
    key = "e:school:route:south-area:station_loads:left_baggage"
    assert app.number_input(key=key).value == 6
    app.number_input(key=key).set_value(9.0).run()
    save(app, "school:route:south-area", "The new tool roll")
    with store_of(app) as office:
        plan = jobs.document(office, "route", "south-area")["plan"]
    assert {each["station"]: each["load_lb"] for each in plan["station_loads"]} == {
        "right_baggage": 0.0, "left_baggage": 9.0,
    }  # fmt: skip
