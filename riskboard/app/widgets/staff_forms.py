"""What whoever runs the school may do about its people: one small form for each, signed with a reason and the PIN."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from html import escape
from typing import Any
from zoneinfo import ZoneInfo

import streamlit as st

from riskboard import jobs
from riskboard.app import clock
from riskboard.app.acting import attempt, event_of, said_no
from riskboard.app.widgets.spells import spell_said
from riskboard.app.widgets.text import draw_alert, draw_html, words
from riskboard.jobs.staff_view import PersonRow
from riskboard.people.accounts import suggested_login_name
from riskboard.people.roles import RoleSpell
from riskboard.words import Role

__all__ = ["StaffForms", "draw_code"]

_CODE, _DONE = "people:code", "people:done"
_GIVEN = tuple(role for role in Role if role is not Role.pilot)


def draw_code() -> None:
    """What came of the last press; a one-time code stays until it was passed on, and is shown nowhere else."""
    done = st.session_state.pop(_DONE, "")
    if done:
        draw_html(f'<p class="rb-note" role="status"><strong>{escape(done)}</strong></p>')
    shown = st.session_state.get(_CODE)
    if shown:
        name, code = shown
        draw_html(
            f'<div role="status"><p class="rb-note">One-time code for {escape(name)}, good for three days. Hand it '
            f'over in person; they type it under "I have a one-time code". It is shown only here and now.</p>'
            f'<p class="rb-receipt">{escape(code)}</p></div>'
        )
        st.button("I have passed it on", key="people:code:gone", on_click=lambda: st.session_state.pop(_CODE, None))


@dataclass(frozen=True)
class StaffForms:
    """The forms of one caller.

    Attributes:
        office: The school.
        caller: Who runs the school.
        zone: In which dates are typed.
    """

    office: jobs.Office
    caller: jobs.Caller
    zone: ZoneInfo

    def draw_add(self) -> None:
        """Add somebody."""
        key = "people:add"

        def fields() -> None:
            st.text_input("Name", key=f"{key}:name", autocomplete="off")
            st.text_input("Login name; without one, the first name is taken", key=f"{key}:login", autocomplete="off")

        def act(signature: jobs.StaffSignature) -> jobs.NewWayIn:
            name = st.session_state[f"{key}:name"]
            login = st.session_state[f"{key}:login"] or suggested_login_name(name)
            return jobs.add_person(self.office, self.caller, name, login, signature, at=clock.now())

        self._form(key, "Add this person", act, fields, who=lambda: st.session_state[f"{key}:name"])

    def draw_person(self, row: PersonRow) -> None:
        """What may be done about one person."""
        if row.closed:
            with st.expander("Open the account again"):
                self._simple(row, "reopen", "Open it and make a one-time code", jobs.reopen_account)
            return
        with st.expander("Give a role"):
            self._give(row)
        running = [each for each in row.spells if each.until is None or each.until > clock.now()]
        if running:
            with st.expander("End a role"):
                self._end(row, running)
        if row.person_id == self.caller.person_id:
            st.text("Your passphrase and PIN stand under Yours. Nobody gives themselves a role.")
            return
        with st.expander("One-time code: passphrase forgotten, or never set"):
            self._simple(row, "code", "Make a one-time code", jobs.reset_passphrase)
        with st.expander("PIN forgotten"):
            self._simple(row, "pin", "Take the PIN away", jobs.reset_pin)
        with st.expander("Outside identity"):
            self._link(row)
        with st.expander("Close the account"):
            self._simple(row, "close", "Close the account", jobs.close_account)

    def _give(self, row: PersonRow) -> None:
        key = f"people:give:{row.person_id}"

        def fields() -> None:
            st.selectbox("Role", _GIVEN, index=None, format_func=_role_said, key=f"{key}:role", placeholder="Choose")
            st.date_input("From (blank: from now on)", value=None, key=f"{key}:from", format="YYYY-MM-DD")
            st.date_input("Until the end of (blank: no end)", value=None, key=f"{key}:until", format="YYYY-MM-DD")

        def act(signature: jobs.StaffSignature) -> object:
            role = st.session_state[f"{key}:role"]
            if role is None:
                raise jobs.NotDoneError("Choose a role.")
            starts, until = st.session_state[f"{key}:from"], st.session_state[f"{key}:until"]
            return jobs.give_role(
                self.office,
                self.caller,
                row.person_id,
                role,
                signature,
                starts=self._begins(starts),
                until=self._ends(until),
                at=clock.now(),
            )

        self._form(key, "Give the role", act, fields, said=f"{row.name} has the role.")

    def _end(self, row: PersonRow, running: list[RoleSpell]) -> None:
        key = f"people:end:{row.person_id}"
        at = clock.now()

        def fields() -> None:
            st.selectbox(
                "Which role",
                range(len(running)),
                index=None,
                format_func=lambda place: spell_said(running[place], at, self.zone),
                key=f"{key}:which",
                placeholder="Choose",
            )
            st.date_input("After the end of (blank: now)", value=None, key=f"{key}:ended", format="YYYY-MM-DD")

        def act(signature: jobs.StaffSignature) -> object:
            place = st.session_state[f"{key}:which"]
            if place is None:
                raise jobs.NotDoneError("Choose which role ends.")
            spell = running[place]
            return jobs.end_role(
                self.office,
                self.caller,
                row.person_id,
                spell.role,
                spell.starts,
                signature,
                ended=self._ends(st.session_state[f"{key}:ended"]),
                at=clock.now(),
            )

        self._form(key, "End the role", act, fields, said=f"The role of {row.name} ends.")

    def _link(self, row: PersonRow) -> None:
        key = f"people:link:{row.person_id}"

        def fields() -> None:
            st.text("As shown to the person when they tried to enter. Both blank: unlink.")
            st.text_input("Issuer", key=f"{key}:issuer", autocomplete="off")
            st.text_input("Subject", key=f"{key}:subject", autocomplete="off")

        def act(signature: jobs.StaffSignature) -> object:
            issuer, subject = st.session_state[f"{key}:issuer"], st.session_state[f"{key}:subject"]
            return jobs.link_identity(
                self.office, self.caller, row.person_id, issuer, subject, signature, at=clock.now()
            )

        self._form(key, "Link or unlink", act, fields, said=f"The outside identity of {row.name} is as you said.")

    def _simple(self, row: PersonRow, name: str, label: str, job: Callable[..., object]) -> None:
        self._form(
            f"people:{name}:{row.person_id}",
            label,
            lambda signature: job(self.office, self.caller, row.person_id, signature, at=clock.now()),
            said=f"Done for {row.name}.",
            who=lambda: row.name,
        )

    def _form(
        self,
        key: str,
        label: str,
        act: Callable[[jobs.StaffSignature], object],
        fields: Callable[[], None] | None = None,
        *,
        said: str = "Done.",
        who: Callable[[], str] = lambda: "",
    ) -> None:
        with st.form(key):
            if fields is not None:
                fields()
            st.text_input("Why", key=f"{key}:why", autocomplete="off")
            st.text_input("Your PIN", type="password", key=f"{key}:sign", autocomplete="off")
            event_id = event_of(key)
            no = said_no(key)
            if no:
                draw_alert(no)
            st.form_submit_button(label, key=f"{key}:do", on_click=self._press(key, event_id, act, said, who))

    def _press(
        self,
        key: str,
        event_id: str,
        act: Callable[[jobs.StaffSignature], object],
        said: str,
        who: Callable[[], str],
    ) -> Callable[[], None]:
        def press() -> None:
            signature = jobs.StaffSignature(
                st.session_state[f"{key}:sign"], event_id, st.session_state[f"{key}:why"].strip()
            )
            name, got = who(), []
            if attempt(key, self.caller.person_id, lambda: got.append(act(signature))):
                _note(name, said, got[0])
                for each in [each for each in st.session_state if str(each).startswith(f"{key}:")]:
                    del st.session_state[each]
            else:
                st.session_state[f"{key}:sign"] = ""

        return press

    def _begins(self, day: date | None) -> datetime | None:
        """A day's first moment at the school; None, for now, where it has begun."""
        if day is None:
            return None
        begins = datetime.combine(day, time(), self.zone)
        return None if day == clock.now().astimezone(self.zone).date() else begins

    def _ends(self, day: date | None) -> datetime | None:
        """The first moment after a day at the school."""
        return None if day is None else datetime.combine(day + timedelta(days=1), time(), self.zone)


def _note(name: str, said: str, got: Any) -> None:
    st.session_state[_DONE] = said
    if isinstance(got, jobs.NewWayIn) and got.code:
        st.session_state[_CODE] = (name, got.code)


def _role_said(role: Role) -> str:
    return words(role.value)
