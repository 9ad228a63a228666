"""What a page needs before it can draw: the office, the flight named in the URL, a place for plain error sentences."""

import re
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any

import streamlit as st

from riskboard import jobs
from riskboard.app import clock
from riskboard.jobs.place import database_address
from riskboard.ledger import LedgerError
from riskboard.policy.book import NoPolicyError

__all__ = ["attempt", "flight_id", "hold", "office", "start_next_flight", "take_trouble"]

_FLIGHT = "flight"
_TROUBLE = "trouble"
_NAME = re.compile(r"[a-z0-9]{8,40}")


@st.cache_resource(show_spinner=False)
def _opened(address: str) -> jobs.Office:
    if "://" not in address:
        Path(address).parent.mkdir(parents=True, exist_ok=True)
    return jobs.open_office(address, now=clock.now())


def office() -> jobs.Office:
    """The school's store, opened once for all sessions of this server.

    Raises:
        LedgerError: The store cannot be opened.
    """
    return _opened(str(database_address(None)))


def hold(key: str, value: Any) -> None:
    """Let a widget show what the draft says.

    Said only where it differs: a value that is sent to the browser without need may arrive after the next tap and
    overwrite it there.
    """
    if key not in st.session_state:
        if value not in (None, "", []):
            st.session_state[key] = value
    elif st.session_state[key] != value:
        st.session_state[key] = value


def flight_id() -> str:
    """The flight of this page: named in the URL, else this session's own, else a new one; then the URL names it."""
    named = st.query_params.get(_FLIGHT, "")
    if not _NAME.fullmatch(named):
        named = st.session_state.get(_FLIGHT) or secrets.token_hex(8)
    if st.session_state.get(_FLIGHT) != named:
        _forget_flight()
        st.session_state[_FLIGHT] = named
    if st.query_params.get(_FLIGHT) != named:
        st.query_params[_FLIGHT] = named
    return named


def start_next_flight() -> None:
    """Leave this flight and name a new one in the URL."""
    _forget_flight()
    st.session_state[_FLIGHT] = st.query_params[_FLIGHT] = secrets.token_hex(8)


def _forget_flight() -> None:
    for key in [key for key in st.session_state if str(key).startswith(("e:", "q:", "s:", "flight:"))]:
        del st.session_state[key]


def attempt(act: Callable[[], Any]) -> Any:
    """Do something that may be refused; what is raised becomes a sentence on the page, and nothing entered is lost."""
    try:
        return act()
    except (LedgerError, NoPolicyError, jobs.NotSignedError) as error:
        st.session_state[_TROUBLE] = str(error)
    except KeyError as error:
        st.session_state[_TROUBLE] = str(error.args[0])
    return None


def take_trouble() -> str:
    """The sentence of what was refused since the last look, or ""."""
    return str(st.session_state.pop(_TROUBLE, ""))
