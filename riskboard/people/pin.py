"""PINs: how they are hashed, which are refused, and how long to wait after wrong ones.

A PIN of four digits has fewer than ten thousand values, so no hash protects it from someone who holds the hash: what
protects it is that the store is not readable by others, and the waiting below. Longer PINs are better; eight digits
are allowed. Hashes are argon2id with the parameters that RFC 9106, section 4, recommends where memory is scarce
(64 MiB, 3 passes, 4 lanes); one check takes some hundredths to tenths of a second.

To check a PIN without a gap for many guesses at once: first `Store.claim_pin_attempt` with `may_try` (it counts the
attempt as failed before it is made), then `check_pin`, then `Store.clear_pin_failures` if it was right. For an unknown
person `check_pin` takes the same time and gives the same answer; but only a known person's wrong PINs lead to waiting,
so a patient stranger at the desk can tell that a name exists. The names of a school's people are no secret.
"""

from datetime import datetime, timedelta
from itertools import pairwise

from argon2 import PasswordHasher, Type
from argon2.exceptions import InvalidHashError, VerificationError

from riskboard.people.backoff import Backoff

__all__ = ["HASHER", "PinRefusedError", "check_pin", "may_try", "needs_rehash", "refusal", "set_pin", "wait_after"]

MIN_DIGITS = 4
MAX_DIGITS = 8
PIN_BACKOFF = Backoff(free=3, first=timedelta(seconds=15), longest=timedelta(hours=1))

HASHER = PasswordHasher(time_cost=3, memory_cost=65536, parallelism=4, hash_len=32, salt_len=16, type=Type.ID)

# The hash of a random text that was thrown away, under the parameters above: no PIN fits it.
_NOBODY = "$argon2id$v=19$m=65536,t=3,p=4$3mEQ+3cJ9zSctYEy2oeb6A$/h+z8iz99w4Twzhi0JfHIXJtiO45eMT/Bqekf96Pybo"

_YEARS = range(1900, 2100)


class PinRefusedError(ValueError):
    """A PIN that may not be chosen; the message says why and never repeats it."""


def refusal(pin: str) -> str | None:
    """Return why a PIN may not be chosen, or None if it may.

    Refused: anything but 4 to 8 digits 0-9; one digit repeated; equal steps up or down (1234, 8642, 7890); one half
    repeated (1212, 123123); a four-digit year from 1900 to 2099, likely to be one of birth. (Common practice, no
    source.)
    """
    if not (pin.isascii() and pin.isdigit()):
        return "A PIN is made of the digits 0 to 9 only."
    if not MIN_DIGITS <= len(pin) <= MAX_DIGITS:
        return f"A PIN has {MIN_DIGITS} to {MAX_DIGITS} digits; this one has {len(pin)}."
    steps = {(int(right) - int(left)) % 10 for left, right in pairwise(pin)}
    if len(steps) == 1:
        return "This PIN repeats one digit or goes up or down in equal steps; such PINs are guessed first."
    if pin == pin[: len(pin) // 2] * 2:
        return "The second half of this PIN repeats the first; such PINs are guessed first."
    if len(pin) == MIN_DIGITS and int(pin) in _YEARS:
        return "This PIN reads as a year; such PINs are guessed first."
    return None


def set_pin(pin: str, *, hasher: PasswordHasher = HASHER) -> str:
    """Return the argon2id hash to keep for a newly chosen PIN.

    Raises:
        PinRefusedError: If the PIN may not be chosen.
    """
    reason = refusal(pin)
    if reason is not None:
        raise PinRefusedError(f"{reason} Choose another.")
    return hasher.hash(pin)


def check_pin(pin: str, pin_hash: str | None, *, hasher: PasswordHasher = HASHER) -> bool:
    """Tell whether a PIN is the right one.

    Args:
        pin: As typed.
        pin_hash: The person's hash; None for an unknown person or one without a PIN: the same work is done, and the
            answer is False.
        hasher: Parameters are read from the hash itself; this only does the work.

    Returns:
        False also for a hash that cannot be read: a damaged record lets nobody in.
    """
    # Bounded, so that a page of text typed as a PIN costs no more than a PIN; no other text than ASCII was ever hashed.
    typed = pin[: MAX_DIGITS + 1] if pin.isascii() else ""
    try:
        right = hasher.verify(_NOBODY if pin_hash is None else pin_hash, typed)
    except (VerificationError, InvalidHashError):
        return False
    return right and pin_hash is not None


def needs_rehash(pin_hash: str, *, hasher: PasswordHasher = HASHER) -> bool:
    """Tell whether a hash was made under other parameters; after a right PIN, store a new one."""
    return hasher.check_needs_rehash(pin_hash)


def wait_after(failures: int, last_failure_at: datetime | None, now: datetime) -> timedelta:
    """Return how long a person must still wait before the next attempt; zero if not at all. Pure.

    Three wrong PINs are free; then 15 seconds, doubled with each further one up to an hour. At that pace 24 guesses a
    day are left. While the clock stands before the last failure, the whole wait is due: it was set back, and waiting
    less would reward that. (Common practice, no source.)

    Args:
        failures: Wrong PINs since the last right one.
        last_failure_at: When the last one was typed, UTC; None if there was none.
        now: UTC.

    Raises:
        ValueError: If failures is negative, or there are failures without a time.
    """
    return PIN_BACKOFF.wait(failures, last_failure_at, now)


def may_try(failures: int, last_failure_at: datetime | None, now: datetime) -> bool:
    """Tell whether a person may try a PIN now."""
    return wait_after(failures, last_failure_at, now) == timedelta(0)
