"""The second person's yes, question or no, and waivers: each with its own words, its own PIN and the same weight."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from functools import partial
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import clock
from riskboard.app.acting import attempt, event_of, said_no
from riskboard.app.widgets.section import draw_title
from riskboard.app.widgets.setup import draw_demo_pin
from riskboard.app.widgets.text import draw_alert, words
from riskboard.jobs import Review, Waivable
from riskboard.jobs.desk import WORDS
from riskboard.words import RefusedFor
from riskboard.worksheet.typed_times import TypedTimeError, moment_from_text

__all__ = ["draw_answers"]

_ABOUT = {
    RefusedFor.pilot: "The pilot",
    RefusedFor.aircraft: "The aircraft",
    RefusedFor.route: "The usual flight, its weather or light",
}


def draw_answers(office: jobs.Office, person_id: str, review: Review, zone: ZoneInfo) -> None:
    """Draw what this person may answer."""
    draw_title("Your answer", "answer")
    if review.may_sign.allowed or review.may_refuse.allowed:
        st.text(f"Signs: {jobs.person(office, person_id).name}")
        draw_demo_pin(jobs.school(office) or {})
    answer = _Answer(office, person_id, review, zone)
    for waivable in review.waivable:
        answer.draw_waiver(waivable)
    answer.draw_yes()
    answer.draw_question()
    answer.draw_no()


class _Answer:
    """The forms of one request, for one person; what was typed stays until it is on record."""

    def __init__(self, office: jobs.Office, person_id: str, review: Review, zone: ZoneInfo) -> None:
        self.office, self.person_id, self.review, self.zone = office, person_id, review, zone
        self.flight_id = review.card.flight_id

    def _key(self, kind: str, what: str) -> str:
        return f"desk:{self.flight_id}:{kind}:{what}"

    def _typed(self, kind: str, what: str) -> str:
        return str(st.session_state.get(self._key(kind, what)) or "")

    def draw_yes(self) -> None:
        """The signature, where this person may give it; else why not."""
        ruling = self.review.may_sign
        if any(not each.waived for each in self.review.waivable):
            st.text("Sign: not before what stops this flight is waived.")
            return
        if not ruling.allowed:
            st.text(f"Sign: {' '.join(ruling.clauses)}")
            return
        with self._form("signed", "Sign", self._sign):
            st.checkbox(WORDS["entries_accurate"], key=self._key("signed", "accurate"))
            st.checkbox(WORDS["can_be_made_safely"], key=self._key("signed", "safely"))
            times = "Local time, today or yesterday: 06:30. A time of day that is still to come counts as yesterday's."
            st.text_input("You: awake since", key=self._key("signed", "awake"), placeholder="06:30", help=times)
            st.text_input("You: on duty since", key=self._key("signed", "duty"), placeholder="08:00", help=times)
            st.text_area("Conditions, one a line (may stay empty)", key=self._key("signed", "conditions"), height=90)

    def draw_question(self) -> None:
        """Back to the pilot: neither a yes nor a no."""
        if self._may_answer("Send back with a question"):
            with self._form("sent_back", "Send back with a question", self._send_back):
                st.text(WORDS["sent_back"])
                st.text_input("Your question", key=self._key("sent_back", "text"))

    def draw_no(self) -> None:
        """The second person's no."""
        if self._may_answer("Refuse"):
            with self._form("refused", "Refuse", self._refuse):
                st.text(WORDS["refused"])
                st.text_input("Your reason", key=self._key("refused", "text"))
                st.pills(
                    "What it is about (all of them where none is chosen)",
                    [*_ABOUT],
                    format_func=_ABOUT.__getitem__,
                    selection_mode="multi",
                    key=self._key("refused", "about"),
                    help="For the rest of the day it counts at briefings of what it is about, and of nothing else.",
                )

    def _may_answer(self, what: str) -> bool:
        ruling = self.review.may_refuse
        if not ruling.allowed:
            st.text(f"{what}: {' '.join(ruling.clauses)}")
        return ruling.allowed

    def draw_waiver(self, waivable: Waivable) -> None:
        """One limit that stops this flight and that the policy lets somebody waive."""
        name = words(waivable.clause)
        if waivable.waived:
            st.text(f"Waived for this flight: {name}. {waivable.sentence}")
            return
        if not waivable.ruling.allowed:
            st.text(f"Stops this flight: {waivable.sentence} {' '.join(waivable.ruling.clauses)}")
            return
        kind = f"waived:{waivable.clause}"
        with self._form(kind, "Waive this limit", partial(self._waive, waivable)):
            st.text(f"Limit: {name}. {waivable.sentence}")
            st.text(WORDS["waived"])
            st.text_input("Reason", key=self._key(kind, "text"))

    @contextmanager
    def _form(self, kind: str, label: str, act: Callable[[str, str], object]) -> Iterator[None]:
        """A form that ends with a PIN and one button; why the last press came to nothing stands in it."""
        name = f"desk:{self.flight_id}:{kind}"
        with st.form(f"{name}:form"):
            refused = said_no(name)
            if refused:
                draw_alert(refused)
            yield
            st.text_input("PIN", key=f"{name}:pin", type="password", autocomplete="off")
            st.form_submit_button(
                label, type="primary", width="stretch", on_click=_press(name, self.person_id, act), key=f"{name}:do"
            )

    def _moment(self, what: str, label: str) -> datetime | None:
        typed = self._typed("signed", what).strip()
        if not typed:
            return None
        try:
            return moment_from_text(typed, at=clock.now(), zone=self.zone, ahead=False)
        except TypedTimeError as error:
            raise jobs.NotSignedError(f"{label}: {error}. Nothing was signed.") from error

    def _sign(self, pin: str, event_id: str) -> object:
        signature = jobs.DeskSignature(
            pin=pin,
            event_id=event_id,
            shown_at=self.review.shown_at,
            shown_digest=self.review.shown_digest,
            entries_accurate=bool(st.session_state.get(self._key("signed", "accurate"))),
            can_be_made_safely=bool(st.session_state.get(self._key("signed", "safely"))),
            awake_since=self._moment("awake", "Awake since"),
            on_duty_since=self._moment("duty", "On duty since"),
        )
        lines = self._typed("signed", "conditions").splitlines()
        conditions = tuple(line for line in lines if line.strip())
        return jobs.sign_off(
            self.office, self.person_id, self.flight_id, signature, conditions=conditions, at=clock.now()
        )

    def _send_back(self, pin: str, event_id: str) -> object:
        return jobs.send_back(
            self.office,
            self.person_id,
            self.flight_id,
            pin=pin,
            event_id=event_id,
            question=self._typed("sent_back", "text"),
            at=clock.now(),
        )

    def _refuse(self, pin: str, event_id: str) -> object:
        return jobs.refuse(
            self.office,
            self.person_id,
            self.flight_id,
            pin=pin,
            event_id=event_id,
            reason=self._typed("refused", "text"),
            about=self._about(),
            at=clock.now(),
        )

    def _about(self) -> frozenset[RefusedFor]:
        chosen = st.session_state.get(self._key("refused", "about")) or list(RefusedFor)
        return frozenset(chosen)

    def _waive(self, waivable: Waivable, pin: str, event_id: str) -> object:
        return jobs.waive(
            self.office,
            self.person_id,
            self.flight_id,
            waivable.clause,
            reason=self._typed(f"waived:{waivable.clause}", "text"),
            pin=pin,
            event_id=event_id,
            shown_at=self.review.shown_at,
            shown_digest=self.review.shown_digest,
            at=clock.now(),
        )


def _press(name: str, person_id: str, act: Callable[[str, str], object]) -> Callable[[], None]:
    event_id = event_of(name)

    def press() -> None:
        pin = str(st.session_state[f"{name}:pin"] or "")
        st.session_state[f"{name}:pin"] = ""
        attempt(name, person_id, lambda: act(pin, event_id))

    return press
