"""A morning at the school: ten flights, one refused, one briefed again, one overdue; then the log is asked."""

import itertools
import re
from datetime import datetime, timedelta
from typing import Any

import pytest

from riskboard import demo, jobs
from riskboard.jobs import NotSignedError
from riskboard.jobs.debriefing import debrief
from riskboard.ledger import Status
from riskboard.shipped import shipped
from riskboard.words import RefusedFor
from riskboard.worksheet.debrief import Debrief
from riskboard.worksheet.file import read_worksheet_file
from riskboard.worksheet.model import PARTS
from riskboard.worksheet.write import worksheet_data
from tests.jobs.conftest import Desk
from tests.jobs.school_day import CIRCUITS, DISPATCHER, PILOT, Day, staff

PILOTS = (PILOT, "tobin-reyes-hall", "ines-vasko")
AIRCRAFT = ("LRS-01", "LRS-03", "LRS-04")
WORRY = "The customer asked to film from the skids."
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d)?Z")


def moved(data: Any, span: timedelta) -> Any:
    """The same answers some hours later: every instant moved, every calendar day kept."""
    if isinstance(data, dict):
        return {key: moved(value, span) for key, value in data.items()}
    if isinstance(data, list):
        return [moved(value, span) for value in data]
    if isinstance(data, str) and _INSTANT.fullmatch(data):
        return (datetime.fromisoformat(data) + span).isoformat().replace("+00:00", "Z")
    return data


class Morning:
    """The school's clock, and flights that begin one after another."""

    def __init__(self, desk: Desk) -> None:
        self.office = desk.office
        self.began = self.now = desk.at
        sheet, _ = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
        self.answers = worksheet_data(sheet)
        self.numbers = itertools.count(1)
        self.events = itertools.count(1)

    def brief(self, pilot_id: str, aircraft_id: str, **pressures: object) -> Day:
        number = next(self.numbers)
        day = Day(self.office, self.now, f"flight-{number:02d}", self.events)
        start = jobs.Start(pilot_id, aircraft_id, "larkfield", CIRCUITS)
        jobs.begin_draft(self.office, day.flight_id, start, at=self.now)
        answers = moved(self.answers, self.now - self.began)
        answers["pilot"]["sleeps"] = self.answers["pilot"]["sleeps"]
        answers["aircraft"]["registration"] = aircraft_id
        for part in PARTS:
            jobs.save_entries(self.office, day.flight_id, part, answers[part], at=self.now)
        if pressures:
            jobs.save_entries(self.office, day.flight_id, "pressures", pressures, at=self.now)
        return day

    def at(self, day: Day, **span: float) -> Day:
        self.now += timedelta(**span)
        day.now = self.now
        return day

    def out(self, day: Day, pilot_id: str) -> Day:
        signature = day.signature(pilot_id)
        jobs.accept(self.office, day.flight_id, signature, at=self.now)
        return self.leave(day, pilot_id)

    def leave(self, day: Day, pilot_id: str) -> Day:
        self.at(day, minutes=2).release(pilot_id)
        self.at(day, minutes=3).leave(pilot_id)
        return day

    def back(self, day: Day, login: str, **told: object) -> None:
        token = jobs.sign_in(self.office, login, demo.DEMO_PASSPHRASE, at=self.now)
        caller = jobs.caller(self.office, token, at=self.now)
        assert caller is not None
        event = f"back {day.flight_id}"
        debrief(self.office, caller, day.flight_id, Debrief(as_planned=True, **told), event_id=event, at=self.now)


@pytest.fixture
def morning(desk: Desk) -> Morning:
    staff(desk.office, desk.at)
    return Morning(desk)


def one_to_three_go_out_and_come_back(morning: Morning) -> None:
    for pilot_id, aircraft_id in zip(PILOTS, AIRCRAFT, strict=True):
        day = morning.out(morning.brief(pilot_id, aircraft_id), pilot_id)
        morning.at(day, minutes=50)
        morning.back(day, demo.LOGIN_NAMES[pilot_id])


def four_is_signed_with_a_condition(morning: Morning) -> Day:
    day = morning.brief(PILOT, "LRS-01", anything_else=WORRY)
    day.request()
    day.sign(DISPATCHER, "Doors on")
    day.take()
    return morning.leave(day, PILOT)


def five_is_refused_and_six_knows_it(morning: Morning) -> None:
    office, other = morning.office, PILOTS[1]
    refused = morning.brief(other, "LRS-03", anything_else=WORRY)
    jobs.request_sign_off(office, refused.flight_id, refused.signature(other), note="", at=morning.now)
    about = frozenset({RefusedFor.pilot})
    no = {"pin": demo.DEMO_PIN, "event_id": "no", "reason": "Not today", "about": about}
    jobs.refuse(office, DISPATCHER, refused.flight_id, at=morning.now, **no)  # type: ignore[arg-type]
    again = morning.brief(other, "LRS-04")
    assert jobs.brief(office, again.flight_id, at=morning.now).refused_at is not None
    with pytest.raises(NotSignedError):
        jobs.accept(office, again.flight_id, again.signature(other), at=morning.now)
    mine = again.signature(other)
    jobs.decline(office, again.flight_id, mine, reason="Refused already", about=frozenset(), at=morning.now)


def seven_is_overtaken_by_time_and_briefed_again(morning: Morning) -> None:
    office, pilot_id = morning.office, PILOTS[2]
    day = morning.brief(pilot_id, "LRS-04")
    jobs.accept(office, day.flight_id, day.signature(pilot_id), at=morning.now)
    morning.at(day, minutes=95)
    assert day.card().status is Status.LAPSED
    with pytest.raises(NotSignedError, match="holds no longer"):
        day.release(pilot_id)
    answers = moved(morning.answers, morning.now - morning.began)
    for part in ("weather", "plan"):
        jobs.save_entries(office, day.flight_id, part, answers[part], at=morning.now)
    morning.out(day, pilot_id)
    morning.at(day, minutes=40)
    morning.back(day, "ines")


def eight_is_called_off(morning: Morning) -> None:
    office, pilot_id = morning.office, PILOTS[2]
    day = morning.brief(pilot_id, "LRS-04")
    jobs.accept(office, day.flight_id, day.signature(pilot_id), at=morning.now)
    jobs.cancel(office, pilot_id, day.flight_id, event_id="off", reason="Headache", at=morning.now)


def nine_is_sent_back_and_asked_anew(morning: Morning) -> None:
    day = morning.brief(PILOT, "LRS-01", anything_else=WORRY)
    day.request()
    ask = {"pin": demo.DEMO_PIN, "event_id": "back", "question": "Which skids?"}
    jobs.send_back(morning.office, DISPATCHER, day.flight_id, at=morning.now, **ask)
    morning.at(day, minutes=1).request("The left one, on the ground only.")
    day.sign(DISPATCHER)
    day.take()
    morning.leave(day, PILOT)
    morning.at(day, minutes=45)
    morning.back(day, "mara")


def ten_does_not_come_back(morning: Morning) -> None:
    office = morning.office
    day = morning.out(morning.brief(PILOTS[2], "LRS-03"), PILOTS[2])
    morning.at(day, minutes=100)
    (first, *others) = jobs.board(office, DISPATCHER, at=morning.now)
    assert (first.flight_id, first.overdue_min is not None) == (day.flight_id, True)
    assert all(card.overdue_min is None for card in others)
    for step in jobs.overdue_steps(office, day.flight_id)[:2]:
        jobs.overdue_step(office, DISPATCHER, day.flight_id, event_id=step[:40], step=step, at=morning.now)


def test_a_morning_with_ten_flights_is_proved_by_the_log(morning: Morning) -> None:
    one_to_three_go_out_and_come_back(morning)
    four = four_is_signed_with_a_condition(morning)
    five_is_refused_and_six_knows_it(morning)
    seven_is_overtaken_by_time_and_briefed_again(morning)
    eight_is_called_off(morning)
    morning.at(four)
    morning.back(four, "mara")
    nine_is_sent_back_and_asked_anew(morning)
    ten_does_not_come_back(morning)
    told = {card.flight_id: card.status for card in jobs.board(morning.office, DISPATCHER, at=morning.now)}
    assert [told[f"flight-{number:02d}"] for number in range(1, 11)] == [
        *[Status.DEBRIEFED] * 4,
        Status.REFUSED,
        Status.DECLINED,
        Status.DEBRIEFED,
        Status.CANCELLED,
        Status.DEBRIEFED,
        Status.AIRBORNE,
    ]
    assert jobs.verify_log(morning.office) == []
    checked = jobs.recheck(morning.office)
    assert checked.findings == ()
    assert checked.decisions >= 12
