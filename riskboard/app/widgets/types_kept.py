"""Aircraft types on the school page: what is in force, and publishing a text; each error in it stands in its place."""

from collections.abc import Sequence
from datetime import datetime
from html import escape
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.aircraft_types import AircraftType
from riskboard.app import clock
from riskboard.app.acting import attempt, event_of, said_no
from riskboard.app.widgets.text import draw_alert, draw_html, plain_label, plain_rows, shown_value
from riskboard.jobs.types import example_type_text, read_type_text
from riskboard.people.authority import may_change_fact
from riskboard.yaml_source import MAX_BYTES, Problem

__all__ = ["draw_types"]

_NAME = "types"
_TEXT, _WHY, _DONE, _UNREAD = "types:text", "types:why", "types:done", "types:unread"
_FILE, _FILES = "types:file", "types:files"
_LONGEST = 80
_MOST_SHOWN = 30


def draw_types(office: jobs.Office, caller: jobs.Caller, zone: ZoneInfo) -> None:
    """Draw the types in force, and for whoever may, the form to publish a text."""
    published = jobs.published_types(office)
    if not published:
        draw_html(
            '<p class="rb-note">No aircraft type is on file: nothing is known of weights, balance, hover or run-up of '
            "any aircraft, and no flight gets a go by that. Fill one in from the flight manual.</p>"
        )
    types = jobs.types_in_force(office)
    for each in published:
        if each.in_force:
            _draw_published(each, types.get(each.kept.title), published, zone)
    ruling = may_change_fact(jobs.roles_of(office, caller.person_id, clock.now()), "aircraft_type")
    if ruling.allowed:
        _draw_publish(office, caller, published)
    else:
        st.text(" ".join(ruling.clauses))


def _draw_published(
    each: jobs.PublishedType,
    found: AircraftType | None,
    published: Sequence[jobs.PublishedType],
    zone: ZoneInfo,
) -> None:
    kept = each.kept
    draw_html(f'<div class="rb-section"><h2>{escape(kept.title)}</h2><span class="rb-state">in force</span></div>')
    if each.unreadable:
        draw_alert(f"{each.unreadable} Nothing is known of these aircraft until a text that can be read is published.")
    rows = {
        "Version": f"{kept.version}, published {_day(kept.published_at, zone)}",
        "Aircraft of it": ", ".join(each.aircraft) or "none: no aircraft's type is written like this title",
    }
    if found is not None:
        rows |= _facts(found)
    earlier = [
        f"{other.kept.version} ({_day(other.kept.published_at, zone)})"
        for other in published
        if other.kept.type_id == kept.type_id and not other.in_force
    ]
    if earlier:
        rows["Earlier versions, kept"] = ", ".join(earlier)
    draw_html(plain_rows(rows))
    st.download_button(
        plain_label(f"Text of version {kept.version}"),
        kept.text,
        file_name=f"{kept.type_id}.yaml",
        mime="application/yaml",
        on_click="ignore",
        key=f"types:get:{kept.type_id}",
    )


def _day(moment: datetime, zone: ZoneInfo) -> str:
    return shown_value(moment.astimezone(zone).date(), zone)


def _facts(found: AircraftType) -> dict[str, str]:
    limits, fuel = found.limits, found.fuel
    seats = ", ".join(
        f"{station.label.lower()} up to {station.max_lb:g} lb"
        + (" (pilot)" if station.name == found.pilot_station else "")
        for station in found.stations
    )
    return {
        "Figures": "invented, from no flight manual" if found.invented else found.source.text,
        "Gross weight": f"{limits.gross_min_lb:g} to {limits.gross_max_lb:g} lb",
        "Places": seats,
        "Fuel": f"{fuel.usable_gal:g} US gal usable; start and run-up take {fuel.start_and_taxi_gal:g} US gal",
        "Optional equipment": ", ".join(piece.label.lower() for piece in found.equipment) or "none",
        "Inspections": ", ".join(upkeep.name for upkeep in found.inspections),
    }


def _draw_publish(office: jobs.Office, caller: jobs.Caller, published: Sequence[jobs.PublishedType]) -> None:
    draw_html('<div class="rb-section"><h2>Publish a type, or a newer text of one</h2></div>')
    done = st.session_state.pop(_DONE, "")
    if done:  # here, where the press was
        draw_html(f'<p class="rb-note" role="status"><strong>{escape(done)}</strong></p>')
    name, example = example_type_text()
    draw_html(
        '<p class="rb-note">One YAML text, filled in from the flight manual. Aircraft are of the type whose '
        "<code>title</code> is written like their type. A newer text ends every yes to a flight of that type that has "
        "not left: it has to be briefed again.</p>"
    )
    if not published:
        st.download_button(
            "An invented one to begin from", example, file_name=name, mime="application/yaml", on_click="ignore"
        )
    key = f"{_FILE}:{st.session_state.get(_FILES, 0)}"  # another key after each publication: an empty place again
    st.file_uploader(
        "Upload a text", type=["yaml", "yml"], key=key, max_upload_size=1, on_change=lambda: _take_file(key)
    )
    if unread := st.session_state.get(_UNREAD):
        draw_alert(unread)
    st.text_area("or paste it", key=_TEXT, height=320)
    text = str(st.session_state.get(_TEXT) or "")
    if not text.strip():
        return
    found = _draw_checked(text)
    if found is None:
        return
    st.text_input("Why, or where the figures come from", key=_WHY)
    no = said_no(_NAME)
    if no:
        draw_alert(no)
    event_id = event_of(_NAME)

    def publish() -> None:
        why = str(st.session_state.get(_WHY) or "")

        def act() -> None:
            jobs.publish_type(office, caller, text, why=why, event_id=event_id, at=clock.now())

        if attempt(_NAME, caller.person_id, act):
            st.session_state[_DONE] = f"Published: {found.title}, version {found.version}. It is in force now."
            st.session_state[_TEXT] = st.session_state[_WHY] = ""
            st.session_state[_FILES] = st.session_state.get(_FILES, 0) + 1

    label = plain_label(f"Publish {found.title}, version {found.version}")
    st.button(label, key="types:publish", type="primary", on_click=publish)


def _take_file(key: str) -> None:
    """Put an uploaded text where a pasted one stands, so that it can be mended there."""
    given = st.session_state.get(key)
    st.session_state.pop(_UNREAD, None)
    if given is None:
        return
    data = given.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        st.session_state[_UNREAD] = f"That file is larger than {MAX_BYTES // 1024} KiB; it is no aircraft type."
        return
    try:
        # As it is written: a text is kept with its own line ends.
        st.session_state[_TEXT] = data.decode("utf-8")
    except UnicodeDecodeError as error:
        st.session_state[_UNREAD] = f"That file is no UTF-8 text (byte {error.start}); save it as UTF-8."


def _draw_checked(text: str) -> AircraftType | None:
    """What the text says, or everything that is to be mended in it; None while there is any."""
    try:
        found = read_type_text(text)
    except jobs.NotPublishedError as error:
        draw_alert(str(error))
        draw_html(_problems(text, error.problems))
        return None
    draw_html('<p class="rb-note" role="status">The text can be published. It says:</p>')
    draw_html(plain_rows({"Title": found.title, "Version": str(found.version), **_facts(found)}))
    return found


def _problems(text: str, problems: Sequence[Problem]) -> str:
    """Each problem with its line and column, and the line as it stands there."""
    lines = text.split("\n")
    said = []
    for problem in problems[:_MOST_SHOWN]:
        there = lines[problem.line - 1] if 0 < problem.line <= len(lines) else ""
        quoted = f"<code>{escape(there.strip()[:_LONGEST])}</code>" if there.strip() else ""
        more_said = problem.allowed and problem.allowed.strip(" ,") not in problem.message
        allowed = f"<br>Allowed: {escape(problem.allowed)}" if more_said else ""
        where = f"Line {problem.line}, column {problem.column}"
        said.append(f"<li><strong>{where}</strong> {quoted}<br>{escape(problem.message)}{allowed}</li>")
    more = len(problems) - _MOST_SHOWN
    if more > 0:
        said.append(f"<li>and {more} more</li>")
    return f'<ol class="rb-log">{"".join(said)}</ol>'
