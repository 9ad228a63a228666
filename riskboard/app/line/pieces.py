"""Pieces of the pages at the aircraft, as HTML: the frame, one entry with its answers, what is on record.

Everything that comes from data or from a person is escaped here, once.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html import escape

from riskboard.app.line.script import SCRIPT_PATH
from riskboard.app.line.style import CSS, STYLE_SOURCE
from riskboard.app.widgets.gates import gate_drawing
from riskboard.assessment.assess import CAUTION
from riskboard.words import Decision

__all__ = [
    "CONTENT_POLICY",
    "Kept",
    "Looks",
    "alert_piece",
    "bar_piece",
    "choice_piece",
    "echo_piece",
    "form_piece",
    "frame",
    "hidden_piece",
    "item_piece",
    "mend_piece",
    "notice_page",
    "number_piece",
    "receipt_piece",
    "verdict_piece",
    "way_piece",
]

CONTENT_POLICY = (
    f"default-src 'none'; style-src {STYLE_SOURCE}; script-src 'self'; connect-src 'self'; form-action 'self'; "
    "frame-ancestors 'none'; base-uri 'none'"
)
_NO_ID = re.compile(r"[^A-Za-z0-9_-]")


@dataclass(frozen=True)
class Kept:
    """What a form carries besides its entries, and what was typed into it before.

    Attributes:
        action: Where it is sent.
        person_id: For whom it was drawn.
        token: Proof that our page drew it for this session.
        event_id: The event of the next press.
        typed: Values by name of the entry, as typed.
        problems: Sentences by name of the entry: what must be mended.
    """

    action: str
    person_id: str
    token: str
    event_id: str
    typed: Mapping[str, Sequence[str]] = field(default_factory=dict)
    problems: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def value(self, name: str) -> str:
        """What was typed, "" for nothing."""
        return next(iter(self.typed.get(name, ())), "")

    def chosen(self, name: str, value: str) -> bool:
        """Whether this answer was chosen."""
        return value in self.typed.get(name, ())


def frame(title: str, school: str, *pieces: str, name: str = "") -> str:
    """A whole page."""
    who = f' · <strong>{escape(name)}</strong> is in · <a href="/leave">Leave</a>' if name else ""
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<title>{escape(title)} - riskboard</title><style>{CSS}</style><script src="{SCRIPT_PATH}" defer></script>'
        f'</head><body><main><p class="head">{escape(school)}{who}</p><h1>{escape(title)}</h1>'
        f'{"".join(pieces)}<p class="foot">{escape(CAUTION)}</p></main></body></html>'
    )


def notice_page(title: str, school: str, alert: str, way: str, *typed: str) -> str:
    """One sentence, what was typed, and a way back."""
    return frame(title, school, alert_piece(alert), *typed, way)


def alert_piece(sentence: str) -> str:
    """What was refused or must be known first."""
    return f'<p class="alert" role="alert" data-alert tabindex="-1">{escape(sentence)}</p>' if sentence else ""


def way_piece(href: str, text: str) -> str:
    """A way on."""
    return f'<p><a class="way" data-way href="{escape(href)}">{escape(text)}</a></p>'


def hidden_piece(name: str, value: str) -> str:
    """A value that travels along."""
    return f'<input type="hidden" name="{escape(name)}" value="{escape(value)}">'


def form_piece(kept: Kept, *pieces: str) -> str:
    """A form whose entries stay on this phone until they are on record."""
    hidden = "".join(
        hidden_piece(name, value)
        for name, value in (("token", kept.token), ("person", kept.person_id), ("event_id", kept.event_id))
    )
    name = f"{kept.action} {kept.person_id}"
    return (
        f'<form method="post" action="{escape(kept.action)}" data-kept="{escape(name)}" autocomplete="off">'
        f"{hidden}{''.join(pieces)}</form>"
    )


def bar_piece(button: str, says: str) -> str:
    """The button, and over it in words whether anything is on record yet."""
    return (
        f'<div class="bar" data-bar><p class="says" role="status" data-says>{escape(says)}</p>'
        f"<div><button>{escape(button)}</button>"
        '<div class="again" data-again hidden></div></div></div>'
    )


def echo_piece(kept: Kept, *, again: bool = True) -> str:
    """What was typed, handed back where the page itself cannot be drawn; with a button to send it again."""
    rows = [(name, value) for name, values in kept.typed.items() for value in values]
    if not rows:
        return ""
    shown = "".join(f"<li><b>{escape(name.replace('_', ' '))}</b>{escape(value)}</li>" for name, value in rows)
    body = f'<h2>What you typed</h2><ol class="found">{shown}</ol>'
    if not again:
        return body
    hidden = {"token": kept.token, "person": kept.person_id, "event_id": kept.event_id}
    travels = "".join(hidden_piece(name, value) for name, value in (*hidden.items(), *rows))
    return f'<form method="post" action="{escape(kept.action)}">{travels}<button>Send it again</button></form>{body}'


def _problems(kept: Kept, name: str) -> tuple[str, str]:
    """The problems of one entry as HTML, and the attribute that ties them to it."""
    said = kept.problems.get(name, ())
    if not said:
        return "", ""
    where = _id(f"{name}-problem")
    return (
        f'<p class="problem" id="{where}">{" ".join(escape(each) for each in said)}</p>',
        f' aria-invalid="true" aria-describedby="{where}"',
    )


def _id(name: str) -> str:
    return f"e-{_NO_ID.sub('-', name)}"


def _place(name: str) -> str:
    return f"at-{_NO_ID.sub('-', name)}"


def mend_piece(kept: Kept) -> str:
    """What must be mended, each with the way to it."""
    lines = "".join(
        f'<li><a class="way" href="#{_place(name)}">{escape(" ".join(said))}</a></li>'
        for name, said in kept.problems.items()
    )
    return f'<ol class="found">{lines}</ol>' if lines else ""


def item_piece(kept: Kept, name: str, label: str, body: str, *, notes: Sequence[str] = (), more: str = "") -> str:
    """A question with answers to choose from."""
    said, _ = _problems(kept, name)
    wrong = " mend" if said else ""
    below = "".join(f'<p class="right">{escape(note)}</p>' for note in notes if note)
    where = _id(f"{name}-ask")
    asked = f'<p class="ask" id="{where}">{escape(label)}</p>'
    return (
        f'<div role="group" id="{_place(name)}" aria-labelledby="{where}" class="item{wrong}{more}">'
        f"{asked}{below}{body}{said}</div>"
    )


def choice_piece(
    kept: Kept, name: str, value: str, label: str, *, kind: str = "radio", less: bool = False, opens: str = ""
) -> str:
    """One answer as a large target."""
    checked = " checked" if kept.chosen(name, value) else ""
    marks = " ".join(each for each in ("" if less else "said", f"opens-{opens}" if opens else "") if each)
    return (
        f'<label class="choice{" less" if less else ""}"><input type="{kind}" name="{escape(name)}" '
        f'value="{escape(value)}" class="{marks}"{checked}><span>{escape(label)}</span></label>'
    )


@dataclass(frozen=True)
class Looks:
    """How an entry to type into is drawn.

    Attributes:
        notes: What is said under the question.
        warning: What must not be overlooked about it, "" for nothing.
        never: The answer where what should have come never came, "" where there is no such answer.
        words: Whether it is a text.
        beside: Whether it stands beside the question, for short numbers.
    """

    notes: Sequence[str] = ()
    warning: str = ""
    never: str = ""
    words: bool = False
    beside: bool = False


_PLAIN = Looks()


def number_piece(kept: Kept, name: str, label: str, unit: str, looks: Looks = _PLAIN) -> str:
    """A number, or a short text, to type; ``unit`` is "" for none."""
    said, tied = _problems(kept, name)
    where = _id(name)
    below = "".join(f'<p class="right">{escape(note)}</p>' for note in looks.notes if note)
    warning = f'<p class="warns">{escape(looks.warning)}</p>' if looks.warning else ""
    kind = ' class="words"' if looks.words else ' inputmode="decimal"'
    other = choice_piece(kept, f"{name}.none", "none", looks.never, kind="checkbox") if looks.never else ""
    return (
        f'<div id="{_place(name)}" class="item{" beside" if looks.beside else ""}{" mend" if said else ""}">'
        f'<div><label class="ask" for="{where}">{escape(label)}</label>{below}</div>'
        f'<div class="take"><input type="text" id="{where}" name="{escape(name)}" value="{escape(kept.value(name))}"'
        f'{kind} placeholder=" " autocomplete="off"{tied}>'
        f"{f'<span class=unit>{escape(unit)}</span>' if unit else ''}{other}</div>{warning}{said}</div>"
    )


def verdict_piece(decision: Decision, said: str, more: str) -> str:
    """The answer, with its own sign."""
    no = "" if decision is Decision.go else " no"
    words = f"<strong>{escape(said)}</strong><span>{escape(more)}</span>"
    return f'<div class="verdict{no}">{gate_drawing(decision)}{words}</div>'


def receipt_piece(receipt: str) -> str:
    """The receipt, folded away."""
    return (
        f'<details><summary>Receipt, to copy to paper</summary><p class="receipt">{escape(receipt)}</p></details>'
        if receipt
        else ""
    )
