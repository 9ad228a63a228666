"""Shut-down and hand-back as a page for a thumb: the waits, how it went, how the aircraft is left."""

from collections.abc import Sequence
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
    way_piece,
)
from riskboard.app.line.reading import ALL_IN_PLACE, DEFECT_LINES, NO, SOME, YES
from riskboard.words import DefectEffect, Difference, ItemLeft
from riskboard.worksheet.debrief import SEVERITY, Condition, Told

__all__ = ["Closed", "ShutDownView", "WaitFor", "shut_down_page"]

_MINUTE_S = 60
_STATES = {
    ItemLeft.in_place.value: "in place",
    ItemLeft.out_of_place.value: "out of place",
    ItemLeft.not_fitted.value: "not fitted",
}


@dataclass(frozen=True)
class WaitFor:
    """One wait of the shut-down.

    Attributes:
        name: What the phone keeps it under.
        title: What is waited for.
        lasts_s: How long.
        then: What may be done when it is over.
    """

    name: str
    title: str
    lasts_s: float
    then: str


@dataclass(frozen=True)
class Closed:
    """What is said once the flight is closed."""

    said: str
    unknown: str
    receipt: str


@dataclass(frozen=True)
class ShutDownView:
    """Everything the page shows.

    Attributes:
        school: The line at the top.
        name: Who is in.
        flight_id: The flight.
        registration: The aircraft.
        facts: The flight in a few words.
        waits: Waits of the type, in their order.
        no_waits: Why none are known, "" where they are.
        meter: What is known of the meter.
        fuel: What the plan says of the fuel.
        metric: Whether fuel is entered in litres.
        not_fitted: Items that the aircraft does not have, by label.
        open: Whether it can be closed by this person; otherwise ``why_not`` says why.
        why_not: A sentence.
        closed: What is on record.
    """

    school: str
    name: str
    flight_id: str
    registration: str
    facts: str
    waits: Sequence[WaitFor]
    no_waits: str
    meter: str
    fuel: str
    metric: bool
    not_fitted: Sequence[str]
    open: bool
    why_not: str
    closed: Closed | None = None


def shut_down_page(view: ShutDownView, kept: Kept, *, alert: str = "") -> str:
    """The whole page.

    Args:
        view: What is shown.
        kept: The form.
        alert: What was refused just now.
    """
    pieces = [f'<p class="facts">{escape(view.facts)}</p>', alert_piece(alert), mend_piece(kept)]
    if view.closed is not None:
        pieces.append(_closed(view.closed))
        pieces.append(way_piece("/", "Brief another flight"))
    elif not view.open:
        pieces += [alert_piece(view.why_not), way_piece(f"/?flight={view.flight_id}", "To the flight's record")]
    else:
        pieces += [_waits(view), _form(view, kept)]
        pieces.append(way_piece(f"/debrief?flight={view.flight_id}", "Close it on the large page instead"))
    return frame(f"Shut down {view.registration}", view.school, *pieces, name=view.name)


def _closed(closed: Closed) -> str:
    unknown = f"<p>{escape(closed.unknown)}</p>" if closed.unknown else ""
    return (
        f'<section data-record tabindex="-1" aria-label="On record"><p class="closed"><strong>On record.</strong> '
        f"{escape(closed.said)}</p>{unknown}{receipt_piece(closed.receipt)}</section>"
    )


def _waits(view: ShutDownView) -> str:
    body = "".join(_wait(each) for each in view.waits) or f"<p>{escape(view.no_waits)}</p>"
    return (
        f'<section aria-label="Waits"><h2>Waits</h2><div class="waits">{body}</div>'
        '<p class="why">The phone counts; nothing of it goes on record. The flight manual prevails.</p></section>'
    )


def _wait(wait: WaitFor) -> str:
    whole = round(wait.lasts_s)
    shown = f"{whole // _MINUTE_S}:{whole % _MINUTE_S:02d}"
    return (
        f'<div class="wait" data-wait="{wait.lasts_s:g}" data-name="{escape(wait.name)}" '
        f'data-then="{escape(wait.then)}">'
        f'<span><strong id="wait-{escape(wait.name)}">{escape(wait.title)}</strong> '
        '<span data-over role="status"></span></span>'
        f'<span class="wait-left" data-left>{shown}</span>'
        f'<button type="button" hidden aria-describedby="wait-{escape(wait.name)}">Start</button></div>'
    )


def _form(view: ShutDownView, kept: Kept) -> str:
    groups = (
        ("How it went", _went(kept)),
        ("Meter and fuel", _meter_and_fuel(view, kept)),
        ("How it is left", _left(view, kept)),
        ("Found or worth knowing", _found(kept)),
    )
    body = "".join(f'<div class="group"><h2>{escape(title)}</h2>{piece}</div>' for title, piece in groups)
    says = "Nothing is on record until this page says so."
    return form_piece(kept, f'<div class="wide">{body}</div>', bar_piece("Close the flight", says))


def _choices(kept: Kept, name: str, answers: Sequence[tuple[str, str]], *, opens: str = "") -> str:
    tiles = "".join(
        choice_piece(kept, name, value, label, opens="" if not opens or value not in {NO, SOME} else opens)
        for value, label in answers
    )
    return f'<div class="choices">{tiles}</div>'


def _went(kept: Kept) -> str:
    info = Told.facts()
    asked = _choices(kept, "as_planned", ((YES, "As planned"), (NO, "Something differed")), opens="differed")
    by_weight = sorted(Difference, key=lambda word: SEVERITY[word])
    ticks = "".join(
        choice_piece(kept, "differed", word.value, word.value.replace("_", " "), kind="checkbox") for word in by_weight
    )
    return item_piece(kept, "as_planned", "How did it go?", asked) + item_piece(
        kept,
        "differed",
        info["differed"].label,
        f'<div class="choices list">{ticks}</div>',
        notes=["Tick what fits, or tell it in your own words below."],
        more=" only-differed",
    )


def _meter_and_fuel(view: ShutDownView, kept: Kept) -> str:
    info = Told.facts()
    name, unit = ("fuel_left_l", "L") if view.metric else ("fuel_left_gal", info["fuel_left_gal"].unit)
    yes_no = _choices(kept, "refuelled", ((YES, "Yes"), (NO, "No")))
    return (
        number_piece(kept, "meter_h", info["meter_h"].label, info["meter_h"].unit, Looks([view.meter]))
        + number_piece(kept, name, info["fuel_left_gal"].label, unit, Looks([view.fuel]))
        + item_piece(kept, "refuelled", info["refuelled"].label, yes_no)
        + number_piece(
            kept, "landed_at", info["landed_at"].label, "local", Looks(["14:30. Blank: just now."], words=True)
        )
    )


def _left(view: ShutDownView, kept: Kept) -> str:
    answers = ((ALL_IN_PLACE, "All in place"), (SOME, "Not all in place"))
    lacks = f"Not fitted: {', '.join(label.lower() for label in view.not_fitted)}." if view.not_fitted else ""
    asked = item_piece(
        kept, "left", "The aircraft was left", _choices(kept, "left", answers, opens="details"), notes=[lacks]
    )
    items = "".join(
        item_piece(
            kept,
            f"condition.{name}",
            info.label,
            _choices(kept, f"condition.{name}", tuple(_STATES.items())),
            more=" only-details",
        )
        for name, info in Condition.facts().items()
    )
    return asked + items


def _found(kept: Kept) -> str:
    info = Told.facts()
    lines = "".join(_defect(kept, line) for line in range(_lines(kept)))
    said = " ".join(kept.problems.get("defects", ()))
    return (
        f"{alert_piece(said)}<details{' open' if kept.value('defect.0.text') or said else ''}><summary>"
        f"{escape(info['defects'].label)}?</summary>{lines}</details>"
        + number_piece(kept, "note", info["note"].label, "", Looks(words=True))
    )


def _lines(kept: Kept) -> int:
    return max(DEFECT_LINES, sum(name.startswith("defect.") and name.endswith(".text") for name in kept.typed))


def _defect(kept: Kept, line: int) -> str:
    name = f"defect.{line}"
    effects = "".join(
        f'<option value="{effect.value}"{" selected" if kept.chosen(f"{name}.effect", effect.value) else ""}>'
        f"{escape(effect.value.replace('_', ' '))}</option>"
        for effect in DefectEffect
    )
    return number_piece(kept, f"{name}.text", f"Defect {line + 1}", "", Looks(words=True)) + (
        f'<div class="item"><label class="ask" for="e-effect-{line}">What it forbids</label>'
        f'<select id="e-effect-{line}" name="{name}.effect"><option value="">nobody has said</option>{effects}'
        "</select></div>"
    )
