-- Whether an athlete may be tested and advised, when there are games, how a measure is done, and
-- how far a test may go.

CREATE SEQUENCE status_id_sequence;

CREATE TABLE athlete_status (
    status_id BIGINT PRIMARY KEY DEFAULT nextval('status_id_sequence'),
    athlete VARCHAR NOT NULL,
    status VARCHAR NOT NULL CHECK (status IN ('fit', 'modified', 'out')),
    since DATE NOT NULL,
    reason VARCHAR NOT NULL DEFAULT '',
    revision BIGINT NOT NULL,
    person VARCHAR NOT NULL CHECK (person <> ''),
    CHECK (status <> 'modified' OR reason <> '')
);
COMMENT ON TABLE athlete_status IS 'What staff said of how athletes are; the newest by day counts, older ones are kept.';
COMMENT ON COLUMN athlete_status.status_id IS 'Number of what was said.';
COMMENT ON COLUMN athlete_status.athlete IS 'Of whom.';
COMMENT ON COLUMN athlete_status.status IS 'fit; modified: trains with limits; out: neither tested nor advised.';
COMMENT ON COLUMN athlete_status.since IS 'From which day on.';
COMMENT ON COLUMN athlete_status.reason IS 'A short reason for staff; it leaves their pages in nothing but the athlete''s own data.';
COMMENT ON COLUMN athlete_status.revision IS 'Revision of the store that said it.';
COMMENT ON COLUMN athlete_status.person IS 'Who said it.';

CREATE TABLE measure_protocol (
    measure VARCHAR PRIMARY KEY,
    effort VARCHAR NOT NULL DEFAULT '',
    rest_seconds DOUBLE CHECK (rest_seconds BETWEEN 0 AND 3600),
    arms VARCHAR NOT NULL DEFAULT '',
    depth VARCHAR NOT NULL DEFAULT '',
    ball VARCHAR NOT NULL DEFAULT '',
    beginning VARCHAR NOT NULL DEFAULT '',
    surface VARCHAR NOT NULL DEFAULT '',
    shoes VARCHAR NOT NULL DEFAULT ''
);
COMMENT ON TABLE measure_protocol IS 'How a measure is done, where a director said so; empty parts have the usual words of their kind.';
COMMENT ON COLUMN measure_protocol.measure IS 'The measure.';
COMMENT ON COLUMN measure_protocol.effort IS 'What one effort is, such as maximal countermovement jumps.';
COMMENT ON COLUMN measure_protocol.rest_seconds IS 'Prescribed rest between two efforts.';
COMMENT ON COLUMN measure_protocol.arms IS 'What the arms do.';
COMMENT ON COLUMN measure_protocol.depth IS 'How deep.';
COMMENT ON COLUMN measure_protocol.ball IS 'Which ball.';
COMMENT ON COLUMN measure_protocol.beginning IS 'From where and how it begins.';
COMMENT ON COLUMN measure_protocol.surface IS 'On what.';
COMMENT ON COLUMN measure_protocol.shoes IS 'In which shoes.';

CREATE TABLE test_limit (
    session_id BIGINT PRIMARY KEY,
    most_efforts INTEGER CHECK (most_efforts >= 1),
    reason VARCHAR NOT NULL DEFAULT ''
);
COMMENT ON TABLE test_limit IS 'How far a test that runs may go, and why it was begun although something spoke against it.';
COMMENT ON COLUMN test_limit.session_id IS 'The session of the test.';
COMMENT ON COLUMN test_limit.most_efforts IS 'The test is over after so many efforts; NULL is no limit.';
COMMENT ON COLUMN test_limit.reason IS 'Why it was begun near a game or in a full week; empty where nothing spoke against it.';

CREATE OR REPLACE VIEW test_detail AS
SELECT t.session_id, t.round_id, t.place, s.athlete, a.name, s.measure, s.started_at, s.kind,
       s.pain, t.first_volume, t.stop_share, t.stop_in_a_row, t.begun_at, t.person, t.ended_at,
       t.ended_by, t.ended_because, m.method, m.device, m.distance_m,
       (SELECT count(*) FROM effort e WHERE e.session_id = t.session_id) AS efforts,
       l.most_efforts
FROM test_run t JOIN session s ON s.session_id = t.session_id
JOIN athlete a ON a.athlete = s.athlete
JOIN session_method m ON m.session_id = t.session_id
LEFT JOIN test_limit l ON l.session_id = t.session_id;
COMMENT ON VIEW test_detail IS 'Tests run effort by effort, open or ended, with athlete, measure and method.';

CREATE VIEW athlete_standing AS
WITH said AS (
    SELECT * FROM athlete_status
    QUALIFY row_number() OVER (PARTITION BY athlete ORDER BY since DESC, status_id DESC) = 1
), answered AS (
    SELECT s.athlete, s.started_at::DATE AS day, s.pain,
           coalesce((SELECT min(e.revision) FROM effort e WHERE e.session_id = s.session_id), 0)
               AS revision
    FROM session s WHERE s.pain IS NOT NULL
    QUALIFY row_number() OVER (
        PARTITION BY s.athlete ORDER BY s.started_at DESC, s.pain DESC, s.session_id DESC) = 1
)
SELECT a.athlete, a.name, coalesce(s.status, 'fit') AS status, s.since,
       coalesce(s.reason, '') AS reason,
       CASE WHEN p.pain AND (s.since IS NULL OR s.since < p.day
                             OR (s.since = p.day AND s.revision < p.revision))
            THEN p.day END AS pain_day
FROM athlete a LEFT JOIN said s ON s.athlete = a.athlete
LEFT JOIN answered p ON p.athlete = a.athlete;
COMMENT ON VIEW athlete_standing IS 'How every athlete is: what staff said last, and the day of pain that nobody has lifted since.';

CREATE VIEW athlete_game AS
WITH own AS (
    SELECT athlete, starts_at FROM game_in_force
    UNION SELECT athlete, started_at FROM session WHERE context = 'game'
), team AS (
    SELECT athlete, squad FROM athlete_squad
    UNION ALL SELECT athlete, '' FROM athlete WHERE athlete NOT IN (SELECT athlete FROM athlete_squad)
)
SELECT DISTINCT m.athlete, o.starts_at
FROM own o JOIN team t ON t.athlete = o.athlete JOIN team m ON m.squad = t.squad;
COMMENT ON VIEW athlete_game IS 'Games of each athlete: planned or measured in, by themselves or somebody of the same squad.';
