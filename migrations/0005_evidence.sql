-- What was read, found and done. Nothing here is ever changed: a correction stands beside what it corrects.

CREATE TABLE test_run (
    id uuid PRIMARY KEY,
    appliance_id uuid NOT NULL REFERENCES appliance,
    work_order_id uuid REFERENCES work_order,
    visit_id uuid REFERENCES visit,
    procedure_key text NOT NULL,
    procedure_version integer NOT NULL,
    phase text NOT NULL,
    device_id text NOT NULL,
    sequence bigint NOT NULL CHECK (sequence >= 0),
    -- as the device's clock said; its correction in microseconds is added before evidence is ordered
    taken_at timestamptz NOT NULL,
    clock_correction bigint NOT NULL DEFAULT 0,
    received_at timestamptz NOT NULL,
    taken_by uuid NOT NULL REFERENCES person,
    -- came when its order was already closed
    late boolean NOT NULL DEFAULT false,
    -- not a foreign key: the correction may arrive before what it corrects
    supersedes_id uuid UNIQUE,
    retraction_reason text,
    -- conditions, steps not tested and why, the interlock defeat it was taken under
    payload jsonb NOT NULL,
    body_sha256 bytea NOT NULL,
    FOREIGN KEY (procedure_key, procedure_version) REFERENCES procedure (key, version),
    CHECK (retraction_reason IS NULL OR supersedes_id IS NOT NULL),
    CHECK (supersedes_id <> id)
);
CREATE INDEX test_run_order ON test_run (work_order_id) WHERE work_order_id IS NOT NULL;
CREATE INDEX test_run_appliance ON test_run (appliance_id, procedure_key, taken_at);
SELECT make_insert_only('test_run');

CREATE TABLE reading (
    test_run_id uuid NOT NULL REFERENCES test_run,
    step text NOT NULL,
    quantity text,
    as_read text,
    as_read_value double precision,
    as_read_unit text,
    -- in the quantity's canonical unit
    value double precision CHECK (value NOT IN ('NaN', 'Infinity', '-Infinity')),
    -- in the unit as read; absent where it follows from the instrument
    standard_uncertainty double precision
        CHECK (standard_uncertainty > 0 AND standard_uncertainty < 'Infinity'),
    -- only bounds the value: the gauge's end, a full bucket, still running when stopped
    censored text CHECK (censored IN ('at_least', 'at_most')),
    choice text,
    series double precision[],
    times double precision[],
    -- instrument, repeats, hardness scale
    detail jsonb,
    PRIMARY KEY (test_run_id, step),
    CHECK (num_nonnulls(value, choice, series) = 1),
    CHECK ((series IS NULL) = (times IS NULL)),
    CHECK (cardinality(series) = cardinality(times)),
    CHECK ((quantity IS NULL) = (choice IS NOT NULL)),
    CHECK (censored IS NULL OR value IS NOT NULL)
);
SELECT make_insert_only('reading');

CREATE TABLE finding (
    id uuid PRIMARY KEY,
    work_order_id uuid NOT NULL REFERENCES work_order,
    appliance_id uuid NOT NULL REFERENCES appliance,
    position text NOT NULL REFERENCES position,
    fault_key text,
    fault_version integer,
    finding text NOT NULL CHECK (finding IN ('ok', 'degraded', 'failed', 'inconclusive', 'not_tested')),
    failure_mode text REFERENCES failure_mode,
    mechanism text REFERENCES mechanism,
    cause text REFERENCES cause,
    evidence text NOT NULL CHECK (evidence IN ('measured', 'timed', 'seen', 'heard', 'reported')),
    note text,
    confirmed_by uuid NOT NULL REFERENCES person,
    found_at timestamptz NOT NULL,
    supersedes_id uuid UNIQUE REFERENCES finding,
    retraction_reason text,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    FOREIGN KEY (fault_key, fault_version) REFERENCES fault (key, version),
    CHECK ((fault_key IS NULL) = (fault_version IS NULL)),
    CHECK (finding NOT IN ('degraded', 'failed') OR failure_mode IS NOT NULL OR retraction_reason IS NOT NULL),
    CHECK (retraction_reason IS NULL OR supersedes_id IS NOT NULL)
);
CREATE INDEX finding_order ON finding (work_order_id);
CREATE INDEX finding_appliance ON finding (appliance_id, found_at);
SELECT make_insert_only('finding');

CREATE TABLE finding_test_run (
    finding_id uuid NOT NULL REFERENCES finding,
    test_run_id uuid NOT NULL REFERENCES test_run,
    PRIMARY KEY (finding_id, test_run_id)
);
SELECT make_insert_only('finding_test_run');

-- A summary of confirmed faults for the reports; `ovenwright check` compares and rebuilds it.
CREATE TABLE fault_count_day (
    site_id uuid NOT NULL REFERENCES site,
    appliance_id uuid NOT NULL REFERENCES appliance,
    position text NOT NULL,
    failure_mode text NOT NULL,
    day date NOT NULL,
    findings integer NOT NULL CHECK (findings >= 0),
    PRIMARY KEY (site_id, appliance_id, position, failure_mode, day)
);

CREATE TABLE outcome_snapshot (
    id uuid PRIMARY KEY,
    work_order_id uuid NOT NULL REFERENCES work_order,
    evidence_version bigint NOT NULL,
    payload jsonb NOT NULL,
    taken_at timestamptz NOT NULL
);
CREATE INDEX outcome_snapshot_order ON outcome_snapshot (work_order_id);
SELECT make_insert_only('outcome_snapshot');

CREATE TABLE knowledge_version (
    n bigint PRIMARY KEY,
    payload jsonb NOT NULL,
    made_from jsonb NOT NULL,
    made_at timestamptz NOT NULL
);
SELECT make_insert_only('knowledge_version');

-- May be emptied at any time: every row can be computed again.
CREATE TABLE diagnosis_cache (
    input_sha256 bytea PRIMARY KEY,
    payload jsonb NOT NULL,
    used_at timestamptz NOT NULL
);
