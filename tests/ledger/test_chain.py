import random
import tracemalloc
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta

import pytest

from riskboard.ledger.chain import verify
from riskboard.ledger.entry import Body, Entry, Header, seal
from riskboard.ledger.finding import Finding, FindingKind
from riskboard.ledger.receipt import receipt_for
from tests.ledger.made_logs import (
    NOON,
    ORIGIN,
    intent,
    made_log,
    sound_log,
    with_body,
    with_header,
    without_body,
)

Log = list[Entry]


def summary(findings: list[Finding]) -> list[tuple[FindingKind, int]]:
    return [(finding.kind, finding.seq) for finding in findings]


def test_a_sound_log_has_no_findings() -> None:
    log = sound_log()
    assert verify(iter(log)) == []
    assert verify(log, [receipt_for(entry) for entry in log]) == []


def change_header_only(log: Log) -> Log:
    return [*log[:3], with_header(log[3], b"Wren", b"Wron", rehash=False), *log[4:]]


def change_header_and_its_hash(log: Log) -> Log:
    return [*log[:3], with_header(log[3], b"Wren", b"Wron", rehash=True), *log[4:]]


def change_the_link_and_the_hash(log: Log) -> Log:
    return [*log[:3], with_header(log[3], log[2].digest.encode(), b"e" * 64, rehash=True), *log[4:]]


def change_the_number_in_a_header(log: Log) -> Log:
    return [*log[:3], with_header(log[3], b'"seq":4', b'"seq":44', rehash=False), *log[4:]]


def change_the_kept_hash(log: Log) -> Log:
    return [*log[:3], replace(log[3], digest="0" * 64), *log[4:]]


def change_last_header(log: Log) -> Log:
    return [*log[:-1], with_header(log[-1], b"Wren", b"Wron", rehash=False)]


def change_first_header(log: Log) -> Log:
    return [with_header(log[0], b"opened", b"waived", rehash=True), *log[1:]]


def change_body(log: Log) -> Log:
    return [*log[:3], with_body(log[3], b'{"sleep_last_24h_h":9}'), *log[4:]]


def change_last_body(log: Log) -> Log:
    return [*log[:-1], with_body(log[-1], b"{}")]


def change_salt(log: Log) -> Log:
    body = log[3].body
    assert body is not None
    return [*log[:3], replace(log[3], body=Body(b"x" * 32, body.data)), *log[4:]]


def swap_bodies(log: Log) -> Log:
    return [*log[:3], replace(log[3], body=log[4].body), replace(log[4], body=log[3].body), *log[5:]]


def take_one_out(log: Log) -> Log:
    return [*log[:3], *log[4:]]


def take_three_out(log: Log) -> Log:
    return [*log[:3], *log[6:]]


def take_the_first_out(log: Log) -> Log:
    return log[1:]


def swap_two_in_the_file(log: Log) -> Log:
    return [*log[:3], log[4], log[3], *log[5:]]


def swap_two_rows(log: Log) -> Log:
    """As in a table: each in the place of the other."""
    return [*log[:3], replace(log[4], seq=4), replace(log[3], seq=5), *log[5:]]


def repeat_one(log: Log) -> Log:
    return [*log[:6], log[3], *log[6:]]


def add_a_branch(log: Log) -> Log:
    other = seal(intent(3, actor="Nobody At All"), origin=ORIGIN, seq=4, prev=log[2].digest, salt=b"b" * 32)
    return [*log[:4], other, *log[4:]]


def take_a_body(log: Log) -> Log:
    return [*log[:3], without_body(log[3]), *log[4:]]


def swap_two_and_rewrite_the_earlier(log: Log) -> Log:
    return [*log[:3], log[4], with_header(log[3], b"Wren", b"Wron", rehash=True), *log[5:]]


def make_a_header_unreadable(log: Log) -> Log:
    return [*log[:3], replace(log[3], header_bytes=b"\xff\xfe"), *log[4:]]


def write_in_a_newer_format(log: Log) -> Log:
    return [*log[:3], with_header(log[3], b"riskboard-log/1", b"riskboard-log/9", rehash=True), *log[4:]]


def put_in_a_record_of_another_log(log: Log) -> Log:
    other = seal(intent(8), origin="f" * 32, seq=9, prev=log[-1].digest, salt=b"b" * 32)
    return [*log, other]


def empty(_log: Log) -> Log:
    return []


K = FindingKind
TAMPERING: list[tuple[Callable[[Log], Log], list[tuple[FindingKind, int]]]] = [
    (change_header_only, [(K.CHANGED_HEADER, 4)]),
    (change_header_and_its_hash, [(K.CHANGED_HEADER, 4)]),
    (change_the_link_and_the_hash, [(K.CHANGED_HEADER, 4)]),
    (change_the_number_in_a_header, [(K.CHANGED_HEADER, 4)]),
    (change_the_kept_hash, [(K.CHANGED_HEADER, 4)]),
    (change_last_header, [(K.CHANGED_HEADER, 8)]),
    (change_first_header, [(K.CHANGED_HEADER, 1)]),
    (change_body, [(K.CHANGED_BODY, 4)]),
    (change_last_body, [(K.CHANGED_BODY, 8)]),
    (change_salt, [(K.CHANGED_BODY, 4)]),
    (swap_bodies, [(K.CHANGED_BODY, 4), (K.CHANGED_BODY, 5)]),
    (take_one_out, [(K.MISSING, 4)]),
    (take_three_out, [(K.MISSING, 4)]),
    (take_the_first_out, [(K.MISSING, 1)]),
    (swap_two_in_the_file, [(K.REORDERED, 4)]),
    (swap_two_rows, [(K.REORDERED, 4), (K.REORDERED, 5)]),
    (repeat_one, [(K.REORDERED, 4)]),
    (add_a_branch, [(K.FORKED, 4)]),
    (take_a_body, [(K.BODY_ABSENT, 4)]),
    (swap_two_and_rewrite_the_earlier, [(K.REORDERED, 4), (K.CHANGED_HEADER, 4)]),
    (make_a_header_unreadable, [(K.UNREADABLE, 4)]),
    (write_in_a_newer_format, [(K.UNREADABLE, 4)]),
    (put_in_a_record_of_another_log, [(K.FOREIGN, 9)]),
    (empty, [(K.MISSING, 1)]),
]


@pytest.mark.parametrize(("tamper", "expected"), TAMPERING, ids=lambda part: getattr(part, "__name__", ""))
def test_tampering_is_found_and_the_record_named(
    tamper: Callable[[Log], Log], expected: list[tuple[FindingKind, int]]
) -> None:
    findings = verify(iter(tamper(sound_log())))
    assert summary(findings) == expected
    for finding in findings:
        assert finding.sentence.endswith(".")
        assert str(finding).startswith(f"record {finding.seq}: ")


def test_any_one_flipped_bit_of_header_or_body_is_found_at_its_record() -> None:
    log = sound_log(5)
    generator = random.Random(20260301)  # noqa: S311 - which bit is flipped needs no secrecy
    for _ in range(400):
        place = generator.randrange(len(log))
        entry = log[place]
        assert entry.body is not None
        if generator.random() < 0.5:
            changed = replace(entry, header_bytes=flipped(entry.header_bytes, generator))
        else:
            changed = with_body(entry, flipped(entry.body.data, generator))
        findings = verify([*log[:place], changed, *log[place + 1 :]])
        assert place + 1 in {finding.seq for finding in findings}


def flipped(data: bytes, generator: random.Random) -> bytes:
    place = generator.randrange(len(data))
    return data[:place] + bytes([data[place] ^ 1 << generator.randrange(8)]) + data[place + 1 :]


def test_a_cut_tail_is_seen_with_a_receipt_only() -> None:
    log = sound_log()
    receipt = receipt_for(log[-1])
    assert verify(log[:5]) == []  # as the documentation says: without a receipt nothing shows it
    findings = verify(log[:5], receipt)
    assert summary(findings) == [(K.CUT, 6)]
    assert "records 6 to 8 are cut off" in findings[0].sentence
    assert summary(verify(log[:7], receipt)) == [(K.CUT, 8)]


def test_a_full_rewrite_is_seen_with_a_receipt_only() -> None:
    log = sound_log()
    rewritten = made_log(*(intent(number, actor="Nobody At All") for number in range(1, 8)))
    assert verify(rewritten) == []
    assert summary(verify(rewritten, receipt_for(log[4]))) == [(K.REWRITTEN, 5)]
    # A receipt printed before the rewritten part says nothing about it.
    half = [*log[:4], *made_log(*(intent(n) for n in range(1, 4)), *(intent(n, actor="X") for n in range(4, 8)))[4:]]
    assert verify(half) == []
    assert verify(half, receipt_for(log[3])) == []
    assert summary(verify(half, [receipt_for(log[3]), receipt_for(log[6])])) == [(K.REWRITTEN, 7)]


def test_a_receipt_of_another_log_is_named() -> None:
    other = made_log(intent(), origin="f" * 32)
    assert summary(verify(sound_log(), receipt_for(other[-1]))) == [(K.FOREIGN, 2)]


def test_a_header_changed_with_its_hash_in_the_last_record_needs_a_receipt() -> None:
    log = sound_log()
    changed = [*log[:-1], with_header(log[-1], b"Wren", b"Wron", rehash=True)]
    assert verify(changed) == []
    assert summary(verify(changed, receipt_for(log[-1]))) == [(K.REWRITTEN, 8)]


def erased_log(**changes: object) -> Log:
    body = changes.pop("body", {"erases": [3], "reason": "asked by the person"})
    end = intent(7, kind="erased", body=body, **changes)
    log = made_log(*(intent(number) for number in range(1, 7)), end)
    return [*log[:2], without_body(log[2]), *log[3:]]


def test_an_erased_body_is_no_finding() -> None:
    assert verify(erased_log()) == []


@pytest.mark.parametrize("body", [{}, {"erases": 3}, {"erases": [4]}, {"erases": ["3"]}, {"erases": [3.0]}])
def test_an_erasure_that_does_not_name_the_record_excuses_nothing(body: dict[str, object]) -> None:
    assert (K.BODY_ABSENT, 3) in summary(verify(erased_log(body=body)))


def test_an_erased_body_that_still_stands_is_a_finding() -> None:
    log = erased_log()
    whole = [*log[:2], sound_log()[2], *log[3:]]
    assert summary(verify(whole)) == [(K.BODY_STANDS, 3)]


def test_an_erasure_cannot_excuse_itself_nor_what_must_stay() -> None:
    log = made_log(intent(1, kind="erased", body={"erases": [2]}))
    assert summary(verify([log[0], without_body(log[1])])) == [(K.BODY_ABSENT, 2)]
    log = made_log(intent(1, kind="role_given"), intent(2, kind="erased", body={"erases": [1, 2, 3]}))
    bare = [without_body(log[0]), without_body(log[1]), log[2]]
    assert summary(verify(bare)) == [(K.BODY_ABSENT, 1), (K.BODY_ABSENT, 2)]


def test_a_doctored_erasure_excuses_nothing() -> None:
    log = erased_log(body={"erases": [4]})
    forged = [*log[:-1], with_body(log[-1], b'{"erases":[3]}')]
    assert {(K.CHANGED_BODY, 8), (K.BODY_ABSENT, 3)} <= set(summary(verify(forged)))


def clocked(*minutes: float) -> Log:
    return made_log(*(intent(n, at=NOON + timedelta(minutes=each)) for n, each in enumerate(minutes, 1)))


def test_a_clock_that_went_back_gives_one_finding_for_one_jump() -> None:
    assert summary(verify(clocked(10, 20, 5, 6, 7))) == [(K.CLOCK_BACK, 4)]
    assert summary(verify(clocked(10, 20, 5, 30, 4))) == [(K.CLOCK_BACK, 4), (K.CLOCK_BACK, 6)]


def test_the_slack_of_two_minutes_is_inclusive_and_does_not_add_up() -> None:
    assert verify(clocked(10, 8, 10)) == []
    assert summary(verify(clocked(10, 7.99))) == [(K.CLOCK_BACK, 3)]
    assert summary(verify(clocked(10, 9, 8, 7))) == [(K.CLOCK_BACK, 5)]


def test_a_signer_who_was_not_authorised_is_named() -> None:
    log = made_log(intent(1), intent(2, kind="signed", role="dispatcher", body={"text": "yes"}))

    def authorised(header: Header, body: Body | None) -> str | None:
        if header.kind == "signed" and body is not None and body.value["text"] == "yes":
            return f"{header.actor} was no {header.role} then."
        return None

    findings = verify(log, authorised=authorised)
    assert [str(finding) for finding in findings] == [
        "record 3: signer not authorised at the time: Wren Adair was no dispatcher then."
    ]


def test_several_things_at_once_are_all_named() -> None:
    log = change_body(take_three_out(sound_log(12)))
    log[-1] = with_header(log[-1], b"Wren", b"Wron", rehash=False)
    assert summary(verify(log)) == [(K.MISSING, 4), (K.CHANGED_BODY, 7), (K.CHANGED_HEADER, 12)]


def test_bodies_are_not_held() -> None:
    size = 100_000

    def stream() -> Iterator[Entry]:
        prev = "0" * 64
        for number in range(1, 201):
            kind = "opened" if number == 1 else "briefed"
            made = intent(number, kind=kind, body={"x": "y" * size})
            entry = seal(made, origin=ORIGIN, seq=number, prev=prev, salt=b"s" * 32)
            prev = entry.digest
            yield entry

    tracemalloc.start()
    try:
        assert verify(stream()) == []
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 20 * size  # all bodies together are 200 times the size
