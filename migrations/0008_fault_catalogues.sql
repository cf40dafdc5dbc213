-- What can be wrong with a model, for the diagnosis. Versioned like the rest of the catalogue. Two models may
-- have a fault of one key with differing content, so a fault belongs to its model.

ALTER TABLE finding DROP CONSTRAINT finding_fault_key_fault_version_fkey;
DROP TABLE fault;

CREATE TABLE fault_catalogue (
    model_key text NOT NULL,
    version integer NOT NULL CHECK (version > 0),
    payload jsonb NOT NULL,
    built_in boolean NOT NULL DEFAULT false,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    PRIMARY KEY (model_key, version)
);
SELECT make_insert_only('fault_catalogue');

-- Each version of a fault once, however many versions of the catalogue hold it: what a finding can name.
CREATE TABLE fault (
    model_key text NOT NULL,
    key text NOT NULL,
    version integer NOT NULL CHECK (version > 0),
    position text NOT NULL REFERENCES position,
    payload jsonb NOT NULL,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    PRIMARY KEY (model_key, key, version)
);
SELECT make_insert_only('fault');

ALTER TABLE finding ADD COLUMN fault_model_key text;
ALTER TABLE finding ADD CONSTRAINT finding_fault_fkey
    FOREIGN KEY (fault_model_key, fault_key, fault_version) REFERENCES fault (model_key, key, version);
ALTER TABLE finding ADD CONSTRAINT finding_fault_whole
    CHECK (num_nonnulls(fault_model_key, fault_key, fault_version) IN (0, 3));

-- The complaint that the call was made for stands first.
ALTER TABLE symptom ADD COLUMN place smallint NOT NULL DEFAULT 0;
