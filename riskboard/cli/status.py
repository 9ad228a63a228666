"""Exit statuses: a script that runs ``riskboard assess`` may rely on them."""

from enum import IntEnum

__all__ = ["CommandError", "Status"]


class Status(IntEnum):
    """What the command's exit status says. Only ``fine`` is 0, and of the three decisions only go is ``fine``."""

    fine = 0
    found = 1
    bad_input = 2
    sign_off = 3
    no_go = 4
    no_store = 5
    interrupted = 130
    output_closed = 141

    @property
    def meaning(self) -> str:
        """One line for --help."""
        return _MEANINGS[self]


_MEANINGS = {
    Status.fine: "done; for assess: go (no listed reason to stop)",
    Status.found: "a check found something (failing tests, a doctored log, a past decision that differs); a fault",
    Status.bad_input: "bad input: wrong arguments, an unsound or contradictory worksheet, a refused policy",
    Status.sign_off: "assess: go with sign-off",
    Status.no_go: "assess: no-go",
    Status.no_store: "the database is missing or cannot be used",
    Status.interrupted: "interrupted",
    Status.output_closed: "the reader of the output went away",
}


class CommandError(Exception):
    """The command ends with a message and a status."""

    def __init__(self, message: str, status: Status = Status.bad_input) -> None:
        super().__init__(message)
        self.status = status
