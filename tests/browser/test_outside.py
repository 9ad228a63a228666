"""OpenID Connect with a real provider process: who is linked comes in, who is not is told what to hand on."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from riskboard import demo, jobs
from tests.browser.conftest import free_port
from tests.browser.own_server import Served, outside_server, own_server

pytestmark = pytest.mark.browser

NAME = "Invented Identities"
AT = datetime(2026, 5, 4, 16, tzinfo=UTC)


@dataclass
class Outside:
    """A server of ours and the provider that it knows."""

    served: Served
    provider: str


@pytest.fixture(scope="module")
def outside(tmp_path_factory: pytest.TempPathFactory, chromium: Browser) -> Iterator[Outside]:
    folder, port = tmp_path_factory.mktemp("outside"), free_port()
    with (
        outside_server(folder, free_port()) as provider,
        own_server(
            folder,
            port=port,
            arguments=("--public-url", f"http://127.0.0.1:{port}"),
            RISKBOARD_OIDC_METADATA_URL=f"{provider}/.well-known/openid-configuration",
            RISKBOARD_OIDC_CLIENT_ID="riskboard",
            RISKBOARD_OIDC_CLIENT_SECRET="invented-client-secret",  # noqa: S106
            RISKBOARD_OIDC_COOKIE_SECRET="invented-cookie-secret-of-32-characters",  # noqa: S106
            RISKBOARD_OIDC_NAME=NAME,
        ) as served,
    ):
        with chromium.new_context() as context:
            page = context.new_page()
            page.goto(served.address)
            page.get_by_role("button", name="Open the invented demo school").click()
            page.get_by_role("button", name="Enter as Mara Oduya").wait_for()
        _link(served, "tobin-reyes-hall", provider, "subject-17")
        yield Outside(served, provider)


def _link(served: Served, person_id: str, issuer: str, subject: str) -> None:
    """What an administrator does on the page of the people, beside the running server."""
    office = jobs.open_office(served.store, now=AT)
    edda = jobs.caller(office, jobs.sign_in(office, "edda", demo.DEMO_PASSPHRASE, at=AT), at=AT)
    assert edda is not None
    signature = jobs.StaffSignature(demo.DEMO_PIN, f"link-{person_id}", "shown at the desk")
    jobs.link_identity(office, edda, person_id, issuer, subject, signature, at=AT)
    office.store.close()


@pytest.fixture
def context(chromium: Browser, outside: Outside) -> Iterator[BrowserContext]:
    opened = chromium.new_context(viewport={"width": 390, "height": 844})
    opened.set_default_timeout(20_000)
    opened.route("**/*", lambda route: _only_here(route, outside))
    yield opened
    opened.close()


def _only_here(route: Route, outside: Outside) -> None:
    """The provider's own page wants a style sheet from elsewhere; nothing leaves this machine."""
    if route.request.url.startswith((outside.served.address, outside.provider)):
        route.continue_()
    else:
        route.abort()


def _be(page: Page, subject: str) -> None:
    """Come to the provider's page, and be somebody there."""
    page.get_by_role("link", name=f"Enter with {NAME}").click()
    page.get_by_placeholder("sub").fill(subject)
    page.get_by_role("button", name="Authorize", exact=True).click()


def _cookies(context: BrowserContext, outside: Outside) -> set[str]:
    return {str(cookie.get("name")) for cookie in context.cookies(outside.served.address)}


def test_who_is_linked_comes_in_and_lands_where_they_wanted_to_go(context: BrowserContext, outside: Outside) -> None:
    page = context.new_page()
    page.goto(f"{outside.served.address}/record?from=mail")
    _be(page, "subject-17")
    page.get_by_role("button", name="Continue").click()
    page.get_by_text("Tobin Reyes-Hall is in").wait_for()
    assert page.url == f"{outside.served.address}/record?from=mail"
    left = _cookies(context, outside)
    assert "riskboard" in left
    assert not [name for name in left if name.startswith("_streamlit_user")]


def test_who_is_not_linked_is_told_what_to_hand_over_and_nobody_is_made(
    context: BrowserContext, outside: Outside
) -> None:
    page = context.new_page()
    page.goto(outside.served.address)
    _be(page, "stranger-<b>4</b>")
    expect(page.get_by_role("alert")).to_contain_text("This school knows nobody by that identity")
    expect(page.locator(".rb-facts")).to_contain_text(outside.provider)
    expect(page.locator(".rb-facts")).to_contain_text("stranger-<b>4</b>")
    expect(page.get_by_role("button", name="Continue")).to_have_count(0)
    assert "riskboard" not in _cookies(context, outside)
    office = jobs.open_office(outside.served.store, now=AT)
    assert len(office.store.list_accounts()) == len(demo.ROLES)
    office.store.close()


def test_the_next_person_at_a_shared_desk_is_asked_anew(context: BrowserContext, outside: Outside) -> None:
    page = context.new_page()
    page.goto(outside.served.address)
    _be(page, "subject-17")
    page.get_by_role("button", name="Continue").wait_for()  # and walks away without pressing it
    page.goto(f"{outside.served.address}/enter")
    page.get_by_role("link", name=f"Enter with {NAME}").click()
    page.get_by_placeholder("sub").wait_for()


def test_a_denial_at_the_provider_lets_nobody_in(context: BrowserContext, outside: Outside) -> None:
    page = context.new_page()
    page.goto(outside.served.address)
    page.get_by_role("link", name=f"Enter with {NAME}").click()
    page.get_by_role("button", name="Deny").click()
    page.get_by_role("button", name="Enter as Mara Oduya").wait_for()
    assert "riskboard" not in _cookies(context, outside)


def test_no_secret_of_the_provider_is_printed(outside: Outside) -> None:
    printed = outside.served.log.read_text(errors="replace")
    for secret in ("invented-client-secret", "invented-cookie-secret"):
        assert secret not in printed
