-- The rest between efforts as it was done: in a group that takes turns it is longer than prescribed.
-- DuckDB adds no column with a check, so the table is made anew, and those that refer to it with it.

CREATE TEMPORARY TABLE kept_session AS SELECT * FROM session;
CREATE TEMPORARY TABLE kept_effort AS SELECT * FROM effort;
CREATE TEMPORARY TABLE kept_effort_change AS SELECT * FROM effort_change;
CREATE TEMPORARY TABLE kept_session_peak AS SELECT * FROM session_peak;
DROP TABLE session_peak;
DROP TABLE effort_change;
DROP TABLE effort;
DROP TABLE session;

CREATE TABLE session (
    session_id BIGINT PRIMARY KEY DEFAULT nextval('session_id_sequence'),
    athlete VARCHAR NOT NULL REFERENCES athlete (athlete),
    measure VARCHAR NOT NULL REFERENCES measure (measure),
    started_at TIMESTAMP NOT NULL CHECK (started_at >= TIMESTAMP '1950-01-01'),
    utc_offset_minutes INTEGER CHECK (utc_offset_minutes BETWEEN -1439 AND 1439),
    kind VARCHAR NOT NULL DEFAULT 'routine' CHECK (kind IN ('routine', 'fade')),
    context VARCHAR CHECK (context IN ('training', 'game', 'test', 'lifting')),
    general_minutes DOUBLE CHECK (general_minutes BETWEEN 0 AND 240),
    rest_minutes DOUBLE CHECK (rest_minutes BETWEEN 0 AND 1440),
    ambient_c DOUBLE CHECK (ambient_c BETWEEN -50 AND 60),
    days_since_game DOUBLE CHECK (days_since_game BETWEEN 0 AND 3650),
    load_kg DOUBLE CHECK (load_kg BETWEEN 0 AND 1000),
    planned_volume DOUBLE CHECK (planned_volume BETWEEN 0 AND 10000),
    freshness DOUBLE CHECK (freshness BETWEEN 0 AND 10),
    joints DOUBLE CHECK (joints BETWEEN 0 AND 10),
    mobility DOUBLE CHECK (mobility BETWEEN 0 AND 10),
    pain BOOLEAN,
    note VARCHAR CHECK (note <> ''),
    turn INTEGER NOT NULL DEFAULT 1 CHECK (turn >= 1),
    effort_rest_seconds DOUBLE CHECK (effort_rest_seconds BETWEEN 0 AND 3600),
    UNIQUE (athlete, measure, started_at, turn)
);
COMMENT ON TABLE session IS 'One athlete, one measure, one start time. A fact is NULL when nobody stated it.';
COMMENT ON COLUMN session.session_id IS 'Number of the session.';
COMMENT ON COLUMN session.athlete IS 'Whose session.';
COMMENT ON COLUMN session.measure IS 'What was measured.';
COMMENT ON COLUMN session.started_at IS 'Start in local wall time.';
COMMENT ON COLUMN session.utc_offset_minutes IS 'Offset from UTC in minutes, where it was written with the start.';
COMMENT ON COLUMN session.kind IS 'routine, or fade: repeated maximal efforts until performance fades.';
COMMENT ON COLUMN session.context IS 'training, game, test or lifting.';
COMMENT ON COLUMN session.general_minutes IS 'Minutes of general warm-up before the volume counted.';
COMMENT ON COLUMN session.rest_minutes IS 'Minutes between the end of the warm-up and the first effort.';
COMMENT ON COLUMN session.ambient_c IS 'Air temperature in degrees Celsius.';
COMMENT ON COLUMN session.days_since_game IS 'Days since the last game.';
COMMENT ON COLUMN session.load_kg IS 'Load in kg, for bar speed.';
COMMENT ON COLUMN session.planned_volume IS 'Warm-up volume that was planned, in the volume unit of the measure.';
COMMENT ON COLUMN session.freshness IS 'How fresh the athlete feels, 0 to 10.';
COMMENT ON COLUMN session.joints IS 'How good the joints feel, 0 to 10.';
COMMENT ON COLUMN session.mobility IS 'How easily positions are reached, 0 to 10.';
COMMENT ON COLUMN session.pain IS 'Whether the athlete has pain.';
COMMENT ON COLUMN session.note IS 'Free text.';
COMMENT ON COLUMN session.turn IS 'First, second ... of the sessions at this wall time, which have different offsets from UTC; nearly always 1.';
COMMENT ON COLUMN session.effort_rest_seconds IS 'Seconds from one effort to the next as done, the median; more than prescribed where a group takes turns.';

CREATE TABLE effort (
    effort_id BIGINT PRIMARY KEY DEFAULT nextval('effort_id_sequence'),
    session_id BIGINT NOT NULL REFERENCES session (session_id),
    effort INTEGER NOT NULL CHECK (effort BETWEEN 1 AND 10000),
    value DOUBLE NOT NULL CHECK (isfinite(value) AND value > 0),
    volume DOUBLE NOT NULL CHECK (volume BETWEEN 0 AND 10000),
    excluded VARCHAR CHECK (excluded <> ''),
    batch_id BIGINT,
    revision BIGINT NOT NULL CHECK (revision >= 1),
    UNIQUE (session_id, effort)
);
COMMENT ON TABLE effort IS 'Single attempts. Never deleted or overwritten: effort_change keeps what stood before.';
COMMENT ON COLUMN effort.effort_id IS 'Number of the row.';
COMMENT ON COLUMN effort.session_id IS 'The session.';
COMMENT ON COLUMN effort.effort IS 'First, second, third attempt of the session.';
COMMENT ON COLUMN effort.value IS 'Value in the unit of the measure.';
COMMENT ON COLUMN effort.volume IS 'What the athlete had done before it, in the volume unit of the measure.';
COMMENT ON COLUMN effort.excluded IS 'Why the effort is not used; NULL when it is used.';
COMMENT ON COLUMN effort.batch_id IS 'The import that stored it; NULL when it was typed in.';
COMMENT ON COLUMN effort.revision IS 'Revision of the store that stored or last changed the effort or the facts of its session.';

CREATE TABLE effort_change (
    change_id BIGINT PRIMARY KEY DEFAULT nextval('effort_change_id_sequence'),
    effort_id BIGINT NOT NULL REFERENCES effort (effort_id),
    changed_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> ''),
    reason VARCHAR NOT NULL CHECK (reason <> ''),
    old_value DOUBLE NOT NULL CHECK (isfinite(old_value) AND old_value > 0),
    new_value DOUBLE NOT NULL CHECK (isfinite(new_value) AND new_value > 0),
    old_excluded VARCHAR,
    new_excluded VARCHAR
);
COMMENT ON TABLE effort_change IS 'Corrections, exclusions and re-inclusions of efforts: what stood before, who, when and why.';
COMMENT ON COLUMN effort_change.change_id IS 'Number of the change.';
COMMENT ON COLUMN effort_change.effort_id IS 'The effort.';
COMMENT ON COLUMN effort_change.changed_at IS 'When it was changed.';
COMMENT ON COLUMN effort_change.person IS 'Who changed it.';
COMMENT ON COLUMN effort_change.reason IS 'Why it was changed.';
COMMENT ON COLUMN effort_change.old_value IS 'Value before.';
COMMENT ON COLUMN effort_change.new_value IS 'Value after.';
COMMENT ON COLUMN effort_change.old_excluded IS 'Reason for exclusion before; NULL when the effort was used.';
COMMENT ON COLUMN effort_change.new_excluded IS 'Reason for exclusion after; NULL when the effort is used.';

CREATE TABLE session_peak (
    fit_id BIGINT NOT NULL REFERENCES fit (fit_id),
    session_id BIGINT NOT NULL REFERENCES session (session_id),
    peak_value DOUBLE NOT NULL CHECK (isfinite(peak_value) AND peak_value > 0),
    PRIMARY KEY (fit_id, session_id)
);
COMMENT ON TABLE session_peak IS 'What a fit estimates the athlete would have shown at the peak on the day of a session.';
COMMENT ON COLUMN session_peak.fit_id IS 'The fit.';
COMMENT ON COLUMN session_peak.session_id IS 'The session.';
COMMENT ON COLUMN session_peak.peak_value IS 'Estimated value at the peak, in the unit of the measure.';

INSERT INTO session BY NAME SELECT * FROM kept_session;
INSERT INTO effort BY NAME SELECT * FROM kept_effort;
INSERT INTO effort_change BY NAME SELECT * FROM kept_effort_change;
INSERT INTO session_peak BY NAME SELECT * FROM kept_session_peak;
DROP TABLE kept_session;
DROP TABLE kept_effort;
DROP TABLE kept_effort_change;
DROP TABLE kept_session_peak;

CREATE OR REPLACE VIEW effort_detail AS
SELECT s.athlete, s.measure, s.session_id, s.started_at, s.utc_offset_minutes, s.kind, s.context,
       e.effort_id, e.effort, e.value, e.volume, e.excluded, e.batch_id, e.revision,
       s.general_minutes, s.rest_minutes, s.effort_rest_seconds, s.ambient_c, s.days_since_game,
       s.load_kg, s.planned_volume, s.freshness, s.joints, s.mobility, s.pain, s.note
FROM effort e JOIN session s ON s.session_id = e.session_id;
COMMENT ON VIEW effort_detail IS 'Every effort, used or not, with the facts of its session.';

CREATE OR REPLACE VIEW session_overview AS
SELECT s.session_id, s.athlete, a.name, s.measure, s.started_at, s.kind, s.context,
       count(e.effort_id) AS efforts,
       count(e.effort_id) FILTER (e.excluded IS NOT NULL) AS excluded_efforts,
       max(e.volume) AS largest_volume,
       min(e.value) FILTER (e.excluded IS NULL) AS lowest_value,
       max(e.value) FILTER (e.excluded IS NULL) AS highest_value,
       s.general_minutes, s.rest_minutes, s.effort_rest_seconds, s.ambient_c, s.days_since_game,
       s.load_kg, s.planned_volume, s.freshness, s.joints, s.mobility, s.pain, s.note
FROM session s JOIN athlete a ON a.athlete = s.athlete
JOIN effort e ON e.session_id = s.session_id
GROUP BY ALL;
COMMENT ON VIEW session_overview IS 'Every session with its facts, its counts of efforts and the range of its usable values.';

CREATE OR REPLACE VIEW fitted_effort AS
SELECT o.*, s.general_minutes, s.rest_minutes, s.effort_rest_seconds, s.ambient_c,
       s.days_since_game, hour(s.started_at) + minute(s.started_at) / 60.0 AS hour,
       s.freshness AS readiness
FROM observation o JOIN session s ON s.session_id = o.session_id;
COMMENT ON VIEW fitted_effort IS 'Usable efforts with the facts of their sessions that a fit takes in; freshness as felt stands for readiness.';

CREATE OR REPLACE VIEW test_detail AS
SELECT t.session_id, t.round_id, t.place, s.athlete, a.name, s.measure, s.started_at, s.kind,
       s.pain, s.effort_rest_seconds, t.first_volume, t.stop_share, t.stop_in_a_row, t.begun_at,
       t.person, t.ended_at, t.ended_by, t.ended_because, m.method, m.device, m.distance_m,
       (SELECT count(*) FROM effort e WHERE e.session_id = t.session_id) AS efforts,
       l.most_efforts
FROM test_run t JOIN session s ON s.session_id = t.session_id
JOIN athlete a ON a.athlete = s.athlete
JOIN session_method m ON m.session_id = t.session_id
LEFT JOIN test_limit l ON l.session_id = t.session_id;
COMMENT ON VIEW test_detail IS 'Tests run effort by effort, open or ended, with athlete, measure and method.';
