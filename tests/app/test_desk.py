"""The desk without a browser: what the queue tells, what an opened request shows, what an answer needs."""

from datetime import timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from riskboard import demo, jobs
from riskboard.jobs.desk import WORDS
from riskboard.ledger import Status
from tests.app import flights
from tests.app.desk_app import ASKED, NOTE, NOW, At, html, make_morning, own_copy, said
from tests.app.flights import CIRCUITS, NOOR, RIDGE, SIGRUN, TOBIN, WENDELL

PIN = demo.DEMO_PIN


@pytest.fixture(scope="module")
def morning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("desk") / "morning.sqlite3"
    make_morning(path)
    return path


@pytest.fixture
def at(morning: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> At:
    return At(own_copy(morning, tmp_path), monkeypatch)


def key(kind: str, what: str) -> str:
    return f"desk:{ASKED}:{kind}:{what}"


def press(app: AppTest, kind: str, pin: str = PIN) -> AppTest:
    app.text_input(key=key(kind, "pin")).set_value(pin)
    return app.button(key=key(kind, "do")).click().run()


def signs(app: AppTest, pin: str = PIN) -> AppTest:
    app.checkbox(key=key("signed", "accurate")).check()
    app.checkbox(key=key("signed", "safely")).check()
    app.text_input(key=key("signed", "awake")).set_value("06:00")
    app.text_input(key=key("signed", "duty")).set_value("08:00")
    return press(app, "signed", pin)


def status(at: At) -> Status:
    office = at.office()
    card = jobs.flight_card(office, ASKED, at=NOW)
    office.store.close()
    return card.status


def test_the_queue_tells_what_is_needed_to_choose_one(at: At) -> None:
    app = at.page("desk", WENDELL)
    shown = html(app)
    for words in ("LRS-01", "Tobin Reyes-Hall", "South practice area", "Go with sign-off, level tolerable"):
        assert words in shown
    assert "leaves in 45 min" in shown
    assert "waits 10 min" in shown
    assert shown.count("<li>") == 3
    assert "You may sign it." in shown
    assert [button.label for button in app.button] == ["Open LRS\\-01"]


def test_an_empty_queue_says_so(at: At) -> None:
    office = at.office()
    jobs.cancel(office, TOBIN, ASKED, event_id="off", reason="No need", at=NOW)
    office.store.close()
    app = at.page("desk", WENDELL)
    assert "No request waits for a signature" in html(app)
    assert not app.button


def test_looking_at_the_queue_opens_nothing_and_opening_goes_on_record_once(at: At) -> None:
    def viewed() -> int:
        office = at.office()
        found = [entry for entry in office.store.entries(subject=ASKED) if entry.header.kind == "viewed"]
        office.store.close()
        return len(found)

    app = at.page("desk", WENDELL)
    assert viewed() == 0
    app.button[0].click().run()
    assert ASKED in app.query_params["flight"]
    assert viewed() == 1
    app.run()
    assert viewed() == 1


def test_an_opened_request_shows_what_the_pilot_saw_and_that_it_still_is_so(at: At) -> None:
    shown = said(at.page("desk", WENDELL, ASKED))
    office = at.office()
    record = next(r for r in jobs.signed_records(office, ASKED) if r.entry.header.kind == "sign_off_requested")
    office.store.close()
    assert record.entry.body is not None
    for reason in record.entry.body.value["assessment"]["reasons"]:
        assert reason["sentence"] in shown
    assert "shown to the pilot at 09:50 MDT" in shown
    assert "Now, at 10:00 MDT: the same decision for the same reasons." in shown
    assert "METAR XLKF" in shown
    assert "Asleep" not in shown
    assert "Sleep of the last two nights" in shown


def test_the_desk_sees_loads_envelopes_and_margins_and_can_change_none(at: At) -> None:
    """988.5 lb empty, 215 lb alone, 6 lb of baggage, 29 gal left after start: 1,383.5 lb."""
    app = at.page("desk", WENDELL, ASKED)
    shown = html(app)
    for told in (
        "Loading and hover", "Right seat 215 lb, Left seat 0 lb, Under the right seat 0 lb, Under the left seat 6 lb",
        "29 US gal at take-off", "Right door fitted, Left door fitted, Dual controls fitted, Floats not fitted",
        "1,383.5 lb, 176.5 lb under the highest (1,560 lb)", "In ground effect, highest site", "Maximum continuous ",
        "Invented type: these are the figures of no real aircraft.",
    ):  # fmt: skip
        assert told in shown, told
    assert shown.count("Inside at take-off, landing and zero fuel; nearest edge ") == 2
    assert len(app.get("arrow_vega_lite_chart") or app.get("vega_lite_chart")) == 2
    assert not app.number_input


def test_what_differs_from_what_the_pilot_saw_is_said(at: At) -> None:
    """More than an hour on, the observation is too old to count."""
    shown = html(at.page("desk", WENDELL, ASKED, at=NOW + timedelta(minutes=75)))
    assert "It is not what the pilot saw any more" in shown
    assert "New: " in shown


def test_that_a_newer_observation_would_end_a_signature_is_said_before_it_is_given(at: At) -> None:
    assert "would not hold" not in html(at.page("desk", WENDELL, ASKED))
    office = at.office()
    flights.fill_in(office, "newerseen", "mara-oduya", "LRS-02", CIRCUITS, NOW)
    flights.accept(office, "newerseen", NOW)
    office.store.close()
    shown = html(at.page("desk", WENDELL, ASKED))
    assert "A signature given now would not hold. A newer observation, of 09:50 MDT, is on record" in shown


def test_what_was_changed_to_get_there(at: At) -> None:
    shown = html(at.page("desk", WENDELL, ASKED))
    assert "3 answers were changed; 1 of them eased the decision" in shown
    assert "30 US gal \N{RIGHTWARDS ARROW} 16 US gal" in shown
    assert shown.count(">EASED<") == 1
    assert "Changed 2 times in all." in shown
    assert "about something that had happened already: Last meal at." in shown


def test_what_a_pilot_typed_is_text(at: At) -> None:
    for app in (at.page("desk", WENDELL), at.page("desk", WENDELL, ASKED)):
        assert "Somebody waits &lt;b&gt;here&lt;/b&gt; for **me**." in html(app)
        assert NOTE not in html(app)


def test_somebody_who_may_not_sign_sees_no_health_answer_and_no_form(at: At) -> None:
    app = at.page("desk", NOOR, ASKED)
    shown = said(app)
    assert "The health answers, and what is worked out from them, are not shown to you" in shown
    assert "Last meal at" not in shown
    assert "Sleep of the last two nights" not in shown
    assert "may be signed by: chief instructor, dispatcher, instructor." in shown
    assert not app.text_input


def test_a_renter_sees_neither_queue_entry_nor_request_of_others(at: At) -> None:
    app = at.page("desk", "ines-vasko", ASKED)
    assert "A flight is seen by its crew or" in html(app)
    assert not app.text_input
    assert "Practice autorotation" not in html(app)


def test_the_two_attestations_are_apart_and_start_unticked(at: At) -> None:
    app = at.page("desk", WENDELL, ASKED)
    boxes = {box.label: box.value for box in app.checkbox}
    assert boxes == {WORDS["entries_accurate"]: False, WORDS["can_be_made_safely"]: False}


@pytest.mark.parametrize(
    ("left_out", "says"),
    [
        ("accurate", "Say whether the entries are accurate"),
        ("safely", "Say whether in your judgement the flight can be made safely"),
        ("awake", "Say since when you have been awake and on duty"),
        ("duty", "Say since when you have been awake and on duty"),
    ],
)
def test_each_part_of_a_signature_is_needed_and_nothing_typed_is_lost(at: At, left_out: str, says: str) -> None:
    app = at.page("desk", WENDELL, ASKED)
    app.text_area(key=key("signed", "conditions")).set_value("Back by noon")
    for box in {"accurate", "safely"} - {left_out}:
        app.checkbox(key=key("signed", box)).check()
    for field in {"awake", "duty"} - {left_out}:
        app.text_input(key=key("signed", field)).set_value("06:30")
    press(app, "signed")
    assert says in html(app)
    assert app.text_area(key=key("signed", "conditions")).value == "Back by noon"
    assert app.text_input(key=key("signed", "pin")).value == ""
    assert status(at) is Status.SIGN_OFF_REQUESTED


def test_a_time_that_is_none_is_named(at: At) -> None:
    app = at.page("desk", WENDELL, ASKED)
    app.text_input(key=key("signed", "awake")).set_value("early")
    press(app, "signed")
    assert "Awake since: &#x27;early&#x27; is no time" in html(app)
    assert status(at) is Status.SIGN_OFF_REQUESTED


def test_a_signature_with_conditions(at: At) -> None:
    app = at.page("desk", WENDELL, ASKED)
    app.text_area(key=key("signed", "conditions")).set_value("Back by noon\n\n No autorotation <i>below</i> 700 ft \n")
    signs(app)
    assert "Wendell Achterberg signed it at 10:00 MDT." in said(app)
    office = at.office()
    card = jobs.flight_card(office, ASKED, at=NOW)
    body = jobs.signed_records(office, ASKED)[-1].entry.body
    office.store.close()
    assert card.status is Status.SIGNED
    assert card.conditions == ("Back by noon", "No autorotation <i>below</i> 700 ft")
    assert body is not None
    assert body.value["awake_since"] == "2026-05-04T12:00:00Z"
    assert body.value["words"] == [WORDS["entries_accurate"], WORDS["can_be_made_safely"]]


def test_a_wrong_pin_signs_nothing(at: At) -> None:
    app = signs(at.page("desk", WENDELL, ASKED), pin="0000")
    assert "That PIN is not right; nothing was signed." in html(app)
    assert status(at) is Status.SIGN_OFF_REQUESTED
    assert app.checkbox(key=key("signed", "accurate")).value is True


def test_a_question_goes_back(at: At) -> None:
    app = at.page("desk", WENDELL, ASKED)
    app.text_input(key=key("sent_back", "text")).set_value("Who is the passenger?")
    press(app, "sent_back")
    assert status(at) is Status.SENT_BACK
    assert "sent it back with a question at 10:00 MDT" in said(app)


def test_a_no_needs_a_reason_and_says_what_it_is_about(at: At) -> None:
    app = press(at.page("desk", WENDELL, ASKED), "refused")
    assert "Write the reason in a few words" in html(app)
    app.text_input(key=key("refused", "text")).set_value("Ridge wind")
    app.pills(key=key("refused", "about")).set_value(["route"])
    press(app, "refused")
    assert status(at) is Status.REFUSED
    office = at.office()
    other = flights.fill_in(office, "sameplane0", "mara-oduya", "LRS-01", CIRCUITS, NOW)
    office.store.close()
    assert other.refused_at is None


def test_of_two_desks_the_second_is_told_who_was_first(at: At) -> None:
    slow = at.page("desk", WENDELL, ASKED)
    office = at.office()
    flights.sign(office, ASKED, SIGRUN, NOW)
    office.store.close()
    signs(slow)
    shown = said(slow)
    assert "Sigrun Palo signed it at 10:00 MDT." in shown
    assert "This flight does not wait for a signature now." in html(slow)
    office = at.office()
    kinds = [entry.header.kind for entry in office.store.entries(subject=ASKED)]
    office.store.close()
    assert kinds.count("signed") == 1


def test_who_has_left_signs_nothing(at: At, monkeypatch: pytest.MonkeyPatch) -> None:
    app = at.frame(WENDELL, "desk", ASKED)
    monkeypatch.setattr("riskboard.app.session.browser_token", lambda: "")
    app.checkbox(key=key("signed", "accurate")).check()
    app.text_input(key=key("signed", "pin")).set_value(PIN)
    app.button(key=key("signed", "do")).click().run()
    assert status(at) is Status.SIGN_OFF_REQUESTED
    assert "You are not signed in" in said(app)


def test_a_screen_on_which_somebody_else_came_in_signs_nothing(at: At) -> None:
    app = at.page("desk", WENDELL, ASKED)
    at.comes_in(SIGRUN, NOW)
    signs(app)
    assert status(at) is Status.SIGN_OFF_REQUESTED
    assert "You are not signed in any more, so nothing was recorded." in html(app)


def test_a_level_of_the_chief_is_not_the_dispatchers_to_sign(at: At) -> None:
    office = at.office()
    flights.fill_in(office, "highlevel", TOBIN, "LRS-01", RIDGE, NOW)
    flights.ask(office, "highlevel", NOW)
    office.store.close()
    app = at.page("desk", WENDELL, "highlevel")
    assert "Sign: The level high may be signed by: chief instructor." in said(app)
    assert not app.checkbox
    assert [button.label for button in app.button] == ["Back to the queue", "Send back with a question", "Refuse"]
    assert len(at.page("desk", SIGRUN, "highlevel").checkbox) == 2
