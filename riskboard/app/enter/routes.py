"""Who comes in and goes out, over HTTP. Each route does one job and answers with a page or a redirect.

What changes something is a POST from our own page, with a small form in it. No secret is logged or shown again, and
answers are never kept by a browser or proxy.
"""

from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any
from urllib.parse import quote, unquote

import anyio
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from riskboard import demo, jobs
from riskboard.app import clock
from riskboard.app.address import Address, same_origin_path
from riskboard.app.enter import page
from riskboard.app.enter.cookies import keep_cookie, take_cookie
from riskboard.app.enter.form import FormError, read_form
from riskboard.app.enter.guard import STREAMLIT_USER
from riskboard.ledger import LedgerError
from riskboard.people.sessions import looks_like_token

__all__ = ["NEXT_COOKIE", "Entrance"]

MAX_BODY_BYTES = 8_192
_MAX_FIELDS = 12
NEXT_COOKIE = "riskboard_next"
_NEXT_LASTS_S = 900

# A passphrase costs 64 MiB while it is checked: two at a time, and whoever floods the door waits outside.
_AT_ONCE = 2
_WAITING = 40


@dataclass(frozen=True)
class _Let:
    """A token to hand to the browser."""

    token: str


class Entrance:
    """The routes, for one office reached under one address.

    Args:
        address: Where people reach the app.
        office: Gives the open office; may raise LedgerError.
        outside: Name of the outside provider; "" for none.
    """

    def __init__(self, address: Address, office: Callable[[], jobs.Office], outside: str = "") -> None:
        self.address = address
        self.office = office
        self.outside = outside
        self._checking = anyio.CapacityLimiter(_AT_ONCE)

    def routes(self) -> list[Route]:
        """Everything below /enter, and /leave."""
        return [
            Route("/enter", self._guarded(self.enter), methods=["GET", "POST"]),
            Route("/enter/code", self._guarded(self.code), methods=["GET", "POST"]),
            Route("/enter/demo", self._guarded(self.demo), methods=["POST"]),
            Route("/enter/first", self._guarded(self.first), methods=["GET", "POST"]),
            Route("/enter/outside", self._guarded(self.outside_identity), methods=["GET", "POST"]),
            Route("/leave", self._guarded(self.leave), methods=["GET", "POST"]),
        ]

    async def is_in(self, token: str) -> bool:
        """Whether a browser's token still counts. Looking is no activity."""
        if not looks_like_token(token):
            return False
        try:
            return await anyio.to_thread.run_sync(lambda: self._caller(token) is not None)
        except LedgerError:
            return False

    def _caller(self, token: str) -> jobs.Caller | None:
        return jobs.caller(self.office(), token, at=clock.now(), touch=False)

    def _guarded(self, act: Callable[[Request], Any]) -> Callable[[Request], Any]:
        async def answer(request: Request) -> Response:
            try:
                return _never_kept(await act(request))
            except FormError as error:
                return _never_kept(_html(page.notice_page("", "Not understood", str(error)), error.status))
            except LedgerError as error:
                text = page.notice_page("", "The school's store does not answer", str(error))
                return _never_kept(_html(text, HTTPStatus.SERVICE_UNAVAILABLE))

        return answer

    async def enter(self, request: Request) -> Response:
        """Sign in by passphrase."""
        if request.method != "POST":
            wanted = same_origin_path(request.query_params.get("next", "/"))
            said = "You have left. What you typed is kept." if "left" in request.query_params else ""
            return await self._sign_in_page(wanted, said=said)
        form = await self._form(request)
        wanted, login_name = same_origin_path(form.get("next", "/")), form.get("login_name", "")
        got = await self._try(
            lambda office: jobs.sign_in(office, login_name, form.get("passphrase", ""), at=clock.now())
        )
        if isinstance(got, _Let):
            return await self._let_in(request, got.token, wanted)
        return await self._sign_in_page(wanted, login_name=login_name, alert=got, status=HTTPStatus.FORBIDDEN)

    async def code(self, request: Request) -> Response:
        """Set a passphrase with a one-time code."""
        school = await self._school_name()
        if request.method != "POST":
            wanted = same_origin_path(request.query_params.get("next", "/"))
            return _html(page.code_page(school, wanted))
        form = await self._form(request)
        wanted, login_name = same_origin_path(form.get("next", "/")), form.get("login_name", "")
        got = await self._try(
            lambda office: jobs.use_code(
                office,
                login_name,
                form.get("code", ""),
                form.get("passphrase", ""),
                form.get("pin", "").strip(),
                at=clock.now(),
            )
        )
        if isinstance(got, _Let):
            return await self._let_in(request, got.token, wanted)
        return _html(page.code_page(school, wanted, login_name=login_name, alert=got), HTTPStatus.FORBIDDEN)

    async def demo(self, request: Request) -> Response:
        """Open the invented school."""
        await self._form(request)
        try:
            await self._run(lambda office: jobs.load_demo_school(office, now=clock.now()))
        except jobs.NotDoneError as error:
            return _html(page.notice_page(await self._school_name(), "Not opened", str(error)), HTTPStatus.CONFLICT)
        return RedirectResponse("/enter", HTTPStatus.SEE_OTHER)

    async def first(self, request: Request) -> Response:
        """Make the administrator with the code from the console."""
        school = await self._school_name()
        if not await self._run(lambda office: jobs.needs_first_start(office, clock.now())):
            said = "Somebody runs this school already. Ask them for an account."
            return _html(page.notice_page(school, "Already set up", said), HTTPStatus.CONFLICT)
        if request.method != "POST":
            return _html(page.first_page(school))
        form = await self._form(request)
        got = await self._try(
            lambda office: jobs.first_start(
                office,
                form.get("code", ""),
                form.get("name", ""),
                form.get("login_name", ""),
                form.get("passphrase", ""),
                form.get("pin", "").strip(),
                school_name=form.get("school_name", ""),
                time_zone=form.get("time_zone", "").strip(),
                at=clock.now(),
            )
        )
        if isinstance(got, _Let):
            return await self._let_in(request, got.token, "/people")
        return _html(page.first_page(school, typed=form, alert=got), HTTPStatus.FORBIDDEN)

    async def outside_identity(self, request: Request) -> Response:
        """GET leads to the outside provider, remembering the page; POST brings back what the app made of its answer."""
        if not self.outside:
            return RedirectResponse("/enter", HTTPStatus.SEE_OTHER)
        if request.method != "POST":
            answer: Response = RedirectResponse("/outside", HTTPStatus.SEE_OTHER)
            wanted = same_origin_path(request.query_params.get("next", "/"))
            kept = f"{NEXT_COOKIE}={quote(wanted, safe='')}; Max-Age={_NEXT_LASTS_S}; Path=/; HttpOnly; SameSite=Lax"
            answer.headers.append("set-cookie", kept)
            self._forget_outside(request, answer)
            return answer
        form = await self._form(request)
        got = await self._try(lambda office: jobs.carry_over(office, form.get("ticket", ""), at=clock.now()))
        wanted = same_origin_path(unquote(request.cookies.get(NEXT_COOKIE, "/")))
        answer = (
            await self._let_in(request, got.token, wanted)
            if isinstance(got, _Let)
            else await self._sign_in_page(wanted, alert=got, status=HTTPStatus.FORBIDDEN)
        )
        answer.headers.append("set-cookie", take_cookie(self.address, NEXT_COOKIE))
        self._forget_outside(request, answer)
        return answer

    def _forget_outside(self, request: Request, answer: Response) -> None:
        """Streamlit would keep the provider's answer for a month: on a shared desk, the next person's way in."""
        for name in request.cookies:
            if name.startswith(STREAMLIT_USER):
                answer.headers.append("set-cookie", take_cookie(self.address, name))

    async def leave(self, request: Request) -> Response:
        """End the session. Asks first unless our own page, or a typed address, is known to have sent the request."""
        if request.method != "POST" and request.headers.get("sec-fetch-site") not in {"same-origin", "none"}:
            return _html(page.leave_page(await self._school_name()))
        if request.method == "POST":
            await self._form(request)
        token = request.cookies.get(self.address.cookie, "")
        await self._run(lambda office: jobs.sign_out(office, token, at=clock.now()))
        answer = RedirectResponse("/enter?left=1", HTTPStatus.SEE_OTHER)
        answer.headers.append("set-cookie", take_cookie(self.address))
        self._forget_outside(request, answer)
        return answer

    async def _form(self, request: Request) -> dict[str, str]:
        """The fields of a form that our own page sent.

        Raises:
            FormError: Another site sent it, it is too large, or it is no form.
        """
        return dict(await read_form(request, self.address, most_bytes=MAX_BODY_BYTES, most_fields=_MAX_FIELDS))

    async def _run(self, act: Callable[[jobs.Office], Any]) -> Any:
        if self._checking.statistics().tasks_waiting >= _WAITING:
            raise FormError(HTTPStatus.TOO_MANY_REQUESTS, "Too many people are at the door. Try again in a moment.")
        return await anyio.to_thread.run_sync(lambda: act(self.office()), limiter=self._checking)

    async def _try(self, act: Callable[[jobs.Office], str]) -> _Let | str:
        """A token, or the sentence that says why not."""
        try:
            return _Let(await self._run(act))
        except (jobs.NotLetInError, jobs.NotSignedError) as error:
            return str(error)

    async def _let_in(self, request: Request, token: str, wanted: str) -> Response:
        before = request.cookies.get(self.address.cookie, "")
        if before:  # whoever was in at this browser before is out: a shared desk has one person at a time
            await self._run(lambda office: jobs.sign_out(office, before, at=clock.now()))
        answer = RedirectResponse(wanted, HTTPStatus.SEE_OTHER)
        answer.headers.append("set-cookie", keep_cookie(self.address, token))
        return answer

    async def _school_name(self) -> str:
        school = await self._run(jobs.school)
        return "" if school is None else str(school["name"])

    async def _sign_in_page(
        self,
        wanted: str,
        *,
        login_name: str = "",
        alert: str = "",
        said: str = "",
        status: HTTPStatus = HTTPStatus.OK,
    ) -> Response:
        school = await self._run(jobs.school)
        if school is None:
            return _html(page.start_page(alert=alert), status)
        invented = await self._run(_invented) if school.get("invented") else None
        text = page.sign_in_page(
            str(school["name"]),
            wanted,
            login_name=login_name,
            alert=alert,
            said=said,
            invented=invented,
            outside=self.outside,
        )
        return _html(text, status)


def _invented(office: jobs.Office) -> page.Invented:
    """The invented people with the roles that they hold now."""
    people = []
    for person in jobs.people(office):
        if person.person_id in demo.LOGIN_NAMES:
            held = jobs.roles_of(office, person.person_id, clock.now())
            said = ", ".join(sorted(role.value.replace("_", " ") for role in held)) or "no role now"
            people.append((demo.LOGIN_NAMES[person.person_id], f"{person.name}, {said}"))
    return page.Invented(people, demo.DEMO_PASSPHRASE, demo.DEMO_PIN)


def _html(text: str, status: HTTPStatus = HTTPStatus.OK) -> HTMLResponse:
    return HTMLResponse(text, status, headers={"content-security-policy": page.CONTENT_POLICY})


def _never_kept(answer: Response) -> Response:
    answer.headers["cache-control"] = "no-store"
    return answer
