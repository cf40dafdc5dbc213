-- Who stands by while an interlock is defeated is one of ours, a contact of the customer's, or somebody of the kitchen by name.
ALTER TABLE interlock_defeat
    ALTER COLUMN second_person DROP NOT NULL,
    ADD COLUMN second_person_id uuid REFERENCES person,
    ADD COLUMN second_contact_id uuid REFERENCES contact,
    ADD CONSTRAINT interlock_defeat_one_second_person
        CHECK (num_nonnulls(second_person, second_person_id, second_contact_id) = 1),
    ADD CONSTRAINT interlock_defeat_never_alone CHECK (second_person_id <> opened_by);
