"""The one script of these pages, as a file of our own origin; its address changes with its text."""

import hashlib
from pathlib import Path

__all__ = ["SCRIPT", "SCRIPT_PATH"]

SCRIPT = Path(__file__).with_name("line.js").read_text(encoding="utf-8")
SCRIPT_PATH = f"/line/{hashlib.sha256(SCRIPT.encode()).hexdigest()[:16]}.js"
