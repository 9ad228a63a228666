"""The page that takes paper worksheets in: who may use it, what it keeps, what it puts on record."""

from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from riskboard import jobs
from riskboard.shipped import shipped
from riskboard.words import Decision
from riskboard.worksheet.file import read_worksheet_file
from riskboard.worksheet.model import PARTS
from riskboard.worksheet.write import worksheet_data
from tests.app.conftest import NOW, Opener

PAGE = "pages/transcribe.py"


def html(app: AppTest) -> str:
    return "\n".join(str(each.proto.body) for each in app.get("html"))


def office_of(app: AppTest) -> jobs.Office:
    import os  # noqa: PLC0415  - the store of this test is named in its environment

    del app
    return jobs.open_office(os.environ["RISKBOARD_DATABASE_URL"], now=NOW)


def opened(open_app: Opener, store: Path, who: str = "wendell") -> AppTest:
    app = open_app(store, who).switch_page(PAGE).run()
    assert not app.exception
    return app


def begun(open_app: Opener, store: Path) -> tuple[AppTest, str]:
    app = opened(open_app, store)
    app.button(key="paper:begin").click().run()
    assert not app.exception
    named: Any = app.query_params["paper"]
    return app, named if isinstance(named, str) else named[0]


def test_blank_worksheets_of_both_policies_are_offered(open_app: Opener, demo_store: Path) -> None:
    app = opened(open_app, demo_store)
    labels = [str(each.proto.label) for each in app.get("download_button")]
    assert labels == ["Blank: rotor school vfr (PDF)", "Blank: student solo (PDF)"]


def test_a_paper_goes_on_record_as_what_it_is(open_app: Opener, demo_store: Path) -> None:
    app, named = begun(open_app, demo_store)
    office = office_of(app)
    sheet, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    assert at is not None
    data = worksheet_data(sheet)
    for part in PARTS:
        jobs.change_entries(office, "wendell-achterberg", named, part, data[part], at=NOW)
    app.run()
    app.selectbox(key="paper:pilot").select("mara-oduya").run()
    app.text_input(key="paper:filled_at").set_value("2026-05-04 08:20").run()
    app.button(key="paper:add").click().run()
    app.text_input(key="paper:s:0:name").set_value("Mara <b>Oduya</b>").run()
    app.text_input(key="paper:s:0:role").set_value("pilot").run()
    assert not app.exception
    assert "As of then: go" in html(app)
    app.button(key="paper:record").click().run()
    assert not app.exception
    assert "neither a yes nor a release" in html(app)
    (record,) = jobs.signed_records(office, named)
    assert record.entry.body is not None
    body = record.entry.body.value
    assert record.entry.header.actor == "wendell-achterberg"
    assert body["transcribed"]["paper_signatures"][0]["name"] == "Mara <b>Oduya</b>"
    assert body["assessment"]["decision"] == Decision.go.name
    assert body["transcribed"]["paper_at"] == "2026-05-04T14:20:00Z"


def test_what_is_missing_is_said_and_nothing_is_lost(open_app: Opener, demo_store: Path) -> None:
    app, named = begun(open_app, demo_store)
    app.selectbox(key="paper:pilot").select("mara-oduya").run()
    app.button(key="paper:record").click().run()
    assert not app.exception
    assert "when the paper was filled in" in html(app)
    assert jobs.signed_records(office_of(app), named) == []
    assert app.selectbox(key="paper:pilot").value == "mara-oduya"


def test_a_time_that_is_none_stays_in_its_field_with_what_would_be_right(open_app: Opener, demo_store: Path) -> None:
    app, _ = begun(open_app, demo_store)
    app.text_input(key="paper:filled_at").set_value("half past eight").run()
    assert app.text_input(key="paper:filled_at").value == "half past eight"
    assert any("08:30" in text.value or "22:30" in text.value or "14:30" in text.value for text in app.text)


def test_entries_are_typed_on_the_page(open_app: Opener, demo_store: Path) -> None:
    app, named = begun(open_app, demo_store)
    app.session_state["paper:part:weather"] = True
    app.run()
    app.number_input(key="e:paper:wind_kt").set_value(7.0).run()
    assert not app.exception
    found, _ = jobs.typed_paper(office_of(app), "wendell-achterberg", named, at=NOW)
    assert found.sheet.weather.wind_kt == 7.0


def test_a_pilot_without_the_role_is_not_led_there(open_app: Opener, demo_store: Path) -> None:
    """A courtesy only; that the jobs refuse them is tested with the jobs."""
    app = open_app(demo_store, "tobin")
    with pytest.raises(ValueError, match="Could not find"):
        app.switch_page(PAGE)
