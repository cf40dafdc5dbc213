-- Why a part is fitted where the catalogue does not list it: a manager's word.
ALTER TABLE part_line ADD COLUMN fit_override text;

-- Every day that a supplier named for a part: what slipped is kept.
CREATE TABLE part_promise (
    part_line_id uuid NOT NULL REFERENCES part_line,
    promised_on date NOT NULL,
    noted_at timestamptz NOT NULL,
    noted_by uuid REFERENCES person,
    PRIMARY KEY (part_line_id, noted_at)
);
INSERT INTO part_promise (part_line_id, promised_on, noted_at)
SELECT id, promised_on, created_at FROM part_line WHERE promised_on IS NOT NULL;
SELECT make_insert_only('part_promise');

-- A customer who spoke before the quote was written allowed a sum.
ALTER TABLE approval
    ADD COLUMN up_to_amount numeric(12,2) CHECK (up_to_amount >= 0),
    ADD COLUMN up_to_currency text CHECK (up_to_currency ~ '^[A-Z]{3}$'),
    ADD CHECK ((up_to_amount IS NULL) = (up_to_currency IS NULL));

-- What was answered when somebody rang back.
CREATE TABLE call_answer (
    id uuid PRIMARY KEY,
    call_id uuid NOT NULL REFERENCES call,
    question text NOT NULL,
    answer text NOT NULL,
    answered_at timestamptz NOT NULL,
    noted_by uuid NOT NULL REFERENCES person,
    body_sha256 bytea NOT NULL,
    created_at timestamptz NOT NULL
);
CREATE INDEX call_answer_call ON call_answer (call_id, answered_at);
SELECT make_insert_only('call_answer');

-- All answers of a call: a question that was asked again counts as it was answered last.
CREATE FUNCTION answers_of(of_call uuid, known_at timestamptz DEFAULT NULL) RETURNS jsonb LANGUAGE sql STABLE AS $$
    SELECT coalesce(jsonb_agg(jsonb_build_object('question', question, 'answer', answer) ORDER BY place), '[]')
    FROM (
        SELECT DISTINCT ON (question) question, answer, place FROM (
            SELECT told.value->>'question' AS question, told.value->>'answer' AS answer,
                '-infinity'::timestamptz AS at, told.ordinality AS place
            FROM call, jsonb_array_elements(call.answers) WITH ORDINALITY AS told WHERE call.id = of_call
            UNION ALL
            SELECT question, answer, answered_at, 1000 + row_number() OVER (ORDER BY answered_at, id)
            FROM call_answer WHERE call_id = of_call AND (known_at IS NULL OR created_at <= known_at)
        ) AS every ORDER BY question, at DESC, place DESC
    ) AS last
$$;
