-- Tests run effort by effort: what belongs to a test beside its session, and what was taken back.

CREATE SEQUENCE round_id_sequence;

CREATE TABLE test_run (
    session_id BIGINT PRIMARY KEY,
    round_id BIGINT NOT NULL,
    place INTEGER NOT NULL CHECK (place >= 1),
    first_volume DOUBLE NOT NULL CHECK (first_volume BETWEEN 0 AND 10000),
    stop_share DOUBLE NOT NULL CHECK (stop_share > 0 AND stop_share < 1),
    stop_in_a_row INTEGER NOT NULL CHECK (stop_in_a_row BETWEEN 1 AND 20),
    begun_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> ''),
    ended_at TIMESTAMPTZ,
    ended_by VARCHAR CHECK (ended_by <> ''),
    ended_because VARCHAR CHECK (ended_because <> ''),
    CHECK ((ended_at IS NULL) = (ended_by IS NULL))
);
COMMENT ON TABLE test_run IS 'Sessions whose efforts are stored one by one while the test runs; its facts stand with the session.';
COMMENT ON COLUMN test_run.session_id IS 'The session; it has no efforts before the first is accepted.';
COMMENT ON COLUMN test_run.round_id IS 'Tests with the same number were begun together and take turns.';
COMMENT ON COLUMN test_run.place IS 'Place in the order of turns.';
COMMENT ON COLUMN test_run.first_volume IS 'Volume done before the first effort, in the volume unit of the measure; 0 in a fade test.';
COMMENT ON COLUMN test_run.stop_share IS 'An effort is low when it is below this share of the best so far.';
COMMENT ON COLUMN test_run.stop_in_a_row IS 'A fade test is over after so many low efforts in a row.';
COMMENT ON COLUMN test_run.begun_at IS 'When it was begun.';
COMMENT ON COLUMN test_run.person IS 'Who began it and confirmed that the athlete is cleared and free of pain.';
COMMENT ON COLUMN test_run.ended_at IS 'When it was ended; NULL while it is open.';
COMMENT ON COLUMN test_run.ended_by IS 'Who ended it.';
COMMENT ON COLUMN test_run.ended_because IS 'Why, if said.';

CREATE TABLE session_method (
    session_id BIGINT PRIMARY KEY,
    method VARCHAR NOT NULL CHECK (method IN ('value', 'flight time', 'distance and time')),
    device VARCHAR NOT NULL DEFAULT '',
    distance_m DOUBLE CHECK (isfinite(distance_m) AND distance_m > 0),
    CHECK ((method = 'distance and time') = (distance_m IS NOT NULL))
);
COMMENT ON TABLE session_method IS 'How the values of a session were measured; values of different methods or devices do not compare.';
COMMENT ON COLUMN session_method.session_id IS 'The session.';
COMMENT ON COLUMN session_method.method IS 'value: typed as it stands; flight time: a height from seconds in the air; distance and time: a speed.';
COMMENT ON COLUMN session_method.device IS 'Device or setting in free words; empty when not said.';
COMMENT ON COLUMN session_method.distance_m IS 'Distance in metres over which the time was taken, for a speed.';

CREATE TABLE undone_effort (
    effort_id BIGINT PRIMARY KEY,
    session_id BIGINT NOT NULL,
    effort INTEGER NOT NULL CHECK (effort >= 1),
    value DOUBLE NOT NULL,
    volume DOUBLE NOT NULL,
    revision BIGINT NOT NULL CHECK (revision >= 1),
    undone_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> '')
);
COMMENT ON TABLE undone_effort IS 'Efforts that were never made: accepted by a slip in a running test and taken back at once.';
COMMENT ON COLUMN undone_effort.effort_id IS 'Number that the effort had.';
COMMENT ON COLUMN undone_effort.session_id IS 'The session.';
COMMENT ON COLUMN undone_effort.effort IS 'First, second, third attempt of the session.';
COMMENT ON COLUMN undone_effort.value IS 'Value in the unit of the measure.';
COMMENT ON COLUMN undone_effort.volume IS 'Volume that stood before it.';
COMMENT ON COLUMN undone_effort.revision IS 'Revision of the store that had stored it.';
COMMENT ON COLUMN undone_effort.undone_at IS 'When it was taken back.';
COMMENT ON COLUMN undone_effort.person IS 'Who took it back.';

CREATE TABLE fit_learned (
    fit_id BIGINT PRIMARY KEY,
    learned_json VARCHAR NOT NULL CHECK (learned_json <> '')
);
COMMENT ON TABLE fit_learned IS 'What a fit learned of the squad as a whole, so that a new session can be folded in without a new fit.';
COMMENT ON COLUMN fit_learned.fit_id IS 'The fit.';
COMMENT ON COLUMN fit_learned.learned_json IS 'Sizes of the noise and the squad''s distribution as JSON; nothing in it is about one athlete.';

CREATE VIEW test_detail AS
SELECT t.session_id, t.round_id, t.place, s.athlete, a.name, s.measure, s.started_at, s.kind,
       s.pain, t.first_volume, t.stop_share, t.stop_in_a_row, t.begun_at, t.person, t.ended_at,
       t.ended_by, t.ended_because, m.method, m.device, m.distance_m,
       (SELECT count(*) FROM effort e WHERE e.session_id = t.session_id) AS efforts
FROM test_run t JOIN session s ON s.session_id = t.session_id
JOIN athlete a ON a.athlete = s.athlete
JOIN session_method m ON m.session_id = t.session_id;
COMMENT ON VIEW test_detail IS 'Tests run effort by effort, open or ended, with athlete, measure and method.';

CREATE VIEW method_detail AS
SELECT s.athlete, s.measure, s.started_at, m.*
FROM session_method m JOIN session s ON s.session_id = m.session_id;
COMMENT ON VIEW method_detail IS 'How the values of each session were measured, where it was said.';

CREATE OR REPLACE VIEW changed_since_fit AS
SELECT l.measure, l.fit_id,
       (SELECT count(*) FROM effort_detail d
        WHERE d.measure = l.measure AND d.revision > l.data_revision)
       + (SELECT count(*) FROM taken_back_effort t
          JOIN taken_back_import b ON b.batch_id = t.batch_id
          JOIN session s ON s.session_id = t.session_id
          WHERE s.measure = l.measure AND t.revision <= l.data_revision
          AND b.revision > l.data_revision)
       + (SELECT count(*) FROM undone_effort u JOIN session s ON s.session_id = u.session_id
          WHERE s.measure = l.measure AND u.revision <= l.data_revision
          AND u.undone_at > l.fitted_at) AS efforts
FROM latest_fit l;
COMMENT ON VIEW changed_since_fit IS 'Efforts stored, changed or taken back since the newest fit of each measure.';
