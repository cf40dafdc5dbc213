-- Parts from identified to fitted, what they cost whom, and where they lie.

CREATE TABLE part_line (
    id uuid PRIMARY KEY,
    work_order_id uuid NOT NULL REFERENCES work_order,
    finding_id uuid REFERENCES finding,
    part_id uuid NOT NULL REFERENCES part,
    position text REFERENCES position,
    quantity integer NOT NULL CHECK (quantity > 0),
    state text NOT NULL CHECK (state IN ('identified', 'quoted', 'approved', 'ordered', 'promised', 'received',
        'set_aside', 'fitted', 'returned_unused', 'defective_returned', 'withdrawn')),
    payer text NOT NULL CHECK (payer IN ('customer', 'contract', 'warranty', 'own_company')),
    unit_price numeric(12,2) NOT NULL CHECK (unit_price >= 0),
    currency text NOT NULL CHECK (currency ~ '^[A-Z]{3}$'),
    promised_on date,
    fitted_at timestamptz,
    version bigint NOT NULL DEFAULT 1,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    CHECK (state <> 'fitted' OR fitted_at IS NOT NULL),
    CHECK (state <> 'promised' OR promised_on IS NOT NULL)
);
CREATE INDEX part_line_order ON part_line (work_order_id);
CREATE INDEX part_line_fitted ON part_line (fitted_at) WHERE fitted_at IS NOT NULL;
CREATE INDEX part_line_part ON part_line (part_id);

CREATE TABLE action_taken (
    id uuid PRIMARY KEY,
    work_order_id uuid NOT NULL REFERENCES work_order,
    position text NOT NULL REFERENCES position,
    action text NOT NULL REFERENCES repair_action,
    part_line_id uuid REFERENCES part_line,
    -- a temporary measure must say when it ends
    expires_at timestamptz,
    taken_by uuid NOT NULL REFERENCES person,
    taken_at timestamptz NOT NULL,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    CHECK (action NOT IN ('bypassed_temporary', 'replaced_temporary') OR expires_at IS NOT NULL)
);
CREATE INDEX action_taken_order ON action_taken (work_order_id, taken_at);
SELECT make_insert_only('action_taken');

CREATE TABLE quote (
    id uuid PRIMARY KEY,
    work_order_id uuid NOT NULL REFERENCES work_order,
    number integer NOT NULL CHECK (number > 0),
    lines jsonb NOT NULL,
    total numeric(12,2) NOT NULL,
    currency text NOT NULL CHECK (currency ~ '^[A-Z]{3}$'),
    valid_until date,
    made_by uuid NOT NULL REFERENCES person,
    made_at timestamptz NOT NULL,
    body_sha256 bytea NOT NULL,
    UNIQUE (work_order_id, number)
);
SELECT make_insert_only('quote');

CREATE TABLE approval (
    id uuid PRIMARY KEY,
    work_order_id uuid NOT NULL REFERENCES work_order,
    quote_id uuid NOT NULL REFERENCES quote,
    contact_id uuid REFERENCES contact,
    decision text NOT NULL CHECK (decision IN ('approved', 'declined')),
    decided_at timestamptz NOT NULL,
    recorded_by uuid NOT NULL REFERENCES person,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL
);
CREATE INDEX approval_order ON approval (work_order_id);
SELECT make_insert_only('approval');

CREATE TABLE interlock_defeat (
    id uuid PRIMARY KEY,
    work_order_id uuid NOT NULL REFERENCES work_order,
    opened_by uuid NOT NULL REFERENCES person,
    second_person text NOT NULL,
    opened_at timestamptz NOT NULL,
    expires_at timestamptz NOT NULL,
    removed_at timestamptz,
    removed_by uuid REFERENCES person,
    version bigint NOT NULL DEFAULT 1,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    CHECK (expires_at > opened_at),
    CHECK (removed_at >= opened_at),
    CHECK ((removed_at IS NULL) = (removed_by IS NULL))
);
CREATE INDEX interlock_defeat_order ON interlock_defeat (work_order_id);

CREATE TABLE waiver (
    id uuid PRIMARY KEY,
    work_order_id uuid NOT NULL REFERENCES work_order,
    what text NOT NULL CHECK (what IN ('full_cycle', 'after_readings', 'sign_off')),
    reason text NOT NULL,
    given_by uuid NOT NULL REFERENCES person,
    given_at timestamptz NOT NULL,
    body_sha256 bytea NOT NULL
);
CREATE INDEX waiver_order ON waiver (work_order_id);
SELECT make_insert_only('waiver');

CREATE TABLE store (
    id uuid PRIMARY KEY,
    name text NOT NULL UNIQUE,
    -- the technician whose van it is; a depot has none
    person_id uuid REFERENCES person,
    version bigint NOT NULL DEFAULT 1,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL
);

CREATE TABLE part_movement (
    id uuid PRIMARY KEY,
    part_id uuid NOT NULL REFERENCES part,
    from_store uuid REFERENCES store,
    to_store uuid REFERENCES store,
    quantity integer NOT NULL CHECK (quantity > 0),
    part_line_id uuid REFERENCES part_line,
    moved_at timestamptz NOT NULL,
    moved_by uuid NOT NULL REFERENCES person,
    body_sha256 bytea NOT NULL,
    CHECK (num_nonnulls(from_store, to_store) >= 1),
    CHECK (from_store <> to_store)
);
CREATE INDEX part_movement_part ON part_movement (part_id);
CREATE INDEX part_movement_stores ON part_movement (from_store, to_store);
SELECT make_insert_only('part_movement');
