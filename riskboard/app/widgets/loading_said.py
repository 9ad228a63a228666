"""Weight, balance, hover and power as plain lines, and what would bring them inside. Shows texts, works nothing out."""

from collections.abc import Sequence
from html import escape

import streamlit as st

from riskboard.app.widgets.style import INK, PLUM
from riskboard.assessment.airframe_pictures import AirframePicture, Said

__all__ = ["apply_loading_style", "fixes_of", "lines_of", "loads_of"]

_CSS = f"""
<style>
.stHtml ul.rb-said {{ list-style: none; margin: 0; padding: 0; }}
.stHtml .rb-said li {{ margin: 0; }}
.rb-said li {{ display: grid; grid-template-columns: 5.6rem 1fr; gap: 0 .8rem; padding: .35rem 0;
  border-bottom: 1px solid rgb(128 128 128 / .45); overflow-wrap: anywhere; font-size: .95rem; }}
.rb-said .mark {{ font-weight: 700; font-size: .86rem; text-align: center; align-self: start; padding: .1rem .2rem;
  border: 1.5px solid currentColor; }}
.rb-said .out .mark {{ background: {INK}; color: #fff; border-color: #8b8574; }}
.rb-said .unknown .mark {{ border-style: dashed; }}
.rb-said .quiet .mark {{ border-color: transparent; font-weight: 400; }}
.rb-said b {{ display: block; font-size: .86rem; font-weight: 600; }}
.rb-fix {{ border: 2px solid currentColor; border-left: .5rem solid {PLUM}; padding: .5rem .8rem; margin: .3rem 0;
  overflow-wrap: anywhere; }}
.stHtml .rb-fix ol {{ margin: .15rem 0 0; padding-left: 1.3rem; }}
.stHtml .rb-fix li {{ margin: 0; }}
.st-key-loads [data-testid="stNumberInputContainer"] {{ min-height: 2.9rem; }}
.st-key-loads [data-testid="stNumberInputContainer"] button {{ min-width: 2.6rem; }}
@media (min-width: 641px) {{
  .st-key-loads {{ display: grid; grid-template-columns: 1fr 1fr; }}
  .st-key-loads > :not(:has([data-testid="stNumberInput"])) {{ grid-column: 1 / -1; }}
}}
.rb-invented {{ border: 1.5px dashed currentColor; padding: .2rem .6rem; margin: .2rem 0; font-size: .9rem;
  font-weight: 600; }}
@media (max-width: 640px) {{ .rb-said li {{ grid-template-columns: 4.9rem 1fr; }} }}
</style>
"""
_LOADED = {True: "within", False: "OUTSIDE", None: "UNKNOWN"}
_HOVERS = {True: "hovers", False: "SHORT", None: "UNKNOWN"}
_FUEL = {True: "fits", False: "TOO MUCH", None: "UNKNOWN"}
_LOOK = {True: "quiet", False: "out", None: "unknown"}


def apply_loading_style() -> None:
    """Put the style on the page. Only constants of this module go in here."""
    st.html(_CSS)


def lines_of(picture: AirframePicture) -> str:
    """What counts in view, the rest behind a tap, HTML."""
    counted = [each for each in picture.hover if each.counts]
    weights, good = picture.weights[:1], [each for each in picture.weights[1:] if each.holds]
    weights = (*weights, *(each for each in picture.weights[1:] if not each.holds))
    first = _marked(weights, _LOADED) + _marked(picture.balance, _LOADED) + _marked(counted, _HOVERS)
    first += _marked((picture.fuel,), _FUEL) + _plain(picture.power[:1])
    aside = [each for each in picture.hover if not each.counts]
    rest = _marked(good, _LOADED) + "".join(_row(each, _HOVERS[each.holds].lower(), "quiet") for each in aside)
    rest += _plain(picture.air) + _plain(picture.power[1:])
    note = f'<p class="rb-invented">{escape(picture.note)}</p>' if picture.note else ""
    more = "Seats, density altitude, hovers that no limit asks of this flight"
    return f'{note}{_list(first)}<details class="rb-more"><summary>{more}</summary>{_list(rest)}</details>'


def _list(rows: str) -> str:
    return f'<ul class="rb-said">{rows}</ul>'


def loads_of(picture: AirframePicture) -> str:
    """What was entered, to read only, HTML."""
    rows = "".join(f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in picture.loads)
    return f'<dl class="rb-facts">{rows}</dl>'


def fixes_of(picture: AirframePicture) -> str:
    """The smallest changes that help, HTML; "" where nothing has to be changed."""
    if picture.fixes:
        items = "".join(f"<li>{escape(each)}</li>" for each in picture.fixes)
        head = escape(f"{picture.mends}: {'any one of these' if picture.fixes[1:] else 'this'} brings them inside.")
        return f'<div class="rb-fix"><strong>{head}</strong><ol>{items}</ol></div>'
    return f'<div class="rb-fix"><strong>{escape(picture.no_fix)}</strong></div>' if picture.no_fix else ""


def _marked(said: Sequence[Said], marks: dict[bool | None, str]) -> str:
    return "".join(_row(each, marks[each.holds], _LOOK[each.holds]) for each in said)


def _plain(said: Sequence[Said]) -> str:
    return "".join(_row(each, "", "quiet") for each in said)


def _row(said: Said, mark: str, look: str) -> str:
    return (
        f'<li class="{look}"><span class="mark">{escape(mark)}</span>'
        f"<div><b>{escape(said.name)}</b>{escape(said.text)}</div></li>"
    )
