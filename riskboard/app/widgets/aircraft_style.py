"""The look of the aircraft: a tag for each, on a rail; readings as pickets under the bar that they must not touch."""

import streamlit as st

from riskboard.app.widgets.style import PLUM

__all__ = ["apply_aircraft_style"]

_CSS = f"""
<style>
.rb-rail {{ display: grid; grid-template-columns: repeat(auto-fill, minmax(21rem, 1fr)); gap: 1.1rem 1rem;
  border-top: 5px solid currentColor; padding-top: .8rem; align-items: stretch; }}
.rb-tag {{ position: relative; display: grid; grid-template: auto 1fr / 4.3rem minmax(0, 1fr);
  border: 2px solid currentColor; color: inherit; text-decoration: none; overflow-wrap: anywhere; min-height: 8.5rem; }}
.rb-tag::before {{ content: ""; position: absolute; left: 2rem; top: -1rem; height: 1rem;
  border-left: 3px solid currentColor; }}
a.rb-tag, a.rb-tag:visited {{ color: inherit; text-decoration: none; }}
a.rb-tag:hover .name, a.rb-tag:focus-visible .name {{ text-decoration: underline; text-underline-offset: .18em; }}
.rb-tag .sign {{ grid-row: 1 / span 2; background: var(--tone); border-right: 2px solid currentColor;
  padding: .5rem .45rem; }}
.rb-tag .sign img {{ width: 3.3rem; display: block; }}
.rb-tag.rb-tone-no .sign {{ background: repeating-linear-gradient(135deg, var(--tone) 0 .7rem, #302e3d .7rem .9rem); }}
.rb-tag .top {{ display: flex; flex-wrap: wrap; justify-content: space-between; align-items: baseline; gap: 0 .8rem;
  padding: .35rem .7rem .2rem; border-bottom: 1px solid rgb(128 128 128 / .6); }}
.rb-tag .name {{ font: 700 1.45rem/1.15 "Source Serif", Georgia, serif; }}
.rb-tag .stand {{ font-weight: 800; letter-spacing: .04em; }}
.rb-tag .body {{ padding: .3rem .7rem .5rem; font-size: .93rem; line-height: 1.32; }}
.rb-tag .body .line {{ display: block; margin-bottom: .18rem; }}
.rb-tag .body .most {{ display: -webkit-box; -webkit-line-clamp: 2; -webkit-box-orient: vertical; overflow: hidden;
  font-weight: 600; }}
.rb-tag.rb-tone-open {{ border-style: dashed; }}
.rb-know {{ border: 2px solid currentColor; margin-top: .9rem; }}
.rb-know .head {{ display: grid; grid-template-columns: 5.4rem 1fr; align-items: center; color: #fff;
  background: var(--tone); gap: .1rem 1rem; padding: .5rem .8rem; }}
.rb-know.rb-tone-no .head {{
  background: repeating-linear-gradient(135deg, var(--tone) 0 .9rem, #302e3d .9rem 1.1rem); }}
.rb-know .head img {{ width: 5.2rem; grid-row: 1 / span 2; }}
.stHtml .rb-know .head .what {{ margin: 0; padding: 0; color: #fff;
  font: 800 1.7rem/1.12 "Source Serif", Georgia, serif; letter-spacing: .02em; }}
.rb-know .head .how {{ font-size: .95rem; }}
.stHtml .rb-know ul {{ list-style: none; margin: 0; padding: 0; }}
.stHtml .rb-know li {{ display: grid; grid-template-columns: 7.6rem 1fr; gap: .1rem .8rem; margin: 0;
  padding: .4rem .8rem; border-top: 1px solid rgb(128 128 128 / .5); overflow-wrap: anywhere; }}
.rb-know .word, .rb-past .word {{ border: 1.5px solid currentColor; padding: 0 .35rem; font-weight: 700;
  font-size: .88rem; align-self: start; text-align: center; }}
.rb-know .heavy .word {{ border-width: 3px; border-style: double; }}
.rb-drifts {{ display: grid; grid-template-columns: repeat(auto-fill, minmax(17rem, 1fr)); gap: 1rem 1.2rem; }}
.rb-drift .said {{ font-size: .93rem; line-height: 1.32; }}
.rb-drift .label {{ font-weight: 700; }}
.rb-drift .pickets {{ display: flex; align-items: flex-end; gap: 3px; height: 4.6rem; position: relative;
  border-bottom: 2px solid currentColor; margin: .25rem 0 .3rem; }}
.rb-drift .pickets i {{ flex: 1 1 0; max-width: 1.3rem; background: currentColor; opacity: .62; min-height: 2px; }}
.rb-drift .pickets i:last-of-type {{ opacity: 1; }}
.rb-drift .pickets .bar {{ position: absolute; left: 0; right: 0; border-top: 3px solid {PLUM};
  outline: 1px solid rgb(255 255 255 / .75); }}
.rb-drift .label span {{ font-weight: 400; font-size: .9rem; }}
.rb-drift.warns {{ border-left: .45rem solid {PLUM}; padding-left: .7rem; }}
.rb-past {{ font-size: .93rem; }}
.stHtml ol.rb-past {{ list-style: none; margin: 0; padding: 0; }}
.stHtml .rb-past li {{ display: grid; grid-template-columns: 8.2rem 1fr; gap: .1rem .8rem; margin: 0; padding: .4rem 0;
  border-bottom: 1px solid rgb(128 128 128 / .45); overflow-wrap: anywhere; }}
.rb-past p {{ margin: 0; }}
.rb-past .stops {{ font-weight: 700; }}
.rb-past .when {{ grid-column: 2; font-size: .86rem; }}
.rb-due {{ width: 100%; }}
@media (max-width: 640px) {{
  .stHeading h1 {{ font-size: 1.7rem; padding: 0; }}
  .rb-rail {{ grid-template-columns: minmax(0, 1fr); gap: .7rem; }}
  .rb-tag {{ grid-template-columns: 3.3rem minmax(0, 1fr); min-height: 0; }}
  .rb-tag .sign {{ padding: .35rem .3rem; }}
  .rb-tag .sign img {{ width: 2.6rem; }}
  .rb-tag::before {{ left: 1.5rem; }}
  .rb-tag .name {{ font-size: 1.25rem; }}
  .rb-tag .top {{ padding: .1rem .6rem; }}
  .rb-tag .next:not(.near) {{ display: none; }}
  .rb-tag .line {{ white-space: nowrap; overflow: hidden; text-overflow: ellipsis; }}
  .rb-tag .body {{ padding: .2rem .6rem .35rem; font-size: .9rem; }}
  .rb-know .head {{ grid-template-columns: 3.4rem 1fr; padding: .4rem .6rem; }}
  .rb-know .head img {{ width: 3.3rem; }}
  .stHtml .rb-know .head .what {{ font-size: 1.4rem; }}
  .stHtml .rb-know li {{ grid-template-columns: 6.4rem 1fr; padding: .35rem .5rem; gap: .1rem .5rem; }}
  .stHtml .rb-past li {{ grid-template-columns: 6.4rem 1fr; }}
}}
</style>
"""


def apply_aircraft_style() -> None:
    """Put the style on the page. Only constants of this module go in here."""
    st.html(_CSS)
