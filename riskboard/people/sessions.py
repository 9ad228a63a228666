"""When a session ends: after idling, after its longest time, when it was ended, when the clock makes no sense. Pure.

The browser holds a random token; the store holds only its SHA-256, so that a copy of the store lets nobody in.
"""

import hashlib
import re
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

__all__ = ["CLOCK_SLACK", "IDLE_DEFAULT", "LONGEST", "SessionRule", "looks_like_token", "made_token", "token_hash"]

IDLE_DEFAULT = timedelta(minutes=30)
LONGEST = timedelta(hours=12)
"""A working day. NIST SP 800-63B asks for a new sign-in at least every 12 hours at its middle level (from memory)."""

CLOCK_SLACK = timedelta(minutes=2)
"""Several servers have several clocks."""

_MARK_AFTER = timedelta(seconds=30)
_TOKEN = re.compile(r"[A-Za-z0-9_-]{43}")
_SHORTEST_IDLE_MIN, _LONGEST_IDLE_MIN = 1, 720


@dataclass(frozen=True, slots=True)
class SessionRule:
    """How long a session lasts.

    Attributes:
        idle: After this long without anything done, it has ended.
        longest: After this long it has ended in any case.
    """

    idle: timedelta = IDLE_DEFAULT
    longest: timedelta = LONGEST

    @classmethod
    def of_school(cls, idle_min: object) -> "SessionRule":
        """The rule with a school's own idle time; the default where it states none or none that makes sense.

        Args:
            idle_min: Minutes, 1 to 720.
        """
        if isinstance(idle_min, bool) or not isinstance(idle_min, int | float):
            return cls()
        if not _SHORTEST_IDLE_MIN <= idle_min <= _LONGEST_IDLE_MIN:
            return cls()
        return cls(idle=timedelta(minutes=idle_min))

    def ends_at(self, opened_at: datetime, seen_at: datetime) -> datetime:
        """The moment from which a session has ended if nothing more is done in it."""
        return min(seen_at + self.idle, opened_at + self.longest)

    def is_live(self, opened_at: datetime, seen_at: datetime, ended_at: datetime | None, now: datetime) -> bool:
        """Tell whether a session still counts.

        A clock that stands before what is known of the session was set back: nobody can tell how long it idled, so it
        has ended.
        """
        if ended_at is not None or now < seen_at - CLOCK_SLACK or now < opened_at - CLOCK_SLACK:
            return False
        return now < self.ends_at(opened_at, seen_at)

    def worth_marking(self, seen_at: datetime, now: datetime) -> bool:
        """Tell whether activity now has to be written down: not more than twice a minute, and never backwards."""
        return now - seen_at >= min(_MARK_AFTER, self.idle / 10)


def made_token() -> str:
    """A new token: 32 random bytes as text that a cookie can hold."""
    return secrets.token_urlsafe(32)


def looks_like_token(text: str) -> bool:
    """Tell whether a text has the shape of a token; anything else is not worth a look into the store."""
    return _TOKEN.fullmatch(text) is not None


def token_hash(token: str) -> str:
    """SHA-256 of a token, 64 hex digits. A random token needs no slow hash."""
    return hashlib.sha256(token.encode()).hexdigest()
