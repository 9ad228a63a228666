"""The school page without a browser."""

from zoneinfo import ZoneInfo

import pytest
from streamlit.testing.v1 import AppTest

from riskboard import jobs
from riskboard.app.widgets.kept_sheet import shown_plain
from riskboard.worksheet.kept import KEPT
from tests.app.out_app import Opened, html, made_out, open_out, store_of
from tests.jobs.school_day import AIRCRAFT

__all__ = ["made_out", "open_out"]  # fixtures: pytest finds them here by their names

LRS = f"school:aircraft:{AIRCRAFT}"


def looking_at(app: AppTest, kind: str, identity: str, *changing: str) -> AppTest:
    app.pills(key="school:kind").set_value(kind).run()
    if kind != "school":
        app.selectbox(key=f"school:which:{kind}").select(identity).run()
    if changing:
        app.pills(key=f"school:{kind}:{identity}:pick").set_value(list(changing)).run()
    assert not app.exception
    return app


def save(app: AppTest, where: str, why: str = "Work order 12") -> AppTest:
    app.text_input(key=f"{where}:why").set_value(why)
    app.button(key=f"{where}:save").click().run()
    assert not app.exception
    return app


def test_a_fact_is_changed_with_a_reason_and_stands_in_the_record(open_out: Opened) -> None:
    app = looking_at(open_out("school", "wendell"), "aircraft", AIRCRAFT, "fuel_burn_gal_h")
    app.number_input(key=f"e:{LRS}:fuel_burn_gal_h").set_value(13.5).run()
    assert "1 not saved yet" in app.button(key=f"{LRS}:save").label
    save(app, LRS)
    assert "Saved: LRS-01" in html(app)
    assert f"{LRS}:save" not in {str(button.key) for button in app.button}
    with store_of(app) as office:
        assert jobs.document(office, "aircraft", AIRCRAFT)["aircraft"]["fuel_burn_gal_h"] == 13.5
        *_, last = office.store.entries(subject=f"aircraft {AIRCRAFT}")
    assert last.body is not None
    assert (last.header.actor, last.body.value["why"]) == ("wendell-achterberg", "Work order 12")


def test_what_is_refused_is_named_beside_its_entry_and_stays_typed(open_out: Opened) -> None:
    app = looking_at(open_out("school", "wendell"), "aircraft", AIRCRAFT, "meter_h", "fuel_burn_gal_h")
    app.number_input(key=f"e:{LRS}:meter_h").set_value(12.0).run()
    app.number_input(key=f"e:{LRS}:fuel_burn_gal_h").set_value(13.5).run()
    save(app, LRS)
    assert "below the 2193.4 h of the last inspection" in html(app)
    assert "What you typed is kept" in html(app)
    assert app.number_input(key=f"e:{LRS}:meter_h").value == 12.0
    with store_of(app) as office:
        assert jobs.document(office, "aircraft", AIRCRAFT)["aircraft"]["fuel_burn_gal_h"] == 12.0
    app.number_input(key=f"e:{LRS}:meter_h").set_value(2240.0).run()
    save(app, LRS)
    assert "Saved: LRS-01" in html(app)


def test_without_a_reason_nothing_is_saved(open_out: Opened) -> None:
    app = looking_at(open_out("school", "wendell"), "aircraft", AIRCRAFT, "fuel_burn_gal_h")
    app.number_input(key=f"e:{LRS}:fuel_burn_gal_h").set_value(13.5).run()
    save(app, LRS, why="")
    assert "Say in a few words why" in html(app)
    assert app.number_input(key=f"e:{LRS}:fuel_burn_gal_h").value == 13.5


def test_a_defect_is_opened_and_the_next_briefing_has_it(open_out: Opened) -> None:
    app = looking_at(open_out("school", "wendell"), "aircraft", AIRCRAFT, "open_defects")
    app.button(key=f"e:{LRS}:open_defects:add").click().run()
    app.text_area(key=f"e:{LRS}:open_defects:0:text").set_value("Horn silent").run()
    app.pills(key=f"e:{LRS}:open_defects:0:effect").set_value("grounding").run()
    save(app, LRS, "Found on the ground")
    with store_of(app) as office:
        (defect,) = jobs.document(office, "aircraft", AIRCRAFT)["aircraft"]["open_defects"]
    assert defect == {"text": "Horn silent", "effect": "grounding"}


def test_somebody_who_saved_in_between_is_named_and_nothing_is_overwritten(open_out: Opened) -> None:
    app = looking_at(open_out("school", "wendell"), "aircraft", AIRCRAFT, "fuel_burn_gal_h")
    app.number_input(key=f"e:{LRS}:fuel_burn_gal_h").set_value(13.5).run()
    with store_of(app) as office:
        stored = office.store.get_document("aircraft", AIRCRAFT)
        assert stored is not None
        office.store.put_document("aircraft", AIRCRAFT, stored.text, at=stored.saved_at)
    save(app, LRS)
    assert "changed this first" in html(app)
    assert app.number_input(key=f"e:{LRS}:fuel_burn_gal_h").value == 13.5
    app.button(key=f"{LRS}:drop").click().run()
    app.pills(key=f"{LRS}:pick").set_value(["fuel_burn_gal_h"]).run()
    assert app.number_input(key=f"e:{LRS}:fuel_burn_gal_h").value == 12.0


@pytest.mark.parametrize(
    ("kind", "typed", "identity"),
    [
        ("aircraft", {"registration": "LRS-07", "type_name": "Tarnwick 2"}, "LRS-07"),
        ("site", {"name": "Quarry pad", "departure_name": "Quarry", "time_zone": "America/Denver"}, "quarry-pad"),
        ("route", {"name": "Quarry and back"}, "quarry-and-back"),
    ],
)
def test_a_new_one_is_added_and_chosen(open_out: Opened, kind: str, typed: dict[str, str], identity: str) -> None:
    app = looking_at(open_out("school", "sigrun"), kind, "Add a new one")
    for name, value in typed.items():
        app.text_input(key=f"e:school:{kind}::{name}").set_value(value).run()
    save(app, f"school:{kind}:", "New this spring")
    assert "Added: " in html(app)
    assert app.selectbox(key=f"school:which:{kind}").value == identity
    with store_of(app) as office:
        assert jobs.document(office, kind, identity)["id"] == identity


def test_what_is_missing_of_a_new_one_is_named(open_out: Opened) -> None:
    app = looking_at(open_out("school", "sigrun"), "aircraft", "Add a new one")
    app.text_input(key="e:school:aircraft::registration").set_value("LRS-07").run()
    save(app, "school:aircraft:")
    assert "Type is missing" in html(app)
    assert app.text_input(key="e:school:aircraft::registration").value == "LRS-07"


def test_the_school_itself(open_out: Opened) -> None:
    app = looking_at(open_out("school", "sigrun"), "school", "school", "idle_min", "units")
    app.number_input(key="e:school:school:school:idle_min").set_value(15).run()
    app.pills(key="e:school:school:school:units").set_value("metric").run()
    save(app, "school:school:school", "Agreed at the meeting")
    with store_of(app) as office:
        found = jobs.school(office)
    assert found is not None
    assert (found["idle_min"], found["units"], found["invented"]) == (15, "metric", True)
    debrief = open_out("debrief", "mara")
    assert "Fuel left (L)" in {each.label for each in debrief.number_input}


def test_whoever_keeps_others_dates_reads_their_own_and_changes_nothing_there(open_out: Opened) -> None:
    app = looking_at(open_out("school", "mara"), "person", "mara-oduya")
    assert "Medical examination on" in html(app)
    assert not app.number_input
    assert "entered by somebody else" in " ".join(text.value for text in app.text)
    looking_at(app, "person", "tobin-reyes-hall", "total_helicopter_h")
    assert app.number_input(key="e:school:person:tobin-reyes-hall:total_helicopter_h").value == 186.4


@pytest.mark.parametrize("kind", list(KEPT))
def test_every_fact_has_its_widget_with_the_worksheets_own_label(open_out: Opened, kind: str) -> None:
    app = open_out("school", "sigrun")
    looking_at(app, kind, _first(app, kind), *KEPT[kind].names)
    drawn = [*app.number_input, *app.text_input, *app.text_area, *app.date_input, *app.pills, *app.selectbox]
    labels = {each.label.removesuffix(": or") for each in drawn} | {text.value for text in app.text}
    for name in KEPT[kind].names:
        info = KEPT[kind].info(name)
        assert (f"{info.label} ({info.unit})" if info.unit else info.label) in labels, name


def _first(app: AppTest, kind: str) -> str:
    if kind == "school":
        return "school"
    with store_of(app) as office:
        return str(jobs.documents(office, kind)[0]["id"])


def test_the_record_says_what_was_changed_and_why(open_out: Opened) -> None:
    app = looking_at(open_out("school", "wendell"), "aircraft", AIRCRAFT, "fuel_burn_gal_h")
    app.number_input(key=f"e:{LRS}:fuel_burn_gal_h").set_value(13.5).run()
    save(app, LRS, "Measured <b>twice</b>")
    said = html(open_out("record", "wendell"))
    assert "Wendell Achterberg changed aircraft LRS-01: fuel burn gal h. Measured &lt;b&gt;twice&lt;/b&gt;" in said


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ([], "none"),
        ("none", "none"),
        (True, "yes"),
        (12.0, "12"),
        ("2026-05-04", "04 May 2026"),
        ("2026-05-04T14:30:00Z", "Mon 04 May 14:30"),
        ("no_night", "no night"),
        ("LRS_01", "LRS_01"),
        ([{"name": "Doors", "state": "not_in_place", "required": True}], "Doors, not in place"),
        ([{"text": "Horn silent", "effect": "grounding", "deferred_until": "2026-06-01"}],
         "Horn silent, grounding, deferred until 01 Jun 2026"),
    ],
)  # fmt: skip
def test_kept_values_read_as_people_say_them(value: object, said: str) -> None:
    assert shown_plain(value, ZoneInfo("UTC")) == said
