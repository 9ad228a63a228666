"""A worksheet file with every entry blank: what may be written, in which unit and why stands above each one."""

import textwrap
from collections.abc import Iterator
from typing import Final

from riskboard.worksheet.fact import FactInfo
from riskboard.worksheet.model import PARTS, SCHEMA
from riskboard.worksheet.shape import shape_of

__all__ = ["blank_worksheet_yaml"]

_WIDTH: Final = 110
_HEAD: Final = """\
A riskboard worksheet. A blank entry is unknown, and an unknown never helps; "none" is an answer, a blank is not.
Times carry their zone (2026-05-04T14:30Z or 2026-05-04T08:30-06:00). Write decided_at only to assess a past moment."""


def blank_worksheet_yaml() -> str:
    """The text of a worksheet file with every entry blank; it reads as an empty worksheet."""
    lines = [f"# {line}" for line in _HEAD.splitlines()]
    lines += [f"schema: {SCHEMA}", "decided_at:"]
    for part, model in PARTS.items():
        lines += ["", f"{part}:"]
        for name, info in model.facts().items():
            lines += _comment(_asked(part, name, info), "  ")
            lines.append(f"  {name}:")
    return "\n".join(lines) + "\n"


def _asked(part: str, name: str, info: FactInfo) -> str:
    shape = shape_of(PARTS[part], name)
    if shape.entry is None:
        right = shape.right(info.unit)
    else:
        fields = ", ".join(f"{field}: {shape_of(shape.entry, field).right()}" for field in shape.entry.model_fields)
        right = f"a list such as [{{...}}, {{...}}] of entries with {fields}; or 'none'"
    return f"{info.label}: {right}. {info.why}"


def _comment(text: str, indent: str) -> Iterator[str]:
    return iter(textwrap.wrap(text, _WIDTH, initial_indent=f"{indent}# ", subsequent_indent=f"{indent}#   "))
