"""What would change the answer: when it is better, what would stop it, how firm it is, and what else can be done.

Shows what ``jobs.what_if`` found and works nothing out. Staying on the ground is drawn exactly like any other way out.
"""

from html import escape

import streamlit as st

from riskboard import jobs
from riskboard.app.widgets.entry import Desk
from riskboard.app.widgets.section import draw_title
from riskboard.app.widgets.style import PLUM, TEAL
from riskboard.app.widgets.text import draw_html, label_of

__all__ = ["draw_what_if"]

_CSS = f"""
<style>
.rb-finding {{ font: 700 1.15rem/1.25 "Source Serif", Georgia, serif; margin: .3rem 0 0; }}
.stHtml ul.rb-ways, .stHtml ul.rb-wires {{ list-style: none; margin: .2rem 0; padding: 0; }}
.stHtml .rb-ways li {{ margin: .35rem 0; padding: .65rem .8rem; border: 2px solid currentColor;
  border-left: .5rem solid {TEAL}; font-weight: 600; overflow-wrap: anywhere; }}
.stHtml .rb-wires li {{ margin: 0; padding: .3rem 0 .3rem .9rem; border-bottom: 1px solid rgb(128 128 128 / .45);
  position: relative; }}
.rb-wires li::before {{ content: "\\2502"; position: absolute; left: .1rem; font-weight: 700; }}
.stHtml .rb-sub {{ font: 700 1rem/1.3 "Source Sans", sans-serif; margin: .8rem 0 0; padding: 0; }}
.rb-fragile {{ border: 2px dashed currentColor; border-left: .5rem solid {PLUM}; padding: .4rem .8rem;
  font-weight: 600; }}
.rb-words {{ border: 1.5px solid currentColor; padding: .6rem .8rem; margin: .5rem 0 0; }}
.stHtml .rb-words p {{ margin: .15rem 0; }}
.stHtml .rb-words p.rb-sub {{ margin: 0; }}
</style>
"""


def draw_what_if(desk: Desk) -> None:
    """Draw the part under the verdict; nothing while there is no decision."""
    if desk.briefing.assessment is None:
        return
    st.html(_CSS)
    draw_title("What would change it", "change")
    found = jobs.what_if(desk.office, desk.briefing.pilot_id, desk.briefing, at=desk.at)
    with st.container(key="what-if"):
        if found is None:
            draw_html(
                '<p class="rb-note">When it is better, what would stop it and what else can be done is worked out as '
                "soon as nothing is missing.</p>",
                _ways(("Stay on the ground today.",)),
            )
            return
        _draw_window(found)
        draw_html(_others(found), _words(found), _wires(found), _robust(found))


def _draw_window(found: jobs.WhatIf) -> None:
    if found.missing:
        labels = ", ".join(f"“{label_of(field)}”" for field in found.missing)
        draw_html(f'<p class="rb-note">When it is better needs {escape(labels)}.</p>')
        return
    draw_html(f'<p class="rb-finding" id="window">{escape(found.title)}</p>')
    from riskboard.app.widgets.window_chart import draw_window_chart  # noqa: PLC0415  - charts load when there is one

    draw_window_chart(found)
    rows = "".join(f"<li>{escape(each.said)}</li>" for each in found.stretches)
    assumed = "".join(f"<li>{escape(each)}</li>" for each in found.assumptions)
    draw_html(
        f'<ul class="rb-wires" aria-label="Take-offs by time">{rows}</ul>'
        f'<details class="rb-more"><summary>What was taken for granted</summary><ul>{assumed}</ul></details>'
    )


def _words(found: jobs.WhatIf) -> str:
    """What to say and whom to call, at a no-go."""
    if found.when_no is None:
        return ""
    return (
        '<div class="rb-words" id="no"><p class="rb-sub">Saying no</p>'
        f"<p>You can tell them: “{escape(found.when_no.tell_customer)}”</p>"
        f"<p>Call: {escape(found.when_no.call)}</p></div>"
    )


def _wires(found: jobs.WhatIf) -> str:
    rows = "".join(f"<li>{escape(each)}</li>" for each in found.wires)
    listed = f'<ul class="rb-wires">{rows}</ul>' if rows else ""
    note = f'<p class="rb-note">{escape(found.wires_note)}</p>' if found.wires_note else ""
    return f'<h3 class="rb-sub">What would stop it, nearest first</h3>{listed}{note}'


def _robust(found: jobs.WhatIf) -> str:
    look = "rb-note rb-fragile" if found.fragile else "rb-note"
    return f'<h3 class="rb-sub">How firm it is</h3><p class="{look}">{escape(found.robust)}</p>'


def _others(found: jobs.WhatIf) -> str:
    return '<h3 class="rb-sub">What you can do</h3>' + _ways(tuple(way.said for way in found.ways))


def _ways(said: tuple[str, ...]) -> str:
    """Every way out in the same box: staying is one like the others."""
    rows = "".join(f"<li>{escape(each)}</li>" for each in said)
    return f'<ul class="rb-ways" aria-label="Ways out">{rows}</ul>'
