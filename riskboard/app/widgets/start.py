"""Whose flight this is: pilot, aircraft and usual flight, each with what the school already knows about it."""

from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.widgets.text import info_of
from riskboard.jobs import Briefing, Start
from riskboard.words import Role

__all__ = ["draw_instructor", "draw_start"]


def draw_start(office: jobs.Office, draft_id: str, briefing: Briefing | None) -> bool:
    """Draw the choices; each begins or changes the draft.

    Returns:
        Whether enough is chosen for the rest of the page.
    """
    start = briefing.start if briefing is not None else Start()
    pilots = {person.person_id: person.name for person in jobs.people(office) if person.facts}
    fleet = {
        each["id"]: f"{each['id']}, {each['aircraft']['type_name']}" for each in jobs.documents(office, "aircraft")
    }
    routes = {each["id"]: each["name"] for each in jobs.documents(office, "route")}
    _choice(office, draft_id, "pilot_id", info_of("pilot_name").label, pilots, start)
    _choice(office, draft_id, "aircraft_id", info_of("registration").label, fleet, start)
    _choice(office, draft_id, "route_id", "Usual flight", routes, start)
    if start.pilot_id and start.aircraft_id and not start.route_id:
        sites = {each["id"]: each["name"] for each in jobs.documents(office, "site")}
        label = f"{info_of('departure_name').label} of a flight that is not a usual one"
        _choice(office, draft_id, "site_id", label, sites, start)
    return bool(start.pilot_id and start.aircraft_id and (start.route_id or start.site_id))


def _choice(
    office: jobs.Office, draft_id: str, name: str, label: str, options: Mapping[str, str], start: Start
) -> None:
    key = f"flight:{name}"
    now = getattr(start, name)
    if name == "pilot_id" and now is not None:
        # A field of its own: a list that is locked while the browser still opens or closes it may come up empty.
        pilot = options.get(now, now)
        st.text_input(label, pilot, key=f"{key}:{now}", disabled=True, help="Another pilot starts a new flight.")
        return
    session.hold(key, now if now in options else None)
    st.selectbox(
        label,
        list(options),
        index=None,
        format_func=options.__getitem__,
        key=key,
        placeholder="Choose",
        on_change=_keep(office, draft_id, name, key),
    )


def _keep(office: jobs.Office, draft_id: str, name: str, key: str) -> Callable[[], None]:
    def keep() -> None:
        chosen: dict[str, Any] = {name: st.session_state[key]}
        if chosen[name] is not None:
            session.attempt(lambda: jobs.choose(office, draft_id, Start(**chosen), at=clock.now()))

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
        on_change=_keep(office, briefing.draft_id, "instructor_id", key),
    )
