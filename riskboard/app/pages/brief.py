"""Brief a flight: entries above, the verdict always in view, reasons below, signatures last."""

from datetime import datetime
from typing import Any

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.looking import look_again
from riskboard.app.navigation import PLACES, file_of
from riskboard.app.widgets.aircraft_left import left_rows
from riskboard.app.widgets.band import draw_band, draw_hidden_band, draw_open_band
from riskboard.app.widgets.entry import Desk, zone_of
from riskboard.app.widgets.flight_controls import draw_flight, draw_sleep, flight_own
from riskboard.app.widgets.loading import draw_loading, loading_of
from riskboard.app.widgets.mitigations import draw_mitigations
from riskboard.app.widgets.quick_control import draw_quick
from riskboard.app.widgets.reasons import draw_reasons
from riskboard.app.widgets.section import LOADING, draw_section, draw_title
from riskboard.app.widgets.signed import draw_signed
from riskboard.app.widgets.signed_again import draw_question, draw_refused_today, draw_since
from riskboard.app.widgets.signing import CHANGING, draw_signing
from riskboard.app.widgets.start import draw_start
from riskboard.app.widgets.text import draw_alert, fact_rows
from riskboard.app.widgets.weather_paste import draw_weather_quick
from riskboard.app.widgets.what_if import draw_what_if
from riskboard.jobs import Briefing
from riskboard.jobs.watching import may_open
from riskboard.policy.book import NoPolicyError

_AIRCRAFT_FACTS = ("type_name", "meter_h", "hundred_hour_due_at_h", "annual_on", "open_defects", "fuel_burn_gal_h")
_LOOK_AGAIN_S = 60


def main() -> None:
    """Draw the page."""
    caller, at = session.caller(), clock.now()
    office = jobs.acting_for(session.office(), caller.person_id)
    school = jobs.school(office)
    if school is None:
        return
    if not st.query_params.get("flight") and not _flies(office, caller.person_id):
        st.switch_page(file_of(_first_page(office, caller.person_id, at)))
    draft_id = session.flight_id()
    trouble = session.take_trouble()
    state = jobs.flight_state(office, draft_id)
    try:
        briefing, own, no = _briefing(office, draft_id, at), True, ""
    except jobs.NotShownError as error:
        briefing, own, no = None, False, str(error)
    zone = zone_of(briefing, school)
    if state is not None and not (own and st.session_state.get(CHANGING)):
        if trouble:
            draw_alert(trouble)
        if _may_open(office, draft_id, caller.person_id, at):
            draw_signed(office, caller.person_id, draft_id, at, zone)
        return
    if not own:
        draw_alert(no)
        st.button("Start a flight of your own", type="primary", on_click=session.start_next_flight)
        return
    _draw_draft(office, school, briefing, draft_id, caller.person_id, trouble)


def _flies(office: jobs.Office, person_id: str) -> bool:
    """Whether the school has papers of this person on file: without them there is nothing to brief here."""
    return any(each.person_id == person_id and each.facts for each in jobs.people(office))


def _first_page(office: jobs.Office, person_id: str, at: datetime) -> str:
    """Where somebody who does not fly begins."""
    used = [place.name for place in PLACES if place.used_by(jobs.roles_of(office, person_id, at))]
    return next((name for name in ("desk", "board") if name in used), "people")


def _draw_draft(
    office: jobs.Office,
    school: dict[str, Any],
    briefing: Briefing | None,
    draft_id: str,
    person_id: str,
    trouble: str,
) -> None:
    at, zone = clock.now(), zone_of(briefing, school)
    _draw_verdict(office, briefing, at)
    if trouble:
        draw_alert(trouble)
    if briefing is not None and briefing.refused_at is not None:
        draw_refused_today(briefing.refused_at, zone)
    if briefing is not None and st.session_state.get(CHANGING):
        draw_question(jobs.flight_card(office, draft_id, at=at))
        draw_since(office, briefing, zone)
    if not draw_start(office, draft_id, briefing, person_id) or briefing is None:
        return
    desk = Desk(office, briefing, at, zone)
    _draw_sections(desk)
    if briefing.assessment is None or briefing.pressures_told:
        draw_what_if(desk)
        _draw_why(desk)
    draw_signing(desk, school, jobs.person(office, briefing.pilot_id).name)
    _watch(desk)


def _may_open(office: jobs.Office, flight_id: str, person_id: str, at: datetime) -> bool:
    """Whether this person may see where this flight stands; else a sentence says who may."""
    ruling = may_open(office, person_id, flight_id, at=at)
    if not ruling.allowed:
        draw_alert(" ".join(ruling.clauses))
        st.button("Start a flight of your own", type="primary", on_click=session.start_next_flight)
    return ruling.allowed


def _briefing(office: jobs.Office, draft_id: str, at: datetime) -> Briefing | None:
    try:
        return jobs.brief(office, draft_id, at=at)
    except NoPolicyError as error:
        draw_alert(str(error))
    except KeyError:
        pass  # nothing chosen yet: the draft begins with the first choice
    return None


def _draw_verdict(office: jobs.Office, briefing: Briefing | None, at: datetime) -> None:
    with st.container(key="band"):
        if briefing is None or not _begun(briefing):
            draw_open_band("No decision yet", "Choose aircraft and flight.", "Nothing is assumed.", links=False)
        elif briefing.assessment is not None and not briefing.pressures_told:
            draw_hidden_band(briefing)
        else:
            loaded = loading_of(office, briefing, at)
            found = jobs.what_if(office, briefing.pilot_id, briefing, at=at)
            draw_band(briefing, "" if loaded is None else loaded.mend, "" if found is None else found.better)


def _begun(briefing: Briefing) -> bool:
    start = briefing.start
    return bool(start.pilot_id and start.aircraft_id and (start.route_id or start.site_id))


def _draw_sections(desk: Desk) -> None:
    facts = fact_rows(desk.briefing.sheet, _AIRCRAFT_FACTS, desk.zone)
    left = left_rows(desk.office, desk.briefing.start.aircraft_id, desk.zone)
    draw_section(desk, "plan", "Flight", quick=lambda: draw_flight(desk), own=flight_own(desk))
    known = f'<details class="rb-more"><summary>What the school knows</summary>{facts}</details>{left}'
    draw_section(desk, "aircraft", "Aircraft", quick=lambda: None, shown=("fuel_usable_gal",), note=known)
    draw_section(desk, "weather", "Weather", quick=lambda: draw_weather_quick(desk))
    draw_section(desk, "loading", "Loading and hover", quick=lambda: draw_loading(desk), own=LOADING)
    draw_section(desk, "pilot", "You", quick=lambda: _draw_you(desk), shown=("sleepiness_rating",), own=("sleeps",))
    draw_section(desk, "pressures", "Pressures", quick=lambda: draw_quick(desk, "pressures"))
    draw_section(desk, "prepared", "Preparation", quick=lambda: draw_quick(desk, "prepared"))
    draw_mitigations(desk)


def _draw_you(desk: Desk) -> None:
    draw_sleep(desk)
    draw_quick(desk, "fitness")


def _draw_why(desk: Desk) -> None:
    draw_title("Why", "why")
    briefing = desk.briefing
    if briefing.assessment is None:
        for problem in briefing.problems:
            draw_alert(problem.message)
    else:
        draw_reasons(briefing.assessment)
    pictures = st.expander("Pictures: points, carburettor ice, alertness, daylight", key="s:charts", on_change="rerun")
    if pictures.open:
        from riskboard.app.widgets.charts import draw_charts  # noqa: PLC0415  - charts load only when somebody looks

        with pictures:
            draw_charts(briefing, desk.at)


@st.fragment(run_every=_LOOK_AGAIN_S)
def _watch(desk: Desk) -> None:
    """Time passes while a page stands open: when the decision would be another one now, draw the page again."""
    at = clock.now()
    if at == desk.at:
        return
    again = _briefing(desk.office, desk.briefing.draft_id, at)
    before = desk.briefing.assessment
    now = None if again is None else again.assessment
    if (now is None) != (before is None) or (
        now is not None and before is not None and (now.level, now.total) != (before.level, before.total)
    ):
        look_again()


main()
