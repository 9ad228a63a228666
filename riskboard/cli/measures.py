"""``riskboard measures``: what a policy may name, straight from the registry."""

import json
from argparse import Namespace
from typing import Any

from riskboard.cli.status import Status
from riskboard.cli.text import say, say_json, wrapped
from riskboard.measures.registry import MEASURES, Measure, inputs_of, load_all
from riskboard.worksheet.model import FIELD_PART

__all__ = ["run"]


def run(options: Namespace) -> Status:
    """List every registered measure."""
    load_all()
    listed = [entry for entry in MEASURES.values() if not entry.internal]
    listed.sort(key=lambda entry: entry.name)
    if options.json:
        say_json(json.dumps([_data(entry) for entry in listed], indent=2, ensure_ascii=False))
    else:
        for entry in listed:
            say(_paragraph(entry))
    return Status.fine


def _needs(entry: Measure) -> list[str]:
    """The worksheet entries it depends on, in reading order, and what the program knows itself."""
    inputs = inputs_of(entry.name)
    return [field for field in FIELD_PART if field in inputs]


def _data(entry: Measure) -> dict[str, Any]:
    return {
        "name": entry.name,
        "label": entry.label,
        "unit": entry.unit,
        "worse": entry.worse.value,
        "low": entry.low,
        "high": entry.high,
        "decimals": entry.decimals,
        "words": {str(code): word for code, word in entry.words.items()},
        "group": entry.group.value,
        "needs": _needs(entry),
        "source": entry.source,
        "about": entry.doc,
    }


def _paragraph(entry: Measure) -> str:
    unit = f", {entry.unit}" if entry.unit else ""
    head = f"{entry.name}{unit}: {entry.label}; {entry.worse.value} is worse; {entry.low:g} to {entry.high:g}"
    if entry.words:
        head += " (" + ", ".join(f"{code} {word}" for code, word in entry.words.items()) + ")"
    details = [f"Needs: {', '.join(_needs(entry)) or 'nothing entered'}.", f"Source: {entry.source}."]
    return "\n".join([wrapped(head, rest="    "), *(wrapped(text, first="    ", rest="    ") for text in details)])
