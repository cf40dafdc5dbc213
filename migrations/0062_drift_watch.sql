-- Which machines' readings drift, as last looked at: what follows from their readings, kept because a fleet is not graded anew
-- for each question.
CREATE TABLE drift_watch (
    appliance_id uuid PRIMARY KEY REFERENCES appliance,
    -- runs and actions that came in until then are in it
    looked_until timestamptz NOT NULL,
    drifts jsonb NOT NULL DEFAULT '[]' CHECK (jsonb_typeof(drifts) = 'array')
);
CREATE INDEX drift_watch_drifting ON drift_watch (looked_until) WHERE drifts <> '[]';
-- What came in since somebody looked last.
CREATE INDEX test_run_received ON test_run (received_at, appliance_id);
CREATE INDEX action_taken_created ON action_taken (created_at);
SELECT keep_in_range();
