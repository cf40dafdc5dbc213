-- A wrong unit put right: the order moves to the right machine of its kitchen, with all that was read and found.
CREATE TABLE machine_correction (
    id uuid PRIMARY KEY,
    work_order_id uuid NOT NULL REFERENCES work_order,
    from_appliance uuid NOT NULL REFERENCES appliance,
    to_appliance uuid NOT NULL REFERENCES appliance,
    why text NOT NULL,
    corrected_by uuid NOT NULL REFERENCES person,
    corrected_at timestamptz NOT NULL,
    body_sha256 bytea NOT NULL,
    CHECK (from_appliance <> to_appliance)
);
CREATE INDEX machine_correction_order ON machine_correction (work_order_id);
CREATE INDEX machine_correction_from ON machine_correction (from_appliance);
CREATE INDEX machine_correction_to ON machine_correction (to_appliance);
SELECT make_insert_only('machine_correction');

-- The machine that the run's sender named, where its order was moved from it.
ALTER TABLE test_run ADD COLUMN moved_from uuid REFERENCES appliance;
