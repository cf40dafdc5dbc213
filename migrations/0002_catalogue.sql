-- Lists that a company may extend, and the catalogue: models, procedures, faults, parts.
-- A catalogue entry is never changed: a new version stands beside the old one.

CREATE TABLE position (code text PRIMARY KEY, description text, built_in boolean NOT NULL DEFAULT false);
CREATE TABLE symptom_code (code text PRIMARY KEY, description text, built_in boolean NOT NULL DEFAULT false);
CREATE TABLE failure_mode (code text PRIMARY KEY, description text, built_in boolean NOT NULL DEFAULT false);
CREATE TABLE mechanism (code text PRIMARY KEY, description text, built_in boolean NOT NULL DEFAULT false);
CREATE TABLE cause (code text PRIMARY KEY, description text, built_in boolean NOT NULL DEFAULT false);
CREATE TABLE repair_action (code text PRIMARY KEY, description text, built_in boolean NOT NULL DEFAULT false);

CREATE TABLE model (
    key text NOT NULL,
    version integer NOT NULL CHECK (version > 0),
    payload jsonb NOT NULL,
    built_in boolean NOT NULL DEFAULT false,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    PRIMARY KEY (key, version)
);
SELECT make_insert_only('model');

CREATE TABLE procedure (
    key text NOT NULL,
    version integer NOT NULL CHECK (version > 0),
    payload jsonb NOT NULL,
    built_in boolean NOT NULL DEFAULT false,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    PRIMARY KEY (key, version)
);
SELECT make_insert_only('procedure');

CREATE TABLE fault (
    key text NOT NULL,
    version integer NOT NULL CHECK (version > 0),
    payload jsonb NOT NULL,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    PRIMARY KEY (key, version)
);
SELECT make_insert_only('fault');

CREATE TABLE part (
    id uuid PRIMARY KEY,
    number text NOT NULL UNIQUE,
    title text NOT NULL,
    unit_price numeric(12,2) NOT NULL CHECK (unit_price >= 0),
    currency text NOT NULL CHECK (currency ~ '^[A-Z]{3}$'),
    version bigint NOT NULL DEFAULT 1,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL
);
CREATE INDEX part_created ON part (created_at, id);

-- Which part fits at which position of which model.
CREATE TABLE part_fit (
    part_id uuid NOT NULL REFERENCES part,
    model_key text NOT NULL,
    position text NOT NULL REFERENCES position,
    PRIMARY KEY (part_id, model_key, position)
);
CREATE INDEX part_fit_place ON part_fit (model_key, position);
