"""What a press does on a page that draws itself again: an event of its own, and a refusal that stays to be read."""

import secrets
from collections.abc import Callable
from typing import Any

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.ledger import LedgerError
from riskboard.policy.book import NoPolicyError

__all__ = ["attempt", "event_of", "said_no"]

_NOT_IN = "You are not signed in any more, so nothing was recorded. Enter again; what you typed is kept."
_EVENT, _NO = "act:event:", "act:no:"


def event_of(name: str) -> str:
    """The event of the next press of this name: made when drawn, kept until it is on record.

    A double tap or a retry then finds the first record.
    """
    return str(st.session_state.setdefault(f"{_EVENT}{name}", secrets.token_hex(16)))


def attempt(name: str, person_id: str, act: Callable[[], Any], *, event: str = "") -> bool:
    """Do something that may be refused. What is refused stands beside the form until the next press.

    A press on a page that was drawn before its person left, or before somebody else came in, does nothing.

    Args:
        name: Where the refusal is shown.
        person_id: For whom the page was drawn.
        act: What is done.
        event: Name of the event, where it is another one than the place.

    Returns:
        Whether it is on record now.
    """
    try:
        _check_in(person_id)
        act()
    except (LedgerError, NoPolicyError, jobs.NotSignedError, jobs.NotLetInError, jobs.NotShownError) as error:
        st.session_state[f"{_NO}{name}"] = str(error)
        return False
    except KeyError as error:
        st.session_state[f"{_NO}{name}"] = str(error.args[0])
        return False
    st.session_state.pop(f"{_EVENT}{event or name}", None)
    st.session_state.pop(f"{_NO}{name}", None)
    return True


def _check_in(person_id: str) -> None:
    now_in = jobs.caller(session.office(), session.browser_token(), at=clock.now(), touch=True)
    if now_in is None or now_in.person_id != person_id:
        raise jobs.NotSignedError(_NOT_IN)


def said_no(name: str) -> str:
    """Why the last press of this name came to nothing, or ""."""
    return str(st.session_state.get(f"{_NO}{name}", ""))
