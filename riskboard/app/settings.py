"""How the server runs: closed by default. ``.streamlit/config.toml`` says the same, and a test compares the two."""

from collections.abc import Mapping

__all__ = ["SETTINGS"]

SETTINGS: Mapping[str, object] = {
    "server.address": "127.0.0.1",
    "server.port": 8501,
    "server.maxUploadSize": 1,
    "server.fileWatcherType": "none",
    "server.showEmailPrompt": False,
    "server.enableStaticServing": False,
    "browser.gatherUsageStats": False,
    "client.showErrorDetails": "none",
    "client.showErrorLinks": False,
    "client.toolbarMode": "minimal",
    # On all addresses of a machine, the greeting would ask an outside service for the machine's public address.
    "logger.hideWelcomeMessage": True,
    "runner.magicEnabled": False,
    "theme.font": "sans-serif",
    "theme.headingFont": "serif",
    "theme.baseRadius": "0.15rem",
    "theme.buttonRadius": "0.15rem",
    "theme.showWidgetBorder": True,
    "theme.light.primaryColor": "#0b5563",
    "theme.light.backgroundColor": "#f8f6f1",
    "theme.light.secondaryBackgroundColor": "#ece7dc",
    "theme.light.textColor": "#1b1a24",
    "theme.light.linkColor": "#0b5563",
    "theme.light.borderColor": "#8b8574",
    "theme.dark.primaryColor": "#25798b",
    "theme.dark.backgroundColor": "#15161c",
    "theme.dark.secondaryBackgroundColor": "#22242d",
    "theme.dark.textColor": "#efece4",
    "theme.dark.linkColor": "#8fd0dc",
    "theme.dark.borderColor": "#7d8290",
}
"""Streamlit options by their dotted name. Loopback only, no telemetry, no error details, no file watcher."""
