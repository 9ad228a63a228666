"""Yes, ask, or no: each with its own words, its own PIN field and the same weight."""

import secrets
from collections.abc import Callable
from datetime import datetime

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.widgets.entry import Desk
from riskboard.app.widgets.section import draw_title
from riskboard.app.widgets.setup import draw_demo_pin
from riskboard.assessment.assess import Assessment
from riskboard.assessment.phrases import clock_time
from riskboard.jobs.signing import waivable_limits
from riskboard.words import Decision, RefusedFor

__all__ = ["CHANGING", "draw_signing"]

CHANGING = "flight:changing"
_OTHER = "Not listed here"
_REASONS = (
    "Weather",
    "How I feel",
    "Aircraft",
    "Time or daylight",
    "Not in practice",
    "Pressure to go",
    _OTHER,
)
_ABOUT = {"Weather": RefusedFor.route, "Time or daylight": RefusedFor.route, "Aircraft": RefusedFor.aircraft}


def draw_signing(desk: Desk, school: dict[str, object], pilot_name: str) -> None:
    """Draw what this pilot may do now."""
    draw_title("Sign or decline", "sign")
    st.text(f"Signs: {pilot_name}")
    draw_demo_pin(school)
    yes, no = st.columns(2)
    with yes:
        _draw_yes(desk)
    with no:
        _draw_no(desk)


def _draw_yes(desk: Desk) -> None:
    assessment = desk.briefing.assessment
    if assessment is None:
        st.text("There is no decision to sign: mend the entries named above first.")
    elif not desk.briefing.pressures_told:
        st.text("There is a decision to sign once you have said what presses on this flight.")
    elif assessment.decision is Decision.go:
        until = _until(assessment.valid_until, desk)
        _form(
            desk,
            "accepted",
            f"Accept{until}",
            lambda signature: jobs.accept(desk.office, desk.briefing.draft_id, signature, at=clock.now()),
        )
    elif assessment.decision is Decision.go_with_sign_off:
        _draw_ask(desk, "Ask for a sign-off")
    elif _waivable(desk, assessment):
        st.text("A no-go cannot be accepted. What stops this one may be waived by somebody whom the policy names.")
        _draw_ask(desk, "Ask for a waiver and a sign-off")
    else:
        st.text("A no-go cannot be accepted, and nobody can sign it off. Remove what stops it, or decline.")


def _waivable(desk: Desk, assessment: Assessment) -> bool:
    policy = jobs.policy_for(desk.office, desk.briefing.sheet, desk.at).policy
    return bool(waivable_limits(assessment, policy))


def _draw_ask(desk: Desk, label: str) -> None:
    _form(
        desk,
        "sign_off_requested",
        label,
        lambda signature: jobs.request_sign_off(
            desk.office, desk.briefing.draft_id, signature, note=_typed("sign_off_requested"), at=clock.now()
        ),
        text="What the second person should know",
    )


def _draw_no(desk: Desk) -> None:
    _form(
        desk,
        "declined",
        "Decline",
        lambda signature: jobs.decline(
            desk.office, desk.briefing.draft_id, signature, reason=_typed("declined"), about=_about(), at=clock.now()
        ),
        text="Why, in your words",
        reasons=True,
    )


def _about() -> frozenset[RefusedFor]:
    """What the tapped reasons say about the aircraft or the route; a reason in own words may be about either."""
    tapped = st.session_state.get("flight:reasons:declined") or []
    if not tapped or _OTHER in tapped or str(st.session_state.get("flight:text:declined") or "").strip():
        return frozenset({RefusedFor.aircraft, RefusedFor.route})
    return frozenset(_ABOUT[each] for each in tapped if each in _ABOUT)


def _until(moment: datetime | None, desk: Desk) -> str:
    return "" if moment is None else f" until {clock_time(moment, desk.zone.key)}"


def _typed(kind: str) -> str:
    chosen = st.session_state.get(f"flight:reasons:{kind}") or []
    text = str(st.session_state.get(f"flight:text:{kind}") or "").strip()
    return "; ".join([*chosen, text] if text else chosen)


def _form(
    desk: Desk,
    kind: str,
    label: str,
    act: Callable[[jobs.Signature], jobs.Signed],
    *,
    text: str = "",
    reasons: bool = False,
) -> None:
    with st.form(f"flight:form:{kind}"):
        st.text(jobs.ATTESTATION[kind])
        if reasons:
            st.pills("Why", _REASONS, selection_mode="multi", key=f"flight:reasons:{kind}")
        if text:
            st.text_input(text, key=f"flight:text:{kind}")
        st.text_input("PIN", key=f"flight:pin:{kind}", type="password", autocomplete="off")
        # Made when drawn, kept until it is signed: a double tap or a retry finds the first record.
        event_id = st.session_state.setdefault(f"flight:event:{kind}", secrets.token_hex(16))
        st.form_submit_button(
            label, type="primary", width="stretch", on_click=_sign(desk, kind, event_id, act), key=f"flight:do:{kind}"
        )


def _sign(desk: Desk, kind: str, event_id: str, act: Callable[[jobs.Signature], jobs.Signed]) -> Callable[[], None]:
    def sign() -> None:
        pin = st.session_state[f"flight:pin:{kind}"]
        signature = jobs.Signature(desk.briefing.pilot_id, pin, event_id, desk.at, desk.briefing.digest)
        signed = session.attempt(lambda: act(signature))
        st.session_state[f"flight:pin:{kind}"] = ""
        if signed is not None:
            st.session_state.pop(f"flight:event:{kind}", None)
            st.session_state[CHANGING] = False

    return sign
