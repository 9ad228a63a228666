"""Sheets from the record: what they say, what they leave out, who gets one, and that their code proves the log."""

import re
from datetime import timedelta
from pathlib import Path

import pytest

from riskboard import jobs
from riskboard.cli import main
from riskboard.cli.status import Status
from riskboard.jobs.flights import NotShownError
from riskboard.jobs.sheets import NoSheetError, kneeboard, release_sheet
from tests.jobs.school_day import CHIEF, DISPATCHER, FLIGHT, OTHER_PILOT, PILOT, SAFETY, Day
from tests.sheets.paper import page_sizes, text_of

RECEIPT = re.compile(r"\b(?:[0-9A-Z]{4}-){11}[0-9A-Z]{4}\b")
NEEDS_SIGN_OFF = {"refused_today": True}


def sheet(day: Day, person_id: str = PILOT) -> str:
    name, pdf = release_sheet(day.office, person_id, FLIGHT, paper="letter", at=day.now)
    assert name == "release-morning-flight-letter.pdf"
    assert len(page_sizes(pdf)) == 1
    return text_of(pdf)


def released(day: Day, *conditions: str) -> None:
    day.enter("pressures", **NEEDS_SIGN_OFF)
    day.request("Please have a look")
    day.later(minutes=1)
    day.sign(CHIEF, *conditions)
    day.later(minutes=1)
    day.take()
    day.later(minutes=1)
    day.release(DISPATCHER)


def test_a_released_flight_says_who_said_what_until_when_on_which_conditions(day: Day) -> None:
    released(day, "Stay within three miles of the field.")
    text = sheet(day)
    assert "Release sheet" in text
    assert "not a release" not in text
    for told in (
        "GO WITH SIGN-OFF", "Stay within three miles of the field.", "LRS-01", "Mara Oduya", "Sigrun Palo",
        "chief instructor", "asked for a sign-off", "took the conditions", "released the aircraft",
        "Wendell Achterberg",
        "Circuits at Larkfield", "Refused by somebody today", "Peak of wind and gusts", "at most 35 kt",
        "Larkfield Rotorcraft School", "Invented data", "It does not mean safe",
    ):  # fmt: skip
        assert told in text, told
    until = day.card().valid_until
    assert until is not None
    assert f"The yes holds until {until - timedelta(hours=6):%H:%M} MDT" in text


def test_the_code_on_the_paper_proves_the_log(day: Day, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    released(day)
    (code,) = set(RECEIPT.findall(sheet(day)))
    assert jobs.verify_log(day.office, code) == []
    day.later(minutes=3)
    day.leave()
    place = str(tmp_path / "school.sqlite3")
    assert main(["log", "verify", "--database", place, "--receipt", code]) == Status.fine
    assert "no finding" in capsys.readouterr().out
    wrong = code.translate(str.maketrans("0123456789", "1234567890"))
    assert main(["log", "verify", "--database", place, "--receipt", wrong]) != Status.fine


def test_the_code_shows_a_log_cut_after_printing(day: Day) -> None:
    released(day)
    (code,) = set(RECEIPT.findall(sheet(day)))
    kept = list(day.office.store.entries())[:-1]
    from riskboard.ledger.chain import verify  # noqa: PLC0415  - the pure check, as an auditor would run it
    from riskboard.ledger.receipt import Receipt  # noqa: PLC0415  - as above

    found = verify(kept, receipt=Receipt.from_code(code))
    assert [finding.kind.value for finding in found] == ["cut"]


def test_a_kneeboard_card_has_the_same_code_and_conditions(day: Day) -> None:
    released(day, "Stay within three miles of the field.")
    name, pdf = kneeboard(day.office, PILOT, FLIGHT, paper="a4", at=day.now)
    assert name == "kneeboard-morning-flight-a4.pdf"
    text = text_of(pdf)
    assert RECEIPT.findall(text) == RECEIPT.findall(sheet(day))
    assert "Stay within three miles of the field." in text


def test_printing_twice_gives_the_same_bytes_and_writes_nothing(day: Day) -> None:
    released(day)
    before = day.office.store.head()
    first = release_sheet(day.office, PILOT, FLIGHT, paper="a4", at=day.now)
    assert release_sheet(day.office, PILOT, FLIGHT, paper="a4", at=day.now) == first
    assert day.office.store.head() == before


def test_what_is_known_of_the_pilots_condition_is_only_on_the_pilots_own_sheet(day: Day) -> None:
    day.enter("pilot", stress_level=3, ill_today=False)
    day.enter("pressures", **NEEDS_SIGN_OFF)
    day.request()
    own = sheet(day)
    assert "Stress" in own
    assert "not printed" not in own
    for person_id in (DISPATCHER, CHIEF, SAFETY):
        other = sheet(day, person_id)
        assert "Stress" not in other
        assert "1 reason about the pilot's condition is not printed" in other
        assert "Refused by somebody today" in other


def test_no_outsider_gets_a_sheet(day: Day) -> None:
    released(day)
    for person_id in (OTHER_PILOT, "nobody-known"):
        with pytest.raises(NotShownError):
            release_sheet(day.office, person_id, FLIGHT, paper="letter", at=day.now)
        with pytest.raises(NotShownError):
            kneeboard(day.office, person_id, FLIGHT, paper="letter", at=day.now)


def test_nothing_on_record_is_nothing_to_print(day: Day) -> None:
    with pytest.raises(NoSheetError):
        release_sheet(day.office, PILOT, FLIGHT, paper="letter", at=day.now)
    with pytest.raises(NoSheetError):
        release_sheet(day.office, PILOT, "no-such-flight", paper="letter", at=day.now)


def test_another_paper_is_refused_with_the_names_of_those_there_are(day: Day) -> None:
    with pytest.raises(KeyError, match="letter, a4"):
        release_sheet(day.office, PILOT, FLIGHT, paper="legal", at=day.now)


def test_what_is_no_release_says_so(day: Day) -> None:
    day.enter("pressures", **NEEDS_SIGN_OFF)
    day.request()
    assert "WAITS FOR A SIGNATURE" in sheet(day)
    assert "This paper is no release." in sheet(day)
    day.sign(CHIEF)
    assert "SIGNED, NOT YET TAKEN" in sheet(day)
    assert "This paper is no release." in sheet(day)
    day.take()
    text = sheet(day)
    assert "Flight sheet, not a release" in text
    assert "The aircraft has not been released" in text
    day.release()
    assert "not a release" not in sheet(day)
    day.leave()
    assert "not a release" not in sheet(day)


def test_a_refused_flight_does_not_go(day: Day) -> None:
    from riskboard import demo  # noqa: PLC0415  - the invented PIN

    day.enter("pressures", **NEEDS_SIGN_OFF)
    day.request()
    jobs.refuse(day.office, CHIEF, FLIGHT, pin=demo.DEMO_PIN, event_id=day.event(), reason="not today", at=day.now)
    text = sheet(day)
    assert "REFUSED" in text
    assert "This flight does not go." in text
    assert "Flight sheet, not a release" in text


def test_a_yes_that_ran_out_is_no_release(day: Day) -> None:
    released(day)
    day.later(hours=3)
    text = sheet(day)
    assert "HOLDS NO LONGER" in text
    assert "Release sheet, void" in text
    assert "Brief this flight again before it leaves." in text


def test_names_and_conditions_in_other_scripts_and_with_markup_stand_as_typed(day: Day) -> None:
    day.enter("pilot", pilot_name="Zoë Nguyễn <b>山田</b>")
    released(day, "=HYPERLINK(x) <script>alert(1)</script> {nb} **stay low**")
    text = sheet(day)
    assert "Zoë Nguyễn <b>山田</b>" in text
    assert "=HYPERLINK(x) <script>alert(1)</script> {nb} **stay low**" in text


def test_times_are_those_of_the_place_of_departure(day: Day) -> None:
    released(day)
    at = day.now - timedelta(hours=6)  # Mountain daylight time is six hours behind
    assert f"Printed {at:%H:%M} MDT" in sheet(day)
