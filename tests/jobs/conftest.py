"""An office of the invented school, and a calm flight entered into it."""

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


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    sheet, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    assert at is not None
    office = jobs.open_office(tmp_path / "school.sqlite3", now=at)
    jobs.load_demo_school(office, now=at)
    jobs.begin_draft(office, DRAFT, jobs.Start(pilot_id=PILOT), at=at)
    data = worksheet_data(sheet)
    for part in PARTS:
        jobs.save_entries(office, DRAFT, part, data[part], at=at)
    yield Desk(office, at)
    office.store.close()
