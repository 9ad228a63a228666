"""What the app shows while nobody is in: the way in, and what an outside provider has answered."""

from html import escape
from pathlib import Path

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.navigation import PLACES, has_page
from riskboard.app.outside import OutsideProvider, outside_identity, outside_provider
from riskboard.app.widgets.frame import draw_footer, draw_head
from riskboard.app.widgets.style import apply_style
from riskboard.app.widgets.text import draw_alert, draw_html

__all__ = ["OUTSIDE", "draw_nobody"]

OUTSIDE = "outside"
"""Address of the page from which Streamlit's login leads to the outside provider."""

_PAGES = Path(__file__).resolve().parent / "pages"


def draw_nobody(office: jobs.Office) -> None:
    """Draw the same for every address: no page runs before somebody is in."""
    page = st.navigation(_every_address(), position="hidden")
    apply_style()
    draw_head(office, clock.held())
    provider = outside_provider()
    if provider is None or not _outside(office, provider, asked=page.url_path == OUTSIDE):
        session.draw_way_in()
    draw_footer()


def _every_address() -> list["st.Page"]:
    """Without them, the page would say that the address does not exist, and the frame would look for pages itself."""
    first, *others = (place.name for place in PLACES if has_page(place.name))
    pages = [st.Page(_PAGES / f"{first}.py", url_path=first, default=True)]
    pages += [st.Page(_PAGES / f"{name}.py", url_path=name) for name in others]
    return [*pages, st.Page(_nothing, title="Outside", url_path=OUTSIDE)]


def _nothing() -> None:
    """A page that is an address only."""


def _outside(office: jobs.Office, provider: OutsideProvider, *, asked: bool) -> bool:
    """Lead to the outside provider where that was asked for, and act on its answer; False where there is neither."""
    answered = bool(st.user.get("is_logged_in"))
    identity = outside_identity(st.user.to_dict()) if answered else None
    if identity is not None:
        _draw_answer(office, provider, *identity)
        return True
    if asked:
        st.login()
        st.text(f"On the way to {provider.name}.")
    return asked


def _draw_answer(office: jobs.Office, provider: OutsideProvider, issuer: str, subject: str) -> None:
    try:
        ticket = jobs.enter_by_identity(office, issuer, subject, at=clock.now())
    except jobs.NotLetInError as error:
        draw_alert(str(error))
        draw_html(
            f'<dl class="rb-facts"><dt>Issuer</dt><dd>{escape(issuer)}</dd>'
            f"<dt>Subject</dt><dd>{escape(subject)}</dd></dl>"
            '<p class="rb-note"><a href="/enter">To the way in</a></p>'
        )
        return
    # Only an HTTP answer can set a cookie: the ticket, good once and for two minutes, goes to the way in by a form.
    draw_html(
        '<form method="post" action="/enter/outside">'
        f'<input type="hidden" name="ticket" value="{escape(ticket)}">'
        f'<p class="rb-note">{escape(provider.name)} has said who you are.</p>'
        '<button class="rb-enter" type="submit">Continue</button></form>'
    )
