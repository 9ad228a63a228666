"""The server's settings and headers."""

import tomllib
from collections.abc import Coroutine
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from streamlit import config as streamlit_config

from riskboard.app import clock
from riskboard.app.serve import SecurityHeaders
from riskboard.app.settings import SETTINGS

ROOT = Path(__file__).resolve().parents[2]


def _flat(table: dict[str, Any], stem: str = "") -> dict[str, object]:
    found: dict[str, object] = {}
    for name, value in table.items():
        found |= _flat(value, f"{stem}{name}.") if isinstance(value, dict) else {f"{stem}{name}": value}
    return found


def test_the_settings_file_says_what_the_program_says() -> None:
    text = (ROOT / ".streamlit" / "config.toml").read_text(encoding="utf-8")
    assert _flat(tomllib.loads(text)) == dict(SETTINGS)


def test_every_setting_exists() -> None:
    assert set(SETTINGS) <= set(streamlit_config._config_options_template)


def test_closed_by_default() -> None:
    assert SETTINGS["server.address"] == "127.0.0.1"
    assert SETTINGS["browser.gatherUsageStats"] is False
    assert SETTINGS["client.showErrorDetails"] == "none"


def test_nothing_is_asked_of_an_outside_service_when_it_listens_on_every_address(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The library's greeting looks the machine's public address up outside, unless it is hidden."""
    from streamlit import net_util  # noqa: PLC0415
    from streamlit.web import bootstrap  # noqa: PLC0415

    asked: list[str] = []
    monkeypatch.setattr(net_util, "get_external_ip", lambda: asked.append("outside"))
    monkeypatch.setattr(net_util, "get_internal_ip", lambda: None)
    for hidden, expected in ((SETTINGS["logger.hideWelcomeMessage"], []), (False, ["outside"])):
        options: dict[str, object] = {
            "logger.hideWelcomeMessage": hidden,
            "server.address": "0.0.0.0",  # noqa: S104  - the address of the question
            "server.headless": True,
            "server.baseUrlPath": "",
            "browser.serverPort": 8501,
        }
        monkeypatch.setattr(streamlit_config, "get_option", lambda name, own=options: own.get(name))
        monkeypatch.setattr(streamlit_config, "is_manually_set", lambda name: name == "server.address")
        bootstrap._print_url(is_running_hello=False)
        assert asked == expected


def _finish(coroutine: Coroutine[Any, Any, None]) -> None:
    """Run a coroutine that waits for nothing; a browser test in the same process may hold the only event loop."""
    with pytest.raises(StopIteration):
        coroutine.send(None)


def test_headers_go_on_every_answer_and_sockets_pass_untouched() -> None:
    sent: list[dict[str, Any]] = []

    async def app(scope: Any, _receive: Any, send: Any) -> None:
        await send({"type": "http.response.start" if scope["type"] == "http" else "websocket.accept", "headers": []})

    async def send(message: Any) -> None:
        sent.append(message)

    async def receive() -> Any:
        return {}

    _finish(SecurityHeaders(app)({"type": "http"}, receive, send))
    _finish(SecurityHeaders(app)({"type": "websocket"}, receive, send))
    headers = dict(sent[0]["headers"])
    assert headers[b"x-content-type-options"] == b"nosniff"
    assert b"frame-ancestors 'none'" in headers[b"content-security-policy"]
    assert sent[1]["headers"] == []


def test_the_clock_is_held_where_the_environment_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("RISKBOARD_NOW", "2026-05-04T10:00:00-06:00")
    assert clock.now() == datetime(2026, 5, 4, 16, tzinfo=UTC)
    monkeypatch.setenv("RISKBOARD_NOW", "2026-05-04T10:00:00")
    with pytest.raises(ValueError, match="has no zone"):
        clock.now()
    monkeypatch.delenv("RISKBOARD_NOW")
    assert clock.held() is None


def test_the_clock_can_be_held_by_a_file_that_moves_on(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    hand = tmp_path / "now"
    monkeypatch.setenv("RISKBOARD_NOW", f"@{hand}")
    for text, hour in (("2026-05-04T16:00:00Z\n", 16), ("2026-05-04T19:30:00+02:00", 17)):
        hand.write_text(text)
        assert clock.now().hour == hour
    hand.unlink()
    with pytest.raises(OSError, match="now"):
        clock.now()
