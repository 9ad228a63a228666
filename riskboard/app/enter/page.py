"""The pages of the way in, as HTML: no script, no picture, nothing from elsewhere. Everything from data is escaped."""

import base64
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from urllib.parse import quote

from riskboard.app.widgets.style import INK, PAPER, PLUM, TEAL
from riskboard.people.accounts import MIN_CHARACTERS

__all__ = [
    "CONTENT_POLICY",
    "Invented",
    "code_page",
    "first_page",
    "leave_page",
    "notice_page",
    "sign_in_page",
    "start_page",
]

_CSS = f"""
:root {{ color-scheme: light dark; --ink: {INK}; --paper: {PAPER}; --line: #8b8574; --do: {TEAL}; --say: {PLUM}; }}
@media (prefers-color-scheme: dark) {{
  :root {{ --ink: #efece4; --paper: #15161c; --line: #7d8290; --do: #25798b; --say: #c58ab6; }} }}
* {{ box-sizing: border-box; }}
body {{ margin: 0; background: var(--paper); color: var(--ink); font: 1rem/1.45 "Source Sans", system-ui, sans-serif; }}
main {{ max-width: 34rem; margin: 0 auto; padding: 1.6rem 1rem 3rem; overflow-wrap: anywhere; }}
h1, h2 {{ font-family: "Source Serif", Georgia, serif; line-height: 1.2; }}
h1 {{ font-size: 1.7rem; margin: .4rem 0 1rem; }}
h2 {{ font-size: 1.25rem; border-top: 3px solid currentColor; padding-top: .45rem; margin: 2rem 0 .6rem; }}
.head, .foot {{ margin: 0; font-size: .9rem; }}
.foot {{ margin-top: 2rem; border-top: 1px solid; padding-top: .6rem; }}
.alert {{ border: solid var(--say); border-width: 1px 0 1px .5rem; padding: .6rem .8rem; font-weight: 600; }}
label {{ display: block; margin: .9rem 0 .2rem; font-weight: 600; }}
.hint {{ margin: .1rem 0 .3rem; font-size: .9rem; }}
input {{ width: 100%; min-height: 2.9rem; padding: .4rem .6rem; font: inherit; color: inherit;
  background: transparent; border: 1.5px solid var(--line); border-radius: .15rem; }}
button, .button {{ display: block; width: 100%; min-height: 2.9rem; margin: 1rem 0 0; padding: .5rem .8rem;
  font: inherit; font-weight: 600; text-align: center; text-decoration: none; color: #fff; background: var(--do);
  border: 1.5px solid var(--line); border-radius: .15rem; cursor: pointer; }}
.people button {{ margin-top: .5rem; text-align: left; }}
:focus-visible {{ outline: 3px solid var(--say); outline-offset: 2px; }}
a {{ color: inherit; }}
"""
_STYLE_HASH = base64.b64encode(hashlib.sha256(_CSS.encode()).digest()).decode()

CONTENT_POLICY = (
    f"default-src 'none'; style-src 'sha256-{_STYLE_HASH}'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)


@dataclass(frozen=True)
class Invented:
    """The people of the invented school, and the passphrase and PIN that they all share.

    Attributes:
        people: Login name and what the button says after "Enter as".
        passphrase: Shown.
        pin: Shown.
    """

    people: Sequence[tuple[str, str]]
    passphrase: str
    pin: str


def _page(title: str, body: str, school: str, *, alert: str = "", said: str = "") -> str:
    head = escape(school) if school else "No school set up yet"
    warning = f'<p class="alert" role="alert">{escape(alert)}</p>' if alert else ""
    notice = f'<p role="status">{escape(said)}</p>' if said else ""
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)} - riskboard</title><style>{_CSS}</style></head>"
        f'<body><main><p class="head">riskboard · {head}</p><h1>{escape(title)}</h1>{warning}{notice}{body}'
        '<p class="foot">Decision support for preflight. The pilot in command stays responsible.</p>'
        "</main></body></html>"
    )


def _field(
    name: str,
    label: str,
    *,
    kind: str = "text",
    value: str = "",
    complete: str = "off",
    hint: str = "",
    required: bool = True,
    numeric: bool = False,
) -> str:
    described = f' aria-describedby="{name}-hint"' if hint else ""
    below = f'<p class="hint" id="{name}-hint">{escape(hint)}</p>' if hint else ""
    more = ' autocapitalize="none" spellcheck="false"' + described
    more += " required" if required else ""
    more += ' inputmode="numeric"' if numeric else ""
    return (
        f'<label for="{name}">{escape(label)}</label>{below}'
        f'<input id="{name}" name="{name}" type="{kind}" value="{escape(value)}" autocomplete="{complete}"{more}>'
    )


def _hidden(**values: str) -> str:
    return "".join(f'<input type="hidden" name="{name}" value="{escape(value)}">' for name, value in values.items())


def _form(action: str, button: str, *pieces: str) -> str:
    return f'<form method="post" action="{action}">{"".join(pieces)}<button>{escape(button)}</button></form>'


def _link(path: str, wanted: str, text: str) -> str:
    query = "" if wanted == "/" else f"?next={quote(wanted, safe='')}"
    return f'<p><a href="{path}{query}">{escape(text)}</a></p>'


def sign_in_page(
    school: str,
    wanted: str,
    *,
    login_name: str = "",
    alert: str = "",
    said: str = "",
    invented: Invented | None = None,
    outside: str = "",
) -> str:
    """Name and passphrase; the people of the invented school as buttons; the outside provider where there is one.

    Args:
        school: Its name.
        wanted: Where to go afterwards.
        login_name: As typed before.
        alert: What was refused.
        said: What happened before.
        invented: The people of the invented school.
        outside: Name of the outside provider, "" for none.
    """
    form = _form(
        "/enter",
        "Enter",
        _hidden(next=wanted),
        _field("login_name", "Login name", value=login_name, complete="username"),
        _field("passphrase", "Passphrase", kind="password", complete="current-password"),
    )
    body = _invented(invented, wanted) + form if invented else form
    if outside:
        query = "" if wanted == "/" else f"?next={quote(wanted, safe='')}"
        body += f'<h2>Or</h2><a class="button" href="/enter/outside{query}">Enter with {escape(outside)}</a>'
    body += _link("/enter/code", wanted, "I have a one-time code")
    return _page("Enter", body, school, alert=alert, said=said)


def _invented(invented: Invented, wanted: str) -> str:
    buttons = "".join(
        _form("/enter", f"Enter as {who}", _hidden(next=wanted, login_name=login, passphrase=invented.passphrase))
        for login, who in invented.people
    )
    return (
        "<p><strong>Invented data</strong>: nobody and nothing here is real. Everybody's passphrase is "
        f"<strong>{escape(invented.passphrase)}</strong>, everybody's PIN for signing is "
        f'<strong>{escape(invented.pin)}</strong>.</p><div class="people">{buttons}</div>'
        "<h2>As anybody would at a real school</h2>"
    )


def code_page(school: str, wanted: str, *, login_name: str = "", alert: str = "") -> str:
    """Set a passphrase with a one-time code."""
    body = "<p>For the first time, or when you have forgotten your passphrase: an administrator gives you a code.</p>"
    body += _form(
        "/enter/code",
        "Set the passphrase and enter",
        _hidden(next=wanted),
        _field("login_name", "Login name", value=login_name, complete="username"),
        _field("code", "One-time code", complete="one-time-code"),
        *_new_secrets(pin_required=False),
    )
    return _page("Set your passphrase", body + _link("/enter", wanted, "Back"), school, alert=alert)


def _new_secrets(*, pin_required: bool) -> tuple[str, str]:
    passphrase = _field(
        "passphrase",
        "New passphrase",
        kind="password",
        complete="new-password",
        hint=f"At least {MIN_CHARACTERS} characters, without your name. A few words in a row are easy to remember.",
    )
    pin = _field(
        "pin",
        "PIN for signing" if pin_required else "PIN for signing, if you have none yet",
        kind="password",
        complete="off",
        hint="4 to 8 digits. It signs; it is asked for each time.",
        required=pin_required,
        numeric=True,
    )
    return passphrase, pin


def start_page(*, alert: str = "") -> str:
    """The first screen of an empty store: the invented school, or one's own."""
    body = (
        "<p>This store holds no school yet.</p><h2>Look around</h2><p>An invented school: its people, aircraft and "
        "airfields exist nowhere.</p>"
        + _form("/enter/demo", "Open the invented demo school")
        + "<h2>Set up your own school</h2><p>You need the code that the server printed on its console when it started."
        '</p><a class="button" href="/enter/first">Set up your school</a>'
    )
    return _page("Nothing here yet", body, "", alert=alert)


def first_page(school: str, *, typed: "dict[str, str] | None" = None, alert: str = "") -> str:
    """Make the administrator, and the school where there is none."""
    kept = typed or {}
    new_school = (
        ""
        if school
        else _field("school_name", "Name of the school", value=kept.get("school_name", ""), complete="organization")
        + _field(
            "time_zone",
            "Time zone",
            value=kept.get("time_zone", ""),
            hint="Continent/City, for example Europe/Zagreb or America/Denver.",
        )
    )
    body = _form(
        "/enter/first",
        "Set up and enter",
        _field("code", "Code from the console", complete="one-time-code", value=kept.get("code", "")),
        new_school,
        _field("name", "Your name", value=kept.get("name", ""), complete="name"),
        _field("login_name", "Login name", value=kept.get("login_name", ""), complete="username"),
        *_new_secrets(pin_required=True),
    )
    title = "Make an administrator" if school else "Set up your school"
    return _page(title, body + _link("/enter", "/", "Back"), school, alert=alert)


def leave_page(school: str) -> str:
    """Ask before a session is ended, where the browser does not tell who sent the request."""
    return _page("Leave", "<p>What you typed is kept.</p>" + _form("/leave", "Leave riskboard"), school)


def notice_page(school: str, title: str, alert: str) -> str:
    """One sentence, and the way back."""
    return _page(title, _link("/enter", "/", "To the way in"), school, alert=alert)
