"""A log as a text file that anyone can verify: one JSON object per line.

    {"seq": 7, "hash": "...", "header": "<exact text>", "salt": "<hex>", "body": "<exact text>"}

`hash` is SHA-256 over ``riskboard-log/1 header`` + newline + the bytes of `header` in UTF-8; the header's
`body_digest` is SHA-256 over ``riskboard-log/1 body`` + newline + the salt's bytes + the bytes of `body`. The header's
`prev` is the hash of the line before. An erased body is `null`, and so is its salt. Text that is not UTF-8, which only
a doctored log holds, stands under `header_base64` or `body_base64` instead.
"""

import base64
import binascii
import json
from collections.abc import Iterable, Iterator
from typing import Any, TextIO

from riskboard.ledger.entry import Body, Entry

__all__ = ["export", "read_export"]


def export(entries: Iterable[Entry], out: TextIO) -> int:
    """Write the records to a text file opened with UTF-8 and newline="", and return how many there were."""
    count = 0
    for count, entry in enumerate(entries, 1):  # noqa: B007 - the count is the result
        line: dict[str, Any] = {"seq": entry.seq, "hash": entry.digest, **_text("header", entry.header_bytes)}
        if entry.body is None:
            line |= {"salt": None, "body": None}
        else:
            line |= {"salt": entry.body.salt.hex(), **_text("body", entry.body.data)}
        out.write(json.dumps(line, ensure_ascii=False) + "\n")
    return count


def read_export(lines: Iterable[str]) -> Iterator[Entry]:
    """Yield the records of an exported log, exact bytes kept and nothing trusted.

    A line that cannot be read becomes an entry without a readable header in the place where it stands, so that
    `verify` names it among its findings. Empty lines are passed over.
    """
    place = 0
    for line in lines:
        text = line.strip()
        if not text:
            continue
        entry = _entry(text)
        if entry is None:
            entry = Entry(place + 1, "", text.encode("utf-8", "surrogateescape"), None)
        place = entry.seq
        yield entry


def _text(name: str, data: bytes) -> dict[str, str]:
    try:
        return {name: data.decode("utf-8")}
    except UnicodeDecodeError:
        return {f"{name}_base64": base64.b64encode(data).decode("ascii")}


def _entry(text: str) -> Entry | None:
    try:
        line = json.loads(text)
        seq, digest, salt = line["seq"], line["hash"], line["salt"]
        if type(seq) is not int or type(digest) is not str:
            return None
        body = None if salt is None else Body(bytes.fromhex(salt), _bytes(line, "body"))
        return Entry(seq, digest, _bytes(line, "header"), body)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, binascii.Error):
        return None


def _bytes(line: dict[str, Any], name: str) -> bytes:
    packed = line.get(f"{name}_base64")
    return line[name].encode("utf-8") if packed is None else base64.b64decode(packed, validate=True)
