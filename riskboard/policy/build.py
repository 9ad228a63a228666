"""From read entries to the frozen policy data. Notes what cannot be built; a broken clause is left out, not guessed."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from riskboard.policy.model import (
    Band,
    Case,
    Ceiling,
    Combination,
    CombinationPart,
    EntryError,
    Factor,
    Level,
    Limit,
    Mitigation,
    PolicyTest,
    Source,
    WayCost,
    WhenNo,
)
from riskboard.policy.read import Entry, Reader
from riskboard.words import Decision, Group, Role

__all__ = ["Parts", "build_parts"]

_Clause = TypeVar("_Clause")


@dataclass(frozen=True)
class Parts:
    """What one text gives, by name. For an extension these are only the parts it states itself.

    Attributes:
        levels: Levels as stated; for an extension the read entries, since they may be partial.
        overdue_margin_min: None where none is stated.
        overdue_steps: Empty where none are stated.
        fragile_below_pct: None where none is stated.
        errors: Errors of entries as stated.
        ways_out: Costs of ways out as stated.
        when_no: Words for a no; None where none are stated.
        broken: Names of clauses that could not be built.
        levels_sound: All levels were read.
    """

    levels: tuple[Level, ...]
    level_entries: tuple[Entry, ...]
    group_ceilings: tuple[Ceiling, ...]
    factors: tuple[Factor, ...]
    limits: tuple[Limit, ...]
    combinations: tuple[Combination, ...]
    mitigations: tuple[Mitigation, ...]
    worksheets: Mapping[str, Mapping[str, Any]]
    tests: tuple[PolicyTest, ...]
    overdue_margin_min: int | None
    overdue_steps: tuple[str, ...]
    fragile_below_pct: int | None
    errors: tuple[EntryError, ...]
    ways_out: tuple[WayCost, ...]
    when_no: WhenNo | None
    broken: frozenset[str]
    levels_sound: bool


def build_parts(reader: Reader, root: Entry, *, partial_levels: bool) -> Parts:
    """Build every clause that was read without a problem."""
    broken: set[str] = set()
    levels = tuple(root.get("levels", ()))
    sound = all(not entry.broken for entry in levels) and (bool(levels) or partial_levels)
    named = {key: root.get(key, {}) for key in ("factors", "limits")}
    listed = {key: root.get(key, ()) for key in ("combinations", "mitigations")}
    overdue: Entry | None = root.get("overdue")
    factors = [_noted(_factor(reader, name, entry), name, broken) for name, entry in named["factors"].items()]
    limits = [_noted(_limit(reader, name, entry), name, broken) for name, entry in named["limits"].items()]
    combinations = [_noted(_combination(entry), _name(entry), broken) for entry in listed["combinations"]]
    mitigations = [_noted(_mitigation(entry), _name(entry), broken) for entry in listed["mitigations"]]
    return Parts(
        levels=tuple(_level(entry) for entry in levels) if sound and not partial_levels else (),
        level_entries=levels,
        group_ceilings=tuple(
            Ceiling(Group(group), entry.get("up_to"), entry.get("else"))
            for group, entry in root.get("group_ceilings", {}).items()
            if not entry.broken and group in Group.__members__
        ),
        factors=_given(factors),
        limits=_given(limits),
        combinations=_given(combinations),
        mitigations=_given(mitigations),
        worksheets={name: data for name, data in root.get("worksheets", {}).items() if data and data.get("decided_at")},
        tests=tuple(_test(entry) for entry in root.get("tests", ()) if not entry.broken),
        overdue_margin_min=None if overdue is None else overdue.get("margin_min"),
        overdue_steps=() if overdue is None or overdue.broken else tuple(overdue.get("steps", ())),
        fragile_below_pct=root.get("fragile_below_pct"),
        errors=tuple(_error(name, entry) for name, entry in root.get("errors", {}).items() if not entry.broken),
        ways_out=tuple(
            WayCost(name, entry.get("cost"), _why(entry), _source(entry))
            for name, entry in root.get("ways_out", {}).items()
            if not entry.broken
        ),
        when_no=_when_no(root.get("when_no")),
        broken=frozenset(broken),
        levels_sound=sound,
    )


def _given(clauses: Iterable[_Clause | None]) -> tuple[_Clause, ...]:
    return tuple(clause for clause in clauses if clause is not None)


def _noted(clause: _Clause | None, name: str, broken: set[str]) -> _Clause | None:
    if clause is None:
        broken.add(name)
    return clause


def _name(entry: Entry) -> str:
    return str(entry.get("name", ""))


def _roles(words: Iterable[str] | None) -> tuple[Role, ...]:
    """Roles in the order of the vocabulary, each once: the order in which they were written means nothing."""
    given = {Role(word) for word in words or ()}
    return tuple(role for role in Role if role in given)


def _source(entry: Entry) -> Source:
    """The source; what a published text does not say of it is empty, and its day the first of all."""
    source: Entry | None = entry.get("source")
    if source is None:
        return Source("", "", date.min)
    return Source(source.get("text") or "", source.get("kind") or "", source.get("checked_on") or date.min)


def _why(entry: Entry) -> str:
    return entry.get("why") or ""


def _level(entry: Entry) -> Level:
    return Level(
        entry.get("name"),
        entry.get("up_to"),
        Decision[entry.get("decision")],
        _roles(entry.get("accepted_by")),
        entry.get("valid_min"),
    )


def _factor(reader: Reader, name: str, entry: Entry) -> Factor | None:
    bands: list[Entry] = entry.get("bands", [])
    word = _band_word(reader, bands) if not entry.broken else None
    if word is None:
        return None
    return Factor(
        name=name,
        group=Group(entry.get("group")),
        measure=entry.get("measure"),
        bands=tuple(Band(band.get(word), band.get("points"), band.get("floor")) for band in bands),
        if_unknown=entry.get("if_unknown", "no_go"),
        when=entry.get("when", {}),
        why=_why(entry),
        source=_source(entry),
        cases=_cases(entry),
        ascending=word == "up_to",
        non_monotone=entry.get("non_monotone"),
    )


def _cases(entry: Entry) -> tuple[Case, ...]:
    return tuple(entry.get("cases", ()))


def _band_word(reader: Reader, bands: list[Entry]) -> str | None:
    """The word all bounds of a factor are written with; None when the bands make no ladder."""
    before = len(reader.problems)
    word = next((key for key in ("up_to", "at_least") if bands and key in bands[0].values), "")
    for position, band in enumerate(bands):
        place = (band.node.line, band.node.column)
        bounds = [key for key in ("up_to", "at_least") if key in band.values]
        if position == len(bands) - 1:
            for key in bounds:
                message = f"the last band takes everything that is left, so it has no {key}; leave it out"
                reader.problem(band.node.keys[key], message, key, "no bound")
        elif not bounds:
            message = "this band has no bound; only the last goes without. Allowed: up_to or at_least"
            reader.problem(place, message, "", "up_to or at_least")
        else:
            for key in bounds:
                if key != word:
                    message = f"{key} beside {word}; all bands of a factor use one word, {word}"
                    reader.problem(band.node.keys[key], message, key, word)
    return word if len(reader.problems) == before else None


def _limit(reader: Reader, name: str, entry: Entry) -> Limit | None:
    if entry.broken:
        return None
    bounds = [key for key in ("up_to", "at_least") if key in entry.values]
    if len(bounds) != 1:
        found = "both up_to and at_least are" if bounds else "neither up_to nor at_least is"
        message = f"{found} given; a limit has exactly one of up_to and at_least"
        reader.problem((entry.node.line, entry.node.column), message, "", "up_to or at_least")
        return None
    return Limit(
        name=name,
        measure=entry.get("measure"),
        up_to=entry.get("up_to"),
        at_least=entry.get("at_least"),
        waiver=_roles(entry.get("waiver")),
        when=entry.get("when", {}),
        why=_why(entry),
        source=_source(entry),
        cases=_cases(entry),
    )


def _combination(entry: Entry) -> Combination | None:
    if entry.broken:
        return None
    return Combination(
        name=entry.get("name"),
        group=Group(entry.get("group")),
        all_of=tuple(CombinationPart(part.get("measure"), part.get("beyond")) for part in entry.get("all_of", ())),
        points=entry.get("points"),
        floor=entry.get("floor"),
        if_unknown=entry.get("if_unknown", "sign_off"),
        when=entry.get("when", {}),
        why=_why(entry),
        source=_source(entry),
    )


def _mitigation(entry: Entry) -> Mitigation | None:
    if entry.broken:
        return None
    return Mitigation(
        name=entry.get("name"),
        off=tuple(entry.get("off")),
        at_most=entry.get("at_most"),
        needs=entry.get("needs", {}),
        why=_why(entry),
        source=_source(entry),
    )


def _error(name: str, entry: Entry) -> EntryError:
    relative = "pct" in entry.values
    return EntryError(name, entry.get("pct" if relative else "size"), relative, _why(entry), _source(entry))


def _when_no(entry: Entry | None) -> WhenNo | None:
    if entry is None or entry.broken:
        return None
    return WhenNo(entry.get("tell_customer"), entry.get("call"), _why(entry), _source(entry))


def _test(entry: Entry) -> PolicyTest:
    given, expect = entry.get("given"), entry.get("expect")
    return PolicyTest(
        name=entry.get("name"),
        worksheet=given.get("worksheet"),
        but=given.get("but", {}),
        decision=Decision[expect.get("decision")],
        because=tuple(expect.get("because", ())),
        level=expect.get("level"),
        accepted_by=_roles(expect.get("accepted_by")) if "accepted_by" in expect.values else None,
        waived_by=_roles(expect.get("waived_by")) if "waived_by" in expect.values else None,
    )
