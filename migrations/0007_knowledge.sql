-- Learning from what was read: the job that makes a knowledge version, and readings that a person took
-- out of the references.

-- The job may be killed at any moment and goes on where it stood: each page of appliances is one
-- transaction. What was stored when it was asked for is what it learns from.
CREATE TABLE learning (
    n bigint PRIMARY KEY CHECK (n > 0),
    id uuid NOT NULL UNIQUE,
    as_of timestamptz NOT NULL,
    state text NOT NULL CHECK (state IN ('running', 'done', 'failed')),
    failure text,
    asked_by uuid NOT NULL REFERENCES person,
    appliances bigint NOT NULL,
    appliances_done bigint NOT NULL DEFAULT 0,
    -- jobs whose readings could not be graded
    jobs_unreadable bigint NOT NULL DEFAULT 0,
    last_appliance_id uuid,
    ended_at timestamptz,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    CHECK ((state = 'failed') = (failure IS NOT NULL)),
    CHECK ((state = 'running') = (ended_at IS NULL))
);
CREATE UNIQUE INDEX learning_one_at_a_time ON learning (state) WHERE state = 'running';
CREATE INDEX learning_created ON learning (created_at, id);

-- What one appliance gives to one reference; emptied when the job ends.
CREATE TABLE learning_unit (
    n bigint NOT NULL REFERENCES learning,
    model_key text NOT NULL,
    procedure_key text NOT NULL,
    step text NOT NULL,
    statistic text NOT NULL,
    appliance_id uuid NOT NULL REFERENCES appliance,
    quantity text NOT NULL,
    -- the latest reading that counts, at reference conditions
    test_run_id uuid,
    taken_at timestamptz,
    value double precision CHECK (value NOT IN ('NaN', 'Infinity', '-Infinity')),
    -- of all readings that count, on the scale
    squares double precision NOT NULL CHECK (squares >= 0),
    degrees integer NOT NULL CHECK (degrees >= 0),
    left_out jsonb NOT NULL,
    PRIMARY KEY (n, model_key, procedure_key, step, statistic, appliance_id),
    CHECK (num_nonnulls(test_run_id, taken_at, value) IN (0, 3))
);

-- The newest entry of a reading holds. Without a reason it counts again.
CREATE TABLE known_good_removal (
    id uuid PRIMARY KEY,
    test_run_id uuid NOT NULL,
    step text NOT NULL,
    reason text CHECK (reason IN ('instrument_faulty', 'read_wrongly', 'written_down_wrongly',
        'procedure_not_followed', 'machine_modified', 'wrong_machine')),
    note text,
    decided_by uuid NOT NULL REFERENCES person,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    CONSTRAINT known_good_removal_reading_fkey FOREIGN KEY (test_run_id, step) REFERENCES reading (test_run_id, step)
);
CREATE INDEX known_good_removal_reading ON known_good_removal (test_run_id, step, created_at);
CREATE INDEX known_good_removal_created ON known_good_removal (created_at, id);
SELECT make_insert_only('known_good_removal');
