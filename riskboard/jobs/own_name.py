"""What is done or seen in somebody's name, held to the person for whom an office acts.

As in :mod:`riskboard.jobs.own_drafts`: the app's office acts for whoever is in, so that a page that passes on another
person's id (from an address, an old form) acts and sees for nobody else. An office that acts for nobody is not held.
"""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

from riskboard.jobs import (
    debriefing,
    desk,
    facts,
    flights,
    reading,
    releasing,
    review,
    sheets,
    transcribing,
)
from riskboard.jobs.aircraft_history import aircraft_history as history_of
from riskboard.jobs.aircraft_status import aircraft_status as status_of_all
from riskboard.jobs.aircraft_status import one_aircraft as status_of_one
from riskboard.jobs.flights import NotShownError
from riskboard.jobs.office import Office
from riskboard.jobs.run_up_sheet import run_up_sheet as sheet_of_run_up
from riskboard.jobs.what_if import what_if as seen_by

__all__ = [
    "aircraft_history",
    "aircraft_status",
    "begin_typed_paper",
    "board",
    "cancel",
    "change_entries",
    "change_paper",
    "copy_of_record",
    "flight_records",
    "kept_facts",
    "kneeboard",
    "may_take_copy",
    "one_aircraft",
    "open_debrief",
    "open_request",
    "overdue_step",
    "queue",
    "read_records",
    "refuse",
    "release",
    "release_sheet",
    "run_up_sheet",
    "send_back",
    "sign_off",
    "to_debrief",
    "took_off",
    "transcribe",
    "typed_paper",
    "waive",
    "what_if",
]

_P = ParamSpec("_P")
_R = TypeVar("_R")


def _in_own_name(job: Callable[Concatenate[Office, str, _P], _R]) -> Callable[Concatenate[Office, str, _P], _R]:
    """The job, refused for anybody but the person for whom the office acts."""

    @wraps(job)
    def held(office: Office, person_id: str, /, *args: _P.args, **options: _P.kwargs) -> _R:
        if office.acts_for and person_id != office.acts_for:
            raise NotShownError("Nobody acts or looks here in another person's name. Enter as yourself.")
        return job(office, person_id, *args, **options)

    return held


aircraft_history = _in_own_name(history_of)
aircraft_status = _in_own_name(status_of_all)
begin_typed_paper = _in_own_name(transcribing.begin_typed_paper)
board = _in_own_name(flights.board)
cancel = _in_own_name(releasing.cancel)
change_entries = _in_own_name(transcribing.change_entries)
change_paper = _in_own_name(transcribing.change_paper)
copy_of_record = _in_own_name(reading.copy_of_record)
flight_records = _in_own_name(reading.flight_records)
kept_facts = _in_own_name(facts.kept_facts)
kneeboard = _in_own_name(sheets.kneeboard)
may_take_copy = _in_own_name(reading.may_take_copy)
one_aircraft = _in_own_name(status_of_one)
open_debrief = _in_own_name(debriefing.open_debrief)
open_request = _in_own_name(review.open_request)
overdue_step = _in_own_name(releasing.overdue_step)
queue = _in_own_name(review.queue)
read_records = _in_own_name(reading.read_records)
refuse = _in_own_name(desk.refuse)
release = _in_own_name(releasing.release)
release_sheet = _in_own_name(sheets.release_sheet)
run_up_sheet = _in_own_name(sheet_of_run_up)
send_back = _in_own_name(desk.send_back)
sign_off = _in_own_name(desk.sign_off)
to_debrief = _in_own_name(debriefing.to_debrief)
took_off = _in_own_name(releasing.took_off)
transcribe = _in_own_name(transcribing.transcribe)
typed_paper = _in_own_name(transcribing.typed_paper)
waive = _in_own_name(desk.waive)
what_if = _in_own_name(seen_by)
