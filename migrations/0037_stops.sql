-- Why a machine may not be used: over which dangers, who stopped its use, and who released it. While one is open the machine is
-- unsafe_do_not_use, or no longer in the kitchen; only its release ends it.
CREATE TABLE stop (
    id uuid PRIMARY KEY,
    appliance_id uuid NOT NULL REFERENCES appliance,
    work_order_id uuid REFERENCES work_order,
    dangers text[] NOT NULL
        CHECK (dangers <@ ARRAY['gas', 'electric', 'caustic', 'tripping', 'tingle', 'defeated_interlock']),
    why text NOT NULL,
    -- nobody, where it was found when this table was made
    stopped_by uuid REFERENCES person,
    stopped_at timestamptz NOT NULL,
    released_by uuid REFERENCES person,
    released_at timestamptz,
    release_reason text,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL,
    CHECK (num_nonnulls(released_by, released_at, release_reason) IN (0, 3))
);
CREATE INDEX stop_appliance ON stop (appliance_id, stopped_at);
CREATE INDEX stop_open ON stop (appliance_id) WHERE released_at IS NULL;
CREATE INDEX stop_order ON stop (work_order_id);

INSERT INTO stop (id, appliance_id, dangers, why, stopped_at, body_sha256, created_at)
SELECT new_uuid_v7(), id, '{}', 'It was unsafe before stops were kept.', now(), ''::bytea, now()
FROM appliance WHERE state = 'unsafe_do_not_use';

-- The last wall, whatever a program does: no machine leaves unsafe_do_not_use while a stop is open.
CREATE FUNCTION keep_unsafe() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT FROM stop WHERE appliance_id = NEW.id AND released_at IS NULL) THEN
        RAISE EXCEPTION 'appliance % is under stop-use and not released', NEW.id USING ERRCODE = 'check_violation';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER keep_unsafe BEFORE UPDATE OF state ON appliance
    FOR EACH ROW WHEN (NEW.state NOT IN ('unsafe_do_not_use', 'removed')) EXECUTE FUNCTION keep_unsafe();

SELECT keep_in_range();
