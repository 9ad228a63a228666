"""The run-up as a page for a thumb: what is on record, then what the type asks for, in the order of the run-up."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from riskboard.app.line.pieces import (
    Kept,
    Looks,
    alert_piece,
    bar_piece,
    choice_piece,
    form_piece,
    frame,
    item_piece,
    mend_piece,
    number_piece,
    receipt_piece,
    verdict_piece,
    way_piece,
)
from riskboard.app.line.reading import NO, YES
from riskboard.run_up import RunUpSeen
from riskboard.run_up.rule import Clearance, Finding
from riskboard.words import NONE, Decision
from riskboard.worksheet.shape import shape_of

__all__ = ["Entry", "Ran", "RunUpView", "only_to_do", "run_up_page"]

_GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Start and clutch", ("oil_pressure_after_s", "rotor_turning_after_s", "clutch_light_out_after_s")),
    (
        "Magnetos",
        (
            "magneto_check_rpm_pct",
            "magneto_left_drop_pct",
            "magneto_left_held_s",
            "magneto_right_drop_pct",
            "magneto_right_held_s",
            "magnetos_smooth",
        ),
    ),
    (
        "Carburettor heat, governor, warning",
        ("carburettor_heat_rise_c", "governor_rpm_pct", "low_rotor_warning_rpm_pct"),
    ),
    (
        "Look and listen",
        ("hydraulics_good", "warning_lights_out", "gauges_normal", "fuel_as_briefed", "anything_odd"),
    ),
)
_CLEARS = {
    Clearance.maintenance_signs: ("signs", "Maintenance must sign before it flies"),
    Clearance.do_it: ("again", "Do it, then enter the run-up again"),
    Clearance.brief_again: ("again", "Brief the flight again"),
}


@dataclass(frozen=True)
class Entry:
    """One entry that the type asks for.

    Attributes:
        item: Name of the entry.
        right: What is right, in words; "" where the question says it.
        before: What was read before; "" for nothing.
        drift: How it moves toward its limit from flight to flight, in words; "" where it does not.
    """

    item: str
    right: str = ""
    before: str = ""
    drift: str = ""


@dataclass(frozen=True)
class Ran:
    """The run-up on record for this release.

    Attributes:
        decision: What it came to.
        number: Number of the record.
        said: When and by whom.
        findings: What stands against taking off.
        unjudged: Why it could not be judged, "" where it could.
        grounded: Whether it grounded the aircraft.
        seen: What was entered.
        receipt: The receipt.
    """

    decision: Decision
    number: int
    said: str
    findings: Sequence[Finding]
    unjudged: str
    grounded: bool
    seen: RunUpSeen
    receipt: str


@dataclass(frozen=True)
class RunUpView:
    """Everything the page shows.

    Attributes:
        school: The line at the top.
        name: Who is in.
        flight_id: The flight.
        registration: The aircraft.
        facts: The flight in a few words.
        stated_in: Which type, and where its tolerances are stated.
        entries: What the type asks for.
        difference: What is right of the two drops of the magnetos, "" for nothing.
        no_type: Why nothing can be judged, "" where it can.
        void: Why the release holds no longer.
        ran: What is on record, None for nothing.
        closed: Why no run-up is entered now, "" where one is.
        left: Whether the aircraft has left.
        fuel: Fuel as briefed, in words.
    """

    school: str
    name: str
    flight_id: str
    registration: str
    facts: str
    stated_in: str
    entries: Sequence[Entry]
    difference: str
    no_type: str
    void: Sequence[str]
    ran: Ran | None
    closed: str
    left: bool
    fuel: str


def run_up_page(view: RunUpView, kept: Kept, leaves: Kept, *, alert: str = "") -> str:
    """The whole page.

    Args:
        view: What is shown.
        kept: The form of the run-up.
        leaves: The form of the departure.
        alert: What was refused just now.
    """
    pieces = [f'<p class="facts">{escape(view.facts)}</p>', alert_piece(alert), mend_piece(kept)]
    if view.ran is not None:
        pieces.append(_on_record(view, view.ran))
    pieces.append(_void(view))
    if view.closed:
        pieces.append(f"<p><strong>{escape(view.closed)}</strong></p>")
    elif view.ran is None:
        pieces.append(_form(view, kept, "Save the run-up"))
    elif only_to_do(view.ran):
        pieces.append(_form(view, kept, "Save it again"))
    else:
        if view.ran.decision is Decision.go:
            pieces.append(form_piece(leaves, bar_piece("It leaves now", "Press when it lifts off.")))
        folded = "" if not kept.typed else " open"
        again = _form(view, kept, "Save it again")
        pieces.append(f"<details{folded}><summary>Enter the run-up again</summary>{again}</details>")
    if view.left:
        pieces.append(way_piece(f"/shut-down/{view.flight_id}", "Back again? Shut down and close the flight"))
    pieces.append(way_piece(f"/?flight={view.flight_id}", "To the flight's worksheet"))
    return frame(f"Run-up {view.registration}", view.school, *pieces, name=view.name)


def only_to_do(ran: Ran) -> bool:
    """Whether only something not done stands against it, so that the crew can mend it here and now."""
    return bool(ran.findings) and all(each.clearance is Clearance.do_it for each in ran.findings)


def _void(view: RunUpView) -> str:
    """Why the release holds no longer, beside what this run-up has said already."""
    more = [each for each in view.void if view.ran is None or not _said_by(view.ran, each)]
    return alert_piece(f"The release holds no longer. {' '.join(more)} Brief the flight again.") if more else ""


def _said_by(ran: Ran, sentence: str) -> bool:
    """Whether a sentence about the release only repeats what this run-up found."""
    return any(each.sentence in sentence for each in ran.findings)


def _on_record(view: RunUpView, ran: Ran) -> str:
    good = ran.decision is Decision.go
    said = "Run-up good" if good else "No-go"
    more = "Nothing listed stands against taking off." if good else _stands(view, ran)
    found = "".join(_found(each) for each in ran.findings)
    return (
        f'<section data-record tabindex="-1" aria-label="On record">{verdict_piece(ran.decision, said, more)}'
        f"<p><strong>On record</strong> as number {ran.number}, {escape(ran.said)}.</p>"
        f"{alert_piece(ran.unjudged)}"
        f"{f'<ol class=found>{found}</ol>' if found else ''}{receipt_piece(ran.receipt)}</section>"
    )


def _stands(view: RunUpView, ran: Ran) -> str:
    if ran.grounded:
        return f"{view.registration} is grounded: it does not fly until maintenance has signed."
    if ran.findings or ran.unjudged:
        return "It does not leave like this."
    return "The release holds no longer."


def _found(finding: Finding) -> str:
    mark, who = _CLEARS[finding.clearance]
    return f'<li><b>{escape(finding.sentence)}</b><span class="mark {mark}">{escape(who)}</span></li>'


def _form(view: RunUpView, kept: Kept, button: str) -> str:
    if view.no_type:
        return alert_piece(view.no_type)
    asked = {entry.item: entry for entry in view.entries}
    groups = "".join(
        _group(title, [asked[name] for name in names if name in asked], view, kept) for title, names in _GROUPS
    )
    says = "Nothing is on record until this page says so. What is left blank counts as not done."
    stated = f'<p class="why">{escape(view.stated_in)}</p>'
    return form_piece(kept, f'{stated}<div class="wide">{groups}</div>', bar_piece(button, says))


def _group(title: str, entries: Sequence[Entry], view: RunUpView, kept: Kept) -> str:
    if not entries:
        return ""
    return f'<div class="group"><h2>{escape(title)}</h2>{"".join(_pieces(entries, view, kept))}</div>'


def _pieces(entries: Sequence[Entry], view: RunUpView, kept: Kept) -> Iterator[str]:
    for entry in entries:
        info = RunUpSeen.facts()[entry.item]
        shape = shape_of(RunUpSeen, entry.item)
        right = f"Right: {entry.right}" if entry.right and shape.kind == "number" else ""
        notes = [right, _also(entry.item, view), entry.before]
        if shape.kind == "number":
            never = "never" if shape.none_answer else ""
            looks = Looks(notes=notes, warning=entry.drift, never=never, beside=not never)
            yield number_piece(kept, entry.item, info.label, info.unit, looks)
        elif shape.kind == "flag":
            yield item_piece(kept, entry.item, info.label, _yes_no(kept, entry.item), notes=notes)
        else:
            yield _odd(kept, entry.item, info.label)


def _also(item: str, view: RunUpView) -> str:
    return {"fuel_as_briefed": view.fuel, "magneto_right_drop_pct": view.difference}.get(item, "")


def _yes_no(kept: Kept, name: str) -> str:
    answers: Mapping[str, str] = {YES: "Yes", NO: "No"}
    tiles = "".join(choice_piece(kept, name, value, label) for value, label in answers.items())
    return f'<div class="choices">{tiles}{choice_piece(kept, name, "", "not done", less=True)}</div>'


def _odd(kept: Kept, name: str, label: str) -> str:
    nothing = choice_piece(kept, f"{name}.none", NONE, "Nothing odd", kind="checkbox")
    text = (
        f'<div class="take"><input type="text" class="words" name="{escape(name)}" value="{escape(kept.value(name))}" '
        'placeholder=" " autocomplete="off" aria-label="What was odd"></div>'
    )
    return item_piece(kept, name, label, f'<div class="choices">{nothing}</div>{text}')
