-- What was seen and what was only taken as planned can be told apart, and why somebody did otherwise.

CREATE TABLE outcome_manner (
    change_id BIGINT PRIMARY KEY,
    athlete VARCHAR NOT NULL CHECK (athlete <> ''),
    assumed BOOLEAN NOT NULL,
    why VARCHAR NOT NULL CHECK (why IN ('', 'late', 'sore', 'told to', 'other'))
);
COMMENT ON TABLE outcome_manner IS 'How what was done of a choice is known, and why it was not as planned; one row for a record that has something to say of it.';
COMMENT ON COLUMN outcome_manner.change_id IS 'The record, in plan_outcome_change.';
COMMENT ON COLUMN outcome_manner.athlete IS 'For whom the choice was.';
COMMENT ON COLUMN outcome_manner.assumed IS 'Whether it was taken as planned for all who were left, and nobody looked.';
COMMENT ON COLUMN outcome_manner.why IS 'Why it was not as planned: late, sore, told to or other; empty where nobody said.';
