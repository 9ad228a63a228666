"""Whose flight this is: pilot, aircraft and usual flight, each with what the school already knows about it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.widgets.text import draw_html, info_of
from riskboard.jobs import Briefing, Start
from riskboard.words import Role

__all__ = ["draw_instructor", "draw_start"]


def draw_start(office: jobs.Office, draft_id: str, briefing: Briefing | None, person_id: str) -> bool:
    """Draw the choices; each begins or changes the draft. A pilot briefs their own flight.

    Returns:
        Whether enough is chosen for the rest of the page.
    """
    start = briefing.start if briefing is not None else Start()
    pilot = jobs.person(office, person_id)
    if not pilot.facts:
        st.text("The school has no papers of yours on file, so you brief no flight here. Board and desk stand above.")
        return False
    fleet = {
        each["id"]: f"{each['id']}, {each['aircraft']['type_name']}" for each in jobs.documents(office, "aircraft")
    }
    routes = {each["id"]: each["name"] for each in jobs.documents(office, "route")}
    label = escape(info_of("pilot_name").label)
    draw_html(f'<p class="rb-note">{label}: <strong>{escape(pilot.name)}</strong></p>')
    choice = _Choice(office, draft_id, start, person_id)
    choice.draw("aircraft_id", info_of("registration").label, fleet)
    choice.draw("route_id", "Usual flight", routes)
    if start.pilot_id and start.aircraft_id and not start.route_id:
        sites = {each["id"]: each["name"] for each in jobs.documents(office, "site")}
        label = f"{info_of('departure_name').label} of a flight that is not a usual one"
        choice.draw("site_id", label, sites)
    return bool(start.pilot_id and start.aircraft_id and (start.route_id or start.site_id))


@dataclass(frozen=True)
class _Choice:
    """Lists from which the pilot chooses; the draft begins with the first choice, and is that pilot's from then on."""

    office: jobs.Office
    draft_id: str
    start: Start
    pilot_id: str

    def draw(self, name: str, label: str, options: Mapping[str, str]) -> None:
        """Draw one list."""
        key = f"flight:{name}"
        now = getattr(self.start, name)
        session.hold(key, now if now in options else None)
        st.selectbox(
            label,
            list(options),
            index=None,
            format_func=options.__getitem__,
            key=key,
            placeholder="Choose",
            on_change=_keep(self.office, self.draft_id, self.pilot_id, name, key),
        )


def _keep(office: jobs.Office, draft_id: str, pilot_id: str, name: str, key: str) -> Callable[[], None]:
    def keep() -> None:
        chosen: dict[str, Any] = {name: st.session_state[key]}
        if chosen[name] is not None:
            start = Start(pilot_id=pilot_id, **chosen)
            session.attempt(lambda: jobs.choose(office, draft_id, start, at=clock.now()))

    return keep


def draw_instructor(office: jobs.Office, briefing: Briefing) -> None:
    """Who teaches or watches, where the flight has an instructor: their own dates and hours come along."""
    if briefing.sheet.plan.instructor_aboard is not True:
        return
    teaching = {Role.instructor, Role.chief_instructor}
    at = clock.now()
    options = {
        each.person_id: each.name
        for each in jobs.people(office)
        if teaching & jobs.roles_of(office, each.person_id, at)
    }
    known = briefing.sheet.pilot.instructor_name
    key = "flight:instructor_id"
    named = next((each for each, name in options.items() if name == known), None)
    session.hold(key, briefing.start.instructor_id or named)
    st.selectbox(
        info_of("instructor_name").label,
        list(options),
        index=None,
        format_func=options.__getitem__,
        key=key,
        placeholder="Choose",
        on_change=_keep(office, briefing.draft_id, briefing.pilot_id, "instructor_id", key),
    )
