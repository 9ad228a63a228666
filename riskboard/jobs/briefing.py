"""A worksheet from the first entry to a reasoned decision. Drafts live in the store, as typed, from the start."""

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from copy import deepcopy
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from typing import Any

from riskboard.assessment.assess import Assessment, CannotAssessError, assess
from riskboard.assessment.facts import PreparedPolicy
from riskboard.jobs.office import Office, document, policy_for
from riskboard.jobs.own_burn import with_own_burn
from riskboard.jobs.refusals import refused_today
from riskboard.jobs.seating import Aboard, loads_known, seated
from riskboard.jobs.standing import with_standing
from riskboard.jobs.type_texts import types_of
from riskboard.ledger.errors import RevisionError
from riskboard.ledger.store import Draft
from riskboard.worksheet.checks import WorksheetProblem
from riskboard.worksheet.kept import TODAY_ONLY
from riskboard.worksheet.model import PARTS, SCHEMA, Worksheet
from riskboard.worksheet.read import partial_worksheet

__all__ = ["Briefing", "Start", "begin_draft", "brief", "decide", "digest_of", "draft_of", "iso", "save_entries"]


@dataclass(frozen=True)
class Start:
    """What a new worksheet starts from. Each is the id of a stored document; None leaves those entries blank."""

    pilot_id: str | None = None
    aircraft_id: str | None = None
    site_id: str | None = None
    route_id: str | None = None
    instructor_id: str | None = None


@dataclass(frozen=True)
class Briefing:
    """A draft, read and assessed.

    Attributes:
        draft_id: Name in the URL.
        revision: Which save this is.
        data: The entries as typed, also the unsound ones.
        sheet: The sound entries; unsound ones are blank in it.
        problems: What to mend; while there are any, nothing is decided.
        assessment: The decision with its reasons, or None while there are problems.
        pilot_id: Pilot in command, if chosen.
        start: The stored facts it was started from.
        said: Quick answers given: set -> statements said.
        pasted: The weather text as pasted, with ``seen_at`` and whether it is ``used``; empty when none was.
        edits: Answers that were changed after they were first given, oldest first; see :func:`change_draft`.
        refused_at: When somebody said no today to this pilot, aircraft or usual flight, by the log; None if nobody did.
    """

    draft_id: str
    revision: int
    data: Mapping[str, Any]
    sheet: Worksheet
    problems: tuple[WorksheetProblem, ...]
    assessment: Assessment | None
    pilot_id: str
    start: Start = field(default_factory=Start)
    said: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    pasted: Mapping[str, Any] = field(default_factory=dict)
    edits: tuple[Mapping[str, Any], ...] = ()
    refused_at: datetime | None = None

    @property
    def crew(self) -> tuple[str, ...]:
        """Ids of everybody aboard as far as known; an instructor of whom it is not said counts as aboard."""
        aboard = [self.pilot_id]
        if self.start.instructor_id and self.sheet.value("instructor_aboard") is not False:
            aboard.append(self.start.instructor_id)
        return tuple(dict.fromkeys(each for each in aboard if each))

    @property
    def pressures_told(self) -> bool:
        """Whether the pilot has said what presses on this flight, in one answer or entry by entry.

        It is asked before a decision is shown: who knows that a no comes of an answer gives another answer.
        """
        given = self.sheet.pressures
        return "pressures" in self.said or all(getattr(given, name) is not None for name in type(given).model_fields)

    @property
    def digest(self) -> str:
        """SHA-256 of the assessment as shown; "" while there is none."""
        return "" if self.assessment is None else digest_of(self.assessment.as_json())


def digest_of(text: str) -> str:
    """SHA-256 of a text, 64 hex digits."""
    return hashlib.sha256(text.encode()).hexdigest()


_TRIES = 8
"""How often a save starts over when others save the same draft at the same time."""

FROM_INSTRUCTOR = (
    "instructor_name",
    "instructor_experience_on",
    "instructor_period_ends_on",
    "instructor_in_type_h",
    "instructor_exercise_last_on",
    "instruction_given",
)


Clock = Mapping[str, str]
"""``true_at`` and ``typed_at`` of one fact, as text."""


def stored_facts(office: Office, start: Start) -> Iterator[tuple[str, Mapping[str, Any], Mapping[str, Clock]]]:
    """(part, facts, their clocks) from the documents a draft starts from; a fact that is known no more is None.

    What a pilot answers afresh for each flight never comes from a document, whatever stands in it.

    Raises:
        KeyError: The school has no such document.
    """
    if start.pilot_id:
        flier = document(office, "person", start.pilot_id)
        part, own, clocks = _stored(flier, "pilot", {"pilot_name": flier["name"]})
        # Who teaches today is chosen: what a pilot's own document says of an instructor is not about that person.
        yield part, {n: v for n, v in own.items() if not (start.instructor_id and n in FROM_INSTRUCTOR)}, clocks
    if start.instructor_id:
        teacher = document(office, "person", start.instructor_id)
        part, taught, clocks = _stored(teacher, "pilot", {"instructor_name": teacher["name"]})
        yield part, {name: taught[name] for name in FROM_INSTRUCTOR if name in taught}, clocks
    for kind, identity, part in (
        ("aircraft", start.aircraft_id, "aircraft"),
        ("site", start.site_id, "plan"),
        ("route", start.route_id, "plan"),
    ):
        if identity:
            _, facts, clocks = _stored(document(office, kind, identity), part, {})
            if kind == "aircraft":
                facts, clocks = with_own_burn(office, identity, facts, clocks)
            # What a usual flight carries is put on its places beside who is aboard, not in their stead.
            yield part, {name: value for name, value in facts.items() if name != "station_loads"}, clocks


def _stored(
    found: Mapping[str, Any], part: str, named: Mapping[str, Any]
) -> tuple[str, Mapping[str, Any], Mapping[str, Clock]]:
    clocks = found.get("clocks", {})
    stored = {**dict.fromkeys(clocks), **found[part]}  # a clock without a fact: known no more
    facts = {name: value for name, value in stored.items() if name not in TODAY_ONLY} | dict(named)
    general = {"true_at": found["as_of"], "typed_at": found["as_of"]}
    return part, facts, {name: clocks.get(name, general) for name in facts}


def _newer_facts(office: Office, kept: Mapping[str, Any]) -> dict[str, Any]:
    """A draft's entries, with what the school has learned since about the same people, aircraft and places.

    An aircraft that came back with a defect while the next pilot was filling in has that defect in the worksheet.
    What the pilot entered after that stays as entered, save that no entry takes a defect of the aircraft away.
    """
    data = {name: dict(each) if isinstance(each, dict) else each for name, each in kept["data"].items()}
    known: dict[str, tuple[str, Any, Clock]] = {}
    with suppress(KeyError):  # a document taken out of the school since: what was taken over from it stays
        for part, facts, clocks in stored_facts(office, Start(**kept.get("start", {}))):
            known |= {name: (part, value, clocks[name]) for name, value in facts.items()}
    mine = data.setdefault("clocks", {})
    for name, (part, value, clock) in known.items():
        if moment_of(clock) > moment_of(mine.get(name, {})):
            data.setdefault(part, {})[name] = value
            mine[name] = dict(clock)
    with_standing(office, str(kept.get("start", {}).get("aircraft_id") or ""), data)
    return data


def moment_of(clock: Clock) -> datetime:
    """When a fact was typed; of one that nobody can tell, the earliest time there is."""
    try:
        return datetime.fromisoformat(clock["typed_at"]).astimezone(UTC)
    except (KeyError, TypeError, ValueError):
        return datetime.min.replace(tzinfo=UTC)


def begin_draft(office: Office, draft_id: str, start: Start, *, at: datetime) -> Draft:
    """Start a worksheet from what the school already knows, and save it under its name.

    Args:
        office: The school.
        draft_id: Random name made by the caller; it stands in the URL.
        start: Which stored facts to begin with.
        at: Now.

    Raises:
        KeyError: The school has no such person, aircraft or site.
        LedgerError: The draft cannot be saved.
    """
    data: dict[str, Any] = {"schema": SCHEMA, "clocks": {}}
    for part, stored, clocks in stored_facts(office, start):
        data.setdefault(part, {}).update(stored)
        data["clocks"].update(clocks)
    kept = {"pilot_id": start.pilot_id or "", "start": asdict(start), "data": data}
    _seat(office, kept, at)
    text = json.dumps(kept, ensure_ascii=False)
    return office.store.save_draft(draft_id, text, owner=start.pilot_id or "", at=at, revision=0)


def save_entries(office: Office, draft_id: str, part: str, entries: Mapping[str, Any], *, at: datetime) -> Draft:
    """Put entries into one part of a draft, sound or not; what was typed is kept as typed.

    Args:
        office: The school.
        draft_id: The draft.
        part: "pilot", "aircraft", "weather", "plan" or "pressures".
        entries: Field name to plain value; None blanks it.
        at: Now; becomes the time these were typed.

    Raises:
        KeyError: There is no such draft.
        LedgerError: The draft cannot be saved.
    """
    return change_draft(office, draft_id, lambda kept: put_entries(kept["data"], part, entries, at), at=at)


def change_draft(office: Office, draft_id: str, change: Callable[[dict[str, Any]], None], *, at: datetime) -> Draft:
    """Change what a draft keeps, and save it. Where somebody saved in between (a second tab), change theirs instead.

    An answer that replaces another one is kept beside it under ``edits`` (when, which entry, before, after), for the
    second person to see what was changed to get to a decision. Filling in a blank is no edit.

    Args:
        office: The school.
        draft_id: The draft.
        change: Changes what the draft keeps, in place; may run more than once, each time on the newest save.
        at: Now.

    Raises:
        KeyError: There is no such draft.
        LedgerError: The draft cannot be saved.
    """
    for last in (*[False] * (_TRIES - 1), True):
        draft, kept = draft_of(office, draft_id)
        before = deepcopy(kept)
        change(kept)
        _keep_edits(before, kept, at)
        _seat(office, kept, at)  # what follows from stored facts is no edit of the pilot's
        text = json.dumps(kept, ensure_ascii=False)
        owner = kept["pilot_id"] or draft.owner  # the store refuses to hand a worksheet from one pilot to another
        try:
            return office.store.save_draft(draft_id, text, owner=owner, at=at, revision=draft.revision)
        except RevisionError:
            if last:
                raise
    raise AssertionError("the last try saves or raises")


def _seat(office: Office, kept: dict[str, Any], at: datetime) -> None:
    """Fill in the loads that are known, and keep which they were, so that they can follow another choice."""
    if "start" not in kept:  # a paper is typed in as it stands
        return
    data = kept["data"]
    loads, mine = _seated(office, kept, data)
    if loads != data.get("plan", {}).get("station_loads"):
        put_entries(data, "plan", {"station_loads": loads}, at)
    kept["seated"] = mine


def _seated(office: Office, kept: Mapping[str, Any], data: Mapping[str, Any]) -> tuple[Any, dict[str, float]]:
    typed, before = data.get("plan", {}).get("station_loads"), kept.get("seated", {})
    kind = types_of(office.store).by_title.get(data.get("aircraft", {}).get("type_name") or "")
    if kind is None:
        return typed, dict(before)
    return seated(typed, before, loads_known(kind, _aboard(office, Start(**kept["start"]), data)))


def _aboard(office: Office, start: Start, data: Mapping[str, Any]) -> Aboard:
    plan, teacher, usual = data.get("plan", {}), {}, {}
    with suppress(KeyError):  # taken out of the school since: nothing is known of them
        if start.instructor_id and start.instructor_id != start.pilot_id:
            teacher = document(office, "person", start.instructor_id)
    with suppress(KeyError):
        if start.route_id:
            usual = document(office, "route", start.route_id).get("plan", {})
    said, passengers = plan.get("instructor_aboard"), plan.get("passengers")
    return Aboard(
        pilot_lb=_weight(data.get("pilot", {}).get("flying_weight_lb")),
        instructor_chosen=bool(start.instructor_id) and start.instructor_id != start.pilot_id,
        instructor_lb=_weight(teacher.get("pilot", {}).get("flying_weight_lb")),
        instructor_aboard=said if isinstance(said, bool) else None,
        passengers=passengers if isinstance(passengers, int) else None,
        usual={
            line["station"]: float(line["load_lb"])
            for line in usual.get("station_loads") or ()
            if _weight(line.get("load_lb")) is not None
        },
    )


def _weight(found: object) -> float | None:
    return float(found) if isinstance(found, int | float) and not isinstance(found, bool) else None


_MOST_EDITS = 400


def _keep_edits(before: Mapping[str, Any], kept: dict[str, Any], at: datetime) -> None:
    moment, found = iso(at), []
    old_start, new_start = before.get("start", {}), kept.get("start", {})
    chosen = [name for name, old in old_start.items() if old is not None and old != new_start.get(name)]
    found += [{"at": moment, "field": name, "before": old_start[name], "after": new_start.get(name)} for name in chosen]
    if not chosen:  # another aircraft or route brings other facts along: that is the one edit already noted
        for part in PARTS:
            old, new = before["data"].get(part, {}), kept["data"].get(part, {})
            found += [
                {"at": moment, "field": name, "before": was, "after": new.get(name)}
                for name, was in old.items()
                if was is not None and was != new.get(name)
            ]
    edits = [*kept.get("edits", []), *found]
    if len(edits) > _MOST_EDITS:
        kept["edits_dropped"] = kept.get("edits_dropped", 0) + len(edits) - _MOST_EDITS
        edits = [*edits[: _MOST_EDITS // 2], *edits[-_MOST_EDITS // 2 :]]
    kept["edits"] = edits


def put_entries(data: dict[str, Any], part: str, entries: Mapping[str, Any], at: datetime) -> None:
    """Put entries into a draft's data, with the time at which they were typed."""
    data[part] = {**data.get(part, {}), **entries}
    moment = iso(at)
    clocks = data.setdefault("clocks", {})
    # Weather was true when it was observed, which the observation time says; everything else when it was typed.
    own = {"typed_at": moment} if part == "weather" else {"true_at": moment, "typed_at": moment}
    clocks.update(dict.fromkeys(entries, own))


def draft_of(office: Office, draft_id: str) -> tuple[Draft, dict[str, Any]]:
    """A draft and what it keeps: ``pilot_id`` and ``data``.

    Raises:
        KeyError: There is no such draft.
    """
    draft = office.store.load_draft(draft_id)
    if draft is None:
        raise KeyError(f"there is no worksheet {draft_id!r}; it may have been erased")
    return draft, json.loads(draft.text)


def iso(moment: datetime) -> str:
    """A moment as the worksheet file writes it."""
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


def decide(
    prepared: PreparedPolicy, sheet: Worksheet, at: datetime, *, waived: frozenset[str] = frozenset()
) -> tuple[Assessment | None, tuple[WorksheetProblem, ...]]:
    """Assess a sound worksheet; a contradiction with the clock comes back as problems instead of a decision."""
    try:
        return assess(sheet, prepared, at, waived=waived), ()
    except CannotAssessError as error:
        return None, error.problems


def brief(office: Office, draft_id: str, *, at: datetime) -> Briefing:
    """Read a draft and assess it under the policy in force.

    Raises:
        KeyError: There is no such draft.
        NoPolicyError: No policy is in force.
    """
    draft, kept = draft_of(office, draft_id)
    data = _newer_facts(office, kept)
    loads = _seated(office, kept, data)[0] if "start" in kept else None
    if loads is not None:
        data["plan"] = {**data.get("plan", {}), "station_loads": loads}
    sheet, problems = partial_worksheet(data)
    start = Start(**kept.get("start", {}))
    refused_at = refused_today(
        office,
        draft_id,
        pilot_id=kept["pilot_id"],
        aircraft_id=start.aircraft_id or "",
        route_id=start.route_id or "",
        at=at,
    )
    if refused_at is not None:
        sheet = sheet.but(refused_today=True)
    assessment = None
    if not problems:
        assessment, problems = decide(policy_for(office, sheet, at), sheet, at)
    return Briefing(
        draft_id,
        draft.revision,
        data,
        sheet,
        problems,
        assessment,
        kept["pilot_id"],
        start=start,
        said={key: tuple(said) for key, said in kept.get("said", {}).items()},
        pasted=kept.get("pasted", {}),
        edits=tuple(kept.get("edits", [])),
        refused_at=refused_at,
    )
