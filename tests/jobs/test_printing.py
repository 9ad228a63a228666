"""Sheets from the record: what they say, what they leave out, who gets one, and that their code proves the log."""

import re
import shutil
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from riskboard import demo, jobs
from riskboard.assessment.assess import assess
from riskboard.assessment.tripwires import tripwires
from riskboard.assessment.variations import base_of
from riskboard.cli import main
from riskboard.cli.status import Status
from riskboard.jobs.erasing import ErasureSignature, erase_health
from riskboard.jobs.flights import NotShownError, asked_entry
from riskboard.jobs.sheets import NoSheetError, kneeboard, release_sheet
from riskboard.ledger.chain import verify
from riskboard.ledger.receipt import Receipt
from riskboard.shipped import shipped
from riskboard.worksheet.file import read_worksheet_file
from riskboard.worksheet.model import PARTS
from riskboard.worksheet.read import read_worksheet
from riskboard.worksheet.write import worksheet_data
from tests.jobs.school_day import CHIEF, CIRCUITS, DISPATCHER, FLIGHT, OTHER_PILOT, PILOT, SAFETY, Day, give, staff
from tests.sheets.paper import page_sizes, text_of

RECEIPT = re.compile(r"\b(?:[0-9A-Z]{4}-){11}[0-9A-Z]{4}\b")
NEEDS_SIGN_OFF = {"refused_today": True}
PLACES: dict[str, Path] = {}
NAME = "Zoë Nguyễn <b>山田</b>"
CONDITIONS = (
    "Stay within three miles of the field.",
    "=HYPERLINK(x) <script>alert(1)</script> {nb} **stay low**",
)


def sheet(day: Day, person_id: str = PILOT, at: datetime | None = None) -> str:
    name, pdf = release_sheet(day.office, person_id, FLIGHT, paper="letter", at=at or day.now)
    assert name == "release-morning-flight-letter.pdf"
    assert len(page_sizes(pdf)) == 1
    return text_of(pdf)


@pytest.fixture(scope="module")
def out(filled: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Day]:
    """A flight that was asked for, signed on conditions, taken and released; made once, and only read from then on."""
    place = tmp_path_factory.mktemp("out") / "school.sqlite3"
    shutil.copy(filled / "school.sqlite3", place)
    data_sheet, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    assert at is not None
    office = jobs.open_office(place, now=at)
    staff(office, at)
    jobs.begin_draft(office, FLIGHT, jobs.Start(PILOT, "LRS-01", "larkfield", CIRCUITS), at=at)
    data = worksheet_data(data_sheet)
    for part in PARTS:
        jobs.save_entries(office, FLIGHT, part, data[part], at=at)
    day = Day(office, at, FLIGHT)
    PLACES[FLIGHT] = place
    day.enter("pilot", pilot_name=NAME)
    day.enter("pressures", **NEEDS_SIGN_OFF)
    day.request("Please have a look")
    day.later(minutes=1)
    day.sign(CHIEF, *CONDITIONS)
    day.later(minutes=1)
    day.take()
    day.later(minutes=1)
    day.release(DISPATCHER)
    yield day
    office.store.close()


def test_a_released_flight_says_who_said_what_until_when_on_which_conditions(out: Day) -> None:
    text = sheet(out)
    assert "Release sheet" in text
    assert "not a release" not in text
    for told in (
        "GO WITH SIGN-OFF", *CONDITIONS, NAME, "LRS-01", "Mara Oduya", "Sigrun Palo", "chief instructor",
        "asked for a sign-off", "took the conditions", "released the aircraft", "Wendell Achterberg",
        "Circuits at Larkfield", "Refused by somebody today", "Peak of wind and gusts", "at most 35 kt",
        "Larkfield Rotorcraft School", "Invented data", "It does not mean safe",
    ):  # fmt: skip
        assert told in text, told
    until = out.card().valid_until
    assert until is not None
    assert f"The yes holds until {until - timedelta(hours=6):%H:%M} MDT" in text  # mountain daylight time


def test_weight_margins_hover_and_power_stand_on_both_papers_and_whose_figures_they_are(out: Day) -> None:
    """988.5 lb empty with doors and dual controls, 150 + 172 + 6 lb, 23 of 24 gal after start: 1,454.5 lb."""
    _, card = kneeboard(out.office, PILOT, FLIGHT, paper="letter", at=out.now)
    for text in (sheet(out), text_of(card)):
        assert "1,454.5 lb, 105.5 lb under the highest (1,560 lb)" in text
        for told in ("Longitudinal", "Lateral", "Hover in ground effect", "Hover out of ground effect"):
            assert told in text, told
        assert re.search(
            r"Manifold pressure limit\s+departure: Maximum continuous \d\d\.\d inHg, take-off \d\d\.\d", text
        )
        assert "these are the figures of no real aircraft" in text


def test_the_code_on_the_paper_proves_the_log(out: Day, capsys: pytest.CaptureFixture[str]) -> None:
    (code,) = set(RECEIPT.findall(sheet(out)))
    give(out.office, SAFETY, "renter", out.now)  # the log goes on after printing
    assert jobs.verify_log(out.office, code) == []
    place = str(PLACES[out.flight_id])
    assert main(["log", "verify", "--database", place, "--receipt", code]) == Status.fine
    assert "no finding" in capsys.readouterr().out
    wrong = code.translate(str.maketrans("0123456789", "1234567890"))
    assert main(["log", "verify", "--database", place, "--receipt", wrong]) != Status.fine


def test_the_code_shows_a_log_cut_after_printing(out: Day) -> None:
    (code,) = set(RECEIPT.findall(sheet(out)))
    kept = list(out.office.store.entries())[:-1]
    found = verify(kept, receipt=Receipt.from_code(code))
    assert [finding.kind.value for finding in found] == ["cut"]


def test_a_kneeboard_card_has_the_same_code_and_conditions(out: Day) -> None:
    name, pdf = kneeboard(out.office, PILOT, FLIGHT, paper="a4", at=out.now)
    assert name == "kneeboard-morning-flight-a4.pdf"
    text = text_of(pdf)
    assert RECEIPT.findall(text) == RECEIPT.findall(sheet(out))
    assert CONDITIONS[0] in text


def test_the_card_says_what_would_stop_it_as_the_engine_found_it_and_health_only_to_the_pilot(out: Day) -> None:
    """Each line is found again by one fresh assessment of the worksheet with that value in it."""
    flight = out.office.log.look().flights[FLIGHT]
    asked = asked_entry(out.office, flight)
    assert asked is not None
    assert asked.body is not None
    body = asked.body.value
    sheet_signed, at = read_worksheet(body["worksheet"]), datetime.fromisoformat(body["assessment"]["decided_at"])
    prepared = jobs.policy_for(out.office, sheet_signed, at)
    found = tripwires(base_of(sheet_signed, prepared, at))
    now = assess(sheet_signed, prepared, at).decision
    _, pdf = kneeboard(out.office, PILOT, FLIGHT, paper="letter", at=out.now)
    own = text_of(pdf)
    assert found.six
    for wire in found.six:
        assert wire.sentence in own
        assert wire.run is not None
        assert assess(found.worksheet(wire, wire.run.first), prepared, at).decision > now
    assert "The dispatcher on duty" in own
    other = text_of(kneeboard(out.office, None, FLIGHT, paper="letter", at=out.now)[1])
    for wire in found.six:
        assert (wire.sentence in other) is not wire.health


def test_printing_twice_gives_the_same_bytes_and_writes_nothing(out: Day) -> None:
    before = out.office.store.head()
    first = release_sheet(out.office, PILOT, FLIGHT, paper="a4", at=out.now)
    assert release_sheet(out.office, PILOT, FLIGHT, paper="a4", at=out.now) == first
    assert out.office.store.head() == before


def test_whoever_runs_commands_at_the_store_gets_no_health_answer(out: Day) -> None:
    _, pdf = release_sheet(out.office, None, FLIGHT, paper="letter", at=out.now)
    assert text_of(pdf) == sheet(out, SAFETY)


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


def test_no_outsider_gets_a_sheet(out: Day) -> None:
    for person_id in (OTHER_PILOT, "nobody-known"):
        with pytest.raises(NotShownError):
            release_sheet(out.office, person_id, FLIGHT, paper="letter", at=out.now)
        with pytest.raises(NotShownError):
            kneeboard(out.office, person_id, FLIGHT, paper="letter", at=out.now)


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
    day.enter("pressures", **NEEDS_SIGN_OFF)
    day.request()
    jobs.refuse(day.office, CHIEF, FLIGHT, pin=demo.DEMO_PIN, event_id=day.event(), reason="not today", at=day.now)
    text = sheet(day)
    assert "REFUSED" in text
    assert "This flight does not go." in text
    assert "Flight sheet, not a release" in text


def test_a_yes_that_ran_out_is_no_release(out: Day) -> None:
    text = sheet(out, at=out.now + timedelta(hours=3))
    assert "HOLDS NO LONGER" in text
    assert "Release sheet, void" in text
    assert "Brief this flight again before it leaves." in text


def test_times_are_those_of_the_place_of_departure(out: Day) -> None:
    assert f"Printed {out.now - timedelta(hours=6):%H:%M} MDT" in sheet(out)


def test_a_waived_limit_about_the_pilots_condition_is_named_only_to_the_pilot(day: Day) -> None:
    day.enter("pilot", duty_started_at=(day.now - timedelta(hours=13)).isoformat())
    day.request()
    seen = day.open(CHIEF)
    clause = seen.waivable[0].clause
    jobs.waive(
        day.office, CHIEF, FLIGHT, clause, reason="Crew change at the field.", pin=demo.DEMO_PIN,
        event_id=day.event(), shown_at=seen.shown_at, shown_digest=seen.shown_digest, at=day.now,
    )  # fmt: skip
    day.sign(CHIEF)
    day.take()
    day.release()
    own, other = sheet(day), sheet(day, SAFETY)
    assert "Limit waived by Sigrun Palo (chief instructor): duty day. Reason: Crew change at the field." in own
    assert "A limit about the pilot's condition was waived by Sigrun Palo (chief instructor)." in other
    assert "duty" not in other.lower()
    assert "Crew change" not in other


def test_after_an_erasure_there_is_nothing_to_print(day: Day) -> None:
    day.enter("pressures", **NEEDS_SIGN_OFF)
    day.request()
    signature = ErasureSignature(PILOT, demo.DEMO_PIN, day.event(), "my own request")
    erase_health(day.office, signature, PILOT, [FLIGHT], at=day.now)
    for person_id in (PILOT, CHIEF):
        with pytest.raises(NoSheetError, match="no longer on record"):
            release_sheet(day.office, person_id, FLIGHT, paper="letter", at=day.now)
