"""How long somebody must wait after wrong guesses: a few are free, then the wait doubles up to a longest one. Pure."""

from dataclasses import dataclass
from datetime import datetime, timedelta

__all__ = ["Backoff"]

_MOST_DOUBLINGS = 16
"""More than any longest wait here; without a bound, the product grows out of range."""


@dataclass(frozen=True, slots=True)
class Backoff:
    """A rule of waiting; its numbers are common practice without a source.

    Attributes:
        free: Wrong guesses before there is any wait.
        first: The wait after one more; doubled with each further one.
        longest: The wait never grows beyond this.
    """

    free: int
    first: timedelta
    longest: timedelta

    def wait(self, failures: int, last_failure_at: datetime | None, now: datetime) -> timedelta:
        """Return how long a person must still wait before the next guess; zero if not at all.

        While the clock stands before the last failure, the whole wait is due: it was set back, and waiting less would
        reward that.

        Args:
            failures: Wrong guesses since the last right one.
            last_failure_at: When the last one was made, UTC; None if there was none.
            now: UTC.

        Raises:
            ValueError: If failures is negative, or there are failures without a time.
        """
        if failures < 0:
            raise ValueError(f"failures is {failures}; it must be 0 or more.")
        if failures and last_failure_at is None:
            raise ValueError(f"there are {failures} failures, but last_failure_at is None; give the time of the last.")
        if failures < self.free or last_failure_at is None:
            return timedelta(0)
        doublings = failures - self.free
        due = self.longest if doublings >= _MOST_DOUBLINGS else self.first * 2**doublings
        due = min(due, self.longest)
        passed = now - last_failure_at
        if passed < timedelta(0):
            return due
        return due - passed if passed < due else timedelta(0)

    def may_try(self, failures: int, last_failure_at: datetime | None, now: datetime) -> bool:
        """Tell whether a person may guess now."""
        return self.wait(failures, last_failure_at, now) == timedelta(0)
