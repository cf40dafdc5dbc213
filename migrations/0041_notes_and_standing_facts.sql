-- What people tell each other about an order, and when somebody is to be rung back. Never changed: who rang says so in a
-- note that settles the one before.
CREATE TABLE note (
    id uuid PRIMARY KEY,
    work_order_id uuid NOT NULL REFERENCES work_order,
    words text NOT NULL,
    ring_back_at timestamptz,
    settles uuid UNIQUE,
    noted_by uuid NOT NULL REFERENCES person,
    noted_at timestamptz NOT NULL,
    body_sha256 bytea NOT NULL,
    CONSTRAINT note_of_order UNIQUE (id, work_order_id),
    CONSTRAINT note_settles_one_of_its_order FOREIGN KEY (settles, work_order_id) REFERENCES note (id, work_order_id)
);
CREATE INDEX note_order ON note (work_order_id, noted_at);
SELECT make_insert_only('note');

-- What holds of a kitchen whoever comes, by key: how one gets in, where it is shut off, when one does not disturb.
ALTER TABLE site ADD COLUMN standing_facts jsonb NOT NULL DEFAULT '{}'
    CHECK (jsonb_typeof(standing_facts) = 'object' AND octet_length(standing_facts::text) <= 200000);

SELECT keep_in_range();
