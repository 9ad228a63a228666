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

__all__ = ["alarms_now", "board_now", "by_itself", "look_again", "queue_now"]

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


def _at() -> datetime:
    """Now, to the minute: within it nothing on a board changes without a record."""
    return clock.now().replace(second=0, microsecond=0)


@st.cache_data(ttl=_KEPT_S, max_entries=_MOST, show_spinner=False)
def _board(_office: Any, _person_id: str, where: int, at: datetime, head: int) -> tuple[jobs.FlightCard, ...]:
    del where, head  # they tell one picture from another
    return jobs.board(_office, _person_id, at=at)


@st.cache_data(ttl=_KEPT_S, max_entries=_MOST, show_spinner=False)
def _queue(_office: Any, where: int, person_id: str, at: datetime, head: int) -> tuple[QueueItem, ...]:
    del where, head
    return jobs.queue(_office, person_id, at=at)


@st.cache_data(ttl=_KEPT_S, max_entries=_MOST, show_spinner=False)
def _alarms(_office: Any, where: int, person_id: str, at: datetime, head: int) -> tuple[Alarm, ...]:
    del where, head
    return alarms(_office, person_id, at=at)


def board_now(office: jobs.Office, person_id: str) -> tuple[jobs.FlightCard, ...]:
    """The board, as ``jobs.board`` gives it.

    Raises:
        NotShownError: This person holds no role at the school.
    """
    if not may_see_board(jobs.roles_of(office, person_id, clock.now())).allowed:
        return jobs.board(office, person_id, at=clock.now())  # says why not
    # Everybody who may see the board sees the same one.
    return _board(office, person_id, id(office.store), _at(), log_head(office))


def queue_now(office: jobs.Office, person_id: str) -> tuple[QueueItem, ...]:
    """The requests that wait, as ``jobs.queue`` gives them.

    Raises:
        NotShownError: This person holds no role at the school.
    """
    return _queue(office, id(office.store), person_id, _at(), log_head(office))


def alarms_now(office: jobs.Office, person_id: str) -> tuple[Alarm, ...]:
    """The overdue aircraft that this person watches over."""
    return _alarms(office, id(office.store), person_id, _at(), log_head(office))
