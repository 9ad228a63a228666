"""What screens ask again every few seconds, worked out once a minute and record for everybody who asks.

A board of ten flights means ten assessments; ten open screens must not make that a hundred every five seconds.
"""

from datetime import datetime
from typing import Any

import streamlit as st

from riskboard import jobs
from riskboard.app import clock
from riskboard.jobs.review import QueueItem
from riskboard.jobs.watching import Alarm, alarms, log_head
from riskboard.people.authority import may_see_board

__all__ = ["aircraft_now", "alarms_now", "board_now", "by_itself", "look_again", "queue_now"]

_KEPT_S = 120
_MOST = 128


_BY_ITSELF = "looking:by_itself"


def look_again() -> None:
    """Draw the whole page again because the world moved, not because somebody did anything."""
    st.session_state[_BY_ITSELF] = True
    st.rerun()


def by_itself() -> bool:
    """Whether this run of the page came from :func:`look_again`: nobody was active then. Asked once a run."""
    return bool(st.session_state.pop(_BY_ITSELF, False))


def _when() -> tuple[datetime, datetime]:
    """Now, and its minute: within a minute nothing on a board changes without a record.

    What is kept was worked out at the moment of the first look at its records, so no record lies in its future.
    """
    at = clock.now()
    return at, at.replace(second=0, microsecond=0)


_Key = tuple[int, int, datetime]
"""Store, newest record, minute: what tells one picture from another."""


def _key(office: jobs.Office, minute: datetime) -> _Key:
    return id(office.store), log_head(office), minute


@st.cache_data(ttl=_KEPT_S, max_entries=_MOST, show_spinner=False)
def _board(_office: Any, _person_id: str, _at: datetime, key: _Key) -> tuple[jobs.FlightCard, ...]:
    del key
    return jobs.board(_office, _person_id, at=_at)


@st.cache_data(ttl=_KEPT_S, max_entries=_MOST, show_spinner=False)
def _aircraft(_office: Any, person_id: str, _at: datetime, key: _Key) -> tuple[jobs.AircraftStatus, ...]:
    del key
    return jobs.aircraft_status(_office, person_id, at=_at)


@st.cache_data(ttl=_KEPT_S, max_entries=_MOST, show_spinner=False)
def _queue(_office: Any, person_id: str, _at: datetime, key: _Key) -> tuple[QueueItem, ...]:
    del key
    return jobs.queue(_office, person_id, at=_at)


@st.cache_data(ttl=_KEPT_S, max_entries=_MOST, show_spinner=False)
def _alarms(_office: Any, person_id: str, _at: datetime, key: _Key) -> tuple[Alarm, ...]:
    del key
    return alarms(_office, person_id, at=_at)


def board_now(office: jobs.Office, person_id: str) -> tuple[jobs.FlightCard, ...]:
    """The board, as ``jobs.board`` gives it; everybody who may see it sees the same one.

    Raises:
        NotShownError: This person holds no role at the school.
    """
    at, minute = _when()
    if not may_see_board(jobs.roles_of(office, person_id, at)).allowed:
        return jobs.board(office, person_id, at=at)  # says why not
    return _board(office, person_id, at, _key(office, minute))


def aircraft_now(office: jobs.Office, person_id: str) -> tuple[jobs.AircraftStatus, ...]:
    """Every aircraft, as ``jobs.aircraft_status`` gives it.

    Raises:
        NotShownError: This person holds no role at the school.
    """
    at, minute = _when()
    return _aircraft(office, person_id, at, _key(office, minute))


def queue_now(office: jobs.Office, person_id: str) -> tuple[QueueItem, ...]:
    """The requests that wait, as ``jobs.queue`` gives them.

    Raises:
        NotShownError: This person holds no role at the school.
    """
    at, minute = _when()
    return _queue(office, person_id, at, _key(office, minute))


def alarms_now(office: jobs.Office, person_id: str) -> tuple[Alarm, ...]:
    """The overdue aircraft that this person watches over."""
    at, minute = _when()
    return _alarms(office, person_id, at, _key(office, minute))
