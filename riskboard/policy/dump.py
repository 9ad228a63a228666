"""One flat policy as one canonical YAML text: what is hashed, stored with every decision, and read again years later.

The text is written by hand and not by a YAML library, whose layout may change between versions: the digest of a policy
must not. INVARIANT: ``load_policy(dump_policy(p).text)`` is equal to ``p`` and has the same text and digest.
"""

import hashlib
import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import Enum
from typing import Any

from riskboard.policy.model import (
    Combination,
    EntryError,
    Factor,
    Level,
    Limit,
    Mitigation,
    Policy,
    PolicyTest,
    Source,
    WayCost,
    When,
    WhenNo,
)
from riskboard.policy.schema import FRAGILE_BELOW_PCT, OVERDUE_MARGIN_MIN, SCHEMA
from riskboard.words import NONE

__all__ = ["Dumped", "as_stored", "dump_policy", "sealed"]

# Safe without quotes in every place, block or flow, and typed by no reader: begins with a letter, no sign of YAML.
_BARE = re.compile(r"[A-Za-z][A-Za-z0-9_]*")
_TYPED_WORDS = {"true", "false", "null", "yes", "no", "on", "off", "y", "n"}


@dataclass(frozen=True)
class Dumped:
    """The canonical text, and the line where each clause and test begins: (section, name) -> line from 1."""

    text: str
    lines: Mapping[tuple[str, str], int]

    @property
    def digest(self) -> str:
        """SHA-256 of the text, in hexadecimal."""
        return hashlib.sha256(self.text.encode("utf-8")).hexdigest()


def _scalar(value: object) -> str:  # noqa: PLR0911 - one return for each kind
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):  # an enum that is a text, too
        text = value.value if isinstance(value, Enum) else value
        return text if _BARE.fullmatch(text) and text.lower() not in _TYPED_WORDS else _quoted(text)
    if isinstance(value, datetime):
        moment = value.astimezone(UTC).replace(tzinfo=None)
        return moment.isoformat(timespec="seconds" if moment.second else "minutes") + "Z"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return format(Decimal(repr(value + 0.0)), "f")
    raise TypeError(f"a policy holds no {type(value).__name__}")


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _number(value: float) -> str:
    """A bound: whole numbers without a point, so that 7 and 7.0 are one text."""
    return str(int(value)) if value == int(value) else _scalar(value)


def _flow(value: object) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_scalar(str(key))}: {_flow(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_flow(item) for item in value) + "]"
    return _scalar(value)


def _pairs(pairs: list[tuple[str, str]]) -> str:
    return "{" + ", ".join(f"{key}: {value}" for key, value in pairs) + "}"


def _when(when: When) -> str:
    return _pairs([(word.value, _scalar(truth)) for word, truth in sorted(when.items())])


def _source(source: Source) -> str:
    return _flow({"text": source.text, "kind": source.kind, "checked_on": source.checked_on})


def _level(level: Level) -> str:
    pairs = [("name", _scalar(level.name))]
    if level.up_to is not None:
        pairs.append(("up_to", str(level.up_to)))
    pairs.append(("decision", level.decision.name))
    if level.accepted_by:
        pairs.append(("accepted_by", _flow(level.accepted_by)))
    if level.valid_min is not None:
        pairs.append(("valid_min", str(level.valid_min)))
    return _pairs(pairs)


def _bands(factor: Factor) -> Iterator[str]:
    word = "up_to" if factor.ascending else "at_least"
    for band in factor.bands:
        pairs = [] if band.bound is None else [(word, _number(band.bound))]
        pairs.append(("points", str(band.points)))
        if band.floor is not None:
            pairs.append(("floor", _scalar(band.floor)))
        yield f"- {_pairs(pairs)}"


def _cases(clause: Factor | Limit) -> str:
    rows = [
        f"[{'unknown' if value is None else _number(value)}, {_scalar(expected)}]" for value, expected in clause.cases
    ]
    return "[" + ", ".join(rows) + "]"


def _guarded(when: When, key: str = "when") -> Iterator[str]:
    if when:
        yield f"{key}: {_when(when)}"


def _why_and_source(clause: Factor | Limit | Combination | Mitigation | EntryError | WayCost | WhenNo) -> Iterator[str]:
    yield f"why: {_scalar(clause.why)}"
    yield f"source: {_source(clause.source)}"


def _factor(factor: Factor) -> Iterator[str]:
    yield f"group: {_scalar(factor.group)}"
    yield f"measure: {_scalar(factor.measure)}"
    yield "bands:"
    yield from (f"  {line}" for line in _bands(factor))
    yield f"if_unknown: {factor.if_unknown}"
    yield from _guarded(factor.when)
    if factor.non_monotone is not None:
        yield f"non_monotone: {_scalar(factor.non_monotone)}"
    yield from _why_and_source(factor)
    yield f"cases: {_cases(factor)}"


def _limit(limit: Limit) -> Iterator[str]:
    yield f"measure: {_scalar(limit.measure)}"
    if limit.up_to is not None:
        yield f"up_to: {_number(limit.up_to)}"
    if limit.at_least is not None:
        yield f"at_least: {_number(limit.at_least)}"
    yield f"waiver: {_flow(limit.waiver) if limit.waiver else NONE}"
    yield from _guarded(limit.when)
    yield from _why_and_source(limit)
    yield f"cases: {_cases(limit)}"


def _combination(combination: Combination) -> Iterator[str]:
    yield f"name: {_scalar(combination.name)}"
    yield f"group: {_scalar(combination.group)}"
    if combination.all_of:
        parts = [
            _pairs([("measure", _scalar(part.measure)), ("beyond", _number(part.beyond))])
            for part in combination.all_of
        ]
        yield f"all_of: [{', '.join(parts)}]"
    yield from _guarded(combination.when)
    yield f"points: {combination.points}"
    if combination.floor is not None:
        yield f"floor: {_scalar(combination.floor)}"
    yield f"if_unknown: {combination.if_unknown}"
    yield from _why_and_source(combination)


def _mitigation(mitigation: Mitigation) -> Iterator[str]:
    yield f"name: {_scalar(mitigation.name)}"
    yield f"off: {_flow(mitigation.off)}"
    yield f"at_most: {mitigation.at_most}"
    yield from _guarded(mitigation.needs, "needs")
    yield from _why_and_source(mitigation)


def _test(test: PolicyTest) -> Iterator[str]:
    yield f"name: {_scalar(test.name)}"
    given: dict[str, Any] = {"worksheet": test.worksheet} | ({"but": test.but} if test.but else {})
    yield f"given: {_flow(given)}"
    expect: dict[str, Any] = {"decision": test.decision.name}
    if test.level is not None:
        expect["level"] = test.level
    if test.because:
        expect["because"] = test.because
    if test.accepted_by is not None:
        expect["accepted_by"] = test.accepted_by
    if test.waived_by is not None:
        expect["waived_by"] = test.waived_by
    yield f"expect: {_flow(expect)}"


class _Writer:
    def __init__(self) -> None:
        self.out: list[str] = []
        self.lines: dict[tuple[str, str], int] = {}

    def named(self, section: str, clauses: Mapping[str, Iterator[str]]) -> None:
        """A map section: the name, then its lines."""
        if clauses:
            self.out.append(f"{section}:")
        for name, lines in clauses.items():
            self.out.append(f"  {_scalar(name)}:")
            self.lines[section, name] = len(self.out)
            self.out += [f"    {line}" for line in lines]

    def items(self, section: str, clauses: list[tuple[str, Iterator[str]]]) -> None:
        """A list section: a dash before the first line of each."""
        if clauses:
            self.out.append(f"{section}:")
        for name, lines in clauses:
            self.lines[section, name] = len(self.out) + 1
            self.out += [f"  {'- ' if i == 0 else '  '}{line}" for i, line in enumerate(lines)]


def _worksheet(data: Mapping[str, Any]) -> Iterator[str]:
    for key, value in data.items():
        yield f"{_scalar(key)}: {_flow(value)}"


def _overdue(policy: Policy) -> Iterator[str]:
    """Nothing where all is as without it: a policy from before there was such a key keeps its text and digest."""
    if policy.overdue_steps or policy.overdue_margin_min != OVERDUE_MARGIN_MIN:
        yield "overdue:"
        yield f"  margin_min: {policy.overdue_margin_min}"
    if policy.overdue_steps:
        yield "  steps:"
        yield from (f"    - {_scalar(step)}" for step in policy.overdue_steps)


def _alternatives(writer: _Writer, policy: Policy) -> None:
    """Nothing where nothing is stated, for the same reason."""
    stated = policy.alternatives
    if stated.fragile_below_pct != FRAGILE_BELOW_PCT:
        writer.out.append(f"fragile_below_pct: {stated.fragile_below_pct}")
    writer.named("errors", {error.name: _error(error) for error in stated.errors})
    writer.named("ways_out", {cost.name: _way_cost(cost) for cost in stated.ways_out})
    if stated.when_no is not None:
        said = stated.when_no
        lines = [f"tell_customer: {_scalar(said.tell_customer)}", f"call: {_scalar(said.call)}", *_why_and_source(said)]
        writer.out += ["when_no:", *(f"  {line}" for line in lines)]


def _error(error: EntryError) -> Iterator[str]:
    yield f"{error.key}: {_number(error.size)}"
    yield from _why_and_source(error)


def _way_cost(cost: WayCost) -> Iterator[str]:
    yield f"cost: {cost.cost}"
    yield from _why_and_source(cost)


def dump_policy(policy: Policy) -> Dumped:
    """Write a policy as canonical YAML. Order is kept, layout and defaults are fixed, remarks are not kept."""
    writer = _Writer()
    writer.out += [
        f"schema: {SCHEMA}",
        f"id: {_scalar(policy.id)}",
        f"version: {policy.version}",
        f"title: {_scalar(policy.title)}",
        f"effective_from: {_scalar(policy.effective_from)}",
        f"review_by: {_scalar(policy.review_by)}",
        f"weather_age_max_min: {policy.weather_age_max_min}",
        *_overdue(policy),
        "levels:",
        *(f"  - {_level(level)}" for level in policy.levels),
    ]
    if policy.group_ceilings:
        writer.out.append("group_ceilings:")
        writer.out += [
            f"  {_scalar(c.group)}: {_pairs([('up_to', str(c.up_to)), ('else', _scalar(c.floor))])}"
            for c in policy.group_ceilings
        ]
    writer.named("factors", {factor.name: _factor(factor) for factor in policy.factors})
    writer.named("limits", {limit.name: _limit(limit) for limit in policy.limits})
    writer.items("combinations", [(c.name, _combination(c)) for c in policy.combinations])
    writer.items("mitigations", [(m.name, _mitigation(m)) for m in policy.mitigations])
    _alternatives(writer, policy)
    writer.named("worksheets", {name: _worksheet(data) for name, data in policy.worksheets.items()})
    writer.items("tests", [(test.name, _test(test)) for test in policy.tests])
    return Dumped("\n".join(writer.out) + "\n", writer.lines)


def sealed(policy: Policy) -> Policy:
    """The policy with its canonical text, the text's digest, and every clause's line in that text.

    Lines refer to the canonical text and not to the file somebody typed: the same digest then always gives the same
    lines, and a stored decision can be reproduced to the byte.
    """
    dumped = dump_policy(policy)
    return _with_text(policy, dumped.text, dumped.digest, dumped.lines)


def as_stored(policy: Policy, text: str, lines: Mapping[tuple[str, str], int]) -> Policy:
    """The policy with a text that was sealed once, to the letter, whatever today's layout.

    Args:
        policy: What the text says.
        text: The text.
        lines: Where each clause and test begins in it.
    """
    return _with_text(policy, text, hashlib.sha256(text.encode("utf-8")).hexdigest(), lines)


def _with_text(policy: Policy, text: str, digest: str, lines: Mapping[tuple[str, str], int]) -> Policy:
    return replace(
        policy,
        factors=tuple(replace(c, line=lines["factors", c.name]) for c in policy.factors),
        limits=tuple(replace(c, line=lines["limits", c.name]) for c in policy.limits),
        combinations=tuple(replace(c, line=lines["combinations", c.name]) for c in policy.combinations),
        mitigations=tuple(replace(c, line=lines["mitigations", c.name]) for c in policy.mitigations),
        tests=tuple(replace(test, line=lines["tests", test.name]) for test in policy.tests),
        text=text,
        digest=digest,
    )
