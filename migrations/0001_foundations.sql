-- What every table stands on: the trigger that keeps insert-only tables as they were written,
-- the change feed, the audit trail, and the epoch of this database.

CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'table % is insert-only; % is refused', TG_TABLE_NAME, TG_OP
        USING ERRCODE = 'restrict_violation';
END
$$;

CREATE FUNCTION make_insert_only(target regclass) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format('CREATE TRIGGER insert_only BEFORE UPDATE OR DELETE OR TRUNCATE ON %s '
        'FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()', target);
END
$$;

-- A restored backup gets a new epoch, so that a cursor from before the restore is told to start over.
CREATE TABLE database_epoch (
    epoch uuid NOT NULL,
    only_row boolean PRIMARY KEY DEFAULT true CHECK (only_row)
);
INSERT INTO database_epoch (epoch) VALUES (gen_random_uuid());

-- The change feed. x is the writing transaction, n orders events; a reader stays below the snapshot's
-- xmin and so misses nothing. Partitioned by server time: old months are detached, not deleted.
CREATE SEQUENCE event_n;
CREATE TABLE event (
    at timestamptz NOT NULL,
    x xid8 NOT NULL DEFAULT pg_current_xact_id(),
    n bigint NOT NULL DEFAULT nextval('event_n'),
    kind text NOT NULL,
    subject uuid NOT NULL,
    -- what a reader must be allowed to see before the event is shown to him
    site_id uuid,
    appliance_id uuid,
    work_order_id uuid,
    payload jsonb NOT NULL DEFAULT '{}',
    PRIMARY KEY (at, x, n)
) PARTITION BY RANGE (at);
CREATE TABLE event_default PARTITION OF event DEFAULT;
CREATE INDEX event_feed ON event (x, n);
SELECT make_insert_only('event'), make_insert_only('event_default');

CREATE TABLE audit (
    at timestamptz NOT NULL,
    id uuid NOT NULL,
    person_id uuid,
    use_case text NOT NULL,
    subject uuid,
    why text,
    changed_fields text[] NOT NULL DEFAULT '{}',
    request_id text NOT NULL,
    PRIMARY KEY (at, id)
) PARTITION BY RANGE (at);
CREATE TABLE audit_default PARTITION OF audit DEFAULT;
CREATE INDEX audit_subject ON audit (subject, at);
SELECT make_insert_only('audit'), make_insert_only('audit_default');

-- Makes the monthly partitions of both tables, beginning with the month of `first`. A month whose
-- rows already lie in the default partition stays there.
CREATE FUNCTION make_month_partitions(first timestamptz, months integer) RETURNS void LANGUAGE plpgsql AS $$
DECLARE
    parent text;
    starts timestamptz;
    name text;
    occupied boolean;
BEGIN
    FOREACH parent IN ARRAY ARRAY['event', 'audit'] LOOP
        FOR step IN 0..months - 1 LOOP
            starts := (date_trunc('month', first AT TIME ZONE 'UTC') + make_interval(months => step)) AT TIME ZONE 'UTC';
            name := parent || to_char(starts AT TIME ZONE 'UTC', '_YYYY_MM');
            EXECUTE format('SELECT EXISTS (SELECT FROM %I WHERE at >= $1 AND at < $2)', parent || '_default')
                INTO occupied USING starts, starts + interval '1 month';
            IF NOT occupied AND to_regclass(name) IS NULL THEN
                EXECUTE format('CREATE TABLE %I PARTITION OF %I FOR VALUES FROM (%L) TO (%L)',
                    name, parent, starts, starts + interval '1 month');
                PERFORM make_insert_only(name::regclass);
            END IF;
        END LOOP;
    END LOOP;
END
$$;
