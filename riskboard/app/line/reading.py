"""What people typed into the forms at the aircraft, as plain data that the sheets read. Nothing is guessed.

What is no number stays the text that it was, so that the sheet's own check says what is wrong with it.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from riskboard.run_up import RunUpSeen
from riskboard.words import NONE, Difference
from riskboard.worksheet.checks import WorksheetProblem
from riskboard.worksheet.debrief import Condition, all_in_place
from riskboard.worksheet.fact import FactSheet
from riskboard.worksheet.shape import shape_of
from riskboard.worksheet.typed_times import TypedTimeError, iso_utc, local_text, moment_from_text

__all__ = [
    "ALL_IN_PLACE",
    "DEFECT_LINES",
    "NO",
    "SOME",
    "YES",
    "Typed",
    "debrief_from",
    "problems_by_entry",
    "run_up_from",
    "typed_debrief",
    "typed_run_up",
    "without_blanks",
]

Typed = Mapping[str, Sequence[str]]
"""Values by name of the entry; a name may have several."""

YES, NO, SOME = "yes", "no", "some"
ALL_IN_PLACE = "all"
DEFECT_LINES = 3
"""Lines for defects that the form shows; more where more were typed elsewhere."""
_MOST_LINES = 20
_NUMBER = re.compile(r"[+-]?\d{1,9}([.,]\d{1,6})?", re.ASCII)
_FLAGS = {YES: True, NO: False}


def _first(typed: Typed, name: str) -> str:
    return next(iter(typed.get(name, ())), "").strip()


def _number(text: str) -> float | str | None:
    """A number with a decimal point or comma; None for a blank; any other text as it is."""
    if not text:
        return None
    return float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else text


def _flag(text: str) -> bool | str | None:
    return _FLAGS.get(text, text) if text else None


def without_blanks(typed: Typed) -> dict[str, list[str]]:
    """What was really typed or chosen, for a page that shows it back."""
    kept = {name: [value for value in values if value.strip()] for name, values in typed.items()}
    return {name: values for name, values in kept.items() if values}


def run_up_from(typed: Typed) -> tuple[dict[str, Any], tuple[WorksheetProblem, ...]]:
    """The run-up as plain data for its sheet, and answers that contradict each other."""
    data: dict[str, Any] = {}
    problems = []
    for name, info in RunUpSeen.facts().items():
        kind = shape_of(RunUpSeen, name).kind
        text, none = _first(typed, name), _first(typed, f"{name}.none") == NONE
        if none and text:
            problems.append(
                WorksheetProblem(name, f"{info.label}: {text!r} and {_none_word(name)!r} cannot both be; take one back")
            )
        value = NONE if none else {"number": _number, "flag": _flag}.get(kind, _text)(text)
        if value is not None:
            data[name] = value
    return data, tuple(problems)


def _text(text: str) -> str | None:
    return text or None


def _none_word(name: str) -> str:
    return "nothing odd" if name == "anything_odd" else "never"


def typed_run_up(seen: Mapping[str, Any]) -> dict[str, list[str]]:
    """A run-up on record as the form shows it: for whoever does what was left out and enters it again."""
    typed: dict[str, list[str]] = {}
    for name, value in seen.items():
        if value == NONE:
            typed[f"{name}.none"] = [NONE]
        elif isinstance(value, bool):
            typed[name] = [YES if value else NO]
        else:
            typed[name] = [f"{value:g}" if isinstance(value, float) else str(value)]
    return typed


def debrief_from(
    typed: Typed, *, at: datetime, zone: ZoneInfo, not_fitted: tuple[str, ...]
) -> tuple[dict[str, Any], tuple[WorksheetProblem, ...]]:
    """The debrief as plain data for its sheet, and what is no time.

    Args:
        typed: As typed.
        at: Now: a time of day without a date is the last such time.
        zone: The school's zone.
        not_fitted: Items of the condition that the aircraft does not have.
    """
    as_planned = _flag(_first(typed, "as_planned"))
    data: dict[str, Any] = {
        "as_planned": as_planned,
        "meter_h": _number(_first(typed, "meter_h")),
        "refuelled": _flag(_first(typed, "refuelled")),
        "note": _text(_first(typed, "note")),
        "condition": _condition(typed, not_fitted),
        "defects": _defects(typed) or None,
    }
    for name in ("fuel_left_gal", "fuel_left_l"):
        if name in typed:
            data[name] = _number(_first(typed, name))
    if as_planned is not True:  # what was ticked before the flight was said to be as planned is off the screen
        known = {str(word.value) for word in Difference}
        data["differed"] = [{"what": what} for what in typed.get("differed", ()) if what in known] or None
    landed, problems = _landed(_first(typed, "landed_at"), at, zone)
    return {name: value for name, value in (data | {"landed_at": landed}).items() if value is not None}, problems


def _landed(text: str, at: datetime, zone: ZoneInfo) -> tuple[str | None, tuple[WorksheetProblem, ...]]:
    if not text:
        return None, ()
    try:
        return iso_utc(moment_from_text(text, at=at, zone=zone, ahead=False)), ()
    except TypedTimeError as error:
        return None, (WorksheetProblem("landed_at", f"Landed at: {error}"),)


def _condition(typed: Typed, not_fitted: tuple[str, ...]) -> dict[str, str] | None:
    left = _first(typed, "left")
    if left == ALL_IN_PLACE:
        return all_in_place(not_fitted)
    if left != SOME:
        return None
    said = {name: _first(typed, f"condition.{name}") for name in Condition.model_fields}
    return {name: state for name, state in said.items() if state} or None


def _defects(typed: Typed) -> list[dict[str, str]]:
    """Each line that says anything; an effect without a text is a mistake that the sheet names."""
    found = []
    for line in range(_MOST_LINES):
        text, effect = _first(typed, f"defect.{line}.text"), _first(typed, f"defect.{line}.effect")
        if text or effect:
            found.append({"text": text} | ({"effect": effect} if effect else {}))
    return found


def typed_debrief(data: Mapping[str, Any], not_fitted: tuple[str, ...], zone: ZoneInfo) -> dict[str, list[str]]:
    """What was typed elsewhere about the flight so far, as the form shows it. What it cannot show is left blank."""
    typed: dict[str, list[str]] = {}
    for name in ("as_planned", "refuelled"):
        if isinstance(data.get(name), bool):
            typed[name] = [YES if data[name] else NO]
    for name in ("meter_h", "fuel_left_gal", "fuel_left_l", "note"):
        if isinstance(data.get(name), int | float | str) and not isinstance(data[name], bool):
            typed[name] = [_shown(data[name])]
    typed["landed_at"] = [_local(data.get("landed_at"), zone)]
    typed["differed"] = [str(each.get("what", "")) for each in _maps(data.get("differed"))]
    for line, defect in enumerate(_maps(data.get("defects"))):
        typed[f"defect.{line}.text"] = [str(defect.get("text") or "")]
        typed[f"defect.{line}.effect"] = [str(defect.get("effect") or "")]
    left = data.get("condition")
    if isinstance(left, Mapping) and left:
        typed["left"] = [ALL_IN_PLACE if dict(left) == all_in_place(not_fitted) else SOME]
        typed |= {f"condition.{name}": [str(state)] for name, state in left.items()}
    return without_blanks(typed)


def _shown(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.10g}"


def _local(value: object, zone: ZoneInfo) -> str:
    try:
        return local_text(datetime.fromisoformat(value), zone) if isinstance(value, str) else ""
    except ValueError:
        return str(value)


def _maps(value: object) -> list[Mapping[str, Any]]:
    return [each for each in value if isinstance(each, Mapping)] if isinstance(value, list) else []


def problems_by_entry(
    problems: Iterable[WorksheetProblem], *sheets: type[FactSheet]
) -> tuple[dict[str, list[str]], list[str]]:
    """Sentences by entry for those that stand on the page, and the rest."""
    known = {name for sheet in sheets for name in sheet.model_fields}
    by_entry: dict[str, list[str]] = {}
    rest = []
    for problem in problems:
        if problem.field in known:
            by_entry.setdefault(problem.field, []).append(f"{problem.message}.")
        else:
            rest.append(f"{problem.message}.")
    return by_entry, rest
