-- Imports that were taken back: what they had stored, and what tells whether they still can be.

CREATE TABLE taken_back_import (
    batch_id BIGINT PRIMARY KEY,
    taken_back_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> ''),
    reason VARCHAR NOT NULL CHECK (reason <> ''),
    revision BIGINT NOT NULL CHECK (revision >= 1)
);
COMMENT ON TABLE taken_back_import IS 'Imports that were taken back whole: who, when and why. They stay listed with their counts.';
COMMENT ON COLUMN taken_back_import.batch_id IS 'The import.';
COMMENT ON COLUMN taken_back_import.taken_back_at IS 'When it was taken back.';
COMMENT ON COLUMN taken_back_import.person IS 'Who took it back.';
COMMENT ON COLUMN taken_back_import.reason IS 'Why.';
COMMENT ON COLUMN taken_back_import.revision IS 'Revision of the store that took it back.';

CREATE TABLE taken_back_effort (
    effort_id BIGINT PRIMARY KEY,
    batch_id BIGINT NOT NULL,
    session_id BIGINT NOT NULL,
    effort INTEGER NOT NULL,
    value DOUBLE NOT NULL,
    volume DOUBLE NOT NULL,
    excluded VARCHAR,
    revision BIGINT NOT NULL
);
COMMENT ON TABLE taken_back_effort IS 'Efforts of imports that were taken back, as they stood: nothing uses them any more.';
COMMENT ON COLUMN taken_back_effort.effort_id IS 'Number that the effort had.';
COMMENT ON COLUMN taken_back_effort.batch_id IS 'The import.';
COMMENT ON COLUMN taken_back_effort.session_id IS 'The session.';
COMMENT ON COLUMN taken_back_effort.effort IS 'First, second, third attempt of the session.';
COMMENT ON COLUMN taken_back_effort.value IS 'Value in the unit of the measure.';
COMMENT ON COLUMN taken_back_effort.volume IS 'What the athlete had done before it, in the volume unit of the measure.';
COMMENT ON COLUMN taken_back_effort.excluded IS 'Why the effort was not used; NULL when it was used.';
COMMENT ON COLUMN taken_back_effort.revision IS 'Revision of the store that had stored it.';

CREATE TABLE import_touch (
    batch_id BIGINT NOT NULL,
    earlier_batch_id BIGINT NOT NULL,
    efforts BIGINT NOT NULL CHECK (efforts >= 1),
    PRIMARY KEY (batch_id, earlier_batch_id),
    CHECK (earlier_batch_id < batch_id)
);
COMMENT ON TABLE import_touch IS 'How many efforts of an earlier import stand in sessions that a later file names again.';
COMMENT ON COLUMN import_touch.batch_id IS 'The later import.';
COMMENT ON COLUMN import_touch.earlier_batch_id IS 'The import that had stored the efforts.';
COMMENT ON COLUMN import_touch.efforts IS 'How many of them.';

CREATE TABLE filled_fact (
    filled_by BIGINT NOT NULL,
    session_id BIGINT NOT NULL,
    fact VARCHAR NOT NULL CHECK (fact <> ''),
    PRIMARY KEY (filled_by, session_id, fact)
);
COMMENT ON TABLE filled_fact IS 'Facts that an import filled in for sessions stored before it.';
COMMENT ON COLUMN filled_fact.filled_by IS 'The import.';
COMMENT ON COLUMN filled_fact.session_id IS 'The session.';
COMMENT ON COLUMN filled_fact.fact IS 'Column of the session that had been NULL.';

-- A session that has only efforts that were taken back is no session until it is stored again.
CREATE OR REPLACE VIEW session_overview AS
SELECT s.session_id, s.athlete, a.name, s.measure, s.started_at, s.kind, s.context,
       count(e.effort_id) AS efforts,
       count(e.effort_id) FILTER (e.excluded IS NOT NULL) AS excluded_efforts,
       max(e.volume) AS largest_volume,
       min(e.value) FILTER (e.excluded IS NULL) AS lowest_value,
       max(e.value) FILTER (e.excluded IS NULL) AS highest_value,
       s.general_minutes, s.rest_minutes, s.ambient_c, s.days_since_game, s.load_kg,
       s.planned_volume, s.freshness, s.joints, s.mobility, s.pain, s.note
FROM session s JOIN athlete a ON a.athlete = s.athlete
JOIN effort e ON e.session_id = s.session_id
GROUP BY ALL;
COMMENT ON VIEW session_overview IS 'Every session with its facts, its counts of efforts and the range of its usable values.';

CREATE OR REPLACE VIEW changed_since_fit AS
SELECT l.measure, l.fit_id,
       (SELECT count(*) FROM effort_detail d
        WHERE d.measure = l.measure AND d.revision > l.data_revision)
       + (SELECT count(*) FROM taken_back_effort t
          JOIN taken_back_import b ON b.batch_id = t.batch_id
          JOIN session s ON s.session_id = t.session_id
          WHERE s.measure = l.measure AND t.revision <= l.data_revision
          AND b.revision > l.data_revision) AS efforts
FROM latest_fit l;
COMMENT ON VIEW changed_since_fit IS 'Efforts stored, changed or taken back since the newest fit of each measure.';

CREATE VIEW import_overview AS
SELECT b.batch_id, b.file, b.imported_at, b.person, b.rows_read, b.stored, b.known, b.set_aside,
       t.taken_back_at, t.person AS taken_back_by, t.reason AS taken_back_because
FROM import_batch b LEFT JOIN taken_back_import t ON t.batch_id = b.batch_id;
COMMENT ON VIEW import_overview IS 'Every import with its counts, and who took it back, when and why.';
