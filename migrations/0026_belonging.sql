-- What a row names belongs to what the row belongs to: to its order, or to its machine. Links that said otherwise are undone:
-- they were never true, and the rows on both sides stay.

ALTER TABLE visit ADD CONSTRAINT visit_of_order UNIQUE (id, work_order_id);
ALTER TABLE finding ADD CONSTRAINT finding_of_order UNIQUE (id, work_order_id);
ALTER TABLE finding ADD CONSTRAINT finding_of_appliance UNIQUE (id, appliance_id);
ALTER TABLE test_run ADD CONSTRAINT test_run_of_appliance UNIQUE (id, appliance_id);
ALTER TABLE part_line ADD CONSTRAINT part_line_of_order UNIQUE (id, work_order_id);
ALTER TABLE quote ADD CONSTRAINT quote_of_order UNIQUE (id, work_order_id);

-- A finding rests on runs of its machine.
ALTER TABLE finding_test_run DISABLE TRIGGER insert_only;
DELETE FROM finding_test_run x USING finding f, test_run t
WHERE f.id = x.finding_id AND t.id = x.test_run_id AND f.appliance_id <> t.appliance_id;
ALTER TABLE finding_test_run ADD COLUMN appliance_id uuid;
UPDATE finding_test_run x SET appliance_id = f.appliance_id FROM finding f WHERE f.id = x.finding_id;
ALTER TABLE finding_test_run
    ALTER COLUMN appliance_id SET NOT NULL,
    DROP CONSTRAINT finding_test_run_finding_id_fkey,
    DROP CONSTRAINT finding_test_run_test_run_id_fkey,
    ADD CONSTRAINT finding_test_run_finding_fkey FOREIGN KEY (finding_id, appliance_id) REFERENCES finding (id, appliance_id),
    ADD CONSTRAINT finding_test_run_run_fkey FOREIGN KEY (test_run_id, appliance_id) REFERENCES test_run (id, appliance_id);
ALTER TABLE finding_test_run ENABLE TRIGGER insert_only;

-- A run's visit, a part line's finding, an action's part line and an approval's quote are of the same order.
ALTER TABLE test_run DISABLE TRIGGER insert_only;
UPDATE test_run t SET visit_id = NULL
WHERE t.visit_id IS NOT NULL
    AND NOT EXISTS (SELECT FROM visit v WHERE v.id = t.visit_id AND v.work_order_id = t.work_order_id);
ALTER TABLE test_run ENABLE TRIGGER insert_only;
ALTER TABLE test_run
    DROP CONSTRAINT test_run_visit_id_fkey,
    ADD CONSTRAINT test_run_visit_fkey FOREIGN KEY (visit_id, work_order_id) REFERENCES visit (id, work_order_id),
    ADD CONSTRAINT test_run_visit_has_order CHECK (visit_id IS NULL OR work_order_id IS NOT NULL);

UPDATE part_line l SET finding_id = NULL
WHERE l.finding_id IS NOT NULL
    AND NOT EXISTS (SELECT FROM finding f WHERE f.id = l.finding_id AND f.work_order_id = l.work_order_id);
ALTER TABLE part_line
    DROP CONSTRAINT part_line_finding_id_fkey,
    ADD CONSTRAINT part_line_finding_fkey FOREIGN KEY (finding_id, work_order_id) REFERENCES finding (id, work_order_id);

ALTER TABLE action_taken DISABLE TRIGGER insert_only;
UPDATE action_taken a SET part_line_id = NULL
WHERE a.part_line_id IS NOT NULL
    AND NOT EXISTS (SELECT FROM part_line l WHERE l.id = a.part_line_id AND l.work_order_id = a.work_order_id);
ALTER TABLE action_taken ENABLE TRIGGER insert_only;
ALTER TABLE action_taken
    DROP CONSTRAINT action_taken_part_line_id_fkey,
    ADD CONSTRAINT action_taken_part_line_fkey
        FOREIGN KEY (part_line_id, work_order_id) REFERENCES part_line (id, work_order_id);

ALTER TABLE approval
    DROP CONSTRAINT approval_quote_id_fkey,
    ADD CONSTRAINT approval_quote_fkey FOREIGN KEY (quote_id, work_order_id) REFERENCES quote (id, work_order_id);
