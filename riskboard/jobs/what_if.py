"""What would change the answer: departure window, tripwires, robustness and ways out of a draft, ready to be shown.

Everything here is plain text and numbers, so that a page works nothing out. Only the pilot sees what their own health
answers do; for anybody else a sentence that would tell one of them says that it is hidden.
"""

import threading
from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from riskboard.assessment.assess import CannotAssessError
from riskboard.assessment.privacy import HEALTH_FIELDS, HIDDEN, health_clauses
from riskboard.assessment.robustness import Error, Errors, Robustness, robustness
from riskboard.assessment.tripwires import Tripwires, tripwires
from riskboard.assessment.variations import Base, base_of
from riskboard.assessment.ways_out import Kind, Offer, usual_offers, ways_out
from riskboard.assessment.window import STEP_MIN, Step, Window, departure_window
from riskboard.jobs.briefing import Briefing
from riskboard.jobs.fleet_offers import aircraft_offers, instructor_offers
from riskboard.jobs.office import Office, policy_for
from riskboard.policy.book import NoPolicyError
from riskboard.policy.model import Policy, WhenNo
from riskboard.words import Decision

__all__ = ["USUAL_COSTS", "StepShown", "StretchShown", "WayShown", "WhatIf", "errors_of", "what_if"]

USUAL_COSTS: Final[Mapping[Kind, float]] = {
    Kind.preparation: 0, Kind.lighter: 1, Kind.less_fuel: 1, Kind.more_fuel: 1, Kind.shorter: 2, Kind.later: 2,
    Kind.no_night_part: 2, Kind.mitigation: 3, Kind.other_exercise: 3, Kind.instructor: 4, Kind.other_aircraft: 4,
    Kind.passenger_less: 6, Kind.other_site: 6,
}  # fmt: skip
"""For a policy that states no costs: common practice, no source."""

_KEPT: Final = 64
_PCT: Final = 100.0


@dataclass(frozen=True, slots=True)
class StepShown:
    """One take-off of the chart, in local time of the place.

    Attributes:
        at: Take-off, local and without a zone, as a chart shows it.
        until: The next one.
        decision: In words.
        height: 1 go, 2 go with sign-off, 3 no-go: what is worse stands higher.
        points: Points after mitigations.
        wall: Whether a hard limit, or an unknown under one, stops it.
    """

    at: datetime
    until: datetime
    decision: str
    height: int
    points: int
    wall: bool


@dataclass(frozen=True, slots=True)
class StretchShown:
    """Take-offs in a row with one decision.

    Attributes:
        at: First one, local and without a zone.
        until: End of the last step.
        middle: Where its word stands.
        decision: In words.
        height: As in :class:`StepShown`.
        said: "07:00 to 11:40: go", with what makes it so.
    """

    at: datetime
    until: datetime
    middle: datetime
    decision: str
    height: int
    said: str


@dataclass(frozen=True, slots=True)
class WayShown:
    """One way out.

    Attributes:
        said: What to do.
        stay: Whether it is to stay on the ground.
    """

    said: str
    stay: bool


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What would change the answer of one draft.

    Attributes:
        decision: The decision of the draft.
        title: The finding of the window in a few words.
        better: The same where another take-off is better than the planned one, "" where none is.
        sentences: What a pilot would say of the window.
        assumptions: What was taken for granted.
        missing: Entries without which there is no window.
        steps: One for each take-off.
        stretches: The take-offs by decision.
        planned: The planned take-off, local and without a zone.
        planned_said: Its decision in words.
        bounds: Level -> highest total that still is that level, for those that have one.
        wires: The six tripwires that matter most, as sentences.
        wires_note: Why there are none, or what was not tried; "" for nothing to say.
        robust: How often the decision would hold.
        fragile: Whether it is called fragile.
        ways: At most three ways to a better level, and staying on the ground.
        when_no: Words for a no; None unless the decision is a no-go and the policy has some.
    """

    decision: Decision
    title: str
    better: str
    sentences: tuple[str, ...]
    assumptions: tuple[str, ...]
    missing: tuple[str, ...]
    steps: tuple[StepShown, ...]
    stretches: tuple[StretchShown, ...]
    planned: datetime | None
    planned_said: str
    bounds: tuple[tuple[str, int], ...]
    wires: tuple[str, ...]
    wires_note: str
    robust: str
    fragile: bool
    ways: tuple[WayShown, ...]
    when_no: WhenNo | None


def errors_of(policy: Policy) -> Errors:
    """The errors that a policy counts on; the usual ones for what it does not state."""
    usual = Errors().given()
    stated: dict[str, Any] = {
        each.name: Error(
            each.size / _PCT if each.relative else each.size, each.source.text, usual[each.name].normal, each.relative
        )
        for each in policy.alternatives.errors
    }
    return replace(Errors(), **stated)


def what_if(office: Office, person_id: str, briefing: Briefing, *, at: datetime) -> WhatIf | None:
    """What would change the answer of a draft.

    Args:
        office: The school.
        person_id: Who looks.
        briefing: The draft as read at ``at``.
        at: Now.

    Returns:
        What is shown; None while there is no decision, or something it needs is still blank.
    """
    if briefing.assessment is None or _waits(briefing):
        return None
    try:
        prepared = policy_for(office, briefing.sheet, at)
    except NoPolicyError:
        return None
    own = person_id == briefing.pilot_id
    key = (
        briefing.sheet.model_dump_json(),
        prepared.policy.digest,
        tuple(each.digest for each in prepared.types.values()),
        at.replace(second=0, microsecond=0),
        briefing.assessment.level,
        briefing.assessment.total,
        office.log.look().head,
        own,
    )
    return _KNOWN.get(key) or _KNOWN.put(key, lambda: _worked_out(office, briefing, own=own, at=at))


def _waits(briefing: Briefing) -> bool:
    """Whether an entry is still to be filled in; a type's name is named, too, where its own table says nothing."""
    unknown = () if briefing.assessment is None else briefing.assessment.unknown
    known = {"type_name"} if briefing.sheet.aircraft.type_name is not None else set()
    return any(set(line.blank) - known for line in unknown)


class _Known:
    """What was worked out within this minute: a page is drawn again at every tap, and most change nothing here."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._found: OrderedDict[object, WhatIf] = OrderedDict()

    def get(self, key: object) -> WhatIf | None:
        with self._lock:
            return self._found.get(key)

    def put(self, key: object, work: Any) -> WhatIf | None:
        found: WhatIf | None = work()
        if found is not None:
            with self._lock:
                self._found[key] = found
                while len(self._found) > _KEPT:
                    self._found.popitem(last=False)
        return found


_KNOWN: Final = _Known()


def _worked_out(office: Office, briefing: Briefing, *, own: bool, at: datetime) -> WhatIf | None:
    try:
        base = base_of(briefing.sheet, policy_for(office, briefing.sheet, at), at)
    except CannotAssessError:
        return None
    policy = base.prepared.policy
    window = departure_window(base)
    robust = robustness(base, errors_of(policy), allowed=(_PCT - policy.alternatives.fragile_below_pct) / _PCT)
    found = ways_out(base, _offers(office, briefing, base, window, at))
    reader = _Reader(base, own=own)
    decision = Decision(base.decision)
    return WhatIf(
        decision=decision,
        **reader.window(window),
        bounds=tuple((level.name, level.up_to) for level in policy.levels if level.up_to is not None),
        **reader.wires(tripwires(base)),
        robust=reader.robust(robust),
        fragile=robust.fragile,
        ways=tuple(WayShown(way.said, stay=not way.offers) for way in found.ways),
        when_no=policy.alternatives.when_no if decision is Decision.no_go else None,
    )


def _offers(office: Office, briefing: Briefing, base: Base, window: Window, at: datetime) -> tuple[Offer, ...]:
    """Nothing for a go: nothing has to change."""
    if base.decision == int(Decision.go):
        return ()
    stated = base.prepared.policy.alternatives.ways_out
    costs = {Kind(each.name): float(each.cost) for each in stated} or dict(USUAL_COSTS)
    return (*usual_offers(base, costs, window=window), *_of_the_school(office, briefing, costs, at))


def _of_the_school(office: Office, briefing: Briefing, costs: Mapping[Kind, float], at: datetime) -> Iterator[Offer]:
    if Kind.other_aircraft in costs:
        yield from aircraft_offers(office, briefing, costs[Kind.other_aircraft], at=at)
    if Kind.instructor in costs:
        yield from instructor_offers(office, briefing, costs[Kind.instructor], at=at)


class _Reader:
    """Puts what was found into words for one reader; who is not the pilot reads nothing about the pilot's health."""

    def __init__(self, base: Base, *, own: bool) -> None:
        self.base, self.own = base, own
        self.hidden = frozenset() if own else health_clauses(base.prepared.policy)
        self.zone = ZoneInfo(base.sheet.plan.time_zone or "UTC")

    # -- window -------------------------------------------------------------------------------------------------------

    def window(self, window: Window) -> dict[str, Any]:
        sentences = tuple(self.redacted(said, window) for said in window.sentences)
        length = timedelta(minutes=STEP_MIN)
        return {
            "title": _title(sentences),
            "better": _title(sentences) if _is_better(window) else "",
            "sentences": sentences,
            "assumptions": window.assumptions,
            "missing": window.missing,
            "steps": tuple(self.step(step, length) for step in window.steps),
            "stretches": tuple(self.stretches(window, length)),
            "planned": None if window.planned is None else self.local(window.planned.take_off_at),
            "planned_said": "" if window.planned is None else window.planned.decision.phrase.lower(),
        }

    def local(self, moment: datetime) -> datetime:
        return moment.astimezone(self.zone).replace(tzinfo=None)

    def step(self, step: Step, length: timedelta) -> StepShown:
        at = self.local(step.take_off_at)
        return StepShown(
            at, at + length, step.decision.phrase, 1 + int(step.decision), step.total, wall=bool(step.limits)
        )

    def stretches(self, window: Window, length: timedelta) -> Iterator[StretchShown]:
        first = {step.take_off_at: step for step in window.steps}
        for stretch in window.stretches:
            at, last = self.local(stretch.first_at), self.local(stretch.last_at)
            until = last + length
            clock = f"{at:%H:%M}" if at == last else f"{at:%H:%M} to {last:%H:%M}"
            why = HIDDEN if self.tells(first[stretch.first_at]) and stretch.why else stretch.why
            said = f"{clock}: {stretch.decision.phrase.lower()}." + (f" {why}" if why else "")
            height = 1 + int(stretch.decision)
            yield StretchShown(at, until, at + (until - at) / 2, stretch.decision.phrase, height, said)

    def tells(self, step: Step) -> bool:
        """Whether what makes a step so may be something about the pilot's health."""
        return bool(self.hidden.intersection(step.clauses))

    def redacted(self, said: str, window: Window) -> str:
        steps = {step.take_off_at: step for step in window.steps}
        for stretch in window.stretches:
            if stretch.why and stretch.why in said and self.tells(steps[stretch.first_at]):
                return said.replace(stretch.why, HIDDEN)
        return said

    # -- the rest -----------------------------------------------------------------------------------------------------

    def wires(self, wires: Tripwires) -> dict[str, Any]:
        shown = [wire.sentence for wire in wires.six if self.own or not wire.health]
        note = ""
        if wires.already:
            note = "It is no-go already: nothing that changes can make it worse."
        elif not shown:
            note = "Nothing that was tried makes the decision worse within reason."
        elif wires.left_out:
            note = f"Not tried, because nobody has entered them: {', '.join(wires.left_out).lower()}."
        return {"wires": tuple(shown), "wires_note": note}

    def robust(self, robust: Robustness) -> str:
        first = next((name for name, share in robust.by_input.items() if share > 0.0), "")
        if robust.fragile and not self.own and (first in HEALTH_FIELDS or first == "sleep_min"):
            return f"{robust.sentence.split(' What makes it so')[0]} {HIDDEN}"
        return robust.sentence


def _is_better(window: Window) -> bool:
    """Whether the first sentence speaks of a better take-off: it does where a stretch is better than planned."""
    planned = window.planned
    return planned is not None and any(stretch.decision < planned.decision for stretch in window.stretches)


def _title(sentences: Sequence[str]) -> str:
    """The finding of the first sentence: "Better until 12:30", "No later than 16:50"."""
    first = sentences[0] if sentences else ""
    head, colon, _ = first.partition(": ")
    return head if colon else first.partition(". ")[0].removesuffix(".")
