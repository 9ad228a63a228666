"""What a paper worksheet says besides its entries: whose flight, when it was filled in, who signed it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.aircraft_types import AircraftType
from riskboard.app import clock, session
from riskboard.app.widgets.section import draw_title
from riskboard.app.widgets.text import draw_html
from riskboard.jobs import Briefing, Paper, PaperSignature
from riskboard.worksheet.checks import WorksheetProblem
from riskboard.worksheet.model import FIELD_PART
from riskboard.worksheet.typed_times import TypedTimeError, local_text, moment_from_text

__all__ = ["PaperSheet", "draw_paper", "draw_paper_signatures"]

_TROUBLE = "paper:trouble"


@dataclass(frozen=True)
class PaperSheet:
    """A paper worksheet that somebody types in.

    Attributes:
        office: The school.
        person_id: Who types.
        briefing: What was typed so far, assessed as of the paper's moment.
        paper: What is known of the paper besides its entries.
        zone: Of the place.
    """

    office: jobs.Office
    person_id: str
    briefing: Briefing
    paper: Paper
    zone: ZoneInfo

    @property
    def types(self) -> Mapping[str, AircraftType]:
        """The aircraft types in force, by title."""
        return jobs.types_in_force(self.office)

    @property
    def problems(self) -> tuple[WorksheetProblem, ...]:
        """What has to be mended before anything is decided."""
        return self.briefing.problems

    def typed(self, field: str) -> Any:
        """An entry as typed, also an unsound one."""
        return self.briefing.data.get(FIELD_PART[field], {}).get(field)

    def save(self, part: str, entries: Mapping[str, Any]) -> None:
        """Keep entries, as typed."""
        draft_id = self.briefing.draft_id
        session.attempt(
            lambda: jobs.change_entries(self.office, self.person_id, draft_id, part, entries, at=clock.now())
        )

    def keep(self, **changes: Any) -> None:
        """Keep what else is known of the paper."""
        paper = replace(self.paper, **changes)
        session.attempt(
            lambda: jobs.change_paper(self.office, self.person_id, self.briefing.draft_id, paper, at=clock.now())
        )


def draw_paper(sheet: PaperSheet) -> None:
    """Whose flight it is and when the paper was filled in."""
    draw_title("The paper", "paper")
    names = {person.person_id: person.name for person in jobs.people(sheet.office)}
    others = [person_id for person_id in names if person_id != sheet.person_id]
    session.hold("paper:pilot", sheet.paper.pilot_id or None)
    st.selectbox(
        "Pilot in command, as the paper names them",
        others,
        index=None,
        format_func=names.__getitem__,
        key="paper:pilot",
        help="Nobody types in their own paper.",
        on_change=lambda: sheet.keep(pilot_id=st.session_state["paper:pilot"] or ""),
    )
    _time(
        sheet,
        "paper:filled_at",
        "Filled in at",
        sheet.paper.filled_at,
        lambda moment: sheet.keep(filled_at=moment),
        "The flight is assessed as of this moment, under the policy in force then.",
    )
    session.hold("paper:note", sheet.paper.note)
    st.text_area(
        "Anything else that stands on it",
        key="paper:note",
        on_change=lambda: sheet.keep(note=st.session_state["paper:note"]),
    )


def draw_paper_signatures(sheet: PaperSheet) -> None:
    """Who signed on the paper, one block each."""
    draw_title("Signed on the paper", "paper-signatures")
    draw_html('<p class="rb-note">As it stands there. None of it becomes a signature here.</p>')
    signatures = list(sheet.paper.signatures)
    for place, signature in enumerate(signatures):
        _draw_signature(sheet, signatures, place, signature)
    empty = PaperSignature("", "", jobs.SAID_ON_PAPER[0])
    st.button("Add a signature", key="paper:add", on_click=lambda: sheet.keep(signatures=(*signatures, empty)))


def _draw_signature(sheet: PaperSheet, signatures: list[PaperSignature], place: int, signature: PaperSignature) -> None:
    def keep(**changes: Any) -> None:
        changed = replace(signature, **changes)
        sheet.keep(signatures=(*signatures[:place], changed, *signatures[place + 1 :]))

    def remove() -> None:
        for key in [key for key in st.session_state if str(key).startswith("paper:s:")]:
            del st.session_state[key]  # the blocks behind it move up
        sheet.keep(signatures=(*signatures[:place], *signatures[place + 1 :]))

    key = f"paper:s:{place}"
    with st.container(border=True):
        for name, label in (("name", "Name"), ("role", "Role, as written")):
            session.hold(f"{key}:{name}", getattr(signature, name))

            def typed(name: str = name) -> None:
                keep(**{name: st.session_state[f"{key}:{name}"]})

            st.text_input(label, key=f"{key}:{name}", on_change=typed)
        session.hold(f"{key}:said", signature.said)
        st.pills("It says", jobs.SAID_ON_PAPER, key=f"{key}:said", on_change=lambda: _keep_said(keep, f"{key}:said"))
        _time(
            sheet, f"{key}:at", "Signed at", signature.at, lambda moment: keep(at=moment), "Empty if none is written."
        )
        st.button("Remove", key=f"{key}:remove", on_click=remove)


def _keep_said(keep: Callable[..., None], key: str) -> None:
    keep(said=st.session_state[key] or jobs.SAID_ON_PAPER[0])


def _time(
    sheet: PaperSheet,
    key: str,
    label: str,
    value: datetime | None,
    save: Callable[[datetime | None], None],
    why: str,
) -> None:
    """A local time; what cannot be read stays in the field, with what would be right under it."""
    if f"{key}:wrong" not in st.session_state:
        session.hold(key, "" if value is None else local_text(value, sheet.zone))

    def keep() -> None:
        typed = st.session_state[key].strip()
        try:
            moment = moment_from_text(typed, at=clock.now(), zone=sheet.zone, ahead=False) if typed else None
        except TypedTimeError as error:
            st.session_state[f"{key}:wrong"] = str(error)
            return
        st.session_state.pop(f"{key}:wrong", None)
        save(moment)

    st.text_input(f"{label} ({sheet.zone.key})", key=key, help=why, placeholder="2026-05-04 08:30", on_change=keep)
    wrong = st.session_state.get(f"{key}:wrong")
    if wrong:
        st.text(wrong)
