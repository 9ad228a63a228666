"""A quick set as one row of pills: the statements, and the one tap that answers them all."""

from collections.abc import Callable, Collection, Sequence

import streamlit as st

from riskboard import jobs
from riskboard.app import clock, session
from riskboard.app.widgets.entry import Desk, draw_anchor
from riskboard.worksheet.quick import QUICK_SETS, QuickSet

__all__ = ["draw_quick", "ticked_after"]

_BULK = "_bulk"


def ticked_after(asked: QuickSet, before: Collection[str], now: Collection[str]) -> list[str] | None:
    """What is said after a tap, or None when the answer was taken back.

    Args:
        asked: The set.
        before: Pills that were on when the page was drawn.
        now: Pills that are on.
    """
    names = [statement.key for statement in asked.statements]
    said = [name for name in names if name in now]
    fresh = set(now) - set(before)
    if _BULK in before and set(now) == set(before) - {_BULK}:
        return None
    if _BULK in fresh and asked.bulk == "all":
        return names if set(before) <= set(now) else said or None
    if _BULK in fresh and fresh == {_BULK}:
        return []
    # Of two taps that arrive together, "none of these" yields: what was said to be true stays said.
    return said or None


def _on(asked: QuickSet, said: Sequence[str] | None) -> list[str]:
    if said is None:
        return []
    whole = len(said) == len(asked.statements) if asked.bulk == "all" else not said
    return [*said, _BULK] if whole else list(said)


def draw_quick(desk: Desk, key: str, *, leave_out: Collection[str] = ()) -> None:
    """Draw one set; a tap fills the entries behind it in the draft.

    Args:
        desk: The draft.
        key: The set.
        leave_out: Statements that make no sense here.
    """
    asked = QUICK_SETS[key]
    said = desk.briefing.said.get(key)
    draw_anchor(*asked.fields)
    if asked.bulk == "one":
        _draw_choice(desk, asked, said)
        return
    on = _on(asked, said)
    name = f"q:{key}"
    session.hold(name, on)
    shown = {s.key: s.text for s in asked.statements if s.key not in leave_out} | {_BULK: asked.bulk_text}
    st.pills(
        asked.question,
        [*shown],
        selection_mode="multi",
        format_func=shown.__getitem__,
        key=name,
        on_change=_keep(desk, key, lambda: ticked_after(asked, on, st.session_state[name])),
    )


def _draw_choice(desk: Desk, asked: QuickSet, said: Sequence[str] | None) -> None:
    name = f"q:{asked.key}"
    session.hold(name, said[0] if said else None)
    shown = {statement.key: statement.text for statement in asked.statements}

    def chosen() -> list[str] | None:
        return [st.session_state[name]] if st.session_state[name] else None

    st.pills(
        asked.question, [*shown], format_func=shown.__getitem__, key=name, on_change=_keep(desk, asked.key, chosen)
    )


def _keep(desk: Desk, key: str, ticked: Callable[[], list[str] | None]) -> Callable[[], None]:
    def keep() -> None:
        said, draft_id = ticked(), desk.briefing.draft_id
        if said is None:
            session.attempt(lambda: jobs.unsay(desk.office, draft_id, key, at=clock.now()))
        else:
            session.attempt(lambda: jobs.say(desk.office, draft_id, key, said, at=clock.now()))

    return keep
