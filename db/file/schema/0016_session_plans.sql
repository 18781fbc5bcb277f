-- Plans of sessions: a library of exercises, their order and loads in a session, the athlete's own
-- sets with bar speed, and whether the warm-up was over.

CREATE SEQUENCE session_plan_id_sequence;
CREATE SEQUENCE lifted_set_id_sequence;

CREATE TABLE exercise (
    exercise VARCHAR PRIMARY KEY CHECK (exercise <> ''),
    name VARCHAR NOT NULL CHECK (name <> ''),
    region VARCHAR NOT NULL CHECK (region IN ('lower', 'upper', 'trunk', 'whole')),
    joints VARCHAR NOT NULL CHECK (joints <> ''),
    complexity INTEGER NOT NULL CHECK (complexity BETWEEN 1 AND 3),
    kind VARCHAR NOT NULL CHECK (kind IN ('squat', 'hinge', 'lunge', 'push', 'pull',
        'weightlifting', 'jump', 'throw', 'sprint', 'carry', 'trunk', 'single joint', 'skill')),
    built_in BOOLEAN NOT NULL DEFAULT false,
    active BOOLEAN NOT NULL DEFAULT true
);
COMMENT ON TABLE exercise IS 'The library of exercises.';
COMMENT ON COLUMN exercise.exercise IS 'Its code in files.';
COMMENT ON COLUMN exercise.name IS 'Its name as shown.';
COMMENT ON COLUMN exercise.region IS 'Part of the body that does the work: lower, upper, trunk or whole.';
COMMENT ON COLUMN exercise.joints IS 'Joints that work, separated by semicolons.';
COMMENT ON COLUMN exercise.complexity IS '1 simple, 2 some skill, 3 complex.';
COMMENT ON COLUMN exercise.kind IS 'Kind of movement.';
COMMENT ON COLUMN exercise.built_in IS 'Whether it still stands as the program brought it: common practice, no source.';
COMMENT ON COLUMN exercise.active IS 'Whether it is offered for new plans.';

CREATE TABLE session_plan (
    session_plan_id BIGINT PRIMARY KEY DEFAULT nextval('session_plan_id_sequence'),
    name VARCHAR NOT NULL CHECK (name <> ''),
    day DATE NOT NULL,
    athlete VARCHAR,
    measure VARCHAR,
    load_unit VARCHAR NOT NULL CHECK (load_unit IN ('kg', 'lb')),
    bar_load DOUBLE NOT NULL CHECK (isfinite(bar_load) AND bar_load >= 0),
    plates VARCHAR NOT NULL,
    general_minutes DOUBLE NOT NULL CHECK (isfinite(general_minutes) AND general_minutes >= 0),
    stiff BOOLEAN NOT NULL,
    static_hold_s DOUBLE NOT NULL CHECK (isfinite(static_hold_s) AND static_hold_s >= 0),
    note VARCHAR NOT NULL DEFAULT '',
    saved_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> '')
);
COMMENT ON TABLE session_plan IS 'A session of exercises with its general warm-up and its bar and plates.';
COMMENT ON COLUMN session_plan.session_plan_id IS 'Number of the plan.';
COMMENT ON COLUMN session_plan.name IS 'Its name.';
COMMENT ON COLUMN session_plan.day IS 'Day of the session.';
COMMENT ON COLUMN session_plan.athlete IS 'For whom; NULL is for nobody in particular.';
COMMENT ON COLUMN session_plan.measure IS 'Measure whose curve says what the warm-up leaves for the last sets; NULL for none.';
COMMENT ON COLUMN session_plan.load_unit IS 'Unit of all loads of the plan: kg or lb.';
COMMENT ON COLUMN session_plan.bar_load IS 'Weight of the bar; 0 where there is none.';
COMMENT ON COLUMN session_plan.plates IS 'Weights of the plates that there are in pairs, separated by semicolons; empty where there are none.';
COMMENT ON COLUMN session_plan.general_minutes IS 'Minutes of the general warm-up.';
COMMENT ON COLUMN session_plan.stiff IS 'Whether whoever trains is stiff or slow to start.';
COMMENT ON COLUMN session_plan.static_hold_s IS 'Longest static hold of one muscle in seconds; 0 for none.';
COMMENT ON COLUMN session_plan.note IS 'A note.';
COMMENT ON COLUMN session_plan.saved_at IS 'When it was last saved.';
COMMENT ON COLUMN session_plan.person IS 'Who saved it last.';

CREATE TABLE planned_exercise (
    session_plan_id BIGINT NOT NULL,
    place INTEGER NOT NULL CHECK (place >= 1),
    exercise VARCHAR NOT NULL,
    goal VARCHAR NOT NULL CHECK (goal IN ('speed', 'power', 'strength', 'growth', 'skill')),
    being_learned BOOLEAN NOT NULL,
    on_bar BOOLEAN NOT NULL,
    working_sets INTEGER NOT NULL CHECK (working_sets BETWEEN 1 AND 20),
    repetitions INTEGER NOT NULL CHECK (repetitions BETWEEN 1 AND 100),
    load DOUBLE CHECK (isfinite(load) AND load > 0),
    one_repetition_max DOUBLE CHECK (isfinite(one_repetition_max) AND one_repetition_max > 0),
    tested_load DOUBLE CHECK (isfinite(tested_load) AND tested_load > 0),
    tested_repetitions INTEGER CHECK (tested_repetitions BETWEEN 2 AND 10),
    PRIMARY KEY (session_plan_id, place),
    CHECK ((tested_load IS NULL) = (tested_repetitions IS NULL))
);
COMMENT ON TABLE planned_exercise IS 'The exercises of a session plan in order; loads are in the unit of the plan.';
COMMENT ON COLUMN planned_exercise.session_plan_id IS 'The plan.';
COMMENT ON COLUMN planned_exercise.place IS 'First, second, third exercise.';
COMMENT ON COLUMN planned_exercise.exercise IS 'The exercise.';
COMMENT ON COLUMN planned_exercise.goal IS 'What it is for.';
COMMENT ON COLUMN planned_exercise.being_learned IS 'Whether whoever trains is still learning it.';
COMMENT ON COLUMN planned_exercise.on_bar IS 'Whether its load is the bar and plates of the plan.';
COMMENT ON COLUMN planned_exercise.working_sets IS 'Working sets.';
COMMENT ON COLUMN planned_exercise.repetitions IS 'Repetitions of a working set.';
COMMENT ON COLUMN planned_exercise.load IS 'Load of a working set, bar included; NULL without load.';
COMMENT ON COLUMN planned_exercise.one_repetition_max IS 'One-repetition maximum, as given; NULL when it is estimated or not known.';
COMMENT ON COLUMN planned_exercise.tested_load IS 'Load of a submaximal set from which it is estimated.';
COMMENT ON COLUMN planned_exercise.tested_repetitions IS 'Most repetitions that were possible in that set.';

CREATE TABLE lifted_set (
    set_id BIGINT PRIMARY KEY DEFAULT nextval('lifted_set_id_sequence'),
    athlete VARCHAR NOT NULL CHECK (athlete <> ''),
    exercise VARCHAR NOT NULL CHECK (exercise <> ''),
    lifted_on DATE NOT NULL,
    load_kg DOUBLE NOT NULL CHECK (isfinite(load_kg) AND load_kg > 0),
    bar_speed_m_s DOUBLE NOT NULL CHECK (bar_speed_m_s BETWEEN 0.05 AND 6),
    struck_out BOOLEAN NOT NULL DEFAULT false,
    saved_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> '')
);
COMMENT ON TABLE lifted_set IS 'An athlete''s own sets with bar speed: what a load-velocity line is fitted to.';
COMMENT ON COLUMN lifted_set.set_id IS 'Number of the set.';
COMMENT ON COLUMN lifted_set.athlete IS 'Who lifted.';
COMMENT ON COLUMN lifted_set.exercise IS 'The exercise.';
COMMENT ON COLUMN lifted_set.lifted_on IS 'Day.';
COMMENT ON COLUMN lifted_set.load_kg IS 'Load in kg, bar included.';
COMMENT ON COLUMN lifted_set.bar_speed_m_s IS 'Mean speed of the bar in the fastest repetition, in m/s.';
COMMENT ON COLUMN lifted_set.struck_out IS 'Whether it counts no longer.';
COMMENT ON COLUMN lifted_set.saved_at IS 'When it was stored.';
COMMENT ON COLUMN lifted_set.person IS 'Who stored it.';

CREATE TABLE session_readiness (
    session_plan_id BIGINT PRIMARY KEY,
    joints BOOLEAN NOT NULL,
    positions BOOLEAN NOT NULL,
    fresh BOOLEAN NOT NULL,
    peak BOOLEAN NOT NULL,
    checked_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> '')
);
COMMENT ON TABLE session_readiness IS 'Whether the warm-up was over before the first working set, as it was last ticked.';
COMMENT ON COLUMN session_readiness.session_plan_id IS 'The plan.';
COMMENT ON COLUMN session_readiness.joints IS 'Joints feel good.';
COMMENT ON COLUMN session_readiness.positions IS 'The positions are reached.';
COMMENT ON COLUMN session_readiness.fresh IS 'Whoever trains feels fresh.';
COMMENT ON COLUMN session_readiness.peak IS 'Speed or power rises no more from set to set.';
COMMENT ON COLUMN session_readiness.checked_at IS 'When it was last ticked.';
COMMENT ON COLUMN session_readiness.person IS 'Who ticked it.';

-- Common practice, no source: regions, joints, complexities and kinds of all of these.
INSERT INTO exercise (exercise, name, region, joints, complexity, kind, built_in) VALUES
    ('back_squat', 'Back squat', 'lower', 'ankle;knee;hip;spine', 2, 'squat', true),
    ('front_squat', 'Front squat', 'lower', 'ankle;knee;hip;spine;wrist', 2, 'squat', true),
    ('goblet_squat', 'Goblet squat', 'lower', 'ankle;knee;hip', 1, 'squat', true),
    ('overhead_squat', 'Overhead squat', 'whole', 'ankle;knee;hip;spine;shoulder blade;shoulder', 3, 'squat', true),
    ('split_squat', 'Split squat', 'lower', 'ankle;knee;hip', 1, 'lunge', true),
    ('walking_lunge', 'Walking lunge', 'lower', 'ankle;knee;hip', 1, 'lunge', true),
    ('step_up', 'Step-up', 'lower', 'ankle;knee;hip', 1, 'lunge', true),
    ('deadlift', 'Deadlift', 'lower', 'knee;hip;spine', 2, 'hinge', true),
    ('romanian_deadlift', 'Romanian deadlift', 'lower', 'hip;spine', 2, 'hinge', true),
    ('hip_thrust', 'Hip thrust', 'lower', 'hip', 1, 'hinge', true),
    ('kettlebell_swing', 'Kettlebell swing', 'lower', 'hip;spine;shoulder', 2, 'hinge', true),
    ('power_clean', 'Power clean', 'whole', 'ankle;knee;hip;spine;shoulder blade;elbow;wrist', 3, 'weightlifting', true),
    ('power_snatch', 'Power snatch', 'whole', 'ankle;knee;hip;spine;shoulder blade;shoulder', 3, 'weightlifting', true),
    ('jerk', 'Jerk', 'whole', 'ankle;knee;hip;shoulder blade;shoulder;elbow', 3, 'weightlifting', true),
    ('bench_press', 'Bench press', 'upper', 'shoulder blade;shoulder;elbow', 2, 'push', true),
    ('overhead_press', 'Overhead press', 'upper', 'shoulder blade;shoulder;elbow', 2, 'push', true),
    ('press_up', 'Press-up', 'upper', 'shoulder blade;shoulder;elbow', 1, 'push', true),
    ('pull_up', 'Pull-up', 'upper', 'shoulder blade;shoulder;elbow', 2, 'pull', true),
    ('bench_pull', 'Bench pull', 'upper', 'shoulder blade;shoulder;elbow', 1, 'pull', true),
    ('bent_over_row', 'Bent-over row', 'upper', 'hip;spine;shoulder blade;shoulder;elbow', 2, 'pull', true),
    ('countermovement_jump', 'Countermovement jump', 'lower', 'ankle;knee;hip', 1, 'jump', true),
    ('loaded_jump', 'Jump with load', 'lower', 'ankle;knee;hip;spine', 2, 'jump', true),
    ('drop_jump', 'Drop jump', 'lower', 'ankle;knee;hip', 2, 'jump', true),
    ('bounding', 'Bounding', 'lower', 'ankle;knee;hip', 3, 'jump', true),
    ('medicine_ball_throw', 'Medicine ball throw', 'whole', 'hip;spine;shoulder blade;shoulder;elbow', 2, 'throw', true),
    ('overarm_throw', 'Overarm throw', 'whole', 'hip;spine;shoulder blade;shoulder;elbow', 3, 'throw', true),
    ('acceleration_sprint', 'Acceleration sprint', 'lower', 'ankle;knee;hip', 2, 'sprint', true),
    ('flying_sprint', 'Flying sprint', 'lower', 'ankle;knee;hip', 3, 'sprint', true),
    ('loaded_carry', 'Loaded carry', 'whole', 'ankle;knee;hip;spine;shoulder blade', 1, 'carry', true),
    ('plank', 'Plank', 'trunk', 'spine;shoulder blade', 1, 'trunk', true),
    ('calf_raise', 'Calf raise', 'lower', 'ankle', 1, 'single joint', true),
    ('leg_curl', 'Leg curl', 'lower', 'knee', 1, 'single joint', true),
    ('arm_curl', 'Arm curl', 'upper', 'elbow', 1, 'single joint', true),
    ('elbow_extension', 'Elbow extension', 'upper', 'elbow', 1, 'single joint', true),
    ('lateral_raise', 'Lateral raise', 'upper', 'shoulder', 1, 'single joint', true);
