"""One writer in a process of its own that appends until it is stopped by the store, then once more with room again.

Arguments: address of the store; how many bytes a file may have from now on (0: as many as there is room for).
Prints the size of the log as told after each append, then the store's error, then what is verified afterwards.
"""

import resource
import sys

from riskboard.ledger.errors import LedgerError
from riskboard.ledger.sql import open_store
from tests.ledger.made_logs import NOON, intent

UNLIMITED = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)


def main() -> None:
    where, limit = sys.argv[1], int(sys.argv[2])
    store = open_store(where, now=NOON)
    if limit:
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
    number, receipt = 0, store.head()
    try:
        while True:
            number += 1
            _, receipt = store.append(intent(number, body={"x": "y" * 2000}))
            sys.stdout.write(f"told {receipt.size}\n")
    except LedgerError as error:
        sys.stdout.write(f"{type(error).__name__}: {error}\n")
    same = store.head() == receipt and store.verify(receipt) == []
    sys.stdout.write(f"stands as told: {same}\n")
    if limit:
        resource.setrlimit(resource.RLIMIT_FSIZE, UNLIMITED)
        _, receipt = store.append(intent(number, body={"x": "y" * 2000}))
        sys.stdout.write(f"told {receipt.size}\n")
    store.close()


if __name__ == "__main__":
    main()
