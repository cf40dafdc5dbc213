-- A proof that a later reading contradicts: when, of an order that had ended by then.
ALTER TABLE work_order ADD COLUMN proof_doubted_at timestamptz;

-- Who lets an order do without a proof says why by a code, and the order waits for him until then.
ALTER TABLE waiver
    DROP CONSTRAINT waiver_what_check,
    ADD CONSTRAINT waiver_what_check CHECK (what IN ('full_cycle', 'after_readings', 'symptoms', 'sign_off')),
    ADD COLUMN code text NOT NULL DEFAULT 'other'
        CHECK (code IN ('kitchen_needs_it', 'no_utilities', 'cannot_be_reached', 'customer_refuses', 'other'));
ALTER TABLE waiting
    DROP CONSTRAINT waiting_reason_check,
    ADD CONSTRAINT waiting_reason_check
        CHECK (reason IN ('access', 'approval', 'part', 'second_person', 'customers_wish', 'waiver'));

SELECT keep_in_range();
