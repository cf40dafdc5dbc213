-- Who was on a visit from when to when. What somebody read in that time is taken from him for ever, whoever is sent now.
CREATE TABLE visit_presence (
    visit_id uuid NOT NULL REFERENCES visit,
    person_id uuid NOT NULL REFERENCES person,
    from_at timestamptz NOT NULL,
    to_at timestamptz,
    PRIMARY KEY (visit_id, person_id, from_at),
    CHECK (to_at >= from_at)
);
CREATE INDEX visit_presence_person ON visit_presence (person_id);
CREATE UNIQUE INDEX visit_presence_now ON visit_presence (visit_id, person_id) WHERE to_at IS NULL;

INSERT INTO visit_presence (visit_id, person_id, from_at, to_at)
SELECT visit.id, visit_person.person_id, visit.created_at, greatest(visit.called_off_at, visit.created_at)
FROM visit_person JOIN visit ON visit.id = visit_person.visit_id;

-- Nobody is sent by a visit that was called off.
CREATE OR REPLACE VIEW assignment AS
SELECT visit_person.person_id, work_order.id AS work_order_id, work_order.appliance_id, work_order.site_id,
    site.customer_id
FROM visit_person
JOIN visit ON visit.id = visit_person.visit_id
JOIN work_order ON work_order.id = visit.work_order_id
JOIN site ON site.id = work_order.site_id
WHERE visit.called_off_at IS NULL;
