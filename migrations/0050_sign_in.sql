-- How people sign in to the pages.
CREATE TABLE sign_in (
    person_id uuid PRIMARY KEY REFERENCES person,
    name text NOT NULL CHECK (name = lower(name)),
    -- argon2id, as a PHC string; none: whoever reaches the service may sign in as this person, which is for the demo's people
    password text,
    set_at timestamptz NOT NULL
);
CREATE UNIQUE INDEX sign_in_name ON sign_in (name);

-- A session is a token that a browser holds: it ends when it rests until then.
ALTER TABLE token ADD COLUMN rests_until timestamptz;

SELECT keep_in_range();
