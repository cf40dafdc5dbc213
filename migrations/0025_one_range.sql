-- No stored value that cannot be read: times, days, numbers and texts have the range that the service's own types have
-- (domain::time, domain::quantity, domain::text), and the schema keeps it.

-- A wrong clock's correction made times that no reader could read. What the clock said stays; such a run counts as taken when
-- its clock said, if that is a time before it came, else when it came.
ALTER TABLE test_run DISABLE TRIGGER insert_only;
UPDATE test_run SET taken_at = received_at, clock_correction = 0
WHERE taken_at < '1970-01-01Z' OR taken_at >= '2200-01-01Z';
UPDATE test_run
SET clock_correction = CASE
    WHEN taken_at <= received_at + interval '5 minutes' THEN 0
    ELSE (extract(epoch FROM received_at - taken_at) * 1000000)::bigint
END
WHERE extract(epoch FROM taken_at) * 1000000 + clock_correction NOT BETWEEN 0 AND 7258118399999999;
ALTER TABLE test_run ENABLE TRIGGER insert_only;

ALTER TABLE test_run ADD CONSTRAINT test_run_corrected_time_range
    CHECK (extract(epoch FROM taken_at) * 1000000 + clock_correction BETWEEN 0 AND 7258118399999999);

-- Numbers beyond what any quantity can be (domain::quantity::range). Old rows stay as they were read: the run is taken back, so
-- that nothing is computed from it, and the constraints bind what comes.
CREATE FUNCTION all_between(series double precision[], lowest double precision, highest double precision)
RETURNS boolean LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$
    SELECT coalesce(bool_and(value BETWEEN lowest AND highest), true) FROM unnest(series) AS value
$$;

CREATE FUNCTION new_uuid_v7() RETURNS uuid LANGUAGE sql VOLATILE AS $$
    SELECT encode(set_bit(set_bit(overlay(uuid_send(gen_random_uuid())
        PLACING substring(int8send(floor(extract(epoch FROM clock_timestamp()) * 1000)::bigint) FROM 3) FROM 1 FOR 6),
        52, 1), 53, 1), 'hex')::uuid
$$;

INSERT INTO test_run (id, appliance_id, work_order_id, visit_id, procedure_key, procedure_version, phase, device_id, sequence,
    taken_at, clock_correction, received_at, taken_by, late, supersedes_id, retraction_reason, payload, body_sha256)
SELECT new_uuid_v7(), t.appliance_id, t.work_order_id, t.visit_id, t.procedure_key, t.procedure_version, t.phase, t.device_id,
    t.sequence, t.taken_at, t.clock_correction, now(), t.taken_by, t.late, t.id,
    'A number in it is beyond what its quantity can be; taken back when the schema was given its ranges.',
    '{"conditions": {"confirmed": []}, "not_tested": {}}', t.body_sha256
FROM test_run t
WHERE NOT EXISTS (SELECT FROM test_run s WHERE s.supersedes_id = t.id) AND EXISTS (
    SELECT FROM reading r WHERE r.test_run_id = t.id AND (
        abs(r.value) > 1e10 OR abs(r.as_read_value) > 1e18 OR r.standard_uncertainty > 1e18
        OR NOT all_between(r.series, -1e18, 1e18) OR NOT all_between(r.times, 0, 1e10)));

ALTER TABLE reading
    ADD CONSTRAINT reading_value_range CHECK (value BETWEEN -1e10 AND 1e10) NOT VALID,
    ADD CONSTRAINT reading_as_read_value_range CHECK (as_read_value BETWEEN -1e18 AND 1e18) NOT VALID,
    ADD CONSTRAINT reading_standard_uncertainty_range CHECK (standard_uncertainty <= 1e18) NOT VALID,
    ADD CONSTRAINT reading_series_range CHECK (all_between(series, -1e18, 1e18)) NOT VALID,
    ADD CONSTRAINT reading_times_range CHECK (all_between(times, 0, 1e10)) NOT VALID;

-- Every time and day that is told, and every text. The trail and the feed have the server's own. A migration that adds a
-- column calls it again; a test finds the column that has no range.
CREATE FUNCTION keep_in_range() RETURNS void LANGUAGE plpgsql AS $$
DECLARE
    told record;
    rule text;
BEGIN
    FOR told IN
        SELECT c.table_name, c.column_name, c.data_type, left(c.table_name || '_' || c.column_name, 57) || '_range' AS name
        FROM information_schema.columns c JOIN information_schema.tables t USING (table_schema, table_name)
        WHERE c.table_schema = current_schema() AND t.table_type = 'BASE TABLE'
            AND c.data_type IN ('timestamp with time zone', 'date', 'text')
            AND c.table_name !~ '^(event|audit|idempotency|learning|_sqlx)'
    LOOP
        CONTINUE WHEN EXISTS (SELECT FROM pg_constraint
            WHERE conname = told.name AND conrelid = told.table_name::regclass);
        rule := CASE told.data_type
            WHEN 'text' THEN format('char_length(%I) <= 4000', told.column_name)
            WHEN 'date' THEN format('%I >= DATE ''1970-01-01'' AND %1$I < DATE ''2200-01-01''', told.column_name)
            ELSE format('%I >= TIMESTAMPTZ ''1970-01-01Z'' AND %1$I < TIMESTAMPTZ ''2200-01-01Z''', told.column_name)
        END;
        -- What stands beyond the range already is brought back to its end: it was never a time of the trade.
        IF told.data_type <> 'text' AND NOT EXISTS (SELECT FROM pg_trigger
                WHERE tgname = 'insert_only' AND tgrelid = told.table_name::regclass) THEN
            EXECUTE format('UPDATE %I SET %I = %L WHERE %2$I >= %L',
                told.table_name, told.column_name, '2199-12-31T23:59:59Z', '2200-01-01T00:00:00Z');
        END IF;
        EXECUTE format('ALTER TABLE %I ADD CONSTRAINT %I CHECK (%s) NOT VALID', told.table_name, told.name, rule);
    END LOOP;
END
$$;
SELECT keep_in_range();
