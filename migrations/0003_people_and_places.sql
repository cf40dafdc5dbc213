-- The service company's people, its customers, their kitchens and machines.

CREATE TABLE person (
    id uuid PRIMARY KEY,
    name text NOT NULL,
    role text NOT NULL CHECK (role IN ('technician', 'dispatcher', 'manager', 'administrator', 'integration')),
    skills text[] NOT NULL DEFAULT '{}',
    active boolean NOT NULL DEFAULT true,
    version bigint NOT NULL DEFAULT 1,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL
);
CREATE INDEX person_created ON person (created_at, id);

-- A token's secret is never stored, only its hash.
CREATE TABLE token (
    id uuid PRIMARY KEY,
    person_id uuid NOT NULL REFERENCES person,
    name text NOT NULL,
    sha256 bytea NOT NULL UNIQUE CHECK (length(sha256) = 32),
    scopes text[] NOT NULL,
    created_at timestamptz NOT NULL,
    expires_at timestamptz,
    revoked_at timestamptz,
    last_used_day date
);
CREATE INDEX token_person ON token (person_id);

-- What a request with an Idempotency-Key answered, remembered in the transaction of its effect.
CREATE TABLE idempotency (
    person_id uuid NOT NULL REFERENCES person,
    operation text NOT NULL,
    key text NOT NULL,
    request_sha256 bytea NOT NULL,
    status smallint NOT NULL CHECK (status BETWEEN 200 AND 299),
    headers jsonb NOT NULL,
    body bytea NOT NULL,
    expires_at timestamptz NOT NULL,
    PRIMARY KEY (person_id, operation, key)
);
CREATE INDEX idempotency_expiry ON idempotency (expires_at);

CREATE TABLE branch (
    id uuid PRIMARY KEY,
    name text NOT NULL UNIQUE,
    version bigint NOT NULL DEFAULT 1,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL
);
CREATE INDEX branch_created ON branch (created_at, id);

CREATE TABLE customer (
    id uuid PRIMARY KEY,
    name text NOT NULL,
    external_id text UNIQUE,
    version bigint NOT NULL DEFAULT 1,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL
);
CREATE INDEX customer_created ON customer (created_at, id);

CREATE TABLE site (
    id uuid PRIMARY KEY,
    customer_id uuid NOT NULL REFERENCES customer,
    branch_id uuid REFERENCES branch,
    name text NOT NULL,
    place text NOT NULL,
    time_zone text NOT NULL,
    external_id text UNIQUE,
    version bigint NOT NULL DEFAULT 1,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL
);
CREATE INDEX site_customer ON site (customer_id);
CREATE INDEX site_created ON site (created_at, id);

CREATE TABLE site_water (
    id uuid PRIMARY KEY,
    site_id uuid NOT NULL REFERENCES site,
    taken_at timestamptz NOT NULL,
    payload jsonb NOT NULL,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL
);
CREATE INDEX site_water_site ON site_water (site_id, taken_at);
SELECT make_insert_only('site_water');

-- The only table with personal data of customers' people; erasing empties the row and keeps its id.
CREATE TABLE contact (
    id uuid PRIMARY KEY,
    customer_id uuid REFERENCES customer,
    site_id uuid REFERENCES site,
    name text,
    phone text,
    erased_at timestamptz,
    version bigint NOT NULL DEFAULT 1,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    CHECK (num_nonnulls(customer_id, site_id) = 1),
    CHECK ((erased_at IS NULL) = (name IS NOT NULL)),
    CHECK (erased_at IS NULL OR phone IS NULL)
);
CREATE INDEX contact_customer ON contact (customer_id);
CREATE INDEX contact_site ON contact (site_id);
CREATE INDEX contact_created ON contact (created_at, id);

CREATE TABLE appliance (
    id uuid PRIMARY KEY,
    site_id uuid NOT NULL REFERENCES site,
    model_key text NOT NULL,
    model_version integer NOT NULL,
    position_label text NOT NULL,
    serial text,
    installed_on date,
    state text NOT NULL CHECK (state IN ('up', 'degraded', 'down', 'unsafe_do_not_use', 'removed')),
    -- this machine's own functional limits, where they differ from its model's
    limits jsonb NOT NULL DEFAULT '[]',
    version bigint NOT NULL DEFAULT 1,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    FOREIGN KEY (model_key, model_version) REFERENCES model (key, version)
);
CREATE UNIQUE INDEX appliance_serial ON appliance (model_key, serial) WHERE serial IS NOT NULL;
CREATE INDEX appliance_site ON appliance (site_id);
CREATE INDEX appliance_created ON appliance (created_at, id);

CREATE TABLE fitted_part (
    id uuid PRIMARY KEY,
    appliance_id uuid NOT NULL REFERENCES appliance,
    position text NOT NULL REFERENCES position,
    part_id uuid NOT NULL REFERENCES part,
    serial text,
    fitted_at timestamptz NOT NULL,
    removed_at timestamptz,
    CHECK (removed_at >= fitted_at)
);
CREATE UNIQUE INDEX fitted_part_now ON fitted_part (appliance_id, position) WHERE removed_at IS NULL;
CREATE INDEX fitted_part_part ON fitted_part (part_id);
