-- Two entries that turned out to be one athlete: which rows went from one to the other, so that it
-- can be undone.

CREATE TABLE athlete_merge (
    merge_id BIGINT PRIMARY KEY,
    athlete VARCHAR NOT NULL CHECK (athlete <> ''),
    other_athlete VARCHAR NOT NULL CHECK (other_athlete <> ''),
    was_active BOOLEAN NOT NULL,
    merged_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> ''),
    CHECK (athlete <> other_athlete)
);
COMMENT ON TABLE athlete_merge IS 'Entries of athletes that were merged into others and are still merged.';
COMMENT ON COLUMN athlete_merge.merge_id IS 'Number of the merge.';
COMMENT ON COLUMN athlete_merge.athlete IS 'The entry whose rows went to the other; it is kept, and has left.';
COMMENT ON COLUMN athlete_merge.other_athlete IS 'The entry that has the rows now.';
COMMENT ON COLUMN athlete_merge.was_active IS 'Whether the first was active before.';
COMMENT ON COLUMN athlete_merge.merged_at IS 'When it was done.';
COMMENT ON COLUMN athlete_merge.person IS 'Who did it.';

CREATE TABLE merged_row (
    merge_id BIGINT NOT NULL,
    kind VARCHAR NOT NULL CHECK (kind <> ''),
    row_key VARCHAR NOT NULL CHECK (row_key <> ''),
    PRIMARY KEY (merge_id, kind, row_key)
);
COMMENT ON TABLE merged_row IS 'The rows that went from one entry to another in a merge.';
COMMENT ON COLUMN merged_row.merge_id IS 'The merge.';
COMMENT ON COLUMN merged_row.kind IS 'The table of the row.';
COMMENT ON COLUMN merged_row.row_key IS 'What tells the row from the others of its table.';
