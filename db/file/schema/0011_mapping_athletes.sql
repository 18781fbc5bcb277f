-- What a file calls an athlete, apart from the mapping, as whoever reads it sees some athletes only.

CREATE TABLE mapping_athlete (
    mapping VARCHAR NOT NULL CHECK (mapping <> ''),
    written VARCHAR NOT NULL CHECK (written <> ''),
    athlete VARCHAR NOT NULL,
    PRIMARY KEY (mapping, written)
);
COMMENT ON TABLE mapping_athlete IS 'Athletes whom a file with other columns calls otherwise than by their code.';
COMMENT ON COLUMN mapping_athlete.mapping IS 'The mapping that reads the file.';
COMMENT ON COLUMN mapping_athlete.written IS 'What the file calls the athlete.';
COMMENT ON COLUMN mapping_athlete.athlete IS 'Code of the athlete.';
