-- Files with other columns, read by a saved mapping; and rows set aside that are put right here.

CREATE TABLE mapping (
    mapping VARCHAR PRIMARY KEY CHECK (mapping <> ''),
    mapping_json VARCHAR NOT NULL,
    saved_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> '')
);
COMMENT ON TABLE mapping IS 'How files with other columns, other units or efforts side by side are read.';
COMMENT ON COLUMN mapping.mapping IS 'Its name.';
COMMENT ON COLUMN mapping.mapping_json IS 'Where each column comes from, with units, as JSON.';
COMMENT ON COLUMN mapping.saved_at IS 'When it was last saved.';
COMMENT ON COLUMN mapping.person IS 'Who saved it last.';

-- Side by side, one line of a file holds several efforts: set_aside_row gains the place of the
-- effort on its line, and all cells by name so that they can be put right.
CREATE TEMPORARY TABLE kept_row AS SELECT * FROM set_aside_row;
DROP VIEW set_aside_detail;
DROP TABLE set_aside_row;
CREATE TABLE set_aside_row (
    batch_id BIGINT NOT NULL REFERENCES import_batch (batch_id),
    line BIGINT NOT NULL CHECK (line >= 1),
    place INTEGER NOT NULL DEFAULT 1 CHECK (place >= 1),
    athlete VARCHAR NOT NULL,
    started_at VARCHAR NOT NULL,
    measure VARCHAR NOT NULL,
    effort VARCHAR NOT NULL,
    value VARCHAR NOT NULL,
    "column" VARCHAR NOT NULL CHECK ("column" <> ''),
    reason VARCHAR NOT NULL CHECK (reason <> ''),
    row_text VARCHAR NOT NULL,
    cells_json VARCHAR,
    PRIMARY KEY (batch_id, line, place)
);
COMMENT ON TABLE set_aside_row IS 'Rows of imported files that were not stored, as they were written, with the reason.';
COMMENT ON COLUMN set_aside_row.batch_id IS 'The import.';
COMMENT ON COLUMN set_aside_row.line IS 'Line of the file; the header is line 1.';
COMMENT ON COLUMN set_aside_row.place IS 'First, second, third row set aside of a line that holds several efforts; else 1.';
COMMENT ON COLUMN set_aside_row.athlete IS 'Athlete as written.';
COMMENT ON COLUMN set_aside_row.started_at IS 'Start of the session as written.';
COMMENT ON COLUMN set_aside_row.measure IS 'Measure as written.';
COMMENT ON COLUMN set_aside_row.effort IS 'Number of the effort as written.';
COMMENT ON COLUMN set_aside_row.value IS 'Value as written.';
COMMENT ON COLUMN set_aside_row."column" IS 'Column at fault.';
COMMENT ON COLUMN set_aside_row.reason IS 'What is wrong and what is allowed.';
COMMENT ON COLUMN set_aside_row.row_text IS 'The whole row as written.';
COMMENT ON COLUMN set_aside_row.cells_json IS 'The cells that are not empty by our names of their columns, as JSON; NULL for rows set aside before this was kept.';
INSERT INTO set_aside_row BY NAME SELECT * FROM kept_row;
DROP TABLE kept_row;

CREATE TABLE set_aside_correction (
    batch_id BIGINT NOT NULL,
    line BIGINT NOT NULL,
    place INTEGER NOT NULL,
    corrected_in BIGINT NOT NULL REFERENCES import_batch (batch_id),
    PRIMARY KEY (batch_id, line, place)
);
COMMENT ON TABLE set_aside_correction IS 'Rows set aside that were put right and imported by themselves.';
COMMENT ON COLUMN set_aside_correction.batch_id IS 'The import that set the row aside.';
COMMENT ON COLUMN set_aside_correction.line IS 'Its line.';
COMMENT ON COLUMN set_aside_correction.place IS 'Its place on the line.';
COMMENT ON COLUMN set_aside_correction.corrected_in IS 'The import of the corrected row: it was stored, known or set aside again there.';

CREATE VIEW set_aside_detail AS
SELECT r.batch_id, b.file, r.line, r.place, r.athlete, r.started_at, r.measure, r.effort, r.value,
       r."column", r.reason, r.row_text, r.cells_json, b.imported_at AS "at",
       r.batch_id IN (SELECT max(batch_id) FROM import_batch WHERE batch_id NOT IN
                      (SELECT batch_id FROM taken_back_import) GROUP BY sha256)
       AND NOT EXISTS (
           SELECT 1 FROM set_aside_correction c JOIN import_batch o ON o.batch_id = c.batch_id
           WHERE o.sha256 = b.sha256 AND c.line = r.line AND c.place = r.place
           AND c.corrected_in NOT IN (SELECT batch_id FROM taken_back_import)) AS in_force
FROM set_aside_row r JOIN import_batch b ON b.batch_id = r.batch_id;
COMMENT ON VIEW set_aside_detail IS 'Rows set aside; in force are those of the last import of each file that were not corrected since.';

COMMENT ON COLUMN import_batch.sha256 IS 'SHA-256 in hexadecimal: of the bytes of the file, of these and the name of the mapping that read it, or of rows that were corrected.';
