"""School: what the school knows of itself, its aircraft, sites, usual flights and people, and how it is changed."""

from collections.abc import Callable, Mapping
from html import escape
from typing import Any
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.acting import attempt, event_of, said_no
from riskboard.app.widgets.aircraft_left import left_rows
from riskboard.app.widgets.entry import zone_of
from riskboard.app.widgets.kept_sheet import KeptSheet, draw_form, shown_plain
from riskboard.app.widgets.text import draw_alert, draw_html
from riskboard.app.widgets.types_kept import draw_types
from riskboard.jobs.facts import KeptFacts, NotChangedError, add_fact, change_fact, identity_for, kept_facts
from riskboard.people.authority import may_change_fact
from riskboard.worksheet.kept import KEPT
from riskboard.worksheet.typed_times import TypedTimeError, moment_from_text

_TYPES = "aircraft_type"
_KINDS = {
    "school": "The school",
    "aircraft": "Aircraft",
    "site": "Sites",
    "route": "Usual flights",
    "person": "People",
    _TYPES: "Aircraft types",
}
_ADDED = ("aircraft", "site", "route")
_NEW = "Add a new one"
_KIND, _WHICH, _DONE = "school:kind", "school:which:", "school:done"


def main() -> None:
    """Draw the page."""
    office = session.office()
    caller = session.caller()
    zone = zone_of(None, jobs.school(office) or {})
    st.title("School")
    done = st.session_state.pop(_DONE, "")
    if done:
        draw_html(f'<p class="rb-note" role="status"><strong>{escape(done)}</strong></p>')
    kind = _choose_kind()
    if kind == _TYPES:
        draw_types(office, caller, zone)
        return
    identity = _choose_which(office, caller, kind)
    if identity == _NEW:
        _draw_new(office, caller, kind, zone)
    elif identity is not None:
        _draw_known(office, caller, kind, identity, zone)


def _choose_kind() -> str:
    named = st.query_params.get("kind", "")
    session.hold(_KIND, st.session_state.get(_KIND) or (named if named in _KINDS else "aircraft"))
    st.pills("What is it about?", list(_KINDS), format_func=_KINDS.__getitem__, key=_KIND, on_change=_note_kind)
    return str(st.session_state.get(_KIND) or "aircraft")


def _note_kind() -> None:
    st.query_params["kind"] = st.session_state.get(_KIND) or "aircraft"
    st.query_params.pop("id", None)


def _choose_which(office: jobs.Office, caller: jobs.Caller, kind: str) -> str | None:
    """The document that is looked at; None while none is chosen."""
    if kind == "school":
        return "school"
    roles = jobs.roles_of(office, caller.person_id, clock.now())
    known = _names(office, kind)
    adds = kind in _ADDED and may_change_fact(roles, kind).allowed
    options = [*known, *([_NEW] if adds else [])]
    if not options:
        st.text("There is none yet.")
        return None
    key = f"{_WHICH}{kind}"
    named = st.query_params.get("id", "")
    now = st.session_state.get(key) or (named if named in known else None)
    session.hold(key, now if now in options else None)
    st.selectbox(
        "Which one?",
        options,
        index=None,
        format_func=lambda each: known.get(each, each),
        key=key,
        placeholder=f"Choose one of {len(known)}",
        on_change=lambda: _note_id(st.session_state[key]),
    )
    chosen: str | None = st.session_state.get(key)
    return chosen


def _note_id(identity: str | None) -> None:
    if identity is None or identity == _NEW:
        st.query_params.pop("id", None)
    else:
        st.query_params["id"] = identity


def _names(office: jobs.Office, kind: str) -> dict[str, str]:
    found = {each["id"]: each for each in jobs.documents(office, kind)}
    if kind == "aircraft":
        return {name: f"{name}, {each['aircraft'].get('type_name', '')}" for name, each in found.items()}
    return {name: str(each["name"]) for name, each in found.items()}


def _draw_known(office: jobs.Office, caller: jobs.Caller, kind: str, identity: str, zone: ZoneInfo) -> None:
    try:
        seen = kept_facts(office, caller.person_id, kind, identity, at=clock.now())
    except KeyError:
        if kind != "school":
            raise
        seen = KeptFacts(kind, identity, {}, {}, 0, may_change_fact(_roles(office, caller), kind))
    except jobs.NotShownError as error:
        draw_alert(str(error))
        return
    if kind == "aircraft":
        draw_html(left_rows(office, identity, zone))
    if not seen.ruling.allowed:
        draw_html(_rows(seen, zone))
        st.text(" ".join(seen.ruling.clauses))
        return
    sheet = KeptSheet(office, kind, identity, seen.values, seen.revision, zone)
    draw_html(_rows(seen, zone))
    draw_form(sheet)
    if not sheet.changes and not st.session_state.get(f"{sheet.where}:pick"):
        return

    def act(why: str, event_id: str) -> None:
        true_at = _true_at(sheet)
        change_fact(
            office, caller, kind, identity, sheet.changes,
            why=why, event_id=event_id, revision=_started(sheet), at=clock.now(), true_at=true_at,
        )  # fmt: skip
        st.session_state[_DONE] = f"Saved: {_names(office, kind).get(identity, 'the school')}."

    _draw_save(sheet, caller, act)


def _roles(office: jobs.Office, caller: jobs.Caller) -> Any:
    return jobs.roles_of(office, caller.person_id, clock.now())


def _rows(seen: KeptFacts, zone: ZoneInfo) -> str:
    rows = []
    for name, value in seen.values.items():
        info = KEPT[seen.kind].info(name)
        unit = f" {info.unit}" if info.unit and isinstance(value, int | float) else ""
        since = shown_plain(seen.true_at.get(name, ""), zone)
        said = f"{shown_plain(value, zone)}{unit}" + (f" (known since {since})" if since else "")
        rows.append(f"<dt>{escape(info.label)}</dt><dd>{escape(said)}</dd>")
    return f'<dl class="rb-facts">{"".join(rows)}</dl>' if rows else "<p>Nothing yet.</p>"


def _draw_new(office: jobs.Office, caller: jobs.Caller, kind: str, zone: ZoneInfo) -> None:
    sheet = KeptSheet(office, kind, "", {}, 0, zone)
    st.text("What is not known yet may stay blank: blank is unknown, and no flight gets a go by it.")
    draw_form(sheet)

    def act(why: str, event_id: str) -> None:
        given = {name: value for name, value in sheet.changes.items() if value is not None}
        identity = identity_for(kind, given) or event_id[:12]
        add_fact(office, caller, kind, identity, given, why=why, event_id=event_id, at=clock.now())
        st.session_state[f"{_WHICH}{kind}"] = identity
        st.session_state[_DONE] = f"Added: {_names(office, kind)[identity]}."

    _draw_save(sheet, caller, act)


def _started(sheet: KeptSheet) -> int:
    """The save that the person saw when they began to type; drawn anew, a form still starts from there."""
    return int(st.session_state.get(f"{sheet.where}:revision", sheet.revision))


def _true_at(sheet: KeptSheet) -> Any:
    typed = str(st.session_state.get(f"{sheet.where}:since") or "").strip()
    if not typed:
        return None
    try:
        return moment_from_text(typed, at=clock.now(), zone=sheet.zone, ahead=False)
    except TypedTimeError as error:
        raise NotChangedError(f"True since: {error}") from error


def _draw_save(sheet: KeptSheet, caller: jobs.Caller, act: Callable[[str, str], None]) -> None:
    name = sheet.where
    changes: Mapping[str, Any] = sheet.changes
    if changes:
        st.session_state.setdefault(f"{name}:revision", sheet.revision)
    else:
        st.session_state.pop(f"{name}:revision", None)
    st.text_input("Why, or where the new values come from", key=f"{name}:why")
    if sheet.identity and sheet.kind != "school":
        st.text_input("True since (blank: now)", key=f"{name}:since", placeholder="14:30")
    no = said_no(name)
    if no and not sheet.problems:
        draw_alert(no)
    if sheet.problems:
        draw_alert("Nothing was saved: mend what is named above. What you typed is kept.")
    event_id = event_of(name)
    count = f"{len(changes)} not saved yet" if changes else "nothing typed yet"

    def save() -> None:
        why = str(st.session_state.get(f"{name}:why") or "")
        if attempt(name, caller.person_id, lambda: _act(sheet, act, why, event_id)):
            sheet.drop()
            for each in ("revision", "why", "since"):
                st.session_state.pop(f"{name}:{each}", None)

    with st.container(horizontal=True):
        st.button(f"Save ({count})", key=f"{name}:save", type="primary", on_click=save)
        if changes:
            st.button("Drop the changes", key=f"{name}:drop", on_click=lambda: _drop(sheet))


def _act(sheet: KeptSheet, act: Callable[[str, str], None], why: str, event_id: str) -> None:
    sheet.mend(())
    try:
        act(why, event_id)
    except NotChangedError as error:
        sheet.mend(error.problems)
        raise


def _drop(sheet: KeptSheet) -> None:
    sheet.drop()
    st.session_state.pop(f"{sheet.where}:revision", None)


main()
