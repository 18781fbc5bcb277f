-- In the night in which clocks go back an hour is on the wall twice: two sessions at the same wall
-- time are told apart by their offset from UTC. A session is told by athlete, measure, start and
-- turn, as an offset can become known later and DuckDB changes nothing that is part of a key.
-- The tables that refer to it are made anew with it.

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
