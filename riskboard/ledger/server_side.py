"""What PostgreSQL does at an append by itself, as of schema version 5: the rules of a new record, each looked up once.

A lookup inside the server costs about a tenth of a durable commit, and reading the header as JSON once for each of its
columns cost as much as five lookups. The rules are those of version 1: a record follows the last one, its columns say
what its header says, and a body comes with its record.
"""

__all__ = ["POSTGRES_5"]

_ENTRY_INSERT = """CREATE OR REPLACE FUNCTION riskboard_entry_insert() RETURNS trigger LANGUAGE plpgsql AS $$
    DECLARE
        last_seq BIGINT; last_digest TEXT; said JSONB;
    BEGIN
        SELECT e.seq, e.digest INTO last_seq, last_digest FROM entry e ORDER BY e.seq DESC LIMIT 1;
        IF NEW.seq <> COALESCE(last_seq, 0) + 1 OR (NEW.seq > 1 AND NEW.prev <> last_digest) THEN
            RAISE EXCEPTION 'entry must follow the last one' USING ERRCODE = 'restrict_violation';
        END IF;
        said := convert_from(NEW.header, 'UTF8')::jsonb;
        IF (said ->> 'seq', said ->> 'prev', said ->> 'event_id', said ->> 'kind', said ->> 'subject')
           IS DISTINCT FROM (NEW.seq::text, NEW.prev, NEW.event_id, NEW.kind, NEW.subject) THEN
            RAISE EXCEPTION 'the columns of an entry must say what its header says' USING ERRCODE = 'check_violation';
        END IF;
        RETURN NEW;
    END $$"""

_BODY_INSERT = """CREATE OR REPLACE FUNCTION riskboard_body_insert() RETURNS trigger LANGUAGE plpgsql AS $$
    DECLARE
        last_seq BIGINT;
    BEGIN
        SELECT e.seq INTO last_seq FROM entry e ORDER BY e.seq DESC LIMIT 1;
        IF NEW.seq IS DISTINCT FROM last_seq THEN
            RAISE EXCEPTION 'a body comes with its entry' USING ERRCODE = 'restrict_violation';
        END IF;
        RETURN NEW;
    END $$"""

# The columns were held to the header by one CHECK each, and the body to its entry by a foreign key as well: the
# triggers say both, and nobody can take an entry away from under its body.
_TAKE_AWAY = """DO $$
    DECLARE
        found RECORD;
    BEGIN
        FOR found IN
            SELECT conrelid::regclass AS held, conname FROM pg_constraint
            WHERE (conrelid = 'entry'::regclass AND contype = 'c' AND pg_get_constraintdef(oid) LIKE '%convert_from%')
               OR (conrelid = 'entry_body'::regclass AND contype = 'f')
        LOOP
            EXECUTE format('ALTER TABLE %s DROP CONSTRAINT %I', found.held, found.conname);
        END LOOP;
    END $$"""

_APPEND = """CREATE OR REPLACE FUNCTION riskboard_append(
        wait_ms INTEGER, decided_on BIGINT, event TEXT, about_kind TEXT, about_subject TEXT,
        first BYTEA, second BYTEA, third BYTEA, fourth BYTEA, new_salt BYTEA, new_content BYTEA
    ) RETURNS TABLE (state TEXT, at_seq BIGINT, at_digest TEXT, at_header BYTEA, at_salt BYTEA, at_content BYTEA)
    LANGUAGE plpgsql AS $$
    DECLARE
        log_origin TEXT; known_seq BIGINT; last_seq BIGINT; last_digest TEXT; set_to TEXT;
    BEGIN
        set_to := set_config('lock_timeout', wait_ms::text, true);
        set_to := set_config('synchronous_commit', 'on', true);
        SELECT origin INTO log_origin FROM log FOR UPDATE;
        SELECT e.seq, e.digest, (SELECT k.seq FROM entry k WHERE k.event_id = event)
            INTO last_seq, last_digest, known_seq FROM entry e ORDER BY e.seq DESC LIMIT 1;
        IF last_seq IS NULL THEN RETURN; END IF;
        IF known_seq IS NOT NULL OR decided_on <> last_seq THEN
            RETURN QUERY SELECT CASE WHEN known_seq IS NULL THEN 'moved on' ELSE 'known' END,
                e.seq, e.digest, e.header, b.salt, b.content
                FROM entry e LEFT JOIN entry_body b ON b.seq = e.seq WHERE e.seq = COALESCE(known_seq, last_seq);
            RETURN;
        END IF;
        state := 'new';
        at_seq := last_seq + 1;
        at_header := first || convert_to(log_origin, 'UTF8') || second || convert_to(last_digest, 'UTF8')
            || third || convert_to(at_seq::text, 'UTF8') || fourth;
        at_digest := encode(
            sha256(convert_to('riskboard-log/1 header', 'UTF8') || '\\x0a'::bytea || at_header), 'hex');
        INSERT INTO entry (seq, prev, digest, event_id, kind, subject, header)
            VALUES (at_seq, last_digest, at_digest, event, about_kind, about_subject, at_header);
        INSERT INTO entry_body (seq, salt, content) VALUES (at_seq, new_salt, new_content);
        RETURN NEXT;
    END $$"""

POSTGRES_5 = (_ENTRY_INSERT, _BODY_INSERT, _TAKE_AWAY, _APPEND)
"""The statements of the step, in order."""
