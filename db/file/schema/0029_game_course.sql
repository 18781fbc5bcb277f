-- How a game runs: recovery between its efforts, half-time, substitutions, and whether it is the
-- day's second one for its athletes.

CREATE TABLE game_course (
    game_id BIGINT PRIMARY KEY REFERENCES game (game_id),
    recovery_seconds DOUBLE NOT NULL DEFAULT 0 CHECK (recovery_seconds BETWEEN 0 AND 3600),
    half_time_minutes DOUBLE NOT NULL DEFAULT 0 CHECK (half_time_minutes BETWEEN 0 AND 60),
    rolling BOOLEAN NOT NULL DEFAULT FALSE,
    earlier_ended_at TIMESTAMP
);
COMMENT ON TABLE game_course IS 'How a game runs; a plan from before has no row, and nothing of this was planned for.';
COMMENT ON COLUMN game_course.game_id IS 'The game.';
COMMENT ON COLUMN game_course.recovery_seconds IS 'Recovery between two of the efforts to follow.';
COMMENT ON COLUMN game_course.half_time_minutes IS 'Minutes of half-time; 0 without one.';
COMMENT ON COLUMN game_course.rolling IS 'Whether substitutes come and go.';
COMMENT ON COLUMN game_course.earlier_ended_at IS 'When an earlier game of the day ended, in local wall time; NULL without one.';

ALTER TABLE game_athlete ADD COLUMN half_time_volume DOUBLE DEFAULT 0;
ALTER TABLE game_athlete ADD COLUMN earlier_volume DOUBLE DEFAULT 0;
COMMENT ON COLUMN game_athlete.half_time_volume IS 'Done again at the end of half-time, in the volume unit of the measure.';
COMMENT ON COLUMN game_athlete.earlier_volume IS 'Done already before an earlier game of the day, in the volume unit of the measure.';

CREATE OR REPLACE VIEW game_in_force AS
SELECT g.game_id, g.measure, g.day, g.goal, g.efforts_to_follow, g.place, g.ambient_c,
       g.general_minutes AS usual_general_minutes, g.minutes_per_effort, g.gap_minutes,
       g.free_from, g.staff, g.grouping_cost_pct, g.grouping_cost_pct_low,
       g.grouping_cost_pct_high, g.saved_at, g.person, s.starts_at, a.name, a.position, m.*
       EXCLUDE (game_id), w.volume AS wave_volume, w.rest_minutes, w.gap_cost_pct,
       w.gap_cost_pct_low, w.gap_cost_pct_high, p.advised_volume,
       p.standard_volume, p.chosen_volume, p.reason, p.done_volume, p.outcome,
       coalesce(c.recovery_seconds, 0) AS recovery_seconds,
       coalesce(c.half_time_minutes, 0) AS half_time_minutes,
       coalesce(c.rolling, FALSE) AS rolling, c.earlier_ended_at
FROM game_athlete m JOIN game g ON g.game_id = m.game_id
JOIN athlete a ON a.athlete = m.athlete
JOIN plan p ON p.plan_id = m.plan_id
JOIN game_start s ON s.game_id = m.game_id AND s.start_number = m.start_number
JOIN game_wave w ON w.game_id = m.game_id AND w.start_number = m.start_number AND w.wave = m.wave
LEFT JOIN game_course c ON c.game_id = m.game_id
WHERE (m.game_id, m.athlete) IN (
    SELECT (max(n.game_id), n.athlete) FROM game_athlete n JOIN game h ON h.game_id = n.game_id
    GROUP BY h.day, h.measure, n.athlete
);
COMMENT ON VIEW game_in_force IS 'Athletes of the newest plan of a game for each day, athlete and measure; those away are left out.';
