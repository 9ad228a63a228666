"""One desk of a school in a process of its own, on a store that others use too.

Argument: address of the store. Reads one JSON list on each line, [verb, argument...], and answers with one JSON value.
"""

import json
import sys
from typing import TYPE_CHECKING, Any

from riskboard import demo, jobs
from riskboard.jobs import NotSignedError
from riskboard.worksheet.model import PARTS
from tests.jobs.school_day import DISPATCHER, PILOT
from tests.ledger.killed import calm_morning

if TYPE_CHECKING:
    from collections.abc import Callable


def _receipt(act: "Callable[[], jobs.Signed]") -> str:
    try:
        return act().receipt.code
    except NotSignedError as refusal:
        return f"refused: {refusal}"


class Desk:
    """What this desk can be asked to do."""

    def __init__(self, address: str) -> None:
        self.data, self.at = calm_morning()
        self.office = jobs.open_office(address, now=self.at)

    def begin(self, flight: str) -> str:
        """Fill a flight in."""
        jobs.begin_draft(self.office, flight, jobs.Start(pilot_id=PILOT), at=self.at)
        for part in PARTS:
            jobs.save_entries(self.office, flight, part, self.data[part], at=self.at)
        return jobs.brief(self.office, flight, at=self.at).digest

    def look(self, flight: str) -> str:
        """Look at a flight."""
        return jobs.brief(self.office, flight, at=self.at).digest

    def accept(self, flight: str, event_id: str) -> str:
        """Accept a flight as its pilot: the receipt, or why not."""
        signature = jobs.Signature(PILOT, demo.DEMO_PIN, event_id, self.at, self.look(flight))
        return _receipt(lambda: jobs.accept(self.office, flight, signature, at=self.at))

    def release(self, flight: str, event_id: str) -> str:
        """Release a flight as its dispatcher: the receipt, or why not."""
        return _receipt(lambda: jobs.release(self.office, DISPATCHER, flight, event_id=event_id, at=self.at))

    def enter(self, login_name: str, passphrase: str) -> str:
        """Come in at this desk."""
        return jobs.sign_in(self.office, login_name, passphrase, at=self.at)

    def who(self, token: str) -> str | None:
        """Who a token belongs to, as this desk sees it."""
        found = jobs.caller(self.office, token, at=self.at)
        return None if found is None else found.person_id

    def leave(self, token: str) -> None:
        """End a stay at this desk."""
        jobs.sign_out(self.office, token, at=self.at)

    def head(self) -> str:
        """The receipt of the log as this desk sees it."""
        return self.office.store.head().code

    def verified(self) -> list[str]:
        """What verifying finds."""
        return [str(finding) for finding in jobs.verify_log(self.office)]


def main() -> None:
    """Answer until nobody asks any more."""
    desk = Desk(sys.argv[1])
    for line in sys.stdin:
        verb, *given = json.loads(line)
        act: Callable[..., Any] = getattr(desk, verb)
        sys.stdout.write(json.dumps(act(*given)) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
