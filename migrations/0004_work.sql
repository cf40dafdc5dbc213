-- From the call to the closed order.

CREATE TABLE call (
    id uuid PRIMARY KEY,
    site_id uuid NOT NULL REFERENCES site,
    contact_id uuid REFERENCES contact,
    words text NOT NULL,
    urgency text NOT NULL CHECK (urgency IN ('danger', 'key_unit_down', 'degraded', 'planned')),
    dangers text[] NOT NULL DEFAULT '{}' CHECK (dangers <@ ARRAY['gas', 'electric', 'caustic']),
    stop_use boolean NOT NULL,
    -- why a machine with a danger may stay in use: somebody decided it
    continued_use_reason text,
    -- what was asked and answered on the telephone
    answers jsonb NOT NULL DEFAULT '[]',
    taken_by uuid NOT NULL REFERENCES person,
    received_at timestamptz NOT NULL,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    CHECK (cardinality(dangers) = 0 OR stop_use OR continued_use_reason IS NOT NULL)
);
CREATE INDEX call_site ON call (site_id, received_at);
CREATE INDEX call_created ON call (created_at, id);

CREATE SEQUENCE work_order_number;
CREATE TABLE work_order (
    id uuid PRIMARY KEY,
    number bigint NOT NULL UNIQUE DEFAULT nextval('work_order_number'),
    call_id uuid REFERENCES call,
    site_id uuid NOT NULL REFERENCES site,
    -- unknown until somebody on site has confirmed which machine it is
    appliance_id uuid REFERENCES appliance,
    kind text NOT NULL CHECK (kind IN ('corrective', 'planned', 'installation')),
    urgency text NOT NULL CHECK (urgency IN ('danger', 'key_unit_down', 'degraded', 'planned')),
    state text NOT NULL CHECK (state IN ('received', 'assessed', 'planned', 'under_repair',
        'repaired_unproven', 'proven', 'closed', 'cancelled')),
    outcome text CHECK (outcome IN ('repaired', 'temporary_fix', 'no_fault_found', 'explained_use',
        'solved_by_phone', 'referred', 'declined', 'cancelled')),
    restored_at timestamptz,
    closed_at timestamptz,
    follows_id uuid REFERENCES work_order,
    -- what the customer lets us spend without a quote
    spending_limit numeric(12,2) CHECK (spending_limit >= 0),
    spending_currency text CHECK (spending_currency ~ '^[A-Z]{3}$'),
    signed_off_by uuid REFERENCES contact,
    received_at timestamptz NOT NULL,
    version bigint NOT NULL DEFAULT 1,
    evidence_version bigint NOT NULL DEFAULT 0,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    CHECK ((state IN ('closed', 'cancelled')) = (outcome IS NOT NULL)),
    CHECK ((state IN ('closed', 'cancelled')) = (closed_at IS NOT NULL)),
    CHECK ((state = 'cancelled') = (outcome IS NOT DISTINCT FROM 'cancelled')),
    CHECK (outcome IS DISTINCT FROM 'repaired' OR restored_at IS NOT NULL),
    CHECK ((spending_limit IS NULL) = (spending_currency IS NULL))
);
CREATE INDEX work_order_appliance ON work_order (appliance_id, received_at);
CREATE INDEX work_order_site ON work_order (site_id, received_at);
CREATE INDEX work_order_call ON work_order (call_id);
CREATE INDEX work_order_created ON work_order (created_at, id);
CREATE INDEX work_order_follows ON work_order (follows_id);
CREATE INDEX work_order_open ON work_order (state) WHERE state NOT IN ('closed', 'cancelled');

CREATE TABLE waiting (
    id uuid PRIMARY KEY,
    work_order_id uuid NOT NULL REFERENCES work_order,
    reason text NOT NULL CHECK (reason IN ('access', 'approval', 'part', 'second_person', 'customers_wish')),
    from_at timestamptz NOT NULL,
    to_at timestamptz,
    pauses_clock boolean NOT NULL,
    version bigint NOT NULL DEFAULT 1,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    CHECK (to_at >= from_at)
);
CREATE INDEX waiting_order ON waiting (work_order_id);
CREATE UNIQUE INDEX waiting_open ON waiting (work_order_id, reason) WHERE to_at IS NULL;

CREATE TABLE symptom (
    work_order_id uuid NOT NULL REFERENCES work_order,
    code text NOT NULL REFERENCES symptom_code,
    PRIMARY KEY (work_order_id, code)
);

CREATE TABLE visit (
    id uuid PRIMARY KEY,
    work_order_id uuid NOT NULL REFERENCES work_order,
    planned_at timestamptz NOT NULL,
    set_out_at timestamptz,
    arrived_at timestamptz,
    left_at timestamptz,
    missed_at timestamptz,
    called_off_at timestamptz,
    result text CHECK (result IN ('diagnosed', 'parts_needed', 'repaired', 'made_safe', 'no_access', 'referred')),
    version bigint NOT NULL DEFAULT 1,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    CHECK (arrived_at >= set_out_at),
    CHECK (left_at >= arrived_at),
    CHECK (left_at IS NULL OR arrived_at IS NOT NULL),
    CHECK ((left_at IS NULL) = (result IS NULL)),
    CHECK (num_nonnulls(missed_at, called_off_at, arrived_at) <= 1)
);
CREATE INDEX visit_order ON visit (work_order_id, planned_at);

CREATE TABLE visit_person (
    visit_id uuid NOT NULL REFERENCES visit,
    person_id uuid NOT NULL REFERENCES person,
    PRIMARY KEY (visit_id, person_id)
);
CREATE INDEX visit_person_person ON visit_person (person_id);

-- Who is sent to what: what a technician may see hangs on it.
CREATE VIEW assignment AS
SELECT visit_person.person_id, work_order.id AS work_order_id, work_order.appliance_id, work_order.site_id,
    site.customer_id
FROM visit_person
JOIN visit ON visit.id = visit_person.visit_id
JOIN work_order ON work_order.id = visit.work_order_id
JOIN site ON site.id = work_order.site_id;
