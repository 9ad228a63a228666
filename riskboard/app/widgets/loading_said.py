"""Weight, balance, hover and power as plain lines, and what would bring them inside. Shows texts, works nothing out."""

from collections.abc import Sequence
from html import escape

import streamlit as st

from riskboard.app.widgets.style import INK, PLUM
from riskboard.assessment.airframe_pictures import AirframePicture, Said

__all__ = ["apply_loading_style", "fixes_of", "lines_of"]

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
    """Every line with its word, HTML; what the policy does not ask of this flight says so."""
    rows = _marked(picture.weights, _LOADED) + _marked(picture.balance, _LOADED) + _marked((picture.fuel,), _FUEL)
    rows += _plain(picture.air) + _marked(picture.hover, _HOVERS) + _plain(picture.power)
    note = f'<p class="rb-invented">{escape(picture.note)}</p>' if picture.note else ""
    return f'{note}<ul class="rb-said">{rows}</ul>'


def fixes_of(picture: AirframePicture) -> str:
    """The smallest changes that help, HTML; "" where nothing has to be changed."""
    if picture.fixes:
        items = "".join(f"<li>{escape(each)}</li>" for each in picture.fixes)
        head = (
            "Any one of these brings weight, balance and hover inside:"
            if picture.fixes[1:]
            else "This brings it inside:"
        )
        return f'<div class="rb-fix"><strong>{head}</strong><ol>{items}</ol></div>'
    return f'<div class="rb-fix"><strong>{escape(picture.no_fix)}</strong></div>' if picture.no_fix else ""


def _marked(said: Sequence[Said], marks: dict[bool | None, str]) -> str:
    return "".join(_row(each, marks[each.holds], _LOOK[each.holds]) if each.counts else _aside(each) for each in said)


def _aside(said: Said) -> str:
    return _row(said, "not asked", "quiet")


def _plain(said: Sequence[Said]) -> str:
    return "".join(_row(each, "", "quiet") for each in said)


def _row(said: Said, mark: str, look: str) -> str:
    return (
        f'<li class="{look}"><span class="mark">{escape(mark)}</span>'
        f"<div><b>{escape(said.name)}</b>{escape(said.text)}</div></li>"
    )
