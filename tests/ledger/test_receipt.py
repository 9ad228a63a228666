from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from riskboard.ledger.finding import FindingKind
from riskboard.ledger.receipt import ALPHABET, Receipt, ReceiptCodeError, check_receipt, receipt_for
from tests.ledger.made_logs import NOON, ORIGIN, sound_log

HEX = "0123456789abcdef"
RECEIPTS = st.builds(
    Receipt,
    origin=st.text(HEX, min_size=8, max_size=8),
    size=st.integers(1, 2**34 - 1),
    head=st.text(HEX, min_size=32, max_size=32),
    at=st.integers(0, 2**33 - 1).map(lambda second: datetime.fromtimestamp(second, UTC)),
)
EXAMPLE = Receipt("0123abcd", 4711, "0123456789abcdef" * 2, NOON)


@given(RECEIPTS)
def test_the_code_gives_the_receipt_back(receipt: Receipt) -> None:
    assert Receipt.from_code(receipt.code) == receipt


@given(RECEIPTS)
def test_the_code_may_be_typed_as_people_type(receipt: Receipt) -> None:
    typed = receipt.code.lower().replace("0", "o").replace("1", "l").replace("-", " ")
    assert Receipt.from_code(f" {typed}\n") == receipt


def test_the_code_is_twelve_groups_of_four_without_letters_that_look_alike() -> None:
    groups = EXAMPLE.code.split("-")
    assert [len(group) for group in groups] == [4] * 12
    assert not set("ILOU") & set("".join(groups))


def test_every_single_mistyped_character_is_refused() -> None:
    code = EXAMPLE.code.replace("-", "")
    for place, right in enumerate(code):
        for wrong in ALPHABET:
            if wrong != right:
                with pytest.raises(ReceiptCodeError, match="does not fit"):
                    Receipt.from_code(code[:place] + wrong + code[place + 1 :])


@given(RECEIPTS)
def test_every_swap_of_two_neighbours_is_refused(receipt: Receipt) -> None:
    code = receipt.code.replace("-", "")
    for place in range(len(code) - 1):
        left, right = code[place], code[place + 1]
        if left != right:
            with pytest.raises(ReceiptCodeError):
                Receipt.from_code(code[:place] + right + left + code[place + 2 :])


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "0 characters"),
        (EXAMPLE.code[:-1], "47 characters"),
        (EXAMPLE.code + "0", "49 characters"),
        ("U" + EXAMPLE.code[1:], "'U', character 1"),
        (EXAMPLE.code.replace("-", "."), "'.', character 5"),
    ],
)
def test_a_code_of_another_shape_is_refused_with_a_sentence(typed: str, said: str) -> None:
    with pytest.raises(ReceiptCodeError, match=said.replace(".", r"\.")):
        Receipt.from_code(typed)


def checked_code(number: int) -> str:
    """A code with fitting check characters, made by hand from the module's description."""
    whole = number * 1024 + number % 1021
    digits = []
    for _ in range(48):
        whole, digit = divmod(whole, 32)
        digits.append(ALPHABET[digit])
    return "".join(reversed(digits))


def test_a_code_of_a_newer_kind_or_of_no_records_is_refused() -> None:
    with pytest.raises(ReceiptCodeError, match="kind 2"):
        Receipt.from_code(checked_code(2 << 227 | 1 << 161))
    with pytest.raises(ReceiptCodeError, match="without records"):
        Receipt.from_code(checked_code(1 << 227))


@pytest.mark.parametrize(
    "changes",
    [
        {"origin": "0123"},
        {"origin": "0123ABCD"},
        {"head": "00"},
        {"size": 0},
        {"size": 2**34},
        {"at": NOON + timedelta(microseconds=1)},
        {"at": datetime(2026, 3, 1)},  # noqa: DTZ001 - the naive time is the point
        {"at": datetime(1969, 12, 31, tzinfo=UTC)},
    ],
)
def test_a_receipt_out_of_range_cannot_be_made(changes: dict[str, object]) -> None:
    fields = {"origin": EXAMPLE.origin, "size": EXAMPLE.size, "head": EXAMPLE.head, "at": EXAMPLE.at}
    with pytest.raises(ValueError, match="must be"):
        Receipt(**{**fields, **changes})  # type: ignore[arg-type]


def test_checking_against_a_log() -> None:
    last = sound_log(5)[-1]
    receipt = receipt_for(last)
    at = last.header.at

    def found(**changes: object) -> FindingKind | None:
        facts: dict[str, object] = {"origin": ORIGIN, "size": 9, "digest": last.digest, "at": at}
        finding = check_receipt(receipt, **{**facts, **changes})  # type: ignore[arg-type]
        return None if finding is None else finding.kind

    assert found() is None
    assert found(origin="f" * 32) is FindingKind.FOREIGN
    assert found(size=4, digest=None) is FindingKind.CUT
    assert found(digest=None) is FindingKind.MISSING
    assert found(digest="0" * 64) is FindingKind.REWRITTEN
    assert found(at=at + timedelta(seconds=1)) is FindingKind.FOREIGN
    assert found(at=None) is FindingKind.FOREIGN
