"""What was sent to a page at the aircraft, and the answers that refuse it: a sentence, what was typed, a way back."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from http import HTTPStatus
from urllib.parse import quote

from riskboard import jobs
from riskboard.app.address import same_origin_path
from riskboard.app.enter.form import FormError
from riskboard.app.line.answer import Answer, Outcome
from riskboard.app.line.pieces import Kept, echo_piece, notice_page, way_piece
from riskboard.app.line.reading import Typed, without_blanks
from riskboard.ledger import LedgerError
from riskboard.policy.book import NoPolicyError

__all__ = ["Sent", "failed", "no_form", "nobody_in", "other_person"]

_HEAD = "riskboard"
_CARRIED = frozenset({"token", "person", "event_id"})
_OUT = (
    "You are not signed in any more: nothing was done here for a while, or you left. Nothing was saved. Sign in again; "
    "what you typed is kept."
)
_OTHER = (
    "This page was opened for somebody else than who is signed in now. Nothing was saved. Whoever was at the aircraft "
    "signs in and enters it."
)
_OURS = (
    "The program failed here; its log says why. Whether anything was saved is not known: sending the same again finds "
    "out, and saves it once at most."
)


@dataclass(frozen=True)
class Sent:
    """One request.

    Attributes:
        path: Its address.
        flight_id: The flight named in it.
        session: The token of the browser's session, "" for none.
        posted: Whether something was pressed.
        by_itself: Whether the page sent it again by itself: that is no activity of a person.
        at: Now.
        form: What the form carried.
    """

    path: str
    flight_id: str
    session: str
    posted: bool
    by_itself: bool
    at: datetime
    form: Typed = field(default_factory=dict)

    def with_form(self, pairs: Iterable[tuple[str, str]]) -> "Sent":
        """The request with the fields of its form."""
        form: dict[str, list[str]] = {}
        for name, value in pairs:
            form.setdefault(name, []).append(value)
        return replace(self, form=form)

    @property
    def entries(self) -> Typed:
        """What was typed and chosen."""
        return without_blanks({name: values for name, values in self.form.items() if name not in _CARRIED})

    @property
    def page(self) -> str:
        """The page that it was sent from."""
        return same_origin_path(quote(self.path.removesuffix("/leaves")))

    @property
    def way_in(self) -> str:
        """The way in, and back to the page."""
        return f"/enter?next={quote(self.page, safe='')}"

    def one(self, name: str) -> str:
        """The first value of a field, "" for none."""
        return next(iter(self.form.get(name, ())), "")

    def echo(self, *, again: bool) -> str:
        """What was typed, handed back; with a button to send the same again."""
        kept = Kept(self.path, self.one("person"), "", self.one("event_id"), self.entries)
        return echo_piece(kept, again=again)


def nobody_in(sent: Sent) -> Answer:
    """Nobody is signed in: a page leads to the way in, a press is handed back."""
    if not sent.posted:
        return Answer(Outcome.signed_out, "", then=sent.way_in)
    way = way_piece(sent.way_in, "Sign in again")
    html = notice_page("Not saved yet", _HEAD, _OUT, way, sent.echo(again=True))
    return Answer(Outcome.signed_out, html, HTTPStatus.UNAUTHORIZED)


def other_person(sent: Sent) -> Answer:
    """Somebody else is signed in than the page was drawn for."""
    way = way_piece(sent.page, "Open the page as yourself")
    html = notice_page("Not saved", _HEAD, _OTHER, way, sent.echo(again=False))
    return Answer(Outcome.refused, html, HTTPStatus.FORBIDDEN)


def no_form(error: FormError) -> Answer:
    """What came was none of our forms."""
    return Answer(Outcome.refused, notice_page("Not understood", _HEAD, str(error), _home()), error.status)


def failed(sent: Sent, error: Exception) -> Answer:
    """What a job raised, as a sentence."""
    if isinstance(error, jobs.NotLetInError):
        return nobody_in(sent)
    if isinstance(error, jobs.NotShownError | KeyError):
        said = str(error.args[0]) if error.args else "That is not there"
        sentence = f"{said[:1].upper()}{said[1:].rstrip('.')}."
        html = notice_page("Not there for you", _HEAD, sentence, _home(), sent.echo(again=False))
        return Answer(Outcome.refused, html, HTTPStatus.NOT_FOUND)
    known = isinstance(error, LedgerError | NoPolicyError)
    said = str(error) if known else _OURS
    html = notice_page("Not saved yet", _HEAD, said, way_piece(sent.page, "Try again"), sent.echo(again=True))
    return Answer(Outcome.trouble, html, HTTPStatus.SERVICE_UNAVAILABLE)


def _home() -> str:
    return way_piece("/", "To your flights")
