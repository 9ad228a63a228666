"""What is done on the run-up page: draw it, put the run-up on record, note that the aircraft leaves."""

from http import HTTPStatus

from riskboard import jobs
from riskboard.app.line.answer import Answer, Outcome
from riskboard.app.line.asker import Asker
from riskboard.app.line.reading import Typed, problems_by_entry, run_up_from, typed_run_up
from riskboard.app.line.run_up_page import RunUpView, only_to_do, run_up_page
from riskboard.app.line.run_up_view import run_up_view
from riskboard.run_up import RunUpSeen, partial_run_up, run_up_data

__all__ = ["draw_run_up", "leave", "save_run_up"]

_NOTHING = "Nothing is entered yet, so nothing was saved. Enter what was seen; what is left blank counts as not done."
_MEND = "Not saved yet: mend what is named below, then press again."


def draw_run_up(asker: Asker, typed: Typed | None = None, *, alert: str = "") -> Answer:
    """The page as it stands. Where nothing was typed, a run-up that only lacks something is brought back.

    Raises:
        KeyError: Nothing is on record about the flight.
        NotShownError: It is not this person's to see.
        LedgerError: The store cannot be used.
    """
    return Answer(Outcome.page, _drawn(asker, run_up_view(asker), typed, alert=alert))


def _drawn(
    asker: Asker, view: RunUpView, typed: Typed | None, *, alert: str = "", problems: Typed | None = None
) -> str:
    here = f"/run-up/{asker.flight_id}"
    shown = _to_complete(view) if typed is None else typed
    return run_up_page(view, asker.form(here, shown, problems or {}), asker.form(f"{here}/leaves"), alert=alert)


def _to_complete(view: RunUpView) -> Typed:
    """What is on record, where only something not done stands against it; after anything worse, a blank form."""
    return typed_run_up(run_up_data(view.ran.seen)) if view.ran is not None and only_to_do(view.ran) else {}


def save_run_up(asker: Asker, typed: Typed, event_id: str) -> Answer:
    """Put on record what was seen.

    Raises:
        NotLetInError, NotShownError, KeyError, LedgerError: As the jobs do.
    """
    data, problems = run_up_from(typed)
    seen, more = partial_run_up(data)
    if problems or more or not data:
        by_entry, rest = problems_by_entry((*problems, *more), RunUpSeen)
        alert = " ".join([_MEND, *rest]) if data else _NOTHING
        view = run_up_view(asker)
        html = _drawn(asker, view, typed, alert=alert, problems=by_entry)
        return Answer(Outcome.mend, html, HTTPStatus.UNPROCESSABLE_ENTITY)
    try:
        jobs.run_up(asker.office, asker.caller, asker.flight_id, seen, event_id=event_id, at=asker.at)
    except jobs.NotSignedError as error:
        return _refused(asker, typed, str(error))
    return _saved(asker)


def leave(asker: Asker, _typed: Typed, event_id: str) -> Answer:
    """Note that the aircraft leaves. Raises as :func:`save_run_up`."""
    person_id = asker.caller.person_id
    try:
        jobs.took_off(asker.office, person_id, asker.flight_id, event_id=event_id, at=asker.at)
    except jobs.NotSignedError as error:
        return _refused(asker, None, str(error))
    return _saved(asker)


def _refused(asker: Asker, typed: Typed | None, said: str) -> Answer:
    return Answer(Outcome.refused, _drawn(asker, run_up_view(asker), typed, alert=said), HTTPStatus.CONFLICT)


def _saved(asker: Asker) -> Answer:
    html = _drawn(asker, run_up_view(asker), None)
    return Answer(Outcome.saved, html, then=f"/run-up/{asker.flight_id}")
