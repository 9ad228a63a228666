"""How the database came to its present shape, one step per version, each in one transaction with its own record.

A step that has been released is never edited; a change is a new step at the end.

The rules of an append-only log stand in the database itself, so that a stray statement from any tool is refused:

- an entry must follow the last one (number, link), must agree with its header's JSON, and is never changed or deleted;
- a body comes with its entry, is never changed, and is deleted only while the last entry is an `erased` one that
  names it, which in this program's writers means: in the transaction that appended that entry;
- published policies and aircraft types are never changed or deleted.

Someone who owns the file or the database can take these triggers away: they stop slips, not an owner. What shows an
owner's work is `verify` with a receipt.
"""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, inspect, select

from riskboard.ledger import schema
from riskboard.ledger.canonical import utc_text
from riskboard.ledger.errors import NewerLedgerError, NotALedgerError
from riskboard.ledger.server_side import POSTGRES_5

__all__ = ["MIGRATIONS", "Migration", "apply_migrations", "current_version", "postgres_grants"]

SQLITE_APPLICATION_ID = 0x5242_4C31  # "RBL1"
_POSTGRES_MIGRATION_LOCK = 0x5242_4C31


@dataclass(frozen=True, slots=True)
class Migration:
    """One step: the statements for each database."""

    version: int
    sqlite: tuple[str, ...]
    postgresql: tuple[str, ...]


def _sqlite_refusal(table: str, event: str) -> str:
    name = event.lower().replace(" ", "_")
    return (
        f"CREATE TRIGGER {table}_no_{name} BEFORE {event} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{table} is append-only: {event} refused'); END"
    )


_SQLITE_1 = (
    f"PRAGMA application_id = {SQLITE_APPLICATION_ID}",
    "CREATE TABLE schema_version (version INTEGER PRIMARY KEY, applied_at TEXT NOT NULL) STRICT",
    """CREATE TABLE log (
        id INTEGER PRIMARY KEY CHECK (id = 1),
        origin TEXT NOT NULL CHECK (length(origin) = 32),
        turn INTEGER NOT NULL
    ) STRICT""",
    """CREATE TABLE entry (
        seq INTEGER PRIMARY KEY CHECK (seq >= 1),
        prev TEXT NOT NULL UNIQUE CHECK (length(prev) = 64),
        digest TEXT NOT NULL UNIQUE CHECK (length(digest) = 64),
        event_id TEXT NOT NULL UNIQUE,
        kind TEXT NOT NULL,
        subject TEXT NOT NULL,
        header BLOB NOT NULL,
        CHECK (json_extract(CAST(header AS TEXT), '$.seq') = seq),
        CHECK (json_extract(CAST(header AS TEXT), '$.prev') = prev),
        CHECK (json_extract(CAST(header AS TEXT), '$.event_id') = event_id),
        CHECK (json_extract(CAST(header AS TEXT), '$.kind') = kind),
        CHECK (json_extract(CAST(header AS TEXT), '$.subject') = subject)
    ) STRICT""",
    "CREATE INDEX entry_subject ON entry (subject, seq)",
    """CREATE TABLE entry_body (
        seq INTEGER PRIMARY KEY REFERENCES entry (seq),
        salt BLOB NOT NULL CHECK (length(salt) = 32),
        content BLOB NOT NULL
    ) STRICT""",
    """CREATE TABLE draft (
        draft_id TEXT PRIMARY KEY, owner TEXT NOT NULL, content TEXT NOT NULL,
        revision INTEGER NOT NULL CHECK (revision >= 1), saved_at TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX draft_owner ON draft (owner)",
    """CREATE TABLE document (
        kind TEXT NOT NULL, document_id TEXT NOT NULL, content TEXT NOT NULL,
        revision INTEGER NOT NULL CHECK (revision >= 1), saved_at TEXT NOT NULL,
        PRIMARY KEY (kind, document_id)
    ) STRICT""",
    """CREATE TABLE policy_text (
        digest TEXT PRIMARY KEY, policy_id TEXT NOT NULL, version INTEGER NOT NULL,
        content BLOB NOT NULL, published_at TEXT NOT NULL,
        UNIQUE (policy_id, version)
    ) STRICT""",
    """CREATE TABLE pin (
        person_id TEXT PRIMARY KEY, pin_hash TEXT NOT NULL, set_at TEXT NOT NULL,
        failures INTEGER NOT NULL CHECK (failures >= 0), last_failure_at TEXT
    ) STRICT""",
    # INSERT OR REPLACE deletes the rows in its way without firing their delete triggers: refuse what is in the way.
    """CREATE TRIGGER entry_insert BEFORE INSERT ON entry BEGIN
        SELECT RAISE(ABORT, 'entry must follow the last one')
        WHERE NEW.seq <> (SELECT COALESCE(MAX(seq), 0) + 1 FROM entry)
           OR (NEW.seq > 1 AND NEW.prev <> (SELECT digest FROM entry ORDER BY seq DESC LIMIT 1));
        SELECT RAISE(ABORT, 'entry is append-only: replacing refused')
        WHERE EXISTS (SELECT 1 FROM entry
                      WHERE event_id = NEW.event_id OR digest = NEW.digest OR prev = NEW.prev);
    END""",
    """CREATE TRIGGER entry_body_insert BEFORE INSERT ON entry_body
        WHEN NEW.seq <> (SELECT COALESCE(MAX(seq), 0) FROM entry)
          OR EXISTS (SELECT 1 FROM entry_body WHERE seq = NEW.seq)
        BEGIN SELECT RAISE(ABORT, 'a body comes with its entry'); END""",
    """CREATE TRIGGER entry_body_no_delete BEFORE DELETE ON entry_body
        WHEN NOT EXISTS (
            SELECT 1 FROM entry e JOIN entry_body b ON b.seq = e.seq,
                          json_each(CAST(b.content AS TEXT), '$.erases') named
            WHERE e.seq = (SELECT MAX(seq) FROM entry) AND e.kind = 'erased'
              AND named.value = OLD.seq AND OLD.seq < e.seq)
        OR (SELECT kind FROM entry WHERE seq = OLD.seq) IN ('opened', 'erased')
        BEGIN SELECT RAISE(ABORT, 'entry_body is append-only: DELETE refused'); END""",
    """CREATE TRIGGER log_insert BEFORE INSERT ON log WHEN EXISTS (SELECT 1 FROM log)
        BEGIN SELECT RAISE(ABORT, 'a store holds one log'); END""",
    """CREATE TRIGGER policy_text_insert BEFORE INSERT ON policy_text
        WHEN EXISTS (SELECT 1 FROM policy_text WHERE digest = NEW.digest
                     OR (policy_id = NEW.policy_id AND version = NEW.version))
        BEGIN SELECT RAISE(ABORT, 'policy_text is append-only: replacing refused'); END""",
    _sqlite_refusal("entry", "UPDATE"),
    _sqlite_refusal("entry", "DELETE"),
    _sqlite_refusal("entry_body", "UPDATE"),
    _sqlite_refusal("log", "UPDATE"),
    _sqlite_refusal("log", "DELETE"),
    _sqlite_refusal("policy_text", "UPDATE"),
    _sqlite_refusal("policy_text", "DELETE"),
)


def _postgres_refusal(table: str, event: str) -> str:
    name = event.lower().replace(" ", "_")
    scope = "STATEMENT" if event == "TRUNCATE" else "ROW"
    return (
        f"CREATE TRIGGER {table}_no_{name} BEFORE {event} ON {table} "
        f"FOR EACH {scope} EXECUTE FUNCTION riskboard_refuse()"
    )


_POSTGRES_1 = (
    "CREATE TABLE schema_version (version INTEGER PRIMARY KEY, applied_at TEXT NOT NULL)",
    """CREATE TABLE log (
        id INTEGER PRIMARY KEY CHECK (id = 1),
        origin TEXT NOT NULL CHECK (length(origin) = 32),
        turn INTEGER NOT NULL
    )""",
    """CREATE TABLE entry (
        seq BIGINT PRIMARY KEY CHECK (seq >= 1),
        prev TEXT NOT NULL UNIQUE CHECK (length(prev) = 64),
        digest TEXT NOT NULL UNIQUE CHECK (length(digest) = 64),
        event_id TEXT NOT NULL UNIQUE,
        kind TEXT NOT NULL,
        subject TEXT NOT NULL,
        header BYTEA NOT NULL,
        CHECK ((convert_from(header, 'UTF8')::jsonb ->> 'seq') = seq::text),
        CHECK ((convert_from(header, 'UTF8')::jsonb ->> 'prev') = prev),
        CHECK ((convert_from(header, 'UTF8')::jsonb ->> 'event_id') = event_id),
        CHECK ((convert_from(header, 'UTF8')::jsonb ->> 'kind') = kind),
        CHECK ((convert_from(header, 'UTF8')::jsonb ->> 'subject') = subject)
    )""",
    "CREATE INDEX entry_subject ON entry (subject, seq)",
    """CREATE TABLE entry_body (
        seq BIGINT PRIMARY KEY REFERENCES entry (seq),
        salt BYTEA NOT NULL CHECK (length(salt) = 32),
        content BYTEA NOT NULL
    )""",
    """CREATE TABLE draft (
        draft_id TEXT PRIMARY KEY, owner TEXT NOT NULL, content TEXT NOT NULL,
        revision INTEGER NOT NULL CHECK (revision >= 1), saved_at TEXT NOT NULL
    )""",
    "CREATE INDEX draft_owner ON draft (owner)",
    """CREATE TABLE document (
        kind TEXT NOT NULL, document_id TEXT NOT NULL, content TEXT NOT NULL,
        revision INTEGER NOT NULL CHECK (revision >= 1), saved_at TEXT NOT NULL,
        PRIMARY KEY (kind, document_id)
    )""",
    """CREATE TABLE policy_text (
        digest TEXT PRIMARY KEY, policy_id TEXT NOT NULL, version INTEGER NOT NULL,
        content BYTEA NOT NULL, published_at TEXT NOT NULL,
        UNIQUE (policy_id, version)
    )""",
    """CREATE TABLE pin (
        person_id TEXT PRIMARY KEY, pin_hash TEXT NOT NULL, set_at TEXT NOT NULL,
        failures INTEGER NOT NULL CHECK (failures >= 0), last_failure_at TEXT
    )""",
    """CREATE FUNCTION riskboard_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        RAISE EXCEPTION '% is append-only: % refused', TG_TABLE_NAME, TG_OP USING ERRCODE = 'restrict_violation';
    END $$""",
    """CREATE FUNCTION riskboard_entry_insert() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        IF NEW.seq <> (SELECT COALESCE(MAX(seq), 0) + 1 FROM entry)
           OR (NEW.seq > 1 AND NEW.prev <> (SELECT digest FROM entry ORDER BY seq DESC LIMIT 1)) THEN
            RAISE EXCEPTION 'entry must follow the last one' USING ERRCODE = 'restrict_violation';
        END IF;
        RETURN NEW;
    END $$""",
    """CREATE FUNCTION riskboard_body_insert() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        IF NEW.seq <> (SELECT COALESCE(MAX(seq), 0) FROM entry) THEN
            RAISE EXCEPTION 'a body comes with its entry' USING ERRCODE = 'restrict_violation';
        END IF;
        RETURN NEW;
    END $$""",
    """CREATE FUNCTION riskboard_body_delete() RETURNS trigger LANGUAGE plpgsql AS $$
    DECLARE
        last_seq BIGINT; last_kind TEXT; last_body BYTEA; named BOOLEAN;
    BEGIN
        SELECT e.seq, e.kind, b.content INTO last_seq, last_kind, last_body
        FROM entry e JOIN entry_body b ON b.seq = e.seq ORDER BY e.seq DESC LIMIT 1;
        named := last_kind = 'erased' AND last_seq = (SELECT MAX(seq) FROM entry) AND OLD.seq < last_seq
            AND (convert_from(last_body, 'UTF8')::jsonb -> 'erases') @> to_jsonb(OLD.seq);
        IF named IS NOT TRUE OR (SELECT kind FROM entry WHERE seq = OLD.seq) IN ('opened', 'erased') THEN
            RAISE EXCEPTION 'entry_body is append-only: DELETE refused' USING ERRCODE = 'restrict_violation';
        END IF;
        RETURN OLD;
    END $$""",
    "CREATE TRIGGER entry_insert BEFORE INSERT ON entry FOR EACH ROW EXECUTE FUNCTION riskboard_entry_insert()",
    """CREATE TRIGGER entry_body_insert BEFORE INSERT ON entry_body
        FOR EACH ROW EXECUTE FUNCTION riskboard_body_insert()""",
    """CREATE TRIGGER entry_body_no_delete BEFORE DELETE ON entry_body
        FOR EACH ROW EXECUTE FUNCTION riskboard_body_delete()""",
    _postgres_refusal("entry", "UPDATE"),
    _postgres_refusal("entry", "DELETE"),
    _postgres_refusal("entry", "TRUNCATE"),
    _postgres_refusal("entry_body", "UPDATE"),
    _postgres_refusal("entry_body", "TRUNCATE"),
    _postgres_refusal("log", "UPDATE"),
    _postgres_refusal("log", "DELETE"),
    _postgres_refusal("log", "TRUNCATE"),
    _postgres_refusal("policy_text", "UPDATE"),
    _postgres_refusal("policy_text", "DELETE"),
    _postgres_refusal("policy_text", "TRUNCATE"),
)


def _step_2(strict: str) -> tuple[str, ...]:
    """People come in by accounts and stay for sessions; records are found by their kind."""
    return (
        "CREATE INDEX entry_kind ON entry (kind, seq)",
        f"""CREATE TABLE account (
            person_id TEXT PRIMARY KEY, login_name TEXT NOT NULL, login_key TEXT NOT NULL,
            passphrase_hash TEXT NOT NULL, issuer TEXT NOT NULL, subject TEXT NOT NULL, set_at TEXT NOT NULL,
            failures INTEGER NOT NULL CHECK (failures >= 0), last_failure_at TEXT, closed_at TEXT,
            CHECK ((issuer = '') = (subject = ''))
        ){strict}""",
        "CREATE UNIQUE INDEX account_login ON account (login_key) WHERE login_key <> ''",
        "CREATE UNIQUE INDEX account_identity ON account (issuer, subject) WHERE subject <> ''",
        f"""CREATE TABLE session (
            token_hash TEXT PRIMARY KEY, person_id TEXT NOT NULL, way TEXT NOT NULL,
            opened_at TEXT NOT NULL, seen_at TEXT NOT NULL, ended_at TEXT
        ){strict}""",
        "CREATE INDEX session_person ON session (person_id)",
    )


_POSTGRES_3 = (
    # All of an append in one statement, so that the lock is held for no trip over the network. Each statement inside
    # sees what was committed while the first one waited for its turn, as the function is volatile.
    """CREATE FUNCTION riskboard_append(
        wait_ms INTEGER, decided_on BIGINT, event TEXT, about_kind TEXT, about_subject TEXT,
        first BYTEA, second BYTEA, third BYTEA, fourth BYTEA, new_salt BYTEA, new_content BYTEA
    ) RETURNS TABLE (state TEXT, at_seq BIGINT, at_digest TEXT, at_header BYTEA, at_salt BYTEA, at_content BYTEA)
    LANGUAGE plpgsql AS $$
    DECLARE
        log_origin TEXT; last_seq BIGINT; last_digest TEXT; new_header BYTEA; new_digest TEXT;
    BEGIN
        PERFORM set_config('lock_timeout', wait_ms::text, true), set_config('synchronous_commit', 'on', true);
        SELECT origin INTO log_origin FROM log FOR UPDATE;
        RETURN QUERY SELECT 'known', e.seq, e.digest, e.header, b.salt, b.content
            FROM entry e LEFT JOIN entry_body b ON b.seq = e.seq WHERE e.event_id = event;
        IF FOUND THEN RETURN; END IF;
        SELECT e.seq, e.digest INTO last_seq, last_digest FROM entry e ORDER BY e.seq DESC LIMIT 1;
        IF NOT FOUND THEN RETURN; END IF;
        IF decided_on <> last_seq THEN
            RETURN QUERY SELECT 'moved on', e.seq, e.digest, e.header, b.salt, b.content
                FROM entry e LEFT JOIN entry_body b ON b.seq = e.seq WHERE e.seq = last_seq;
            RETURN;
        END IF;
        new_header := first || convert_to(log_origin, 'UTF8') || second || convert_to(last_digest, 'UTF8')
            || third || convert_to((last_seq + 1)::text, 'UTF8') || fourth;
        new_digest := encode(
            sha256(convert_to('riskboard-log/1 header', 'UTF8') || '\\x0a'::bytea || new_header), 'hex');
        INSERT INTO entry (seq, prev, digest, event_id, kind, subject, header)
            VALUES (last_seq + 1, last_digest, new_digest, event, about_kind, about_subject, new_header);
        INSERT INTO entry_body (seq, salt, content) VALUES (last_seq + 1, new_salt, new_content);
        RETURN QUERY SELECT 'new', last_seq + 1, new_digest, new_header, NULL::bytea, NULL::bytea;
    END $$""",
)

_COLUMNS_4 = """digest TEXT PRIMARY KEY, type_id TEXT NOT NULL, version INTEGER NOT NULL, title TEXT NOT NULL,
        content {bytes} NOT NULL, published_at TEXT NOT NULL,
        UNIQUE (type_id, version)"""

_SQLITE_4 = (
    f"CREATE TABLE type_text ({_COLUMNS_4.format(bytes='BLOB')}) STRICT",
    """CREATE TRIGGER type_text_insert BEFORE INSERT ON type_text
        WHEN EXISTS (SELECT 1 FROM type_text WHERE digest = NEW.digest
                     OR (type_id = NEW.type_id AND version = NEW.version))
        BEGIN SELECT RAISE(ABORT, 'type_text is append-only: replacing refused'); END""",
    _sqlite_refusal("type_text", "UPDATE"),
    _sqlite_refusal("type_text", "DELETE"),
)

_POSTGRES_4 = (
    f"CREATE TABLE type_text ({_COLUMNS_4.format(bytes='BYTEA')})",
    _postgres_refusal("type_text", "UPDATE"),
    _postgres_refusal("type_text", "DELETE"),
    _postgres_refusal("type_text", "TRUNCATE"),
)

MIGRATIONS: tuple[Migration, ...] = (
    Migration(1, _SQLITE_1, _POSTGRES_1),
    Migration(2, _step_2(" STRICT"), _step_2("")),
    Migration(3, (), _POSTGRES_3),
    Migration(4, _SQLITE_4, _POSTGRES_4),
    Migration(5, (), POSTGRES_5),
)


def current_version(connection: Connection, place: str) -> int:
    """Return the version of the schema in a database; 0 for an empty one.

    Raises:
        NotALedgerError: If the database holds tables of something else.
        NewerLedgerError: If the schema is newer than this program.
    """
    tables = set(inspect(connection).get_table_names())
    if not tables:
        return 0
    if schema.schema_version.name not in tables or schema.entry.name not in tables:
        raise NotALedgerError(place, f"it holds other tables: {', '.join(sorted(tables)[:5])}")
    versions = connection.execute(select(schema.schema_version.c.version)).scalars().all()
    found = max(versions, default=0)
    known = MIGRATIONS[-1].version
    if found > known:
        raise NewerLedgerError(place, f"its schema has version {found}, this program knows up to {known}")
    return found


def apply_migrations(connection: Connection, place: str, *, now: datetime) -> None:
    """Bring the schema to the newest version, inside the caller's transaction.

    Raises:
        NotALedgerError: If the database holds tables of something else.
        NewerLedgerError: If the schema is newer than this program.
    """
    postgres = connection.dialect.name == "postgresql"
    if postgres:
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_POSTGRES_MIGRATION_LOCK})")
    found = current_version(connection, place)
    for migration in MIGRATIONS:
        if migration.version <= found:
            continue
        for statement in migration.postgresql if postgres else migration.sqlite:
            # Without this, the driver would take a percent sign for a placeholder.
            connection.exec_driver_sql(statement, execution_options={"no_parameters": True})
        connection.execute(schema.schema_version.insert().values(version=migration.version, applied_at=utc_text(now)))


def postgres_grants(role: str) -> tuple[str, ...]:
    """Return the statements that let a PostgreSQL role use the log without owning it.

    Run them as the owner of the tables, after the owner has opened the store once. The role can then append and
    erase, but can neither change an entry nor take the triggers away, whatever the program does.

    Args:
        role: Name of the role; letters, digits and underscores.

    Raises:
        ValueError: If the name has other characters.
    """
    if not role.isidentifier() or not role.isascii():
        raise ValueError(f"{role!r} is not a plain role name; use letters, digits and underscores.")
    return (
        f"GRANT SELECT ON schema_version, log, entry, entry_body, policy_text, type_text TO {role}",
        f"GRANT UPDATE (turn) ON log TO {role}",
        f"GRANT INSERT ON entry, entry_body, policy_text, type_text TO {role}",
        f"GRANT DELETE ON entry_body TO {role}",
        f"GRANT SELECT, INSERT, UPDATE, DELETE ON draft, document, pin, account, session TO {role}",
    )
