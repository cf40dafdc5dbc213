-- What the service does for one POST /v1/test-runs, statement by statement, without the service:
-- the sender's token, what the runs point at, the runs and their readings, audit and event, one durable commit.
-- pgbench sets: runs (how many in the batch), token (hash of the sender's secret), person, appliances (how many).
\set row random(0, :appliances - 1)
-- Stands for the phone: it made the ids and knows its appliance.
SELECT array_agg(overlay(gen_random_uuid()::text PLACING left(id, 8) || '-' || right(id, 4) || '-7' FROM 1 FOR 15))::text AS ids, (SELECT id FROM appliance ORDER BY id LIMIT 1 OFFSET :row) AS appliance FROM (SELECT lpad(to_hex((extract(epoch FROM clock_timestamp()) * 1000)::bigint), 12, '0') AS id FROM generate_series(1, :runs)) AS made \gset
SELECT token.id, token.person_id, person.name, person.role, token.scopes, token.last_used_day FROM token JOIN person ON person.id = token.person_id WHERE token.sha256 = decode(:token, 'hex') AND token.revoked_at IS NULL AND person.active AND (token.expires_at IS NULL OR token.expires_at > now());
BEGIN;
SELECT id, site_id, model_key, model_version, limits FROM appliance WHERE id = ANY(ARRAY[:appliance::uuid]);
SELECT id, body_sha256 FROM test_run WHERE id = ANY(:ids::uuid[]);
INSERT INTO test_run (id, appliance_id, procedure_key, procedure_version, phase, device_id, sequence, taken_at, clock_correction, received_at, taken_by, late, payload, body_sha256) SELECT id, :appliance::uuid, 'fill_time', 1, 'baseline', 'bench', 1, now(), 0, now(), :person::uuid, false, '{"conditions": {"confirmed": ["sump_empty"]}, "not_tested": {}}', decode(:token, 'hex') FROM unnest(:ids::uuid[]) AS id;
INSERT INTO reading (test_run_id, step, quantity, as_read, as_read_value, as_read_unit, value, standard_uncertainty) SELECT id, 'fill_time', 'duration', '12.71', 12.71, 's', 12.71, 0.3 FROM unnest(:ids::uuid[]) AS id;
WITH changed AS (SELECT id AS subject, id FROM unnest(:ids::uuid[]) AS id), noted AS (INSERT INTO audit (at, id, person_id, use_case, subject, request_id) SELECT now(), id, :person::uuid, 'create_test_runs', subject, '00000000-0000-0000-0000-000000000000' FROM changed) INSERT INTO event (at, kind, subject, site_id, appliance_id) SELECT now(), 'test_run.recorded', subject, (SELECT site_id FROM appliance WHERE id = :appliance::uuid), :appliance::uuid FROM changed;
COMMIT;
