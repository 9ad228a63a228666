"""The pages at the aircraft over HTTP: who asks, and whether our own page sent it.

A form carries the person it was drawn for and a proof made from their session. What changes something is a POST from
our own page. Whatever refuses a form hands back what was typed into it.
"""

import hashlib
import hmac
import logging
from collections.abc import Awaitable, Callable
from http import HTTPStatus
from typing import Protocol

import anyio
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from riskboard import jobs
from riskboard.app import clock
from riskboard.app.address import Address
from riskboard.app.enter.form import FormError, read_form
from riskboard.app.line.answer import Answer, Outcome
from riskboard.app.line.asker import Asker
from riskboard.app.line.pieces import CONTENT_POLICY
from riskboard.app.line.reading import Typed
from riskboard.app.line.run_up import draw_run_up, leave, save_run_up
from riskboard.app.line.script import SCRIPT, SCRIPT_PATH
from riskboard.app.line.sent import Sent, failed, no_form, nobody_in, other_person
from riskboard.app.line.shut_down import draw_shut_down, save_shut_down
from riskboard.ledger import LedgerError
from riskboard.policy.book import NoPolicyError

__all__ = ["MOST_BYTES", "Line"]

MOST_BYTES = 65_536
_MOST_FIELDS = 120
_MOST_EVENT = 64
_LOG = logging.getLogger(__name__)
_ANEW = "You have signed in again since this page was opened. Nothing was saved yet: press once more."


class _Draw(Protocol):
    def __call__(self, asker: Asker, typed: Typed | None = None, *, alert: str = "") -> Answer:
        """Draw the page."""


_Save = Callable[[Asker, Typed, str], Answer]


class Line:
    """The routes, for one office reached under one address.

    Args:
        address: Where people reach the app.
        office: Gives the open office; may raise LedgerError.
    """

    def __init__(self, address: Address, office: Callable[[], jobs.Office]) -> None:
        self.address = address
        self.office = office

    def routes(self) -> list[Route]:
        """The two pages, the press for the departure, and the script."""
        both = ["GET", "POST"]
        return [
            Route("/run-up/{flight_id}", self._page(draw_run_up, save_run_up), methods=both),
            Route("/run-up/{flight_id}/leaves", self._page(draw_run_up, leave), methods=both),
            Route("/shut-down/{flight_id}", self._page(draw_shut_down, save_shut_down), methods=both),
            Route(SCRIPT_PATH, _script),
        ]

    def _page(self, draw: _Draw, save: _Save) -> Callable[[Request], Awaitable[Response]]:
        async def answer(request: Request) -> Response:
            sent = Sent(
                path=request.url.path,
                flight_id=str(request.path_params["flight_id"]),
                session=request.cookies.get(self.address.cookie, ""),
                posted=request.method == "POST",
                by_itself=request.headers.get("x-riskboard-by") == "itself",
                at=clock.now(),
            )
            try:
                if sent.posted:
                    pairs = await read_form(request, self.address, most_bytes=MOST_BYTES, most_fields=_MOST_FIELDS)
                    sent = sent.with_form(pairs)
                made = await anyio.to_thread.run_sync(lambda: self._answer(sent, draw, save))
            except FormError as error:
                made = no_form(error)
            return _response(made, scripted="x-riskboard-by" in request.headers)

        return answer

    def _answer(self, sent: Sent, draw: _Draw, save: _Save) -> Answer:
        try:
            office = self.office()
            caller = jobs.caller(office, sent.session, at=sent.at, touch=not sent.by_itself)
            if caller is None:
                return nobody_in(sent)
            acting = jobs.acting_for(office, caller.person_id)
            asker = Asker(acting, caller, sent.flight_id, sent.at, lambda action: _proof(sent.session, action))
            return _pressed(sent, asker, draw, save) if sent.posted else draw(asker)
        except (LedgerError, NoPolicyError, jobs.NotLetInError, jobs.NotShownError, KeyError) as error:
            return failed(sent, error)
        except FormError:
            raise
        except Exception as error:  # noqa: BLE001  - a mistake of ours must not cost anybody what they typed; it is logged
            _LOG.exception("A page at the aircraft failed")
            return failed(sent, error)


def _pressed(sent: Sent, asker: Asker, draw: _Draw, save: _Save) -> Answer:
    if sent.one("person") != asker.caller.person_id:
        return other_person(sent)
    if not hmac.compare_digest(sent.one("token").encode(), asker.proof(sent.path).encode()):
        return Answer(Outcome.sign_again, draw(asker, sent.entries, alert=_ANEW).html, HTTPStatus.CONFLICT)
    event_id = sent.one("event_id")
    if not event_id.isalnum() or not event_id.isascii() or len(event_id) > _MOST_EVENT:
        raise FormError(HTTPStatus.BAD_REQUEST, "That was no form of this page. Nothing was done.")
    return save(asker, sent.entries, event_id)


def _proof(session: str, action: str) -> str:
    """Made from the session's token, which no other site's page can read; another session has another one."""
    return hmac.new(session.encode(), f"riskboard line {action}".encode(), hashlib.sha256).hexdigest()


def _response(made: Answer, *, scripted: bool) -> Response:
    answer: Response
    if made.then and not scripted:
        answer = RedirectResponse(made.then, HTTPStatus.SEE_OTHER)
    else:
        answer = HTMLResponse(made.html, made.status, headers={"content-security-policy": CONTENT_POLICY})
    answer.headers["x-riskboard"] = made.outcome.value
    answer.headers["cache-control"] = "no-store"
    return answer


async def _script(_request: Request) -> Response:
    """The script; its address changes with its text, so that a browser may keep it."""
    kept = {"cache-control": "public, max-age=31536000, immutable"}
    return Response(SCRIPT, media_type="text/javascript", headers=kept)
