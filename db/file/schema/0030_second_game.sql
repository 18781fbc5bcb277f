-- A day's second game holds beside the first: each plan takes the place of its own kind only.

CREATE TABLE second_game_plan (
    plan_id BIGINT PRIMARY KEY REFERENCES plan (plan_id),
    athlete VARCHAR NOT NULL REFERENCES athlete (athlete)
);
COMMENT ON TABLE second_game_plan IS 'Choices that are for the second game of their day; all others are for the first, or for training.';
COMMENT ON COLUMN second_game_plan.plan_id IS 'The choice.';
COMMENT ON COLUMN second_game_plan.athlete IS 'Whose choice.';

-- A choice that both games of a day named, as it said the same, stays the first one's.
INSERT INTO second_game_plan
SELECT DISTINCT p.plan_id, p.athlete
FROM game_athlete m JOIN plan p ON p.plan_id = m.plan_id
JOIN game_course c ON c.game_id = m.game_id AND c.earlier_ended_at IS NOT NULL
WHERE p.plan_id NOT IN (
    SELECT n.plan_id FROM game_athlete n LEFT JOIN game_course d ON d.game_id = n.game_id
    WHERE n.plan_id IS NOT NULL AND d.earlier_ended_at IS NULL
);

CREATE VIEW plan_detail AS
SELECT p.*, a.name, s.plan_id IS NOT NULL AS second_game
FROM plan p JOIN athlete a ON a.athlete = p.athlete
LEFT JOIN second_game_plan s ON s.plan_id = p.plan_id;
COMMENT ON VIEW plan_detail IS 'Every choice with the athlete''s name, and whether it is for the second game of its day.';

CREATE OR REPLACE VIEW plan_in_force AS
SELECT * FROM plan_detail WHERE plan_id IN (
    SELECT max(plan_id) FROM plan_detail GROUP BY day, athlete, measure, second_game
);
COMMENT ON VIEW plan_in_force IS 'The newest choice for each day, athlete and measure; that for a second game beside that for the first.';

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
    LEFT JOIN game_course d ON d.game_id = n.game_id
    GROUP BY h.day, h.measure, n.athlete, d.earlier_ended_at IS NULL
);
COMMENT ON VIEW game_in_force IS 'Athletes of the newest plan of a game for each day, athlete and measure, and of the newest of a second game; those away are left out.';
