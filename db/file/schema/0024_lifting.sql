-- Which speed of the bar was measured and how the bar was led, so that no line of another speed
-- is read; the smallest worthwhile change of bar speed; the library read a second time.

CREATE TEMPORARY TABLE kept_lifted_set AS SELECT * FROM lifted_set;
DROP TABLE lifted_set;
CREATE TABLE lifted_set (
    set_id BIGINT PRIMARY KEY DEFAULT nextval('lifted_set_id_sequence'),
    athlete VARCHAR NOT NULL CHECK (athlete <> ''),
    exercise VARCHAR NOT NULL CHECK (exercise <> ''),
    lifted_on DATE NOT NULL,
    load_kg DOUBLE NOT NULL CHECK (isfinite(load_kg) AND load_kg > 0),
    bar_speed_m_s DOUBLE NOT NULL CHECK (bar_speed_m_s BETWEEN 0.05 AND 6),
    speed_kind VARCHAR NOT NULL DEFAULT 'mean'
        CHECK (speed_kind IN ('mean', 'mean propulsive', 'peak')),
    bar VARCHAR CHECK (bar IN ('free', 'guided')),
    struck_out BOOLEAN NOT NULL DEFAULT false,
    saved_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> '')
);
INSERT INTO lifted_set BY NAME SELECT * FROM kept_lifted_set;
DROP TABLE kept_lifted_set;
COMMENT ON TABLE lifted_set IS 'An athlete''s own sets with bar speed: what a load-velocity line is fitted to.';
COMMENT ON COLUMN lifted_set.set_id IS 'Number of the set.';
COMMENT ON COLUMN lifted_set.athlete IS 'Who lifted.';
COMMENT ON COLUMN lifted_set.exercise IS 'The exercise.';
COMMENT ON COLUMN lifted_set.lifted_on IS 'Day.';
COMMENT ON COLUMN lifted_set.load_kg IS 'Load in kg, bar included.';
COMMENT ON COLUMN lifted_set.bar_speed_m_s IS 'Speed of the bar in the fastest repetition, in m/s.';
COMMENT ON COLUMN lifted_set.speed_kind IS 'Which speed: mean of the way up, mean of its propulsive part, or peak.';
COMMENT ON COLUMN lifted_set.bar IS 'free or guided by rails; NULL when nobody said.';
COMMENT ON COLUMN lifted_set.struck_out IS 'Whether it counts no longer.';
COMMENT ON COLUMN lifted_set.saved_at IS 'When it was stored.';
COMMENT ON COLUMN lifted_set.person IS 'Who stored it.';

-- Bar speed repeats within 2.2 to 10.6 % (deadlift and squat; Front Physiol
-- 2020, 11:561682, abstract): 2 % is noise. 3 to 6 % is common practice, no source.
UPDATE measure SET worthwhile_pct = 4 WHERE measure = 'bar_speed' AND worthwhile_pct = 2;

-- Common practice, no source: joints of all of these. What somebody changed stays as it is.
UPDATE exercise SET joints = 'ankle;knee;hip;spine' WHERE built_in AND exercise = 'goblet_squat';
UPDATE exercise SET joints = 'ankle;knee;hip;spine;shoulder blade;shoulder;elbow;wrist'
WHERE built_in AND exercise IN ('overhead_squat', 'power_clean', 'power_snatch', 'jerk',
    'medicine_ball_throw', 'overarm_throw');
UPDATE exercise SET joints = 'knee;hip;spine' WHERE built_in AND exercise = 'hip_thrust';
UPDATE exercise SET joints = 'knee;hip;spine;shoulder blade;shoulder'
WHERE built_in AND exercise = 'kettlebell_swing';
UPDATE exercise SET joints = 'shoulder blade;shoulder;elbow;wrist'
WHERE built_in AND exercise IN ('bench_press', 'press_up');
UPDATE exercise SET joints = 'spine;shoulder blade;shoulder;elbow;wrist'
WHERE built_in AND exercise = 'overhead_press';
UPDATE exercise SET joints = 'ankle;knee;hip;spine'
WHERE built_in AND exercise IN ('acceleration_sprint', 'flying_sprint', 'bounding', 'drop_jump');
UPDATE exercise SET joints = 'ankle;knee;hip;spine;shoulder blade;wrist'
WHERE built_in AND exercise = 'loaded_carry';
UPDATE exercise SET joints = 'spine;shoulder blade;shoulder' WHERE built_in AND exercise = 'plank';
UPDATE exercise SET joints = 'shoulder blade;shoulder'
WHERE built_in AND exercise = 'lateral_raise';

INSERT INTO exercise (exercise, name, region, joints, complexity, kind, built_in) VALUES
    ('nordic_curl', 'Nordic curl', 'lower', 'knee;hip', 2, 'single joint', true),
    ('adductor_side_plank', 'Adductor side plank', 'lower', 'hip;spine;shoulder', 2, 'single joint', true),
    ('adductor_squeeze', 'Adductor squeeze', 'lower', 'hip', 1, 'single joint', true),
    ('trap_bar_deadlift', 'Trap-bar deadlift', 'lower', 'ankle;knee;hip;spine', 2, 'hinge', true),
    ('hang_clean', 'Hang clean', 'whole', 'ankle;knee;hip;spine;shoulder blade;shoulder;elbow;wrist', 3, 'weightlifting', true),
    ('external_rotation', 'External rotation', 'upper', 'shoulder blade;shoulder', 1, 'single joint', true),
    ('change_of_direction', 'Change of direction', 'lower', 'ankle;knee;hip;spine', 3, 'sprint', true),
    ('lateral_bound', 'Lateral bound', 'lower', 'ankle;knee;hip', 2, 'jump', true)
ON CONFLICT DO NOTHING;
