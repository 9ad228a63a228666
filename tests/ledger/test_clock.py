"""A desk's clock that is set back, or in another century: what is told is durable, and the log says what happened."""

from datetime import UTC, datetime, timedelta

import pytest

from riskboard.ledger.finding import FindingKind
from riskboard.ledger.sql import SqlStore
from tests.ledger.made_logs import NOON, intent


def test_a_clock_that_is_set_back_is_named_with_both_times_and_nothing_is_lost(store: SqlStore) -> None:
    receipts = [store.append(intent(number, at=NOON + timedelta(hours=number)))[1] for number in (1, 2)]
    receipts.append(store.append(intent(3, at=NOON + timedelta(hours=1)))[1])
    receipts.append(store.append(intent(4, at=NOON + timedelta(hours=1, minutes=5)))[1])
    (found,) = store.verify(receipts)
    assert (found.kind, found.seq) == (FindingKind.CLOCK_BACK, 4)
    assert "2026-03-01T13:00:00Z" in found.sentence
    assert "2026-03-01T14:00:00Z" in found.sentence
    assert [receipt.size for receipt in receipts] == [2, 3, 4, 5]


def test_clocks_of_two_desks_that_differ_a_little_are_no_finding(store: SqlStore) -> None:
    store.append(intent(1, at=NOON + timedelta(minutes=10)))
    store.append(intent(2, at=NOON + timedelta(minutes=8)))
    assert store.verify() == []


@pytest.mark.parametrize("year", [1969, 2242, 9999])
def test_a_clock_in_another_century_puts_nothing_on_record(store: SqlStore, year: int) -> None:
    with pytest.raises(ValueError, match="set the clock right"):
        store.append(intent(1, at=datetime(year, 12, 31, tzinfo=UTC)))
    assert store.head().size == 1
