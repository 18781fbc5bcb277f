-- What came of a choice may be recorded anew; what stood there before is kept.

CREATE SEQUENCE outcome_change_id_sequence;

CREATE TABLE plan_outcome_change (
    change_id BIGINT PRIMARY KEY DEFAULT nextval('outcome_change_id_sequence'),
    plan_id BIGINT NOT NULL,
    athlete VARCHAR NOT NULL CHECK (athlete <> ''),
    changed_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> ''),
    old_done_volume DOUBLE,
    new_done_volume DOUBLE,
    old_outcome DOUBLE,
    new_outcome DOUBLE
);
COMMENT ON TABLE plan_outcome_change IS 'Records of what was done and what came of a choice: what stood there before, who and when.';
COMMENT ON COLUMN plan_outcome_change.change_id IS 'Number of the record.';
COMMENT ON COLUMN plan_outcome_change.plan_id IS 'The choice.';
COMMENT ON COLUMN plan_outcome_change.athlete IS 'For whom the choice was.';
COMMENT ON COLUMN plan_outcome_change.changed_at IS 'When it was recorded.';
COMMENT ON COLUMN plan_outcome_change.person IS 'Who recorded it.';
COMMENT ON COLUMN plan_outcome_change.old_done_volume IS 'Volume done, as it stood before; NULL when nothing was recorded.';
COMMENT ON COLUMN plan_outcome_change.new_done_volume IS 'Volume done, as recorded.';
COMMENT ON COLUMN plan_outcome_change.old_outcome IS 'Best value that followed, as it stood before.';
COMMENT ON COLUMN plan_outcome_change.new_outcome IS 'Best value that followed, as recorded.';
