import base64
import hashlib
import io
import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.ledger.chain import verify
from riskboard.ledger.entry import Body, Entry
from riskboard.ledger.finding import FindingKind
from riskboard.ledger.jsonl import export, read_export
from riskboard.ledger.receipt import receipt_for
from tests.ledger.made_logs import intent, made_log, sound_log, without_body


def exported(log: list[Entry]) -> str:
    out = io.StringIO(newline="")
    assert export(log, out) == len(log)
    return out.getvalue()


def same(left: list[Entry], right: list[Entry]) -> bool:
    return [(e.seq, e.digest, e.header_bytes, e.body) for e in left] == [
        (e.seq, e.digest, e.header_bytes, e.body) for e in right
    ]


def test_a_log_comes_back_byte_for_byte_and_verifies() -> None:
    note = 'Zoë said "no"\u2028 \\n \U0001d518'
    log = made_log(intent(1, body={"note": note}), intent(2, actor="Åsa Ñ"), intent(3))
    log[2] = without_body(log[2])
    back = list(read_export(io.StringIO(exported(log), newline="")))
    assert same(back, log)
    assert verify(back, receipt_for(log[-1])) == verify(log)


@given(st.binary(), st.binary(), st.binary(max_size=40), st.text(), st.integers())
def test_even_bytes_that_no_sound_log_holds_are_kept(
    header: bytes, body: bytes, salt: bytes, digest: str, seq: int
) -> None:
    digest = digest.encode("utf-8", "replace").decode()
    log = [Entry(seq, digest, header, Body(salt, body)), Entry(seq, digest, header, None)]
    assert same(list(read_export(exported(log).split("\n"))), log)


def test_the_export_can_be_verified_with_the_standard_library_alone() -> None:
    # Written from the description at the top of riskboard/ledger/jsonl.py.
    prev = "0" * 64
    for text in exported(sound_log()).splitlines():
        line = json.loads(text)
        header = json.loads(line["header"])
        digest = hashlib.sha256(b"riskboard-log/1 header\n" + line["header"].encode()).hexdigest()
        salted = b"riskboard-log/1 body\n" + bytes.fromhex(line["salt"]) + line["body"].encode()
        assert header["body_digest"] == hashlib.sha256(salted).hexdigest()
        assert (header["prev"], line["hash"]) == (prev, digest)
        prev = digest


@pytest.mark.parametrize(
    "broken", ["{", "[]", '{"seq": 4}', '{"seq": "4", "hash": "", "salt": null, "header": ""}', "x"]
)
def test_a_line_that_cannot_be_read_is_a_finding_at_its_record(broken: str) -> None:
    lines = exported(sound_log()).splitlines()
    lines[3] = broken
    findings = verify(read_export(lines))
    assert [(finding.kind, finding.seq) for finding in findings] == [(FindingKind.UNREADABLE, 4)]


def test_a_copy_that_broke_off_in_the_middle_of_a_line_is_found() -> None:
    text = exported(sound_log())
    findings = verify(read_export(text[:-100].splitlines()))
    assert [(finding.kind, finding.seq) for finding in findings] == [(FindingKind.UNREADABLE, 8)]


def test_empty_lines_do_not_matter() -> None:
    lines = exported(sound_log()).replace("\n", "\r\n\r\n").split("\n")
    assert verify(read_export(lines)) == []


def test_base64_is_used_only_where_text_cannot_stand() -> None:
    entry = replace(sound_log(2)[1], header_bytes=b"\xff")
    line = json.loads(exported([entry]))
    assert base64.b64decode(line["header_base64"]) == b"\xff"
    assert "header" not in line
    assert "base64" not in exported(sound_log())
