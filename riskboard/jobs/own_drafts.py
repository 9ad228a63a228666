"""A worksheet is its pilot's: the jobs on drafts, held to the person for whom an office acts.

The app takes its office from :func:`acting_for`, so that a page that forgets to ask cannot show or change somebody
else's worksheet. An office that acts for nobody (a command, a program on the same machine) is not held.
"""

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import Concatenate, ParamSpec, TypeVar

from riskboard.jobs import briefing, drafting, releasing, signing
from riskboard.jobs.flights import NotShownError
from riskboard.jobs.office import Office

__all__ = [
    "accept",
    "accept_signed",
    "acting_for",
    "begin_draft",
    "brief",
    "choose",
    "decline",
    "paste_report",
    "plan_take_off",
    "request_sign_off",
    "save_entries",
    "say",
    "unsay",
]

_P = ParamSpec("_P")
_R = TypeVar("_R")
_Job = Callable[Concatenate[Office, str, _P], _R]

_SOMEBODY_ELSES = "This worksheet is somebody else's. Only its pilot in command sees and changes it."


@lru_cache(maxsize=256)
def acting_for(office: Office, person_id: str) -> Office:
    """The same office, acting for one person; the same one again each time."""
    bound = Office(office.store, acts_for=person_id)
    object.__setattr__(bound, "log", office.log)  # one picture of the log for everybody
    return bound


def _for_its_pilot(job: _Job[_P, _R]) -> _Job[_P, _R]:
    """The job, refused where the draft is not that of the person for whom the office acts."""

    @wraps(job)
    def held(office: Office, draft_id: str, /, *args: _P.args, **options: _P.kwargs) -> _R:
        draft = office.store.load_draft(draft_id) if office.acts_for else None
        if draft is not None and draft.owner not in {"", office.acts_for}:
            raise NotShownError(_SOMEBODY_ELSES)
        pilot_id = getattr(next((each for each in args if isinstance(each, briefing.Start)), None), "pilot_id", None)
        signer = getattr(next((each for each in args if isinstance(each, signing.Signature)), None), "person_id", None)
        for named in (pilot_id, signer):
            if office.acts_for and named is not None and named != office.acts_for:
                raise NotShownError(_SOMEBODY_ELSES)
        return job(office, draft_id, *args, **options)

    return held


brief = _for_its_pilot(briefing.brief)
begin_draft = _for_its_pilot(briefing.begin_draft)
save_entries = _for_its_pilot(briefing.save_entries)
choose = _for_its_pilot(drafting.choose)
plan_take_off = _for_its_pilot(drafting.plan_take_off)
say = _for_its_pilot(drafting.say)
unsay = _for_its_pilot(drafting.unsay)
paste_report = _for_its_pilot(drafting.paste_report)
accept = _for_its_pilot(signing.accept)
decline = _for_its_pilot(signing.decline)
request_sign_off = _for_its_pilot(signing.request_sign_off)
accept_signed = _for_its_pilot(releasing.accept_signed)
