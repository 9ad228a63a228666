"""``python -m tests.bench``: ratios, each from one run on one machine. Ends with 1 when a bound is broken.

Ratios hold where seconds do not: both sides of each are timed alternately in the same process, on the same data, and
are checked to find the same result first.
"""

import sys

from tests.bench import ledger, million, one_flight, start_up, what_if
from tests.bench.timing import table


def main() -> int:
    """Measure and print."""
    rows = [*start_up.rows(), *one_flight.rows(), *what_if.rows(), *million.rows(), *ledger.rows()]
    sys.stdout.write(table(rows) + "\n")
    return int(any(row.over for row in rows))


if __name__ == "__main__":
    sys.exit(main())
