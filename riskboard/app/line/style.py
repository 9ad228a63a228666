"""How the pages at the aircraft look: large, high in contrast for sunlight, one column within a thumb's reach.

A line runs down the left edge from step to step, as a finger runs down a card; what is answered is filled in on it. No
colour carries meaning alone: each state has a word and a form of its own.
"""

import base64
import hashlib

from riskboard.app.widgets.style import INK, PAPER, PLUM, TEAL

__all__ = ["CSS", "STYLE_SOURCE"]

CSS = f"""
:root {{ color-scheme: light dark; --ink: {INK}; --paper: {PAPER}; --field: #fff; --line: #76705f; --do: {TEAL};
  --say: {PLUM}; --dark: {INK}; --dark2: #302e3d; --on: #fff; }}
@media (prefers-color-scheme: dark) {{
  :root {{ --ink: #f2efe8; --paper: #15161c; --field: #0b0c10; --line: #8d92a0; --do: #25798b; --say: #c58ab6;
    --dark: #000; --dark2: #23232c; }} }}
* {{ box-sizing: border-box; }}
[hidden] {{ display: none !important; }}
html {{ scroll-padding-bottom: 11rem; }}
body {{ margin: 0; background: var(--paper); color: var(--ink); font: 1.125rem/1.4 "Source Sans", system-ui, sans-serif;
  font-variant-numeric: tabular-nums; -webkit-text-size-adjust: 100%; }}
main {{ max-width: 34rem; margin: 0 auto; padding: .8rem .8rem 0; overflow-wrap: anywhere; }}
h1, h2, .wait-left {{ font-family: "Source Serif", Georgia, serif; line-height: 1.15; }}
h1 {{ font-size: 1.9rem; margin: .3rem 0 .2rem; }}
h2 {{ font-size: 1.35rem; margin: 0; padding: .35rem 0; }}
p {{ margin: .3rem 0; }}
.head, .foot, .why, .right, .before {{ font-size: 1rem; }}
.foot {{ margin: 1.2rem 0 0; border-top: 1px solid; padding: .6rem 0 1rem; }}
.facts {{ margin: 0 0 .6rem; font-weight: 600; }}
a {{ color: inherit; text-underline-offset: .2em; }}
.way {{ display: inline-flex; align-items: center; min-height: 2.75rem; font-weight: 600; }}
.alert {{ border: solid var(--say); border-width: 2px 0 2px .6rem; padding: .6rem .8rem; margin: .8rem 0;
  font-weight: 700; }}
:focus-visible {{ outline: 4px solid var(--say); outline-offset: 2px; }}
main > :focus-visible, section:focus-visible {{ outline-offset: 4px; }}

/* what is on record */
.verdict {{ display: grid; grid-template-columns: 4.2rem 1fr; gap: .1rem .9rem; align-items: center; color: var(--on);
  padding: .8rem; margin: .8rem 0 0; background: var(--do); border: 2px solid var(--on);
  outline: 2px solid var(--do); }}
.verdict svg {{ width: 4.2rem; grid-row: 1 / span 2; }}
.verdict strong {{ font: 700 1.6rem/1.1 "Source Serif", Georgia, serif; }}
.verdict.no {{ outline-color: var(--ink);
  background: repeating-linear-gradient(135deg, var(--dark) 0 .9rem, var(--dark2) .9rem 1.1rem); }}
.closed {{ color: var(--on); background: var(--do); padding: .8rem; border: 2px solid var(--on);
  outline: 2px solid var(--do); font-weight: 600; }}
.found {{ list-style: none; margin: 0; padding: 0; }}
.found li {{ padding: .6rem 0; border-bottom: 1px solid var(--line); }}
.found b {{ display: block; }}
.mark {{ display: inline-block; border: 2px solid currentColor; padding: 0 .4rem; margin: .2rem 0 0; font-weight: 700;
  font-size: 1rem; }}
.mark.signs {{ background: var(--dark); color: #fff; border-color: var(--line); }}
.mark.again {{ border-style: dashed; }}
.receipt {{ font-family: "Source Code Pro", ui-monospace, monospace; font-size: 1rem; }}
details {{ border-top: 1px solid var(--line); }}
summary {{ min-height: 2.9rem; padding: .7rem 0; font-weight: 600; cursor: pointer; }}

/* the steps */
form {{ margin: 1rem 0 0; }}
.group {{ border: 0; margin: 0; padding: 0 0 .4rem; min-width: 0; counter-increment: group; }}
form {{ counter-reset: group; }}
.group > h2::before {{ content: counter(group); content: counter(group) / "";
  display: inline-block; min-width: 2rem; margin-right: .6rem;
  text-align: center; background: var(--ink); color: var(--paper); }}
.item {{ position: relative; border: 0; margin: 0; padding: .55rem 0 .7rem 1.3rem; min-width: 0;
  border-left: 3px solid var(--line); }}
.group > .item {{ margin-left: .9rem; }}
.item::before {{ content: ""; position: absolute; left: -.62rem; top: .85rem; width: 1.05rem; height: 1.05rem;
  border: 2px dashed var(--ink); background: var(--paper); }}
.item:has(input[type=text]:not(:placeholder-shown))::before,
.item:has(textarea:not(:placeholder-shown))::before,
.item:has(input.said:checked)::before {{ border-style: solid; background: var(--ink); }}
.item.mend::before {{ border: 4px double var(--say); background: var(--paper); }}
.ask {{ display: block; padding: 0; font-weight: 600; font-size: 1.15rem; line-height: 1.25; }}
.take {{ display: flex; align-items: stretch; gap: .5rem; margin-top: .4rem; }}
input[type=text], textarea, select {{ width: 100%; min-height: 3.4rem; padding: .3rem .7rem; font: inherit;
  font-size: 1.5rem; font-weight: 600; color: inherit; background: var(--field); border: 2px solid var(--line);
  border-radius: .15rem; }}
textarea, input.words, select {{ font-size: 1.125rem; font-weight: 400; }}
.beside {{ display: grid; grid-template-columns: 1fr 8.8rem; gap: .2rem .6rem; align-items: center; }}
.beside .take {{ margin: 0; }}
.warns {{ margin: .4rem 0 0; padding: .3rem .6rem; border: 2px solid var(--say); border-left-width: .5rem;
  font-weight: 600; font-size: 1rem; }}
.beside .problem, .beside .warns {{ grid-column: 1 / -1; }}
.take > input[type=text] {{ flex: 1 1 6rem; min-width: 0; }}
.unit {{ flex: 0 0 auto; align-self: center; min-width: 2.6rem; font-weight: 600; }}
.choices {{ display: flex; flex-wrap: wrap; gap: .5rem; margin-top: .4rem; }}
.choice {{ position: relative; flex: 1 1 5.5rem; display: flex; }}
.take .choice {{ flex: 0 1 6.5rem; }}
.choice input {{ position: absolute; inset: 0; width: 100%; height: 100%; margin: 0; opacity: 0; cursor: pointer; }}
.choice span {{ flex: 1; display: flex; align-items: center; justify-content: center; gap: .4rem; min-height: 3.4rem;
  padding: .2rem .5rem; text-align: center; font-weight: 600; line-height: 1.15; background: var(--field);
  border: 2px solid var(--line); border-radius: .15rem; }}
.choice.less span {{ font-weight: 400; border-style: dashed; }}
.choice input:checked + span {{ color: #fff; background: var(--do); border-color: var(--ink); border-style: solid; }}
.choice.less input:checked + span {{ color: inherit; background: transparent; }}
.choice input:checked + span::before {{ content: "\\2713"; content: "\\2713" / ""; font-weight: 700; }}
.choice input:focus-visible + span {{ outline: 4px solid var(--say); outline-offset: 2px; }}
.list .choice {{ flex-basis: 100%; }}
.list .choice span {{ justify-content: flex-start; text-align: left; padding-left: .8rem; }}
form:has(.opens-details:not(:checked)) .only-details {{ display: none; }}
form:has(.opens-differed:not(:checked)) .only-differed {{ display: none; }}
.problem {{ margin: .4rem 0 0; padding-left: .6rem; border-left: .5rem solid var(--say); font-weight: 700; }}

/* waits at shut-down */
.wait {{ display: grid; grid-template-columns: 1fr auto; gap: .3rem .8rem; align-items: center; padding: .7rem .8rem;
  margin: .6rem 0; background: var(--field); border: 2px solid var(--line); }}
.wait-left {{ font-size: 2.6rem; font-weight: 700; text-align: right; min-width: 6.5rem; }}
.wait button {{ grid-column: 1 / -1; }}
.wait[data-state=running] {{ border-color: var(--ink); border-width: 4px; }}
.wait[data-state=over] {{ color: #fff; background: var(--do); border-color: var(--ink); }}
.wait[data-state=over] button {{ background: transparent; border-color: #fff; min-height: 2.9rem; }}

/* what is saved and what is not, within the thumb's reach */
button, .button {{ display: flex; align-items: center; justify-content: center; width: 100%; min-height: 3.6rem;
  margin: 0; padding: .4rem .8rem; font: inherit; font-size: 1.25rem; font-weight: 700; text-align: center;
  text-decoration: none; color: #fff; background: var(--do); border: 2px solid var(--line); border-radius: .15rem;
  cursor: pointer; }}
.bar {{ position: sticky; bottom: 0; z-index: 2; margin: 1rem -.8rem 0; padding: .6rem .8rem calc(.7rem +
  env(safe-area-inset-bottom)); background: var(--paper); border-top: 3px solid var(--ink); }}
.bar .says {{ margin: 0 0 .5rem; font-size: 1rem; line-height: 1.3; }}
.bar[data-state=waiting] .says, .bar[data-state=out] .says, .bar[data-state=refused] .says {{ color: #fff; padding:
  .5rem .7rem; border: 2px solid #fff; outline: 2px solid var(--ink);
  background: repeating-linear-gradient(135deg, var(--dark) 0 .9rem, var(--dark2) .9rem 1.1rem); }}
.bar .says strong {{ font-size: 1.15rem; }}
.bar .again {{ display: flex; gap: .6rem; margin-top: .5rem; }}
.bar .again a, .bar .again button {{ flex: 1; }}
button.quiet {{ color: inherit; background: transparent; font-weight: 600; font-size: 1.05rem; min-height: 3rem; }}
@media (min-width: 900px) {{
  main {{ max-width: 62rem; padding: 1.2rem 1.4rem 0; }}
  .waits {{ display: grid; grid-template-columns: 1fr 1fr; gap: 0 1rem; }}
  .wide {{ columns: 2; column-gap: 2.4rem; }}
  .wide .group {{ break-inside: avoid; }}
  .bar {{ display: grid; grid-template-columns: 1fr 22rem; align-items: center; gap: 1.4rem; }}
  .bar .says {{ margin: 0; }}
}}
"""
_HASH = base64.b64encode(hashlib.sha256(CSS.encode()).digest()).decode()

STYLE_SOURCE = f"'sha256-{_HASH}'"
"""What a content policy names to allow this style and no other."""
