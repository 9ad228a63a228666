"""The pages at the aircraft over HTTP, as a browser without a script sees them: what is kept, refused, escaped."""

import json
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from starlette.applications import Starlette

from riskboard import demo, jobs
from riskboard.app.address import Address
from riskboard.app.enter.guard import Doorkeeper
from riskboard.app.enter.routes import Entrance
from riskboard.app.line.pieces import CONTENT_POLICY, Kept
from riskboard.app.line.routes import MOST_BYTES, Line
from riskboard.app.line.run_up_page import Entry, RunUpView, run_up_page
from riskboard.app.line.script import SCRIPT, SCRIPT_PATH
from riskboard.ledger import LedgerError, Status
from tests.app import flights
from tests.app.conftest import NOW
from tests.app.flights import MARA, TOBIN
from tests.app.test_enter import Answer, Door

FLIGHT = "lineflight"
RUN, DOWN = f"/run-up/{FLIGHT}", f"/shut-down/{FLIGHT}"
GOOD = {
    "oil_pressure_after_s": "8",
    "rotor_turning_after_s": "3",
    "clutch_light_out_after_s": "70",
    "magneto_check_rpm_pct": "75",
    "magneto_left_drop_pct": "3,5",
    "magneto_right_drop_pct": "4.0",
    "magneto_left_held_s": "2",
    "magneto_right_held_s": "2",
    "magnetos_smooth": "yes",
    "carburettor_heat_rise_c": "20",
    "governor_rpm_pct": "101.5",
    "low_rotor_warning_rpm_pct": "97",
    "hydraulics_good": "yes",
    "warning_lights_out": "yes",
    "gauges_normal": "yes",
    "fuel_as_briefed": "yes",
    "anything_odd.none": "none",
}
BACK = {"as_planned": "yes", "meter_h": "2232.3", "fuel_left_gal": "18", "left": "all"}


class Phone(Door):
    """A browser without a script, signed in as somebody."""

    def __init__(self, office: jobs.Office, at: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
        self.office, self.at, self.patch = office, at, monkeypatch
        self.address = Address()
        self.broken: LedgerError | None = None
        entrance = Entrance(self.address, lambda: office, "")
        inner = Starlette(routes=[*entrance.routes(), *Line(self.address, self._opened).routes()])
        self.app: Any = Doorkeeper(inner, self.address, entrance.is_in)
        self.token = ""
        self.later(0)

    def _opened(self) -> jobs.Office:
        if self.broken is not None:
            raise self.broken
        return self.office

    def later(self, minutes: float) -> None:
        self.at += timedelta(minutes=minutes)
        self.patch.setenv("RISKBOARD_NOW", self.at.isoformat())

    def enters(self, who: str) -> "Phone":
        self.token = jobs.sign_in(self.office, who, demo.DEMO_PASSPHRASE, at=self.at)
        return self

    def opens(self, path: str, **headers: str) -> Answer:
        return self.ask("GET", path, None, cookie=f"riskboard={self.token}", **headers)

    def presses(
        self, path: str, typed: dict[str, str] | list[tuple[str, str]], page: str = "", **changed: str
    ) -> Answer:
        """Press the button of the form on a page (by default the page as it stands) that is sent to ``path``."""
        text = page or self.opens(path.removesuffix("/leaves")).text
        carried = form_of(text, path) | {name: value for name, value in changed.items() if "_" not in name}
        pairs = [*carried.items(), *(typed.items() if isinstance(typed, dict) else typed)]
        headers = {name: value for name, value in changed.items() if name in {"x_riskboard_by", "origin"}}
        headers["cookie"] = f"riskboard={self.token}"
        return self.ask("POST", path, urlencode(pairs).encode(), **headers)

    def run_ups(self) -> int:
        return [each.header.kind for each in self.office.store.entries(subject=FLIGHT)].count("run_up")


def form_of(text: str, action: str) -> dict[str, str]:
    """The hidden fields of one form of a page."""
    form = re.search(rf'<form method="post" action="{re.escape(action)}".*?</form>', text, re.DOTALL)
    assert form is not None, f"no form for {action}"
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form[0])
    return {name: unescape(value) for name, value in found}


def word(answer: Answer) -> str:
    return answer.header("x-riskboard")


def shown(answer: Answer) -> str:
    """The page as read: without markup."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.text.split("</style>")[-1])))


def value_of(answer: Answer, name: str) -> str:
    found = re.search(rf'name="{re.escape(name)}" value="([^"]*)"', answer.text)
    return "" if found is None else unescape(found[1])


@pytest.fixture(scope="module")
def made(demo_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented school with one flight released, made once and copied."""
    own = tmp_path_factory.mktemp("line") / "riskboard.sqlite3"
    shutil.copy(demo_store, own)
    office = jobs.open_office(own, now=NOW)
    flights.released(office, FLIGHT, MARA, "LRS-01", NOW)
    office.store.close()
    return own


@pytest.fixture
def phone(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Phone]:
    """Mara at LRS-01, her flight released."""
    own = tmp_path / "riskboard.sqlite3"
    shutil.copy(made, own)
    office = jobs.open_office(own, now=NOW)
    yield Phone(office, NOW, monkeypatch).enters("mara")
    office.store.close()


def test_the_page_asks_what_the_type_asks_for_and_says_what_is_right(phone: Phone) -> None:
    answer = phone.opens(RUN)
    assert answer.status == 200
    assert word(answer) == "page"
    assert "Drop on the left magneto alone Right: at most 7 %" in shown(answer)
    assert "Briefed: 30 US gal." in shown(answer)
    assert "It leaves now" not in answer.text


def test_nothing_but_our_own_style_and_script_runs_there(phone: Phone) -> None:
    answer = phone.opens(RUN)
    assert answer.header("content-security-policy") == CONTENT_POLICY
    assert "unsafe" not in CONTENT_POLICY
    assert answer.header("cache-control") == "no-store"
    assert re.findall(r"<script[^>]*>", answer.text) == [f'<script src="{SCRIPT_PATH}" defer>']
    assert not re.search(r"\son[a-z]+=|style=\"", answer.text)
    script = phone.opens(SCRIPT_PATH)
    assert script.text == SCRIPT
    assert script.header("content-type").startswith("text/javascript")
    assert "eval(" not in SCRIPT
    assert "innerHTML" not in SCRIPT


def test_a_good_run_up_is_on_record_and_lets_the_aircraft_leave(phone: Phone) -> None:
    answer = phone.presses(RUN, GOOD)
    assert (answer.status, answer.header("location"), word(answer)) == (303, RUN, "saved")
    page = phone.opens(RUN)
    assert "Run-up good Nothing listed stands against taking off." in shown(page)
    assert "entered by Mara Oduya" in shown(page)
    left = phone.presses(f"{RUN}/leaves", {}, page.text)
    assert (left.status, word(left)) == (303, "saved")
    assert jobs.flight_card(phone.office, FLIGHT, at=phone.at).status is Status.AIRBORNE
    after = shown(phone.opens(RUN))
    assert "LRS-01 left at" in after
    assert "Save the run-up" not in after


def test_a_double_tap_and_a_retry_make_one_record(phone: Phone) -> None:
    page = phone.opens(RUN).text
    answers = [phone.presses(RUN, GOOD, page, x_riskboard_by="press") for _ in range(3)]
    assert [word(each) for each in answers] == ["saved"] * 3
    assert phone.run_ups() == 1
    # The same press with other values is told what stands, and may be made anew.
    other = phone.presses(RUN, GOOD | {"magneto_left_drop_pct": "5"}, page)
    assert word(other) == "refused"
    assert "sent before with other values" in shown(other)
    assert value_of(other, "magneto_left_drop_pct") == "5"
    assert word(phone.presses(RUN, GOOD | {"magneto_left_drop_pct": "5"}, other.text)) == "saved"
    assert phone.run_ups() == 2


def test_a_bad_magneto_says_who_must_clear_it_and_grounds_the_aircraft(phone: Phone) -> None:
    phone.presses(RUN, GOOD | {"magneto_right_drop_pct": "9"})
    page = phone.opens(RUN)
    assert "No-go LRS-01 is grounded: it does not fly until maintenance has signed." in shown(page)
    assert "Drop on the right magneto: 9 %; at most 7 % is right" in shown(page)
    assert "Maintenance must sign before it flies" in shown(page)
    assert "It leaves now" not in page.text
    effects = [
        each.get("effect") for each in jobs.document(phone.office, "aircraft", "LRS-01")["aircraft"]["open_defects"]
    ]
    assert "grounding" in effects


def test_fuel_that_is_not_as_briefed_sends_the_flight_back_and_grounds_nothing(phone: Phone) -> None:
    phone.presses(RUN, GOOD | {"fuel_as_briefed": "no"})
    read = shown(phone.opens(RUN))
    assert "Fuel is not as briefed" in read
    assert "Brief the flight again" in read
    assert "grounded" not in read
    assert "It leaves now" not in read


def test_what_never_came_is_entered_with_one_tap(phone: Phone) -> None:
    phone.presses(RUN, GOOD | {"oil_pressure_after_s": "", "oil_pressure_after_s.none": "none"})
    read = shown(phone.opens(RUN))
    assert "Oil pressure never showed; at most 30 s is right" in read
    assert "LRS-01 is grounded" in read


def test_what_was_left_out_is_done_and_the_rest_is_not_typed_again(phone: Phone) -> None:
    some = {name: value for name, value in GOOD.items() if name not in {"hydraulics_good", "anything_odd.none"}}
    phone.presses(RUN, some)
    page = phone.opens(RUN)
    assert shown(page).count("Do it, then enter the run-up again") == 2
    assert value_of(page, "magneto_left_drop_pct") == "3.5"
    assert word(phone.presses(RUN, GOOD, page.text)) == "saved"
    assert "Run-up good" in shown(phone.opens(RUN))


def test_an_empty_form_and_a_slip_are_handed_back_and_nothing_is_recorded(phone: Phone) -> None:
    empty = phone.presses(RUN, dict.fromkeys(GOOD, ""))
    assert (empty.status, word(empty)) == (422, "mend")
    assert "Nothing is entered yet" in shown(empty)
    slip = GOOD | {"magneto_left_drop_pct": "three", "oil_pressure_after_s.none": "none"}
    answer = phone.presses(RUN, slip)
    assert (answer.status, word(answer)) == (422, "mend")
    assert "'three' is not accepted; write a number from 0 to 100 %" in shown(answer)
    assert "'8' and 'never' cannot both be" in shown(answer)
    assert value_of(answer, "magneto_left_drop_pct") == "three"
    assert value_of(answer, "governor_rpm_pct") == "101.5"
    assert phone.run_ups() == 0


@pytest.mark.parametrize("typed", ["1e3", "nan", "inf", "٣", "3.", "0x5", "--3", "1,2,3"])
def test_only_plain_numbers_are_numbers(phone: Phone, typed: str) -> None:
    answer = phone.presses(RUN, GOOD | {"magneto_left_drop_pct": typed})
    assert word(answer) == "mend"
    assert phone.run_ups() == 0


def test_what_people_type_is_never_markup(phone: Phone) -> None:
    evil = '"><script>alert(1)</script><img src=x onerror=alert(1)>'
    answer = phone.presses(RUN, {"anything_odd": evil, "magneto_left_drop_pct": evil, 'x"><b>': evil})
    assert word(answer) == "mend"
    assert "<script>alert" not in answer.text
    assert "<img" not in answer.text
    assert value_of(answer, "anything_odd") == evil
    phone.presses(RUN, GOOD | {"anything_odd": evil, "anything_odd.none": ""})
    page = phone.opens(RUN)
    assert f"Odd: {evil}" in unescape(page.text)
    assert "<script>alert" not in page.text
    phone.token = ""
    out = phone.presses(RUN, {"anything_odd": evil, 'x"><b>': evil}, answer.text)
    assert "<script>alert" not in out.text
    assert "<b>'" not in out.text


def test_an_ended_session_hands_back_what_was_typed_and_leads_to_the_way_in(phone: Phone) -> None:
    page = phone.opens(RUN).text
    jobs.sign_out(phone.office, phone.token, at=phone.at)
    answer = phone.presses(RUN, GOOD, page)
    assert (answer.status, word(answer)) == (401, "signed-out")
    assert "You are not signed in any more" in shown(answer)
    assert f"/enter?next=%2Frun-up%2F{FLIGHT}" in answer.text
    assert phone.run_ups() == 0
    # In again, the page that handed it back is pressed once: the form is an earlier session's, and drawn anew.
    phone.enters("mara")
    anew = phone.presses(RUN, [(n, v) for n, v in typed_in(answer.text)], answer.text)
    assert (anew.status, word(anew)) == (409, "sign-again")
    assert value_of(anew, "magneto_left_drop_pct") == "3,5"
    assert word(phone.presses(RUN, GOOD, anew.text)) == "saved"
    assert phone.run_ups() == 1


def typed_in(text: str) -> list[tuple[str, str]]:
    """What a page that only hands back would send again."""
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', text)
    return [(name, unescape(value)) for name, value in found if name not in {"token", "person", "event_id"}]


def test_nobody_who_is_not_in_sees_a_page(phone: Phone) -> None:
    phone.token = ""
    for accepts in ("text/html", "*/*"):
        answer = phone.opens(RUN, accept=accepts)
        assert answer.status == 303
        assert answer.header("location").startswith("/enter?next=")


def test_somebody_else_who_is_in_by_now_enters_nothing_for_the_first(phone: Phone) -> None:
    page = phone.opens(RUN).text
    phone.enters("tobin")
    answer = phone.presses(RUN, GOOD, page)
    assert (answer.status, word(answer)) == (403, "refused")
    assert "opened for somebody else" in shown(answer)
    assert "101.5" in shown(answer)
    assert phone.run_ups() == 0


def test_another_pilot_and_a_flight_that_is_not_there_are_refused(phone: Phone) -> None:
    phone.enters("ines")
    other = phone.opens(RUN)
    assert (other.status, word(other)) == (404, "refused")
    assert "To your flights" in shown(other)
    assert "LRS-01" not in other.text
    nothing = phone.opens("/run-up/no-such-flight'<b>")
    assert nothing.status == 404
    assert "<b>" not in nothing.text.split("</style>")[-1].replace("<b>'", "")


def test_a_desk_may_look_and_not_enter(phone: Phone) -> None:
    phone.enters("wendell")
    page = phone.opens(RUN)
    assert "A run-up is entered by the crew of the flight" in shown(page)
    assert "<form" not in page.text


def test_an_expired_release_takes_the_run_up_and_says_that_it_holds_no_longer(phone: Phone) -> None:
    page = phone.opens(RUN).text
    phone.later(100)
    phone.enters("mara")
    assert "The release holds no longer." in shown(phone.opens(RUN))
    answer = phone.presses(RUN, GOOD, page)
    assert word(answer) == "sign-again"
    assert word(phone.presses(RUN, GOOD, answer.text)) == "saved"
    after = phone.opens(RUN)
    assert "No-go" in shown(after)
    assert "It leaves now" not in after.text


def test_a_flight_called_off_meanwhile_refuses_and_keeps_what_was_typed(phone: Phone) -> None:
    page = phone.opens(RUN).text
    jobs.cancel(phone.office, MARA, FLIGHT, event_id=flights.event(), reason="Customer left", at=phone.at)
    answer = phone.presses(RUN, GOOD, page)
    assert (answer.status, word(answer)) == (409, "refused")
    assert "this one is cancelled" in shown(answer)
    assert phone.run_ups() == 0


def test_forms_from_elsewhere_or_without_our_proof_do_nothing(phone: Phone) -> None:
    page = phone.opens(RUN).text
    assert phone.presses(RUN, GOOD, page, origin="https://elsewhere.example").status == 403
    assert word(phone.presses(RUN, GOOD, page, token="0" * 64)) == "sign-again"
    assert word(phone.presses(RUN, GOOD, page, person=TOBIN)) == "refused"
    carried = form_of(page, RUN) | {"event_id": "<x>"}
    answer = phone.ask("POST", RUN, urlencode(carried | GOOD).encode(), cookie=f"riskboard={phone.token}")
    assert (answer.status, word(answer)) == (400, "refused")
    big = b"note=" + b"x" * MOST_BYTES
    assert phone.ask("POST", RUN, big, cookie=f"riskboard={phone.token}").status == 413
    assert phone.run_ups() == 0


def test_a_store_that_does_not_answer_keeps_what_was_typed(phone: Phone) -> None:
    page = phone.opens(RUN).text
    phone.broken = LedgerError("The store is locked by another program.")
    answer = phone.presses(RUN, GOOD, page)
    assert (answer.status, word(answer)) == (503, "trouble")
    assert ("governor_rpm_pct", "101.5") in typed_in(answer.text)


def test_a_mistake_in_the_program_costs_nobody_what_they_typed(
    phone: Phone, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    page = phone.opens(RUN).text

    def broken(*_args: object, **_options: object) -> None:
        raise ZeroDivisionError("secret of the house")

    monkeypatch.setattr(jobs, "run_up", broken)
    answer = phone.presses(RUN, GOOD, page)
    assert (answer.status, word(answer)) == (503, "trouble")
    assert ("governor_rpm_pct", "101.5") in typed_in(answer.text)
    assert "secret" not in answer.text
    assert "secret of the house" in caplog.text
    monkeypatch.undo()


def test_what_the_page_does_by_itself_is_no_activity(phone: Phone) -> None:
    page = phone.opens(RUN).text
    phone.later(25)
    phone.presses(RUN, {"magneto_left_drop_pct": "x"}, page, x_riskboard_by="itself")
    phone.later(10)
    assert jobs.caller(phone.office, phone.token, at=phone.at) is None


def out(phone: Phone) -> str:
    """The aircraft has flown and is back; the page for it."""
    flights.run_up(phone.office, FLIGHT, MARA, phone.at)
    jobs.took_off(phone.office, MARA, FLIGHT, event_id=flights.event(), at=phone.at)
    phone.later(60)
    return phone.enters("mara").opens(DOWN).text


def test_the_waits_of_the_type_stand_on_the_shut_down_page(phone: Phone) -> None:
    text = out(phone)
    assert re.findall(r'data-wait="(\d+)" data-name="(\w+)"', text) == [("120", "cool_down"), ("30", "mixture")]
    assert "Aboard at the start: 30 US gal." in text
    assert "Before the flight: 2231.4 h." in text


def test_a_flight_is_closed_and_the_next_pilot_sees_how_it_was_left(phone: Phone) -> None:
    page = out(phone)
    answer = phone.presses(DOWN, BACK, page)
    assert (answer.status, word(answer)) == (200, "saved")
    assert "LRS-01: closed, as planned." in shown(answer)
    left = jobs.document(phone.office, "aircraft", "LRS-01")
    assert left["aircraft"]["meter_h"] == 2232.3
    assert left["condition_left"]["fuel_left_gal"] == 18.0
    assert left["condition_left"]["items"]["rotor_brake"] == "not_fitted"
    again = phone.presses(DOWN, BACK, page)
    assert word(again) == "saved"
    assert "changed since is not in it" not in shown(again)
    other = phone.presses(DOWN, BACK | {"meter_h": "2232.4"}, page)
    assert "What you changed since is not in it" in shown(other)
    assert jobs.document(phone.office, "aircraft", "LRS-01")["aircraft"]["meter_h"] == 2232.3
    assert "This flight is closed already" in shown(phone.opens(DOWN))


def test_everything_that_may_be_told_is_told(phone: Phone) -> None:
    page = out(phone)
    told = [
        ("as_planned", "no"),
        ("differed", "later_back"),
        ("differed", "fuel_lower"),
        ("meter_h", "2232.3"),
        ("refuelled", "no"),
        ("landed_at", "10:50"),
        ("left", "some"),
        ("condition.doors", "in_place"),
        ("condition.cabin_clean", "out_of_place"),
        ("defect.1.text", "Door seal loose"),
        ("defect.1.effect", "watch"),
        ("note", "Windy behind the hangar"),
    ]
    assert word(phone.presses(DOWN, told, page)) == "saved"
    body = next(each for each in phone.office.store.entries(subject=FLIGHT) if each.header.kind == "debriefed").body
    assert body is not None
    assert body.value["debrief"] == {
        "as_planned": False,
        "differed": [{"what": "later_back"}, {"what": "fuel_lower"}],
        "landed_at": "2026-05-04T16:50Z",
        "meter_h": 2232.3,
        "refuelled": False,
        "defects": [{"text": "Door seal loose", "effect": "watch"}],
        "note": "Windy behind the hangar",
        "condition": {"doors": "in_place", "cabin_clean": "out_of_place"},
    }


def test_what_cannot_be_true_of_the_flight_is_handed_back(phone: Phone) -> None:
    page = out(phone)
    answer = phone.presses(DOWN, BACK | {"meter_h": "2230", "landed_at": "soon", "fuel_left_gal": "40"}, page)
    assert word(answer) == "mend"
    assert "'soon' is no time" in shown(answer)
    answer = phone.presses(DOWN, BACK | {"meter_h": "2230", "fuel_left_gal": "31"}, page)
    assert word(answer) == "mend"
    assert "meter 2230 h is below the 2231.4 h known before the flight" in shown(answer)
    assert "more than the 30 gal aboard at the start" in shown(answer)
    assert value_of(answer, "fuel_left_gal") == "31"
    assert "say whether the flight came back as planned" in shown(phone.presses(DOWN, {"meter_h": "2232"}, page))
    assert jobs.flight_card(phone.office, FLIGHT, at=phone.at).status is Status.AIRBORNE


def test_what_was_typed_on_the_large_page_is_there(phone: Phone) -> None:
    out(phone)
    caller = jobs.caller(phone.office, phone.token, at=phone.at)
    assert caller is not None
    typed = {
        "as_planned": False,
        "differed": [{"what": "cut_short"}],
        "meter_h": 2232.1,
        "landed_at": "2026-05-04T16:50:00Z",
        "condition": {"doors": "out_of_place"},
        "defects": [{"text": "Loose", "effect": None}],
    }
    jobs.keep_debrief(phone.office, caller, FLIGHT, typed, at=phone.at)
    page = phone.opens(DOWN)
    assert value_of(page, "meter_h") == "2232.1"
    assert value_of(page, "landed_at") == "2026-05-04 10:50"
    assert value_of(page, "defect.0.text") == "Loose"
    for name, value in (
        ("as_planned", "no"),
        ("differed", "cut_short"),
        ("left", "some"),
        ("condition.doors", "out_of_place"),
    ):
        assert re.search(rf'name="{name}" value="{value}" class="[^"]*" checked', page.text)


def test_a_school_that_counts_in_litres_is_asked_in_litres(phone: Phone) -> None:
    school = jobs.school(phone.office) or {}
    phone.office.store.put_document("school", "school", json.dumps(school | {"units": "metric"}), at=phone.at)
    assert "Briefed: 114 L." in shown(phone.opens(RUN))  # 30 US gal x 3.785411784 L, NIST Handbook 44 appendix C
    page = out(phone)
    assert "Aboard at the start: 114 L." in page
    told = {name: value for name, value in BACK.items() if name != "fuel_left_gal"}
    over = phone.presses(DOWN, told | {"fuel_left_l": "150"}, page)
    assert word(over) == "mend"
    assert 'href="#at-fuel_left_l"' in over.text
    assert word(phone.presses(DOWN, told | {"fuel_left_l": "75,7"}, over.text)) == "saved"
    left = jobs.document(phone.office, "aircraft", "LRS-01")["condition_left"]
    assert left["fuel_left_gal"] == 20.0  # 75.7 L / 3.785411784


def test_what_was_read_before_and_how_it_drifts_stands_beside_the_question() -> None:
    entries = [
        Entry("magneto_left_drop_pct", "at most 7 %", "Read before: 6 %, last 3 May", "Now about 6.0 %, rises."),
        Entry("governor_rpm_pct", "101 to 102 %"),
    ]
    view = RunUpView(
        school="",
        name="",
        flight_id="f",
        registration="R",
        facts="",
        stated_in="",
        entries=entries,
        difference="",
        no_type="",
        void=(),
        ran=None,
        closed="",
        left=False,
        fuel="",
    )
    text = run_up_page(view, Kept("/run-up/f", "p", "t", "e"), Kept("/run-up/f/leaves", "p", "t", "e"))
    read = shown(Answer(body=text.encode()))
    assert "Right: at most 7 % Read before: 6 %, last 3 May % Now about 6.0 %, rises." in read
    assert "Oil pressure" not in read
    no_type = run_up_page(
        replace(view, no_type="No type on file: a no-go."), Kept("/run-up/f", "p", "t", "e"), Kept("/x", "p", "t", "e")
    )
    assert "No type on file: a no-go." in no_type
    assert "<form" not in no_type


def test_a_flight_that_never_left_is_not_closed(phone: Phone) -> None:
    jobs.cancel(phone.office, MARA, FLIGHT, event_id=flights.event(), reason="Customer left", at=phone.at)
    page = phone.opens(DOWN)
    assert "only a flight that is out is closed" in shown(page)
    assert "<form" not in page.text
