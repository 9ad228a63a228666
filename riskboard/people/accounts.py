"""Login names, passphrases, one-time codes: which are refused, how they are hashed, how long to wait after wrong ones.

The rules follow NIST SP 800-63B on memorised secrets (from memory: length instead of composition rules, a list of what
is guessed first, Unicode normalised before hashing, all characters allowed, no forced change, limited guessing). Twelve
characters are more than it asks for. Hashes are argon2id under the parameters of `riskboard.people.pin`.

To check a passphrase without a gap for many guesses at once: first `Store.claim_passphrase_attempt` with `may_try` (it
counts the attempt as failed before it is made), then `check_passphrase`, then `Store.clear_passphrase_failures` if it
was right. For an unknown name `check_passphrase` does the same work and gives the same answer.

Nothing here repeats a secret, neither in an error nor anywhere else.
"""

import re
import secrets
import unicodedata
from collections.abc import Mapping
from datetime import datetime, timedelta

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from riskboard.people.backoff import Backoff
from riskboard.people.pin import HASHER

__all__ = [
    "CODE_LASTS",
    "MIN_CHARACTERS",
    "PASSPHRASE_BACKOFF",
    "LoginNameRefusedError",
    "PassphraseRefusedError",
    "awaits_code",
    "check_code",
    "check_login_name",
    "check_passphrase",
    "code_hash",
    "made_code",
    "may_try",
    "refusal",
    "set_passphrase",
    "suggested_login_name",
    "tidy_login_name",
    "wait_after",
]

MIN_CHARACTERS = 12
MAX_CHARACTERS = 256
PASSPHRASE_BACKOFF = Backoff(free=5, first=timedelta(seconds=5), longest=timedelta(minutes=15))
"""Five wrong ones are free. At the longest wait 96 guesses a day are left, against secrets that a list of the commonest
does not hold; a longer wait would mostly help whoever wants to keep a person out. (Common practice, no source.)"""

CODE_LASTS = timedelta(days=3)

# The hash of a random text that was thrown away, under the parameters above: no passphrase fits it.
_NOBODY = "$argon2id$v=19$m=65536,t=3,p=4$FLsxCQTFFwLPHzZPRfomCQ$oHV22heI2k7b/VgeGCx7sWXpmXmBxr8ta8ZkL5N6K4M"

_CODE_LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"  # none that read alike
_CODE_GROUPS, _CODE_GROUP = 5, 4  # 20 characters of 30: about 98 bits
_CODE_MARK = "code|"

_LOGIN_NAME = re.compile(r"[^\W_](?:[\w.-]{0,38}[^\W_])?")
_SHORTEST_NAME = 4
"""A shorter name stands in too many ordinary words to be forbidden there."""

_FEWEST_DIFFERENT = 5
_LONGEST_BLOCK = 6
_ROWS = ("abcdefghijklmnopqrstuvwxyz", "01234567890", "qwertyuiop", "asdfghjkl", "zxcvbnm", "1qaz2wsx3edc4rfv5tgb6yhn")
_SHORTEST_RUN = 4

# Letters and digits only, folded; from memory of lists that leaks of passwords led to, and of texts about passphrases.
_COMMONEST = frozenset(
    (
        "password", "passphrase", "passwort", "letmein", "iloveyou", "trustno1", "welcome", "changeme", "administrator",
        "admin", "default", "secret", "master", "qwerty", "dragon", "monkey", "sunshine", "princess", "football",
        "baseball", "superman", "whatever", "correcthorsebatterystaple", "helicopter", "pilot", "preflight", "aviation",
        "riskboard", "thequickbrownfox", "tobeornottobe", "maytheforcebewithyou", "openthedoor", "justletmein",
    )
)  # fmt: skip


class PassphraseRefusedError(ValueError):
    """A passphrase that may not be chosen; the message says why and never repeats it."""


class LoginNameRefusedError(ValueError):
    """A login name that may not be chosen; the message says what would be right."""


def tidy_login_name(typed: str) -> str:
    """Return a login name as it is kept and compared: compatibility forms and case folded, no spaces around."""
    return unicodedata.normalize("NFKC", typed).strip().casefold()[: MAX_CHARACTERS + 1]


def check_login_name(typed: str) -> str:
    """Return the login name to keep.

    Raises:
        LoginNameRefusedError: If it is anything but 2 to 40 letters, digits, dots, hyphens and underscores between a
            letter or digit at each end.
    """
    tidy = tidy_login_name(typed)
    if len(tidy) < 2 or not _LOGIN_NAME.fullmatch(tidy):  # noqa: PLR2004  - said in words below
        raise LoginNameRefusedError(
            "A login name has 2 to 40 letters, digits, dots, hyphens or underscores, and begins and ends with a letter "
            'or a digit, for example "mara".'
        )
    return tidy


def suggested_login_name(name: str) -> str:
    """The first word of a person's name as a login name; "" where it makes none."""
    first = tidy_login_name(name).split()[:1]
    kept = re.sub(r"[^\w.-]", "", first[0]) if first else ""
    return kept if len(kept) > 1 and _LOGIN_NAME.fullmatch(kept) else ""


def _tidy(passphrase: str) -> str:
    return unicodedata.normalize("NFKC", passphrase)


def _letters(text: str) -> str:
    return "".join(character for character in _tidy(text).casefold() if character.isalnum())


def refusal(passphrase: str, names: Mapping[str, str]) -> str | None:
    """Return why a passphrase may not be chosen, or None if it may.

    Args:
        passphrase: As typed.
        names: What must not stand in it, with what it is called: {"your login name": "mara", ...}. Of a text with
            several words, each word of four letters or more counts.
    """
    tidy = _tidy(passphrase)
    if len(tidy) < MIN_CHARACTERS:
        return f"A passphrase has at least {MIN_CHARACTERS} characters; a few words in a row are easy to remember."
    if len(tidy) > MAX_CHARACTERS:
        return f"A passphrase has at most {MAX_CHARACTERS} characters."
    if any(unicodedata.category(character) in {"Cc", "Cs"} for character in tidy):
        return "A passphrase holds no control characters; they cannot be typed again."
    letters = _letters(tidy)
    for called, name in names.items():
        if any(word in letters for word in _words(name)):
            return f"This passphrase contains {called}; it would be guessed first."
    return _guessed_first(tidy, letters)


def _words(name: str) -> set[str]:
    found = {_letters(word) for word in re.split(r"[\s.\-_]+", name)} | {_letters(name)}
    return {word for word in found if len(word) >= _SHORTEST_NAME}


def _guessed_first(tidy: str, letters: str) -> str | None:
    if len(set(tidy.casefold())) < _FEWEST_DIFFERENT:
        return f"This passphrase is made of fewer than {_FEWEST_DIFFERENT} different characters; choose one of words."
    if any(_repeats(tidy.casefold(), size) for size in range(1, _LONGEST_BLOCK + 1)):
        return "This passphrase repeats one short piece; such passphrases are guessed first."
    left = _without_runs(letters)
    for word in sorted(_COMMONEST, key=len, reverse=True):
        left = left.replace(word, "")
    if len(left) < _SHORTEST_RUN and len(left) < len(letters):
        return "This passphrase is one of those that are guessed first."
    return None


def _repeats(text: str, size: int) -> bool:
    return text == (text[:size] * (len(text) // size + 1))[: len(text)]


def _without_runs(letters: str) -> str:
    """Take away four or more neighbours on the keyboard, in the alphabet or in counting, forwards and backwards."""
    for row in (*_ROWS, *(row[::-1] for row in _ROWS)):
        for size in range(len(row), _SHORTEST_RUN - 1, -1):
            for start in range(len(row) - size + 1):
                letters = letters.replace(row[start : start + size], "")
    return letters


def set_passphrase(passphrase: str, names: Mapping[str, str], *, hasher: PasswordHasher = HASHER) -> str:
    """Return the argon2id hash to keep for a newly chosen passphrase; arguments as in `refusal`.

    Raises:
        PassphraseRefusedError: If the passphrase may not be chosen.
    """
    reason = refusal(passphrase, names)
    if reason is not None:
        raise PassphraseRefusedError(f"{reason} Choose another.")
    return hasher.hash(_tidy(passphrase))


def check_passphrase(passphrase: str, passphrase_hash: str | None, *, hasher: PasswordHasher = HASHER) -> bool:
    """Tell whether a passphrase is the right one.

    Args:
        passphrase: As typed.
        passphrase_hash: The person's hash; None or "" for an unknown person or one without a passphrase: the same work
            is done, and the answer is False.
        hasher: Parameters are read from the hash itself; this only does the work.

    Returns:
        False also for a hash that cannot be read, and for one that waits for its one-time code.
    """
    kept = passphrase_hash if passphrase_hash and not awaits_code(passphrase_hash) else None
    return _fits(_tidy(passphrase[: MAX_CHARACTERS + 1]), kept, hasher)


def _fits(typed: str, kept: str | None, hasher: PasswordHasher) -> bool:
    try:
        right = hasher.verify(_NOBODY if kept is None else kept, typed.encode("utf-8", "replace"))
    except (VerificationError, InvalidHashError):
        return False
    return right and kept is not None


def made_code() -> str:
    """A new one-time code, random, in groups that are easy to read out."""
    groups = ("".join(secrets.choice(_CODE_LETTERS) for _ in range(_CODE_GROUP)) for _ in range(_CODE_GROUPS))
    return "-".join(groups)


def code_hash(code: str, *, until: datetime, hasher: PasswordHasher = HASHER) -> str:
    """Return what to keep in the place of a passphrase hash while a person has a one-time code to set their own.

    Args:
        code: As made by `made_code`.
        until: The code's last moment, timezone-aware.
        hasher: Does the work.
    """
    return f"{_CODE_MARK}{until.isoformat()}|{hasher.hash(_tidy_code(code))}"


def awaits_code(passphrase_hash: str) -> bool:
    """Tell whether a kept text stands for a one-time code, with which nobody can enter, only set a passphrase."""
    return passphrase_hash.startswith(_CODE_MARK)


def check_code(code: str, kept: str | None, now: datetime, *, hasher: PasswordHasher = HASHER) -> bool:
    """Tell whether a one-time code is the right one and still holds; the same work whatever the answer."""
    ends, inner = None, None
    if kept and awaits_code(kept):
        moment, _, inner = kept.removeprefix(_CODE_MARK).partition("|")
        try:
            ends = datetime.fromisoformat(moment)
        except ValueError:
            inner = None
    right = _fits(_tidy_code(code), inner, hasher)
    return right and ends is not None and now <= ends


def _tidy_code(code: str) -> str:
    return "".join(character for character in code[:MAX_CHARACTERS].upper() if character in _CODE_LETTERS)


def wait_after(failures: int, last_failure_at: datetime | None, now: datetime) -> timedelta:
    """Return how long a person must still wait before the next passphrase; see `Backoff.wait`."""
    return PASSPHRASE_BACKOFF.wait(failures, last_failure_at, now)


def may_try(failures: int, last_failure_at: datetime | None, now: datetime) -> bool:
    """Tell whether a person may try a passphrase now."""
    return PASSPHRASE_BACKOFF.may_try(failures, last_failure_at, now)
