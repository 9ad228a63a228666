"""The contract that a store of the log keeps; a new store is a class that meets it and passes the shared tests.

Durable means: when a method that writes returns, what it wrote survives a killed process and a power cut, as far as
the disk tells the truth. Time is passed in; a store never reads the clock. All times are UTC. The errors are those of
`riskboard.ledger.errors`.
"""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from riskboard.ledger.chain import Authorised
from riskboard.ledger.entry import Entry, Intent
from riskboard.ledger.finding import Finding
from riskboard.ledger.receipt import Receipt

__all__ = [
    "AccountRecord",
    "Document",
    "DocumentChange",
    "Draft",
    "Erasure",
    "MayTry",
    "PinChange",
    "PinRecord",
    "PolicyText",
    "SessionRecord",
    "Store",
    "TypeText",
]

MayTry = Callable[[int, datetime | None, datetime], bool]
"""Given failures, time of the last one and now: may the person try a PIN or a passphrase?"""


@dataclass(frozen=True, slots=True)
class Draft:
    """A worksheet that is being filled in. `revision` counts its saves from 1."""

    draft_id: str
    owner: str
    text: str
    revision: int
    saved_at: datetime


@dataclass(frozen=True, slots=True)
class Document:
    """One fact sheet of the school: a person, an aircraft, a site. `revision` counts its saves from 1."""

    kind: str
    document_id: str
    text: str
    revision: int
    saved_at: datetime


@dataclass(frozen=True, slots=True)
class DocumentChange:
    """A document to be saved in the same transaction as a record; `revision` as in `Store.put_document`."""

    kind: str
    document_id: str
    text: str
    revision: int | None = None


@dataclass(frozen=True, slots=True)
class PolicyText:
    """A published policy, kept for ever as the exact text."""

    digest: str
    policy_id: str
    version: int
    text: str
    published_at: datetime


@dataclass(frozen=True, slots=True)
class TypeText:
    """A published aircraft type, kept for ever as the exact text."""

    digest: str
    type_id: str
    version: int
    title: str
    text: str
    published_at: datetime


@dataclass(frozen=True, slots=True)
class PinRecord:
    """A person's PIN hash, and the failed attempts since the last good one."""

    person_id: str
    pin_hash: str
    set_at: datetime
    failures: int
    last_failure_at: datetime | None


@dataclass(frozen=True, slots=True)
class PinChange:
    """A PIN hash to be kept in the same transaction as a record; None takes the PIN away."""

    person_id: str
    pin_hash: str | None


@dataclass(frozen=True, slots=True)
class AccountRecord:
    """How a person comes in. Empty text stands for "none".

    Attributes:
        person_id: Whose account.
        login_name: As typed; no two accounts have the same one, whatever its case.
        passphrase_hash: Salted and slow; empty for an account that only an outside identity opens.
        issuer: Who vouches for the outside identity.
        subject: The outside identity; no two accounts have the same issuer and subject.
        set_at: When the passphrase was set.
        failures: Failed attempts since the last good one.
        last_failure_at: When the last one failed.
        closed_at: Since when nobody comes in by it; None while it is open.
    """

    person_id: str
    login_name: str
    passphrase_hash: str
    issuer: str
    subject: str
    set_at: datetime
    failures: int = 0
    last_failure_at: datetime | None = None
    closed_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class SessionRecord:
    """One stay of a person, from coming in to leaving.

    Attributes:
        token_hash: Hash of the secret that the browser holds; the secret itself is stored nowhere.
        person_id: Who came in.
        way: How: by passphrase, by an outside identity.
        opened_at: When.
        seen_at: When the person last did something.
        ended_at: When it ended; None while it may go on.
    """

    token_hash: str
    person_id: str
    way: str
    opened_at: datetime
    seen_at: datetime
    ended_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Erasure:
    """What came of an erasure.

    Attributes:
        entry: The signed `erased` entry.
        receipt: Its receipt.
        scrubbed: Whether the store's own files hold no trace any more. If not, repeat the erasure under the same event.
        left: Sentences on what may still hold the erased text and is out of the store's reach, or was not done.
    """

    entry: Entry
    receipt: Receipt
    scrubbed: bool
    left: tuple[str, ...]


class Store(Protocol):
    """Log, drafts, documents of the school, published policies and types, PIN hashes, accounts and sessions."""

    def append(
        self,
        intent: Intent,
        *,
        head: int | None = None,
        documents: Sequence[DocumentChange] = (),
        access: Sequence[AccountRecord | PinChange] = (),
        types: Sequence[TypeText] = (),
    ) -> tuple[Entry, Receipt]:
        """Put an intent on record, once. The same event id again returns the first entry and the same receipt.

        Args:
            intent: What is put on record.
            head: Number of the last record that the decision was made on; None to append to whatever is there.
            documents: Saved in the same transaction, at the intent's time: a fact and the record of its change never
                come apart. When the event is on record already they are left alone.
            access: Accounts and PINs, saved in the same transaction likewise.
            types: Aircraft types, published in the same transaction likewise; one that stands there is left as it is.

        Raises:
            OvertakenError: If the log has moved on since `head`; unless this event is on record already.
            EventIdReusedError: If the event id came before with different content.
            RevisionError: If a document was saved by somebody else in between.
            AccountTakenError: If another person's account has that login name or identity.
            TypeVersionReusedError: If a type's id and version, or its digest, stand there with another text.
            RefusedError: For kinds that have their own way in (`opened`, `erased`), a document that is not JSON, or a
                `head` that lies beyond the end of the log.
            NotWrittenError: If the store cannot write.
        """

    def find_by_event_id(self, event_id: str) -> tuple[Entry, Receipt] | None:
        """Return the entry of an event and its receipt, or None."""

    def entries(
        self, from_seq: int = 1, *, subject: str | None = None, kinds: Collection[str] | None = None
    ) -> Iterator[Entry]:
        """Yield the records in order, as they stand, from a number on; only of one subject or some kinds if given.

        The records appended while this runs may or may not be among them.
        """

    def head(self) -> Receipt:
        """Return the receipt of the log as it stands now."""

    def verify(
        self, receipt: Receipt | Sequence[Receipt] | None = None, *, authorised: Authorised | None = None
    ) -> list[Finding]:
        """Verify the whole log, and that what the store looks records up by agrees with the headers."""

    def erase(
        self,
        intent: Intent,
        numbers: Collection[int],
        *,
        drafts: Collection[str] = (),
        documents: Sequence[DocumentChange] = (),
    ) -> Erasure:
        """Put an `erased` entry on record and take the named bodies, and the named drafts, away in the same step.

        Args:
            intent: Of kind `erased`; who ordered it and why. The store adds `erases` to the body. Must not repeat
                what is being erased.
            numbers: Records whose bodies go; may be none where drafts or documents are named.
            drafts: Drafts that held the same answers and go too.
            documents: Documents without the answers, saved in the same step.

        Raises:
            ErasureRefusedError: If a record does not exist, is of a kind that must stay, or was erased before.
            RevisionError: If a document was saved by somebody else in between.
        """

    def places_holding(self, fragment: str) -> list[str]:
        """Name every body, draft and document in the store that still holds a piece of text."""

    def save_draft(self, draft_id: str, text: str, *, owner: str, at: datetime, revision: int | None = None) -> Draft:
        """Save a draft's JSON text and return it with its new revision.

        Args:
            draft_id: Its name, as in the URL.
            text: JSON.
            owner: Whose it is. A draft without owner ("") may be taken; another person's may not.
            at: Now.
            revision: The revision this save starts from (0 for a new draft); None to overwrite whatever is there.

        Raises:
            RevisionError: If somebody saved in between.
            DraftOwnerError: If it is another person's.
            RefusedError: If the text is not JSON.
        """

    def load_draft(self, draft_id: str) -> Draft | None:
        """Return a draft, or None."""

    def list_drafts(self, owner: str) -> list[Draft]:
        """Return a person's drafts, last saved first."""

    def delete_draft(self, draft_id: str) -> None:
        """Delete a draft; nothing happens if there is none."""

    def put_document(
        self, kind: str, document_id: str, text: str, *, at: datetime, revision: int | None = None
    ) -> Document:
        """Save a document's JSON text; `revision` and errors as in `save_draft`."""

    def get_document(self, kind: str, document_id: str) -> Document | None:
        """Return a document, or None."""

    def list_documents(self, kind: str) -> list[Document]:
        """Return all documents of a kind, by id."""

    def delete_document(self, kind: str, document_id: str) -> None:
        """Delete a document; nothing happens if there is none."""

    def publish_policy(self, policy: PolicyText) -> PolicyText:
        """Keep a policy text for ever, and return it as first published.

        Raises:
            PolicyVersionReusedError: If the same id and version, or the same digest, stand there with another text.
        """

    def get_policy(self, digest: str) -> PolicyText | None:
        """Return a published policy, or None."""

    def list_policies(self) -> list[PolicyText]:
        """Return all published policies, by id and version."""

    def get_type(self, digest: str) -> TypeText | None:
        """Return a published aircraft type, or None."""

    def list_types(self) -> list[TypeText]:
        """Return all published aircraft types, by id and version."""

    def set_pin_hash(self, person_id: str, pin_hash: str, *, at: datetime) -> None:
        """Keep a person's PIN hash; failed attempts start from zero."""

    def get_pin(self, person_id: str) -> PinRecord | None:
        """Return a person's PIN record, or None."""

    def claim_pin_attempt(self, person_id: str, *, at: datetime, may_try: MayTry) -> bool:
        """Count one attempt as failed before it is made, if the rule lets the person try now.

        Counting first leaves no gap through which many guesses at once could slip. After a good PIN call
        `clear_pin_failures`. For a person without a PIN nothing is counted and True is returned.
        """

    def clear_pin_failures(self, person_id: str) -> None:
        """Set the failed attempts back to zero."""

    def remove_pin(self, person_id: str) -> None:
        """Forget a person's PIN; nothing happens if there is none."""

    def put_account(self, account: AccountRecord, *, at: datetime) -> AccountRecord:
        """Save a person's account and return it as it stands now.

        A passphrase that is new or changed is set `at` and begins without failures; otherwise `set_at` and the
        failures stay as they are in the store, whatever the given record says: saving must not undo a count.

        Raises:
            AccountTakenError: If another person's account has that login name or identity.
            RefusedError: If there is an issuer without a subject, or the other way round.
        """

    def get_account(self, person_id: str) -> AccountRecord | None:
        """Return a person's account, or None."""

    def find_account(self, login_name: str) -> AccountRecord | None:
        """Return the account of a login name, whatever its case; None if there is none."""

    def find_account_by_identity(self, issuer: str, subject: str) -> AccountRecord | None:
        """Return the account of an outside identity, or None."""

    def list_accounts(self) -> list[AccountRecord]:
        """Return all accounts, by person."""

    def claim_passphrase_attempt(self, person_id: str, *, at: datetime, may_try: MayTry) -> bool:
        """Count one attempt as failed before it is made, as `claim_pin_attempt` does for PINs."""

    def clear_passphrase_failures(self, person_id: str) -> None:
        """Set the failed attempts back to zero."""

    def open_session(self, record: SessionRecord) -> None:
        """Keep a new session.

        Raises:
            RefusedError: If there is one with the same token hash.
        """

    def get_session(self, token_hash: str) -> SessionRecord | None:
        """Return a session, ended or not; None if there is none."""

    def touch_session(self, token_hash: str, at: datetime) -> None:
        """Note that the person did something; never moves back, and never revives an ended session."""

    def end_session(self, token_hash: str, at: datetime) -> None:
        """End a session; one that has ended stays ended when it did."""

    def end_sessions_of(self, person_id: str, at: datetime) -> int:
        """End all sessions of a person that have not ended, and return how many that were."""

    def close(self) -> None:
        """Let go of files and connections."""
