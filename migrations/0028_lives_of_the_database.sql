-- What tells one life of a database from another, so that a cursor of the change feed never outlives what it counted.
-- The service holds it against the server at each new connection (store::epoch): another cluster, timeline, database or
-- table is a restored copy; another start of the server may have lost what was committed without waiting for the disk.

ALTER TABLE database_epoch
    ADD COLUMN system_identifier bigint,
    ADD COLUMN timeline text,
    ADD COLUMN database_oid oid,
    ADD COLUMN table_oid oid,
    ADD COLUMN server_started_at timestamptz,
    -- whether every commit since that start waited for the disk
    ADD COLUMN durable boolean NOT NULL DEFAULT true,
    -- Events of this life: written by this transaction or a later one, and numbered above this. A restored database counts
    -- transactions from elsewhere, so that the numbers of older events say nothing in it.
    ADD COLUMN begins_at_x xid8 NOT NULL DEFAULT '0',
    ADD COLUMN begins_after_n bigint NOT NULL DEFAULT 0;

-- What the service signs with, made once: so that cursors outlive a restart, and all copies of the service agree.
CREATE TABLE own_secret (
    purpose text PRIMARY KEY,
    secret bytea NOT NULL CHECK (octet_length(secret) >= 32)
);
INSERT INTO own_secret (purpose, secret)
SELECT purpose, sha256(convert_to(gen_random_uuid()::text || gen_random_uuid()::text, 'UTF8'))
FROM unnest(ARRAY['cursors', 'tokens']) AS purpose;

SELECT keep_in_range();
