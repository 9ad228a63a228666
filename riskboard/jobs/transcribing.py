"""Typing in a worksheet that was filled in on paper while the computer was down.

It goes on record as what it is: a briefing of a past moment, typed in by somebody else, with the names that stand on
the paper. It is assessed as of its paper moment under the policy in force then, and it is never a yes: whoever wants to
fly on it now briefs and signs anew.
"""

import json
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from riskboard import __version__
from riskboard.assessment.assess import Assessment
from riskboard.jobs.briefing import Briefing, Start, change_draft, decide, digest_of, draft_of, iso, save_entries
from riskboard.jobs.flight_log import Picture
from riskboard.jobs.flights import NotShownError
from riskboard.jobs.office import Office, person, policy_for
from riskboard.jobs.roles import roles_of
from riskboard.jobs.signing import NotSignedError, Signed, append_decided, signed_before
from riskboard.ledger import Intent
from riskboard.people.authority import Ruling, may_transcribe
from riskboard.policy.book import NoPolicyError
from riskboard.worksheet.model import SCHEMA
from riskboard.worksheet.read import partial_worksheet
from riskboard.worksheet.write import worksheet_data

if TYPE_CHECKING:
    from riskboard.ledger.canonical import Json

__all__ = [
    "SAID_ON_PAPER",
    "Paper",
    "PaperSignature",
    "begin_typed_paper",
    "change_entries",
    "change_paper",
    "transcribe",
    "typed_paper",
]

WORDS = (
    "I typed this in from a paper worksheet, as it stands there. What was signed on the paper was signed there by the "
    "people named; this record is neither a yes nor a release."
)
"""The words stored with the record."""

SAID_ON_PAPER = ("accepted the risk", "signed as second person", "released the aircraft", "refused", "declined")
"""What a signature on a paper worksheet may have said."""

_MOST_SIGNATURES = 12
_MOST_TEXT = 200
_MOST_NOTE = 1000
_OLDEST = timedelta(days=366)


@dataclass(frozen=True)
class PaperSignature:
    """One signature on the paper, as it can be read there.

    Attributes:
        name: Whose, as written.
        role: In which role, as written.
        said: One of :data:`SAID_ON_PAPER`.
        at: When, as written; None where no time stands there.
    """

    name: str
    role: str
    said: str
    at: datetime | None = None


@dataclass(frozen=True)
class Paper:
    """What is known of the paper besides its entries.

    Attributes:
        pilot_id: Pilot in command, a person of the school.
        filled_at: When the paper was filled in.
        signatures: Who signed on it.
        note: What else stands on it or is worth knowing.
    """

    pilot_id: str = ""
    filled_at: datetime | None = None
    signatures: tuple[PaperSignature, ...] = ()
    note: str = ""


def begin_typed_paper(office: Office, person_id: str, draft_id: str, *, at: datetime) -> None:
    """Begin to type a paper worksheet in. It starts empty: what the school knows today is not what the paper says.

    Args:
        office: The school.
        person_id: Who types.
        draft_id: Random name made by the caller; it stands in the URL, and becomes the flight's.
        at: Now.

    Raises:
        NotShownError: This person may not type papers in.
        LedgerError: The draft cannot be saved.
    """
    _allowed(office, person_id, at)
    kept = {"pilot_id": "", "start": asdict(Start()), "data": {"schema": SCHEMA, "clocks": {}}, "paper": _kept(Paper())}
    office.store.save_draft(draft_id, json.dumps(kept, ensure_ascii=False), owner=person_id, at=at, revision=0)


def change_paper(office: Office, person_id: str, draft_id: str, paper: Paper, *, at: datetime) -> None:
    """Keep what is known of the paper besides its entries, sound or not.

    Raises:
        NotShownError: This person may not type papers in, or the draft is another person's.
        KeyError: There is no such draft.
        LedgerError: The draft cannot be saved.
    """
    _own_draft(office, person_id, draft_id, at)
    change_draft(office, draft_id, lambda kept: kept.__setitem__("paper", _kept(paper)), at=at)


def change_entries(
    office: Office, person_id: str, draft_id: str, part: str, entries: Mapping[str, Any], *, at: datetime
) -> None:
    """Keep entries as they stand on the paper, sound or not; None blanks one.

    Args:
        office: The school.
        person_id: Who types.
        draft_id: The draft.
        part: "pilot", "aircraft", "weather", "plan" or "pressures".
        entries: Field name to plain value.
        at: Now.

    Raises:
        NotShownError: This person may not type papers in, or the draft is another person's.
        KeyError: There is no such draft.
        LedgerError: The draft cannot be saved.
    """
    _own_draft(office, person_id, draft_id, at)
    save_entries(office, draft_id, part, entries, at=at)


def typed_paper(office: Office, person_id: str, draft_id: str, *, at: datetime) -> tuple[Briefing, Paper]:
    """What was typed so far, assessed as of the paper's moment (now, while none is given).

    Raises:
        NotShownError: This person may not type papers in, or the draft is another person's.
        KeyError: There is no such draft.
        NoPolicyError: No policy was in force at that moment.
    """
    kept = _own_draft(office, person_id, draft_id, at)
    paper = _read(kept.get("paper", {}))
    draft, _ = draft_of(office, draft_id)
    data = {**kept["data"], "clocks": {}}  # when it was typed says nothing about when it was true
    sheet, problems = partial_worksheet(data)
    assessment = None
    if not problems:
        moment = at if paper.filled_at is None else paper.filled_at
        assessment, problems = decide(policy_for(office, sheet, moment, types_at=moment), sheet, moment)
    return Briefing(draft_id, draft.revision, data, sheet, problems, assessment, paper.pilot_id), paper


def transcribe(office: Office, person_id: str, draft_id: str, *, event_id: str, at: datetime) -> Signed:
    """Put a paper worksheet on record.

    Args:
        office: The school.
        person_id: Who typed it in: the desk, and never the pilot of the paper.
        draft_id: What was typed.
        event_id: Made when the page was drawn, so that a double tap finds the first record.
        at: Now.

    Returns:
        The record, of the kind ``briefed``: no yes, and no release.

    Raises:
        NotShownError: This person may not type papers in, or the draft is another person's.
        NotSignedError: Something is missing or cannot be true; the message says what to mend. Nothing was recorded.
        KeyError: There is no such draft.
        LedgerError: The record could not be written; what was typed is kept.
    """
    before = signed_before(office, event_id, actor=person_id, kind="briefed", subject=draft_id)
    if before is not None:
        return before
    ruling = _allowed(office, person_id, at)
    sound = _sound(office, person_id, _read(_own_draft(office, person_id, draft_id, at)["paper"]), at)
    try:
        typed, _ = typed_paper(office, person_id, draft_id, at=at)
    except NoPolicyError as error:
        raise NotSignedError(f"This paper cannot be assessed: {error}") from error
    if typed.assessment is None:
        first = typed.problems[0]
        raise NotSignedError(f"Mend the entries first, or leave blank what cannot be read: {first.message}")
    intent = _intent(person_id, typed, typed.assessment, sound, ruling, event_id, at)

    def decide_on(picture: Picture) -> Intent:
        if draft_id in picture.flights:
            raise NotSignedError(f"The flight {draft_id} is on record already; begin another one for another paper.")
        return intent

    done = append_decided(office, decide_on)
    office.store.delete_draft(draft_id)
    return done


def _allowed(office: Office, person_id: str, at: datetime) -> Ruling:
    ruling = may_transcribe(roles_of(office, person_id, at))
    if not ruling.allowed:
        raise NotShownError(" ".join(ruling.clauses))
    return ruling


def _own_draft(office: Office, person_id: str, draft_id: str, at: datetime) -> dict[str, Any]:
    _allowed(office, person_id, at)
    draft, kept = draft_of(office, draft_id)
    if draft.owner != person_id or "paper" not in kept:
        raise NotShownError("This is no paper worksheet that you are typing in.")
    return kept


def _sound(office: Office, person_id: str, paper: Paper, at: datetime) -> Paper:
    """The paper with its texts trimmed.

    Raises:
        NotSignedError: Something is missing or cannot be true.
    """
    if not paper.pilot_id:
        raise NotSignedError("Choose the pilot in command named on the paper.")
    try:
        person(office, paper.pilot_id)
    except KeyError as error:
        raise NotSignedError(f"The school knows nobody called {paper.pilot_id!r}; choose somebody it knows.") from error
    if paper.pilot_id == person_id:
        raise NotSignedError("Nobody types in their own paper worksheet: ask somebody else at the desk.")
    if paper.filled_at is None:
        raise NotSignedError("Say when the paper was filled in; it is assessed as of that moment.")
    if not timedelta() <= at - paper.filled_at <= _OLDEST:
        raise NotSignedError("The paper was filled in before now, and within the last year; correct the date and time.")
    if len(paper.signatures) > _MOST_SIGNATURES:
        raise NotSignedError(f"A paper has at most {_MOST_SIGNATURES} signatures here; put the others into the note.")
    signatures = tuple(_sound_signature(each, paper.filled_at, at) for each in paper.signatures)
    return replace(paper, signatures=signatures, note=_text(paper.note, "the note", _MOST_NOTE, needed=False))


def _sound_signature(signature: PaperSignature, filled_at: datetime, at: datetime) -> PaperSignature:
    if signature.said not in SAID_ON_PAPER:
        raise NotSignedError(f"A signature on paper says one of: {', '.join(SAID_ON_PAPER)}.")
    if signature.at is not None and not filled_at - timedelta(hours=1) <= signature.at <= at:
        raise NotSignedError("A signature lies between the time the paper was filled in and now; correct its time.")
    return replace(
        signature,
        name=_text(signature.name, "the name of who signed", _MOST_TEXT),
        role=_text(signature.role, "the role of who signed", _MOST_TEXT),
    )


def _text(typed: str, what: str, most: int, *, needed: bool = True) -> str:
    text = " ".join(typed.split())
    if not text and needed:
        raise NotSignedError(f"Write {what} as it stands on the paper.")
    if len(text) > most:
        raise NotSignedError(f"Shorten {what}: it has {len(text)} characters, at most {most} are kept.")
    unseen = [character for character in text if unicodedata.category(character) in {"Cc", "Cf", "Cs", "Co", "Cn"}]
    if any(character not in "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}" for character in unseen):
        raise NotSignedError(f"Type {what} again: it holds a character that nobody can see.")
    return text


def _intent(
    person_id: str,
    typed: Briefing,
    assessment: Assessment,
    paper: Paper,
    ruling: Ruling,
    event_id: str,
    at: datetime,
) -> Intent:
    worksheet = worksheet_data(typed.sheet)
    body: dict[str, Json] = {
        "draft": {"id": typed.draft_id, "revision": typed.revision},
        "entries": dict(typed.data),
        "said": {},
        "worksheet": worksheet,
        "worksheet_digest": digest_of(json.dumps(worksheet, sort_keys=True, separators=(",", ":"), ensure_ascii=False)),
        "assessment": assessment.as_data(),
        "assessment_digest": typed.digest,
        "type_digest": assessment.type_digest,
        "shown_at": iso(assessment.decided_at),
        "words": WORDS,
        "note": paper.note,
        "authority": list(ruling.clauses),
        "start": asdict(Start(pilot_id=paper.pilot_id)),
        "crew": [paper.pilot_id],
        "waived": [],
        "edits": [],
        "transcribed": {
            "by": person_id,
            "paper_at": iso(assessment.decided_at),
            "paper_signatures": [_signature_data(each) for each in paper.signatures],
            "typed_at": iso(at),
        },
    }
    return Intent(
        kind="briefed",
        event_id=event_id,
        at=at,
        actor=person_id,
        role="" if ruling.role is None else ruling.role.value,
        subject=typed.draft_id,
        body=body,
        engine_version=__version__,
        policy_digest=assessment.policy_digest,
    )


def _signature_data(signature: PaperSignature) -> dict[str, "Json"]:
    return {
        "name": signature.name,
        "role": signature.role,
        "said": signature.said,
        "at": None if signature.at is None else iso(signature.at),
    }


def _kept(paper: Paper) -> dict[str, Any]:
    return {
        "pilot_id": paper.pilot_id,
        "filled_at": None if paper.filled_at is None else iso(paper.filled_at),
        "signatures": [_signature_data(each) for each in paper.signatures],
        "note": paper.note,
    }


def _read(kept: Mapping[str, Any]) -> Paper:
    signatures: Sequence[Mapping[str, Any]] = kept.get("signatures", [])
    return Paper(
        str(kept.get("pilot_id", "")),
        _moment(kept.get("filled_at")),
        tuple(PaperSignature(each["name"], each["role"], each["said"], _moment(each["at"])) for each in signatures),
        str(kept.get("note", "")),
    )


def _moment(text: object) -> datetime | None:
    return datetime.fromisoformat(text).astimezone(UTC) if isinstance(text, str) else None
