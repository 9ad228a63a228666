"""A flight on record as its pilot, its crew and others see it: what became of a request, and the ways on."""

from datetime import timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from riskboard import demo, jobs
from riskboard.ledger import Status
from tests.app import flights
from tests.app.desk_app import ASKED, NOW, OUT, PLANNED, At, html, make_morning, own_copy, said
from tests.app.flights import CIRCUITS, INES, MARA, NOOR, SIGRUN, TOBIN, WENDELL, event

PIN = demo.DEMO_PIN


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("signed") / "morning.sqlite3"
    make_morning(path)
    return path


@pytest.fixture
def at(morning: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> At:
    return At(own_copy(morning, tmp_path), monkeypatch)


def step(kind: str, what: str, flight_id: str = ASKED) -> str:
    return f"flight:step:{kind}:{flight_id}:{what}"


def labels(app: AppTest) -> list[str]:
    return [button.label for button in app.button]


def card(at: At, flight_id: str = ASKED) -> jobs.FlightCard:
    office = at.office()
    found = jobs.flight_card(office, flight_id, at=NOW)
    office.store.close()
    return found


def signed(at: At, *conditions: str) -> None:
    office = at.office()
    flights.sign(office, ASKED, WENDELL, NOW, *conditions)
    office.store.close()


def test_who_waits_is_told_to_wait_and_who_may_sign(at: At) -> None:
    app = at.page("brief", TOBIN, ASKED)
    shown = html(app)
    assert "Sign-off asked for, not given" in shown
    assert "Do not fly before somebody else has signed." in shown
    assert "May be signed by: instructor, dispatcher, chief instructor." in shown
    assert "Call off" in labels(app)
    assert not [label for label in labels(app) if "Release" in label or "Take it" in label]


def test_a_signature_is_taken_with_its_conditions_and_a_pin(at: At) -> None:
    signed(at, "Back by <b>noon</b>")
    app = at.page("brief", TOBIN, ASKED)
    assert "Back by &lt;b&gt;noon&lt;/b&gt;" in html(app)
    assert "Yes by Wendell Achterberg, dispatcher, 10:00 MDT." in html(app)
    app.button(key=step("taken", "do")).click().run()
    assert "That PIN is not right" in html(app)
    assert card(at).status is Status.SIGNED
    app.text_input(key=step("taken", "pin")).set_value(PIN)
    app.button(key=step("taken", "do")).click().run()
    assert card(at).status is Status.ACCEPTED
    assert "Accepted: go with sign-off" in html(app)
    assert "What you signed" in html(app)
    assert "Somebody waits" in html(app)


def test_only_the_pilot_takes_what_was_signed(at: At) -> None:
    signed(at)
    for who in (WENDELL, SIGRUN, NOOR):
        app = at.page("brief", who, ASKED)
        assert step("taken", "do") not in {button.key for button in app.button}


def test_release_and_departure_are_one_press_each_with_the_run_up_between(at: At) -> None:
    app = at.page("brief", TOBIN, PLANNED)
    app.button(key=step("release", "do", PLANNED)).click().run()
    assert card(at, PLANNED).status is Status.RELEASED
    assert step("took_off", "do", PLANNED) not in {button.key for button in app.button}
    office = at.office()
    flights.run_up(office, PLANNED, TOBIN, NOW)
    office.store.close()
    app.run()
    app.button(key=step("took_off", "do", PLANNED)).click().run()
    assert card(at, PLANNED).status is Status.AIRBORNE
    assert [str(each.proto.label) for each in app.get("page_link")] == ["Back? Close the flight"]


def test_the_desk_hands_over_too_and_sees_no_answer_of_the_pilot(at: At) -> None:
    app = at.page("brief", WENDELL, PLANNED)
    assert "Release: hand the aircraft over" in labels(app)
    shown = said(app)
    for words in ("What you signed", "Reasons as shown", "Sleep", "Hours in this type", "points"):
        assert words not in shown
    assert "Download the worksheet" not in str([each.proto for each in app.get("download_button")])


def test_an_aircraft_that_is_out_is_not_released_and_that_is_said(at: At) -> None:
    office = at.office()
    flights.fill_in(office, "sameplane0", TOBIN, "LRS-03", CIRCUITS, NOW)
    flights.accept(office, "sameplane0", NOW)
    office.store.close()
    app = at.page("brief", TOBIN, "sameplane0")
    app.button(key=step("release", "do", "sameplane0")).click().run()
    assert "LRS-03 is out on another flight." in html(app)


def test_calling_off_needs_a_reason(at: At) -> None:
    app = at.page("brief", TOBIN, PLANNED)
    app.button(key=step("cancelled", "do", PLANNED)).click().run()
    assert "Write why it is called off in a few words" in html(app)
    app.text_input(key=step("cancelled", "text", PLANNED)).set_value("Passenger is ill")
    app.button(key=step("cancelled", "do", PLANNED)).click().run()
    assert card(at, PLANNED).status is Status.CANCELLED
    assert "Passenger is ill" in html(app)


def test_a_refusal_names_who_and_why_and_stands_at_the_next_briefing(at: At) -> None:
    office = at.office()
    jobs.refuse(office, WENDELL, ASKED, pin=PIN, event_id=event(), reason="Wind <i>there</i>", at=NOW)
    office.store.close()
    app = at.page("brief", TOBIN, ASKED)
    assert "Wendell Achterberg refused" in html(app)
    assert "Wind &lt;i&gt;there&lt;/i&gt;" in html(app)
    next(button for button in app.button if button.label.startswith("Change this flight")).click().run()
    assert "Somebody said no today, at 10:00 MDT" in html(app)


def test_a_question_leads_back_to_the_sheet(at: At) -> None:
    office = at.office()
    jobs.send_back(office, WENDELL, ASKED, pin=PIN, event_id=event(), question="Fuel?", at=NOW)
    office.store.close()
    app = at.page("brief", TOBIN, ASKED)
    assert "Wendell Achterberg asks" in html(app)
    next(button for button in app.button if button.label == "Change the worksheet and ask again").click().run()
    assert "This starts from the sheet on record." in html(app)
    assert "<strong>Sent back with a question</strong>:<br>Fuel?" in html(app)
    app.number_input(key="e:main:fuel_usable_gal").set_value(29.0).run()
    assert "1 entry differs" in html(app)
    assert "30 US gal \N{RIGHTWARDS ARROW} 29 US gal" in html(app)


def test_a_yes_that_holds_no_longer_says_why_and_starts_again_from_the_sheet(at: At) -> None:
    app = at.page("brief", TOBIN, PLANNED, at=NOW + timedelta(minutes=80))
    assert "The yes holds no longer" in html(app)
    assert "It held until 10:50 MDT." in html(app)
    assert step("release", "do", PLANNED) not in {button.key for button in app.button}
    next(button for button in app.button if button.label == "Brief it again from this sheet").click().run()
    assert "starts from the sheet on record" in html(app)
    assert app.number_input(key="e:main:fuel_usable_gal").value == 30


def test_an_overdue_pilot_is_told_to_close_the_flight(at: At) -> None:
    assert "This flight is overdue by 90 min." in html(at.page("brief", MARA, OUT, at=NOW + timedelta(hours=3)))


def test_a_flight_of_others_is_not_shown_to_who_is_not_concerned(at: At) -> None:
    app = at.page("brief", INES, PLANNED)
    assert "A flight is seen by its crew or" in html(app)
    assert "LRS-04" not in said(app)


def test_a_draft_is_seen_by_its_pilot_alone(at: At) -> None:
    office = at.office()
    flights.fill_in(office, "unsigned0", TOBIN, "LRS-02", CIRCUITS, NOW)
    office.store.close()
    for who in (MARA, WENDELL, SIGRUN):
        app = at.page("brief", who, "unsigned0")
        assert "somebody else" in html(app)
        assert "LRS-02" not in said(app)
        assert not app.number_input


def test_a_limit_that_may_be_waived_is_asked_for_waived_and_then_signed(at: At) -> None:
    office = at.office()
    low = {"weather": {"visibility_sm": 2.5, "route_visibility_sm": 2.5}}
    flights.fill_in(office, "lowvisib0", TOBIN, "LRS-02", CIRCUITS, NOW, also=low)
    office.store.close()
    app = at.page("brief", TOBIN, "lowvisib0")
    assert "Ask for a waiver and a sign-off" in labels(app)
    app.text_input(key="flight:pin:sign_off_requested").set_value(PIN)
    next(button for button in app.button if button.label.startswith("Ask for a waiver")).click().run()
    assert card(at, "lowvisib0").status is Status.SIGN_OFF_REQUESTED

    dispatcher = at.page("desk", WENDELL, "lowvisib0")
    assert "Stops this flight:" in said(dispatcher)
    assert "Sign: not before what stops this flight is waived." in said(dispatcher)
    assert "Stopped by a limit that somebody may waive" in html(at.page("desk", WENDELL))
    assert "Waive this limit" not in labels(dispatcher)
    chief = at.page("desk", SIGRUN, "lowvisib0")
    assert "Sign" not in labels(chief)
    waiver = "desk:lowvisib0:waived:school_visibility"
    chief.text_input(key=f"{waiver}:text").set_value("I see the field from here")
    chief.text_input(key=f"{waiver}:pin").set_value(PIN)
    chief.button(key=f"{waiver}:do").click().run()
    assert "Waived for this flight: school visibility." in said(chief)
    assert "It is not what the pilot saw any more" in html(chief)
    assert "Sign" in labels(chief)
