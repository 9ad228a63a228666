"""Plain data -> Worksheet. Every entry is read by itself, so that one mistake never hides another or loses an entry.

Nothing is guessed and nothing dropped without a word: an entry ends up in the worksheet, or in a problem that says what
was wrong, which entry by its label, and what would be right.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from riskboard import units
from riskboard.words import NONE
from riskboard.worksheet.checks import WorksheetProblem, contradictions
from riskboard.worksheet.fact import FactClock, FactInfo, FactSheet, Part
from riskboard.worksheet.kinds import shown
from riskboard.worksheet.model import FIELD_PART, PARTS, SCHEMA, Worksheet
from riskboard.worksheet.names import EntryName, entry_names
from riskboard.worksheet.shape import Shape, nearest, shape_of

__all__ = [
    "MAX_LIST_ENTRIES",
    "MAX_PROBLEMS",
    "PartMemo",
    "WorksheetError",
    "partial_facts",
    "partial_worksheet",
    "read_worksheet",
]

MAX_LIST_ENTRIES = 200
"""Most entries of one list; a longer one is refused as a whole."""
MAX_NAMES = 500
"""Most names read in one part; more are refused as a whole."""
MAX_PROBLEMS = 100
"""Most problems described one by one; the last one says how many more there are."""

_DECIMALS = 9
"""Finer digits than these are noise of a computer, never an entry, and do not fit a decimal of 15 digits."""
_GREATEST_NUMBER = 10**15
_LONGEST_NUMBER = 40

_UNREADABLE = object()
"""Stands for a value that no field may take; messages show the value given."""

_Path = tuple[str | int, ...]

PartMemo = dict[tuple[str, int], tuple[Any, dict[str, Any], tuple[WorksheetProblem, ...]]]
"""What was read of a part, by its name and the identity of its data. The data are kept, so it stays theirs."""


class WorksheetError(Exception):
    """The data are no sound worksheet. ``problems`` holds everything to mend, in the order given."""

    def __init__(self, problems: tuple[WorksheetProblem, ...]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems


def read_worksheet(data: Mapping[str, Any]) -> Worksheet:
    """Read a worksheet from plain data such as JSON, a form or YAML gives.

    Args:
        data: The five parts by name, each a mapping of entries; optionally ``schema`` and ``clocks``. A number may be
            given in another unit under the name with that unit's ending (``visibility_m`` for ``visibility_sm``): it
            is converted once and rounded to the field's resolution. A blank (None or an empty text) is unknown,
            "none" is an answer, for a list too.

    Returns:
        The worksheet, checked for contradictions (not against a clock: see ``clock_contradictions``).

    Raises:
        WorksheetError: Something must be mended; all problems are listed.
    """
    sheet, problems = partial_worksheet(data)
    if problems:
        raise WorksheetError(problems)
    return sheet


def partial_worksheet(
    data: Mapping[str, Any], *, memo: PartMemo | None = None
) -> tuple[Worksheet, tuple[WorksheetProblem, ...]]:
    """Read what is sound and report the rest, so that a page can show what is left to mend.

    Args:
        data: As for :func:`read_worksheet`.
        memo: For many worksheets that share parts: the very same object is read once. Nobody may change it meanwhile.

    Returns:
        The worksheet with every unsound entry blank (that is: unknown, which never helps), and the problems. A list
        with one unsound entry is blank as a whole: without that entry it would look complete. Entries that
        contradict each other are blank all of them.
    """
    reading = _Reading(memo=memo)
    parts = reading.parts(data)
    clocks = reading.clocks(data.get("clocks")) if isinstance(data, Mapping) else {}
    sheet = reading.without_contradictions(parts, clocks)
    return sheet, _bounded(reading.problems)


def partial_facts(model: type[FactSheet], data: Any, what: str) -> tuple[dict[str, Any], tuple[WorksheetProblem, ...]]:
    """Read one sheet of facts that is no part of a worksheet (a debrief, what a school keeps), just as strictly.

    Args:
        model: The sheet.
        data: Its entries by name, as for a part of :func:`read_worksheet`.
        what: What messages call it: "the debrief".

    Returns:
        The sound entries by field, blanks left out, and the problems.
    """
    reading = _Reading()
    if not isinstance(data, Mapping):
        reading.refuse(what, f"{what} is a map of entries, not {shown(data)}", ())
        return {}, tuple(reading.problems)
    given = reading.given(model, data, what, (what,))
    return reading.sound(model, given, model.facts(), ""), _bounded(reading.problems)


def _bounded(problems: Sequence[WorksheetProblem]) -> tuple[WorksheetProblem, ...]:
    if len(problems) <= MAX_PROBLEMS:
        return tuple(problems)
    rest = len(problems) - MAX_PROBLEMS + 1
    return (*problems[: MAX_PROBLEMS - 1], WorksheetProblem("worksheet", f"and {rest} more problems after these"))


@dataclass(frozen=True)
class _Given:
    """One entry as given: under which name, which value, and what is read of it."""

    path: _Path
    raw: Any
    name: EntryName
    value: Any

    def shown(self) -> str:
        """The value as the person gave it; in another unit, with what it comes to."""
        if self.name.from_unit is None or not isinstance(self.value, float):
            return shown(self.raw)
        return f"{shown(self.raw)} {self.name.unit_word} ({self.value:g} in the unit of the entry)"


def _is_blank(raw: Any) -> bool:
    return raw is None or (isinstance(raw, str) and not raw.strip())


def _is_number(raw: Any) -> bool:
    return isinstance(raw, int | float) and not isinstance(raw, bool) and abs(raw) < _GREATEST_NUMBER


def _value(raw: Any, name: EntryName, shape: Shape) -> Any:
    """The value in the field's own unit; whatever is no number stays as it is, to be refused with its own words."""
    if shape.kind == "number" and _is_number(raw):
        if name.from_unit is not None:
            return units.convert_rounded(float(raw), name.from_unit, name.to_unit, name.resolution)
        return round(float(raw), _DECIMALS) + 0.0
    if shape.kind == "whole" and isinstance(raw, float) and raw.is_integer() and _is_number(raw):
        return int(raw)
    if isinstance(raw, bytes) or (isinstance(raw, int) and not isinstance(raw, bool) and not _is_number(raw)):
        return _UNREADABLE  # bytes would pass for a word, and an endless number for a float
    return raw


@dataclass
class _Reading:
    """Reads one worksheet and collects what is wrong."""

    problems: list[WorksheetProblem] = field(default_factory=list)
    memo: PartMemo | None = None

    def refuse(self, field_name: str, message: str, path: _Path, also: tuple[str, ...] = ()) -> None:
        self.problems.append(WorksheetProblem(field_name, message, also, path))

    def parts(self, data: Any) -> dict[str, dict[str, Any]]:
        """The sound entries of each part."""
        sound: dict[str, dict[str, Any]] = {part: {} for part in PARTS}
        if not isinstance(data, Mapping):
            self.refuse("worksheet", f"a worksheet is a map of its five parts, not {shown(data)}", ())
            return sound
        known = ("schema", *PARTS, "clocks")
        if len(data) > MAX_NAMES:
            self.refuse("worksheet", f"{len(data)} names are given; a worksheet has only {', '.join(known)}", ())
            return sound
        for key, value in data.items():
            if key in PARTS:
                sound[key] = self.remembered(key, value)
            elif key == "schema" and value != SCHEMA:
                self.refuse("schema", f"schema is {shown(value)}; this program reads '{SCHEMA}'", ("schema",))
            elif key not in known:
                self.unknown_name(key, "a worksheet", known, (key,))
        return sound

    def unknown_name(self, key: Any, where: str, known: Iterable[str], path: _Path) -> None:
        name = shown(key) if isinstance(key, str) else f"{shown(key)} (which is no text)"
        hint = f"write one of {', '.join(known)}" if where == "a worksheet" else "remove it or correct the name"
        if isinstance(key, str) and key in FIELD_PART:
            hint = f"it belongs in {FIELD_PART[key]}"
        elif isinstance(key, str) and (close := nearest(key, known)) is not None:
            hint = f"the nearest name is '{close}'"
        self.refuse(_reported(shown(key).strip("'"), path), f"{where} has no entry called {name}; {hint}", path)

    def remembered(self, part: str, value: Any) -> dict[str, Any]:
        if self.memo is None:
            return self.part(part, value)
        known = self.memo.get((part, id(value)))
        if known is None:
            before = len(self.problems)
            known = value, self.part(part, value), tuple(self.problems[before:])
            self.memo[part, id(value)] = known
        else:
            self.problems += known[2]
        return dict(known[1])

    def part(self, part: str, value: Any) -> dict[str, Any]:
        """The sound entries of one part, by field."""
        if value is None:
            return {}
        if not isinstance(value, Mapping):
            self.refuse(part, f"{part} is a map of entries, not {shown(value)}", (part,))
            return {}
        model = PARTS[part]
        given = self.given(model, value, f"the part {part}", (part,))
        return self.sound(model, given, model.facts(), "")

    def given(self, model: type[BaseModel], data: Mapping[Any, Any], where: str, path: _Path) -> dict[str, _Given]:
        """Entries that are filled, by field; unknown names and a fact given in two units are refused."""
        names = entry_names(model)
        if len(data) > MAX_NAMES:
            self.refuse(
                _reported(str(path[0]), path),
                f"{where}: {len(data)} names are given, it has {len(model.model_fields)}",
                path,
            )
            return {}
        found: dict[str, _Given] = {}
        twice: dict[str, list[str]] = {}
        for key, raw in data.items():
            if not isinstance(key, str) or key not in names:
                self.unknown_name(key, where, names, (*path, key if isinstance(key, str | int) else str(type(key))))
                continue
            name = names[key]
            if _is_blank(raw):
                continue
            if name.field in found:
                twice.setdefault(name.field, [str(found[name.field].path[-1])]).append(key)
            value = _value(raw, name, shape_of(model, name.field))
            found[name.field] = _Given((*path, key), raw, name, value)
        for field_name, keys in twice.items():
            label = _label(model, field_name)
            message = f"{label}: given more than once, as {' and '.join(keys)}; keep the one that was measured"
            self.refuse(_reported(field_name, path), message, found.pop(field_name).path)
        return found

    def sound(
        self, model: type[BaseModel], given: dict[str, _Given], infos: Mapping[str, FactInfo], lead: str
    ) -> dict[str, Any]:
        """Those of the given entries that the model accepts; the others are refused, each in its own words."""
        values = {name: entry.value for name, entry in given.items()}
        for name, entry in given.items():
            shape = shape_of(model, name)
            if shape.kind == "list":
                values[name] = self.entries(shape, entry, infos[name].label)
        values = {name: value for name, value in values.items() if value is not None}
        try:
            read = model.model_validate(values)
        except ValidationError as error:
            by_field: dict[str, list[ErrorDetails]] = {}
            for detail in error.errors(include_url=False):
                by_field.setdefault(str(detail["loc"][0]), []).append(detail)
            for name, details in by_field.items():
                entry = given[name]
                info = infos[name]
                message = f"{lead}{info.label}: {_wrong(shape_of(model, name), info.unit, entry, details)}"
                self.refuse(_reported(name, entry.path), message, entry.path)
            read = model.model_validate({name: value for name, value in values.items() if name not in by_field})
        return {name: getattr(read, name) for name in values if name in read.model_fields_set}

    def entries(self, shape: Shape, given: _Given, label: str) -> tuple[BaseModel, ...] | None:
        """All entries of a list, or None when one of them is unsound."""
        raw, path, name = given.raw, given.path, given.name.field
        if raw == NONE:
            return ()
        if not isinstance(raw, Sequence) or isinstance(raw, str | bytes):
            self.refuse(name, f"{label}: {shown(raw)} is no list; write {shape.right()}", path)
            return None
        if len(raw) > MAX_LIST_ENTRIES:
            self.refuse(name, f"{label}: {len(raw)} entries; at most {MAX_LIST_ENTRIES} are read", path)
            return None
        read = [self.entry(shape, item, label, (*path, position)) for position, item in enumerate(raw)]
        sound = tuple(item for item in read if item is not None)
        return sound if len(sound) == len(read) else None

    def entry(self, shape: Shape, item: Any, label: str, path: _Path) -> BaseModel | None:
        """One entry of a list, or None when something in it is unsound."""
        model = shape.entry
        assert model is not None  # noqa: S101  - a shape of kind list has its entry's model
        if isinstance(item, model):
            return item
        number = f"{label}, entry {int(path[-1]) + 1}"
        if not isinstance(item, Mapping):
            names = ", ".join(model.model_fields)
            self.refuse(_reported("", path), f"{number}: {shown(item)} is no entry; give {names}", path)
            return None
        return self.built(model, item, number, path)

    def built(self, model: type[BaseModel], item: Mapping[Any, Any], number: str, path: _Path) -> BaseModel | None:
        before = len(self.problems)
        given = self.given(model, item, number, path)
        values = {name: entry.value for name, entry in given.items()}
        try:
            read = model.model_validate(values)
        except ValidationError as error:
            by_field: dict[str, list[ErrorDetails]] = {}
            for detail in error.errors(include_url=False):
                by_field.setdefault(str(detail["loc"][0]) if detail["loc"] else "", []).append(detail)
            for name, details in by_field.items():
                self.refuse_in_entry(model, name, details, given.get(name), (number, path))
            return None
        return read if len(self.problems) == before else None

    def refuse_in_entry(
        self,
        model: type[BaseModel],
        name: str,
        details: list[ErrorDetails],
        entry: _Given | None,
        place: tuple[str, _Path],
    ) -> None:
        number, path = place
        if not name:
            self.refuse(_reported("", path), f"{number}: {_own_words(details)}", path)
        elif entry is None:
            right = shape_of(model, name).right()
            self.refuse(_reported("", path), f"{number}: {_spoken(name)} is missing; write {right}", path)
        else:
            wrong = _wrong(shape_of(model, name), "", entry, details)
            self.refuse(_reported("", path), f"{number}, {_spoken(name)}: {wrong}", entry.path)

    def clocks(self, data: Any) -> dict[str, FactClock]:
        """The sound clocks: for a fact, when it was true and when it was typed."""
        if data is None:
            return {}
        if not isinstance(data, Mapping) or len(data) > MAX_NAMES:
            self.refuse(
                "clocks", f"clocks is a map from an entry's name to its two times, not {shown(data)}", ("clocks",)
            )
            return {}
        sound: dict[str, FactClock] = {}
        for key, value in data.items():
            path: _Path = ("clocks", key if isinstance(key, str) else str(type(key)))
            if key not in FIELD_PART:
                self.unknown_name(key, "clocks", FIELD_PART, path)
            elif isinstance(value, FactClock):
                sound[key] = value
            elif not isinstance(value, Mapping):
                self.refuse(key, f"Clock of {key}: {shown(value)} is no clock; give true_at and typed_at", path)
            else:
                read = self.built(FactClock, value, f"Clock of {key}", path)
                if isinstance(read, FactClock):
                    sound[key] = read
        return sound

    def without_contradictions(self, parts: dict[str, dict[str, Any]], clocks: Mapping[str, FactClock]) -> Worksheet:
        """The worksheet of the sound entries, with those blank that cannot all be true."""
        while True:
            built: dict[str, Part] = {part: PARTS[part].model_construct(**entries) for part, entries in parts.items()}
            sheet = Worksheet.model_construct(**built, clocks=clocks)  # type: ignore[arg-type]
            found = contradictions(sheet)
            if not found:
                return Worksheet.model_validate({**built, "clocks": clocks})
            for problem in found:
                self.problems.append(replace(problem, path=(FIELD_PART[problem.field], problem.field)))
                for name in (problem.field, *problem.also):
                    parts[FIELD_PART[name]].pop(name, None)


def _spoken(name: str) -> str:
    return name.replace("_", " ")


def _label(model: type[BaseModel], name: str) -> str:
    return model.model_fields[name].title or _spoken(name)


def _reported(name: str, path: _Path) -> str:
    """The worksheet field a problem belongs to: what is wrong in a list's entry is reported at the list."""
    if path and path[0] == "clocks":
        return str(path[1])
    if len(path) > 2:  # noqa: PLR2004  - (part, field, ...)
        return str(path[1])
    return name


def _own_words(details: list[ErrorDetails]) -> str:
    """The sentence of the worksheet's own check, if one of the errors comes from there."""
    for detail in details:
        cause = detail.get("ctx", {}).get("error")
        if isinstance(cause, ValueError):
            return str(cause)
    return ""


def _wrong(shape: Shape, unit: str, given: _Given, details: list[ErrorDetails]) -> str:
    """What was wrong with a value, and what would be right."""
    own = _own_words(details)
    if own:
        return own if not shape.none_answer else f"{own}, or '{NONE}'"
    return f"{given.shown()} {_what(shape, given.value)}; write {shape.right(unit)}"


def _what(shape: Shape, value: Any) -> str:
    if isinstance(value, str) and shape.longest is not None:
        return f"has {len(value.strip())} characters"
    if isinstance(value, str) and shape.kind in {"number", "whole", "choice"}:
        close = nearest(value, [*shape.words, *([NONE] if shape.none_answer else [])])
        meant = f" (did you mean '{close}'?)" if close else ""
        return ("is a text, not a number" if _reads_as_number(value) else "is not accepted") + meant
    if shape.kind in {"number", "whole"} and isinstance(value, int | float) and not isinstance(value, bool):
        return _what_number(shape, value)
    return "is not accepted"


def _what_number(shape: Shape, value: float) -> str:
    if not math.isfinite(value):
        return "is no finite number, and a value that is not known is left blank"
    if shape.lowest is not None and value < shape.lowest:
        return "is too low"
    if shape.highest is not None and value > shape.highest:
        return "is too high"
    return "is not a whole number"


def _reads_as_number(text: str) -> bool:
    try:
        float(text[:_LONGEST_NUMBER])
    except ValueError:
        return False
    return True
