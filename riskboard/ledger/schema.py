"""The tables as the queries see them. How they come about stands in `migrations`; a test holds the two together."""

from sqlalchemy import BigInteger, Column, Integer, LargeBinary, MetaData, Table, Text

__all__ = [
    "account",
    "document",
    "draft",
    "entry",
    "entry_body",
    "log",
    "metadata",
    "pin",
    "policy_text",
    "schema_version",
    "session",
    "type_text",
]

metadata = MetaData()

schema_version = Table(
    "schema_version",
    metadata,
    Column("version", Integer, primary_key=True, autoincrement=False),
    Column("applied_at", Text, nullable=False),
)

log = Table(
    "log",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("origin", Text, nullable=False),
    # Never changed: a row lock needs the right to update one column, and this is that column.
    Column("turn", Integer, nullable=False),
)

entry = Table(
    "entry",
    metadata,
    Column("seq", BigInteger, primary_key=True, autoincrement=False),
    Column("prev", Text, nullable=False, unique=True),
    Column("digest", Text, nullable=False, unique=True),
    Column("event_id", Text, nullable=False, unique=True),
    Column("kind", Text, nullable=False),
    Column("subject", Text, nullable=False),
    Column("header", LargeBinary, nullable=False),
)

entry_body = Table(
    "entry_body",
    metadata,
    Column("seq", BigInteger, primary_key=True, autoincrement=False),
    Column("salt", LargeBinary, nullable=False),
    Column("content", LargeBinary, nullable=False),
)

draft = Table(
    "draft",
    metadata,
    Column("draft_id", Text, primary_key=True),
    Column("owner", Text, nullable=False),
    Column("content", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("saved_at", Text, nullable=False),
)

document = Table(
    "document",
    metadata,
    Column("kind", Text, primary_key=True),
    Column("document_id", Text, primary_key=True),
    Column("content", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("saved_at", Text, nullable=False),
)

policy_text = Table(
    "policy_text",
    metadata,
    Column("digest", Text, primary_key=True),
    Column("policy_id", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("content", LargeBinary, nullable=False),
    Column("published_at", Text, nullable=False),
)

type_text = Table(
    "type_text",
    metadata,
    Column("digest", Text, primary_key=True),
    Column("type_id", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("title", Text, nullable=False),
    Column("content", LargeBinary, nullable=False),
    Column("published_at", Text, nullable=False),
)

pin = Table(
    "pin",
    metadata,
    Column("person_id", Text, primary_key=True),
    Column("pin_hash", Text, nullable=False),
    Column("set_at", Text, nullable=False),
    Column("failures", Integer, nullable=False),
    Column("last_failure_at", Text),
)

account = Table(
    "account",
    metadata,
    Column("person_id", Text, primary_key=True),
    Column("login_name", Text, nullable=False),
    # The login name as it is looked up: one text for all ways of writing it.
    Column("login_key", Text, nullable=False),
    Column("passphrase_hash", Text, nullable=False),
    Column("issuer", Text, nullable=False),
    Column("subject", Text, nullable=False),
    Column("set_at", Text, nullable=False),
    Column("failures", Integer, nullable=False),
    Column("last_failure_at", Text),
    Column("closed_at", Text),
)

session = Table(
    "session",
    metadata,
    Column("token_hash", Text, primary_key=True),
    Column("person_id", Text, nullable=False),
    Column("way", Text, nullable=False),
    Column("opened_at", Text, nullable=False),
    Column("seen_at", Text, nullable=False),
    Column("ended_at", Text),
)
