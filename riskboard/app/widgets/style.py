"""The look: paper, ink, deep teal and plum; square corners; a gate for a verdict. No colour carries meaning alone."""

import streamlit as st

__all__ = ["INK", "PLUM", "TEAL", "apply_style"]

TEAL, PLUM, INK, PAPER = "#0b5563", "#6a2a5b", "#1b1a24", "#f8f6f1"

_CSS = f"""
<style>
.stMainBlockContainer {{ padding-top: 3.4rem; padding-bottom: 4rem; max-width: 46rem; }}
.stHeading h1, .stHeading h2 {{ letter-spacing: 0; }}
.rb-head {{ margin: 0; font-size: .86rem; }}
.rb-caution {{ margin: 1.5rem 0 0; font-size: .86rem; border-top: 1px solid currentColor; padding-top: .6rem; }}
div:has(> .st-key-band) {{ position: sticky; top: 3.85rem; z-index: 90; }}
[data-testid="stElementContainer"]:has(.rb-anchor) {{ position: absolute; }}
div[data-testid="stButtonGroup"] button {{ border-radius: .15rem; }}
div[data-testid="stButtonGroup"] button[aria-pressed="true"],
div[data-testid="stButtonGroup"] button[aria-checked="true"] {{
  background: {TEAL} !important; border-color: #8b8574 !important; transition: none; }}
div[data-testid="stButtonGroup"] button[aria-pressed="true"] p,
div[data-testid="stButtonGroup"] button[aria-checked="true"] p {{
  color: #fff !important; transition: none; }}
.rb-band {{ display: grid; grid-template-columns: 4.6rem 1fr; gap: .2rem .9rem; color: #fff; padding: .7rem .9rem;
  border: 2px solid #fff; outline: 2px solid var(--tone); background: var(--tone);
  box-shadow: 0 .3rem .9rem rgb(0 0 0 / .28); }}
.rb-band a {{ color: #fff; text-decoration: underline; text-underline-offset: .2em; }}
.rb-band img {{ width: 4.6rem; height: auto; grid-row: 1 / span 3; align-self: center; }}
.rb-band .what {{ font: 700 1.5rem/1.15 "Source Serif", Georgia, serif; }}
.rb-band .what small {{ font: 400 .95rem/1.2 "Source Sans", sans-serif; padding-left: .4rem; }}
.rb-band .why {{ font-size: .95rem; line-height: 1.3; display: -webkit-box; -webkit-line-clamp: 2;
  -webkit-box-orient: vertical; overflow: hidden; }}
.rb-band .how {{ font-size: .86rem; line-height: 1.35; }}
.rb-band .fix {{ font-weight: 700; margin-top: .15rem; }}
.rb-band .go-to {{ grid-column: 1 / -1; display: flex; flex-wrap: wrap; gap: .1rem 1.1rem; font-size: .9rem; }}
.rb-go {{ --tone: {TEAL}; }}
.rb-sign {{ --tone: {PLUM}; }}
.rb-no {{ --tone: {INK};
  background: repeating-linear-gradient(135deg, {INK} 0 .9rem, #302e3d .9rem 1.1rem); }}
.rb-open {{ --tone: #4a4f58; }}
.rb-alert {{ border-left: .5rem solid {PLUM}; border-top: 1px solid; border-bottom: 1px solid; padding: .6rem .8rem;
  font-weight: 600; white-space: pre-line; overflow-wrap: anywhere; }}
.rb-section {{ display: flex; justify-content: space-between; align-items: baseline; gap: 1rem;
  border-top: 3px solid currentColor; padding-top: .45rem; margin-top: 1rem; scroll-margin-top: 13rem; }}
.rb-section h2 {{ font: 700 1.25rem/1.2 "Source Serif", Georgia, serif; padding: 0; margin: 0; }}
.rb-state {{ font-size: .9rem; white-space: nowrap; border: 1.5px solid currentColor; padding: .05rem .5rem; }}
.rb-state.missing {{ border-style: dashed; font-weight: 700; }}
.rb-state.mend {{ border-width: 3px; border-style: double; font-weight: 700; }}
.rb-anchor {{ display: block; scroll-margin-top: 14rem; height: 0; }}
.rb-facts {{ display: grid; grid-template-columns: minmax(8rem, 2fr) 3fr; gap: .15rem .9rem; margin: .3rem 0;
  font-size: .93rem; overflow-wrap: anywhere; }}
.rb-facts dt, .rb-facts dd {{ margin: 0; padding: .1rem 0; border-bottom: 1px solid rgb(128 128 128 / .35); }}
.rb-note {{ margin: 0; font-size: .93rem; overflow-wrap: anywhere; }}
.stHtml ol.rb-reasons, .stHtml ol.rb-log, .stHtml dl.rb-facts {{ list-style: none; margin: 0; padding: 0; }}
.stHtml .rb-facts dd, .stHtml .rb-facts dt, .stHtml .rb-reasons li, .stHtml .rb-log li {{ margin: 0; }}
.rb-reasons li {{ display: grid; grid-template-columns: 5.6rem 1fr; gap: .1rem .8rem; margin: 0; padding: .55rem 0;
  border-bottom: 1px solid rgb(128 128 128 / .45); overflow-wrap: anywhere; }}
.rb-reasons .mark {{ font-weight: 700; border: 1.5px solid currentColor; text-align: center; align-self: start;
  padding: .1rem .2rem; font-size: .86rem; }}
.rb-reasons .stop .mark {{ background: {INK}; color: #fff; border-color: #8b8574; }}
.rb-reasons .unknown .mark {{ border-style: dashed; }}
.rb-reasons .floor .mark {{ background: {PLUM}; color: #fff; border-color: {PLUM}; }}
.rb-reasons .more {{ font-size: .9rem; }}
.rb-reasons details, .rb-more {{ font-size: .9rem; }}
.rb-reasons summary, .rb-more summary {{ cursor: pointer; min-height: 1.5rem; }}
.rb-table {{ border-collapse: collapse; font-size: .86rem; width: 100%; }}
.rb-table th, .rb-table td {{ border-bottom: 1px solid rgb(128 128 128 / .45); padding: .25rem .4rem; text-align: left;
  vertical-align: top; overflow-wrap: anywhere; }}
.rb-read {{ table-layout: fixed; }}
.rb-read th:nth-child(1) {{ width: 42%; }} .rb-read th:nth-child(3) {{ width: 30%; }}
.rb-scroll {{ overflow-x: auto; }}
.st-key-types-text textarea {{ font-family: "Source Code Pro", monospace; font-size: .86rem; }}
.rb-receipt {{ font-family: "Source Code Pro", monospace; font-size: 1.05rem; overflow-wrap: anywhere; }}
.rb-log {{ list-style: none; padding: 0; margin: 0; }}
.rb-log li {{ margin: 0; padding: .55rem 0; border-bottom: 1px solid rgb(128 128 128 / .45); overflow-wrap: anywhere; }}
div[data-testid="stButtonGroup"] button {{ min-height: 2.75rem; }}
.stButton button, .stFormSubmitButton button, .stDownloadButton button {{ min-height: 2.9rem; }}
@media (max-width: 640px) {{
  .stMainBlockContainer {{ padding-left: .8rem; padding-right: .8rem; }}
  .rb-band {{ grid-template-columns: 3.1rem 1fr; padding: .5rem .65rem; gap: .1rem .65rem; }}
  .rb-band img {{ width: 3.1rem; }}
  .rb-band .what {{ font-size: 1.25rem; }}
  .rb-band .why {{ font-size: .9rem; }}
  .rb-reasons li {{ grid-template-columns: 4.9rem 1fr; }}
}}
</style>
"""


def apply_style() -> None:
    """Put the style on the page. Only constants of this module go in here."""
    st.html(_CSS)
