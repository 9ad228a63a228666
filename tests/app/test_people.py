"""The page of the people without a browser: what each sees of it, and what the keeping of people leaves on record."""

import os
from datetime import timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from riskboard import demo, jobs
from riskboard.app import session
from riskboard.words import Role
from tests.app.conftest import NOW, Opener
from tests.app.test_brief import html

PAGE = "pages/people.py"


def office() -> jobs.Office:
    return jobs.open_office(os.environ["RISKBOARD_DATABASE_URL"], now=NOW)


def people_page(open_app: Opener, store: Path, who: str) -> AppTest:
    app = open_app(store, who).switch_page(PAGE).run()
    assert not app.exception
    return app


def press(app: AppTest, key: str, *, pin: str = demo.DEMO_PIN, why: str = "joins the desk", **typed: str) -> AppTest:
    for name, text in typed.items():
        app.text_input(key=f"{key}:{name}").set_value(text)
    app.text_input(key=f"{key}:why").set_value(why)
    app.text_input(key=f"{key}:sign").set_value(pin)
    next(button for button in app.button if button.key == f"{key}:do").click().run()
    assert not app.exception
    return app


def test_a_renter_sees_their_own_roles_and_nobody_elses(open_app: Opener, demo_store: Path) -> None:
    app = people_page(open_app, demo_store, "tobin")
    assert "renter, since 04 May 2025" in html(app)
    assert "Wendell" not in html(app)
    assert not [button for button in app.button if str(button.key).startswith("people:add")]


def test_a_dispatcher_sees_colleagues_but_no_way_in(open_app: Opener, demo_store: Path) -> None:
    app = people_page(open_app, demo_store, "wendell")
    assert "<strong>Sigrun Palo</strong> · chief instructor, instructor" in html(app)
    assert "login name" not in html(app)
    assert not [button for button in app.button if str(button.key).startswith("people:add")]


def test_an_administrator_adds_somebody_and_gives_a_role(open_app: Opener, demo_store: Path) -> None:
    app = press(people_page(open_app, demo_store, "edda"), "people:add", name="Pavel <b>Sirin</b>", login="pavel")
    assert "Pavel &lt;b&gt;Sirin&lt;/b&gt;" in html(app)
    (code,) = [each.split("</p>")[0] for each in html(app).split('<p class="rb-receipt">')[1:]]
    app.selectbox(key="people:who").select("pavel-b-sirin-b").run()
    key = "people:give:pavel-b-sirin-b"
    app.selectbox(key=f"{key}:role").select(Role.dispatcher)
    press(app, key)
    assert "dispatcher, since 04 May 2026 10:00" in html(app)
    assert jobs.roles_of(office(), "pavel-b-sirin-b", NOW) == {Role.dispatcher}
    assert jobs.use_code(office(), "pavel", code, "kettle orbit mossy lamp", "5829", at=NOW)
    app.run()
    assert code in html(app)
    next(button for button in app.button if button.key == "people:code:gone").click().run()
    assert code not in html(app)


@pytest.mark.parametrize(
    ("pin", "why", "said"), [("8351", "x", "PIN is not right"), (demo.DEMO_PIN, " ", "needs a reason")]
)
def test_what_is_refused_is_said_beside_the_form_and_typed_text_stays(
    open_app: Opener, demo_store: Path, pin: str, why: str, said: str
) -> None:
    app = press(people_page(open_app, demo_store, "edda"), "people:add", pin=pin, why=why, name="Pavel Sirin", login="")
    assert said in html(app)
    assert app.text_input(key="people:add:name").value == "Pavel Sirin"
    assert app.text_input(key="people:add:sign").value == ""
    assert office().store.find_account("pavel") is None


def test_a_role_from_a_day_until_the_end_of_another(open_app: Opener, demo_store: Path) -> None:
    app = people_page(open_app, demo_store, "edda")
    app.selectbox(key="people:who").select("tobin-reyes-hall").run()
    key = "people:give:tobin-reyes-hall"
    app.selectbox(key=f"{key}:role").select(Role.instructor)
    app.date_input(key=f"{key}:from").set_value((NOW + timedelta(days=2)).date())
    app.date_input(key=f"{key}:until").set_value((NOW + timedelta(days=3)).date())
    press(app, key)
    spell = jobs.spells_of(office(), "tobin-reyes-hall")[-1]
    # The school lies in America/Denver, six hours behind UTC in May.
    assert spell.starts.isoformat() == "2026-05-06T06:00:00+00:00"
    assert spell.until is not None
    assert spell.until.isoformat() == "2026-05-08T06:00:00+00:00"


def test_a_role_ends_by_a_press(open_app: Opener, demo_store: Path) -> None:
    app = people_page(open_app, demo_store, "sigrun")
    app.selectbox(key="people:who").select("wendell-achterberg").run()
    app.selectbox(key="people:end:wendell-achterberg:which").select(0)
    press(app, "people:end:wendell-achterberg")
    assert "dispatcher, since 04 May 2025 10:00, ended 04 May 2026 10:00" in html(app)
    assert jobs.roles_of(office(), "wendell-achterberg", NOW) == frozenset()


def test_everybody_changes_their_own_pin_with_the_present_one(open_app: Opener, demo_store: Path) -> None:
    app = people_page(open_app, demo_store, "tobin")
    for present, said in (("1111", "PIN is not right"), (demo.DEMO_PIN, "Your PIN is set.")):
        app.text_input(key="people:own:pin:proof").set_value(present)
        app.text_input(key="people:own:pin:new").set_value("5829")
        next(button for button in app.button if button.key == "people:own:pin:do").click().run()
        assert not app.exception
        assert said in html(app)


def test_a_new_passphrase_ends_the_session_and_the_page_leads_to_the_way_in(open_app: Opener, demo_store: Path) -> None:
    app = people_page(open_app, demo_store, "tobin")
    app.text_input(key="people:own:passphrase:now").set_value(demo.DEMO_PASSPHRASE)
    app.text_input(key="people:own:passphrase:new").set_value("kettle orbit mossy lamp")
    next(button for button in app.button if button.key == "people:own:passphrase:do").click().run()
    assert not app.exception
    assert "You are not signed in any more" in html(app)
    assert "Tobin" not in html(app)
    assert jobs.sign_in(office(), "tobin", "kettle orbit mossy lamp", at=NOW)


def test_a_press_after_the_session_has_ended_does_nothing(open_app: Opener, demo_store: Path) -> None:
    app = people_page(open_app, demo_store, "edda")
    jobs.sign_out(office(), session.browser_token(), at=NOW)
    press(app, "people:add", name="Pavel Sirin", login="pavel")
    assert "You are not signed in any more" in html(app)
    assert office().store.find_account("pavel") is None
