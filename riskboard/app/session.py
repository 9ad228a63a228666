"""What a page needs before it can draw: office, caller, the flight named in the URL, a place for error sentences."""

import re
import secrets
from collections.abc import Callable
from typing import Any
from urllib.parse import quote, urlencode, urlsplit

import streamlit as st

from riskboard import jobs
from riskboard.app import clock
from riskboard.app.address import public_address, same_origin_path
from riskboard.app.opened import opened_office
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.ledger import LedgerError
from riskboard.policy.book import NoPolicyError

__all__ = [
    "arrive",
    "attempt",
    "browser_token",
    "caller",
    "draw_way_in",
    "flight_id",
    "hold",
    "office",
    "start_next_flight",
    "take_trouble",
    "watch",
]

_FLIGHT = "flight"
_TROUBLE = "trouble"
_SEEN = "session:seen"
_PERSON = "session:person"
_CLEARING = "session:clearing"
_WATCH_S = 10
_NAME = re.compile(r"[a-z0-9]{8,40}")


def office() -> jobs.Office:
    """The school's store, opened once for all sessions of this server; once somebody is in, as that person.

    Raises:
        LedgerError: The store cannot be opened.
    """
    who = st.session_state.get(_PERSON)
    return opened_office() if who is None else jobs.acting_for(opened_office(), who)


def browser_token() -> str:
    """The token that this browser was given at the way in; "" for none."""
    return str(st.context.cookies.get(public_address().cookie, ""))


def caller(*, touch: bool = False) -> jobs.Caller:
    """Who acts. Where nobody is in any more, the frame is drawn again at once, and leads to the way in and back.

    Args:
        touch: Whether it counts as activity.

    Raises:
        LedgerError: The store cannot be used.
    """
    found = jobs.caller(opened_office(), browser_token(), at=clock.now(), touch=touch)
    if found is None:
        if not st.session_state.get(_CLEARING):
            # The frame runs no page without a caller: a part that looks again by itself takes the whole screen with it.
            st.session_state[_CLEARING] = True
            st.rerun()
        draw_way_in()  # a page that was run without the frame
        st.stop()
    return found


def arrive(*, by_itself: bool) -> jobs.Caller | None:
    """Who acts, asked once a run by the frame; None for nobody. Counts as activity where somebody did something.

    A page that draws itself again, and a socket that reconnects, are none: nothing on the page differs then.

    Args:
        by_itself: Whether this run was set off by the page itself.

    Raises:
        LedgerError: The store cannot be used.
    """
    st.session_state[_CLEARING] = False
    touch = _something_new() and not by_itself
    found = jobs.caller(opened_office(), browser_token(), at=clock.now(), touch=touch)
    st.session_state[_PERSON] = None if found is None else found.person_id
    return found


@st.fragment(run_every=_WATCH_S)
def watch() -> None:
    """Clear the screen by itself when the session has ended: what stood on it is not for whoever comes by."""
    if jobs.caller(opened_office(), browser_token(), at=clock.now(), touch=False) is None:
        st.rerun()


def _something_new() -> bool:
    """Whether the page, or anything entered on it, differs from the last time the frame was drawn."""
    entered = sorted((str(key), repr(value)) for key, value in st.session_state.items() if key != _SEEN)
    picture = hash((st.context.url, tuple(sorted(st.query_params.items())), tuple(entered)))
    differs = st.session_state.get(_SEEN) != picture
    st.session_state[_SEEN] = picture
    return differs


def draw_way_in() -> None:
    """Say that nobody is in, and lead to the way in; what was typed is kept and the way leads back to it."""
    known = bool(browser_token())
    said = (
        "You are not signed in any more: nothing was done here for a while, or you left. What you typed is kept."
        if known
        else "You are not signed in."
    )
    draw_alert(said)
    draw_html(f'<p class="rb-note"><a href="/enter?next={quote(_here(), safe="")}">Enter, and come back here</a></p>')


def _here() -> str:
    path = urlsplit(st.context.url or "/").path or "/"
    query = urlencode([(name, value) for name in st.query_params for value in st.query_params.get_all(name)])
    return same_origin_path(f"{path}?{query}" if query else path)


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
    if jobs.caller(opened_office(), browser_token(), at=clock.now(), touch=True) is None:
        return None  # the frame says so when it is drawn in a moment
    try:
        return act()
    except (LedgerError, NoPolicyError, jobs.NotSignedError, jobs.NotLetInError, jobs.NotShownError) as error:
        st.session_state[_TROUBLE] = str(error)
    except KeyError as error:
        st.session_state[_TROUBLE] = str(error.args[0])
    return None


def take_trouble() -> str:
    """The sentence of what was refused since the last look, or ""."""
    return str(st.session_state.pop(_TROUBLE, ""))
