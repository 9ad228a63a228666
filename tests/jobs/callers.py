"""Somebody who is in, without the trouble of a passphrase; and a school with one flight out, made once and copied."""

import shutil
from datetime import datetime, timedelta
from pathlib import Path

from riskboard import jobs
from riskboard.shipped import shipped
from riskboard.worksheet.file import read_worksheet_file
from riskboard.worksheet.model import PARTS
from riskboard.worksheet.write import worksheet_data
from tests.jobs.school_day import AIRCRAFT, CIRCUITS, FLIGHT, PILOT, Day, caller_of, staff

__all__ = ["caller_of", "flight_out", "opened_copy", "sent_out"]

OUT_FOR = timedelta(minutes=72)


def flight_out(folder: Path) -> tuple[Path, datetime]:
    """A school whose morning flight was accepted, released and has left; the file, and the moment it is back."""
    path = folder / "school.sqlite3"
    day = sent_out(path)
    day.office.store.close()
    return path, day.now


def sent_out(where: Path | str) -> Day:
    """The same, still open, in any store."""
    sheet, at = read_worksheet_file(shipped("weather_samples") / "calm_morning.yaml")
    assert at is not None
    office = jobs.open_office(where, now=at)
    jobs.load_demo_school(office, now=at)
    staff(office, at)
    jobs.begin_draft(office, FLIGHT, jobs.Start(PILOT, AIRCRAFT, "larkfield", CIRCUITS), at=at)
    data = worksheet_data(sheet)
    for part in PARTS:
        jobs.save_entries(office, FLIGHT, part, data[part], at=at)
    day = Day(office, at, FLIGHT)
    day.accept()
    day.later(minutes=2)
    day.release()
    day.later(minutes=5)
    day.leave()
    day.now = at + OUT_FOR
    return day


def opened_copy(made: Path, folder: Path, at: datetime) -> Day:
    """A copy of that school."""
    own = folder / "school.sqlite3"
    shutil.copy(made, own)
    day = Day(jobs.open_office(own, now=at), at, FLIGHT)
    day.event = lambda: f"later-{next(day._events)}"  # type: ignore[method-assign]  # events of the copy's making are taken
    return day
