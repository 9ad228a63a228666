"""What the policy in force lets take points off, and who states that it is in place."""

from html import escape
from typing import Any

import streamlit as st

from riskboard import jobs
from riskboard.app.widgets.entry import Desk
from riskboard.app.widgets.text import draw_html, words
from riskboard.assessment.phrases import points_phrase
from riskboard.policy.model import Mitigation
from riskboard.worksheet.entries import MitigationTaken
from riskboard.worksheet.model import PARTS

__all__ = ["draw_mitigations"]


def draw_mitigations(desk: Desk) -> None:
    """One block for each mitigation of the policy; drawn only while it is open."""
    label = PARTS["plan"].facts()["mitigations"].label
    stated = desk.typed("mitigations")
    number = len(stated) if isinstance(stated, list) else 0
    box = st.expander(f"{label} ({number})", key="s:mitigations", on_change="rerun")
    if not box.open:
        return
    policy = jobs.policy_for(desk.office, desk.briefing.sheet, desk.at).policy
    with box:
        for mitigation in policy.mitigations:
            _draw_one(desk, mitigation, [each for each in stated or [] if isinstance(each, dict)])


def _draw_one(desk: Desk, mitigation: Mitigation, stated: list[dict[str, Any]]) -> None:
    now = next((each for each in stated if each.get("name") == mitigation.name), None)
    others = [each for each in stated if each is not now]
    off = ", ".join(words(name) for name in mitigation.off)
    draw_html(
        f'<p class="rb-note"><strong>{escape(words(mitigation.name))}</strong>: takes at most '
        f"{escape(points_phrase(mitigation.at_most))} off {escape(off)}. {escape(mitigation.why)}</p>"
    )
    key = f"flight:mitigation:{mitigation.name}"
    if now is not None:
        said = f"Stated: by {now.get('by')}: {now.get('done')}"
        draw_html(f'<p class="rb-note">{escape(said)}</p>')
        st.button(
            "Take it back", key=f"{key}:back", on_click=lambda: desk.save("plan", {"mitigations": others or None})
        )
        return
    by, done = MitigationTaken.model_fields["by"], MitigationTaken.model_fields["done"]
    with st.form(key, border=True):
        st.text_input(f"{(by.title or 'by').capitalize()}: who does it", key=f"{key}:by")
        st.text_area(f"{(done.title or 'done').capitalize()}: what exactly", key=f"{key}:done", height=80)

        def state() -> None:
            entry = {
                "name": mitigation.name,
                "by": st.session_state[f"{key}:by"],
                "done": st.session_state[f"{key}:done"],
            }
            desk.save("plan", {"mitigations": [*others, entry]})

        st.form_submit_button("It is in place", on_click=state)
