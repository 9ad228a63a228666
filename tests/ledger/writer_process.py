"""One writer in a process of its own: appends and prints each event that was acknowledged.

Arguments: address of the store, name of the writer, number of entries; "unqueued" to leave the lock file out, as a
program would that does not know it.
"""

import sys
import time

from riskboard.ledger.engine import _NoTurn
from riskboard.ledger.sql import open_store
from tests.ledger.made_logs import NOON, intent


def main() -> None:
    where, name, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
    store = open_store(where, now=NOON, lock_timeout_s=60)
    if sys.argv[4:] == ["unqueued"]:
        store._database._turn = _NoTurn()
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    sys.stdin.readline()
    longest = 0.0
    for number in range(count):
        begun = time.monotonic()
        event = f"{name}-{number}"
        store.append(intent(1, event_id=event, body={"writer": name, "number": number}))
        longest = max(longest, time.monotonic() - begun)
        sys.stdout.write(f"{event}\n")
        sys.stdout.flush()
    sys.stdout.write(f"longest {longest:.4f}\n")


if __name__ == "__main__":
    main()
