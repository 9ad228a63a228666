"""The look of board, desk and alarm: a row for each flight with its gate, and an alarm that nobody overlooks."""

import streamlit as st

from riskboard.app.widgets.style import INK, PLUM, TEAL

__all__ = ["ALARM", "BACK", "apply_board_style", "widen"]

ALARM, BACK = "#9c2f12", "#4a4f58"

_CSS = f"""
<style>
.rb-tone-go {{ --tone: {TEAL}; }} .rb-tone-sign {{ --tone: {PLUM}; }}
.rb-tone-no {{ --tone: {INK}; --edge: #8b8574; }}
.rb-tone-open, .rb-tone-back {{ --tone: {BACK}; }} .rb-tone-alarm {{ --tone: {ALARM}; }}
.rb-group {{ display: flex; gap: .7rem; align-items: baseline; border-top: 3px solid currentColor; margin-top: 1rem;
  padding-top: .4rem; }}
.rb-group h2 {{ font: 700 1.25rem/1.2 "Source Serif", Georgia, serif; margin: 0; padding: 0; }}
.rb-group span {{ font-size: .9rem; }}
.rb-flight {{ display: grid; grid-template-columns: 4.1rem minmax(9rem, 2fr) minmax(9rem, 2fr) minmax(9rem, 2fr);
  gap: .1rem .9rem; align-items: center; padding: .35rem 0 .35rem .7rem;
  border-left: .45rem solid var(--edge, var(--tone));
  overflow-wrap: anywhere; }}
.rb-flight .sign {{ background: var(--tone); padding: .25rem .35rem; border: 1px solid rgb(255 255 255 / .7); }}
.rb-flight img {{ width: 3.1rem; display: block; }}
.rb-flight .name {{ font: 700 1.15rem/1.2 "Source Serif", Georgia, serif; }}
.rb-flight .state {{ font-weight: 700; }}
.rb-flight small, .rb-flight .small {{ font-size: .86rem; }}
.rb-flight .wide {{ grid-column: 2 / -1; }}
.stHtml .rb-flight ol, .stHtml .rb-flight ul {{ margin: .15rem 0; padding-left: 1.2rem; font-size: .93rem; }}
.rb-flight .word {{ border: 1.5px solid currentColor; padding: 0 .35rem; font-weight: 700; font-size: .86rem;
  display: inline-block; }}
.rb-alarm {{ background: repeating-linear-gradient(135deg, {ALARM} 0 1.6rem, #7f250d 1.6rem 1.9rem); color: #fff;
  border: 4px double #fff; outline: 4px solid {ALARM}; padding: .8rem 1rem; margin: .3rem .25rem 0;
  display: grid; grid-template-columns: 4.2rem 1fr; gap: .2rem 1rem; overflow-wrap: anywhere; }}
.rb-alarm img {{ width: 4.2rem; grid-row: 1 / span 3; align-self: center; }}
.rb-alarm .what {{ font: 800 1.7rem/1.1 "Source Serif", Georgia, serif; letter-spacing: .02em; }}
.rb-late {{ background: {ALARM}; color: #fff; font-weight: 700; margin: 4px .25rem 0; outline: 4px solid {ALARM};
  padding: .25rem 1rem; }}
.rb-step {{ font-size: .95rem; overflow-wrap: anywhere; }}
.rb-step.done {{ border-left: .3rem solid {TEAL}; padding-left: .6rem; }}
.rb-step .word {{ border: 1.5px solid currentColor; padding: 0 .35rem; font-weight: 700; font-size: .86rem; }}
.rb-shown {{ box-shadow: none; }}
.rb-shown .why {{ -webkit-line-clamp: unset; }}
.rb-way {{ display: flex; align-items: center; justify-content: center; min-height: 2.9rem; padding: .2rem .9rem;
  border: 2px solid currentColor; color: inherit; font-weight: 700; text-decoration: underline;
  text-underline-offset: .2em; }}
.rb-line {{ border: 2px solid currentColor; padding: .5rem .7rem; font-size: .95rem; overflow-wrap: anywhere; }}
.rb-line.differs {{ border: 4px double currentColor; font-weight: 700; }}
.stHtml ol.rb-edits {{ list-style: none; padding: 0; margin: 0; }}
.stHtml .rb-edits li {{ margin: 0; padding: .45rem 0; border-bottom: 1px solid rgb(128 128 128 / .45);
  overflow-wrap: anywhere; font-size: .95rem; }}
.rb-edits .word {{ border: 2px solid currentColor; padding: 0 .35rem; font-weight: 700; font-size: .84rem; }}
.rb-pasted {{ font-family: "Source Code Pro", monospace; font-size: .9rem; white-space: pre-wrap;
  overflow-wrap: anywhere; border: 1px solid rgb(128 128 128 / .6); padding: .4rem .6rem; margin: .2rem 0; }}
.rb-conditions {{ font-size: 1.05rem; border-left: .45rem solid {PLUM}; padding: .3rem .8rem;
  overflow-wrap: anywhere; }}
.stHtml .rb-conditions ol {{ margin: .2rem 0 0; padding-left: 1.3rem; }}
[data-testid="stPageLink"] a {{ min-height: 2.75rem; border: 1px solid #8b8574; padding: .2rem .9rem; }}
.stFormSubmitButton button, .stForm .stButton button {{ white-space: normal; }}
@media (max-width: 640px) {{
  .rb-flight {{ grid-template-columns: 3.2rem 1fr; gap: .05rem .7rem; align-items: start; }}
  .rb-flight img {{ width: 2.4rem; }}
  .rb-flight .sign {{ grid-row: 1 / span 3; }}
  .rb-alarm {{ grid-template-columns: 3rem 1fr; padding: .6rem .7rem; gap: .1rem .7rem; }}
  .rb-alarm img {{ width: 3rem; }}
  .rb-alarm .what {{ font-size: 1.35rem; }}
}}
</style>
"""

_WIDE = "<style>.stMainBlockContainer { max-width: 76rem; }</style>"


def apply_board_style() -> None:
    """Put the style on the page. Only constants of this module go in here."""
    st.html(_CSS)


def widen() -> None:
    """Let a page for a desk's screen use its width."""
    st.html(_WIDE)
