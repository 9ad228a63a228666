"""An office of the invented school, and a calm flight entered into it."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest

from riskboard import demo, jobs
from riskboard.shipped import shipped
from riskboard.worksheet.file import read_worksheet_file
from riskboard.worksheet.model import PARTS
from riskboard.worksheet.write import worksheet_data
from tests.jobs.school_day import CIRCUITS, FLIGHT, Day, staff

DRAFT = "calm-flight"
PILOT = "mara-oduya"


@dataclass(frozen=True)
class Desk:
    """The office, the moment of decision of the calm morning, and how to sign there."""

    office: jobs.Office
    at: datetime

    def briefing(self, at: datetime | None = None) -> jobs.Briefing:
        return jobs.brief(self.office, DRAFT, at=at or self.at)

    def signature(
        self, event_id: str = "event-1", *, pin: str = demo.DEMO_PIN, person_id: str = PILOT
    ) -> jobs.Signature:
        shown = self.briefing()
        return jobs.Signature(person_id, pin, event_id, self.at, shown.digest)

    def enter(self, part: str, **entries: object) -> None:
        jobs.save_entries(self.office, DRAFT, part, entries, at=self.at)


@pytest.fixture(scope="session")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a store of the demo school, made once: hashing PINs is slow on purpose."""
    _, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    assert at is not None
    folder = tmp_path_factory.mktemp("filled")
    office = jobs.open_office(folder / "school.sqlite3", now=at)
    jobs.load_demo_school(office, now=at)
    office.store.close()
    return folder


@pytest.fixture
def desk(tmp_path: Path, filled: Path) -> Iterator[Desk]:
    sheet, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    assert at is not None
    shutil.copytree(filled, tmp_path, dirs_exist_ok=True)
    office = jobs.open_office(tmp_path / "school.sqlite3", now=at)
    jobs.begin_draft(office, DRAFT, jobs.Start(pilot_id=PILOT), at=at)
    data = worksheet_data(sheet)
    for part in PARTS:
        jobs.save_entries(office, DRAFT, part, data[part], at=at)
    yield Desk(office, at)
    office.store.close()


@pytest.fixture
def day(desk: Desk) -> Day:
    """A calm morning at the school, everybody in their role, and a flight that waits to be asked for."""
    staff(desk.office, desk.at)
    sheet, _ = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    data = worksheet_data(sheet)
    start = jobs.Start(PILOT, "LRS-01", "larkfield", CIRCUITS)
    jobs.begin_draft(desk.office, FLIGHT, start, at=desk.at)
    for part in PARTS:
        jobs.save_entries(desk.office, FLIGHT, part, data[part], at=desk.at)
    return Day(desk.office, desk.at, FLIGHT)
