-- Games: the occasion, its starts, who starts and who waits on the bench, and the waves of its
-- warm-up. What is advised and set for each athlete stays in plan. A game is never changed: one
-- that is planned anew is a new row, and for each athlete the newest of a day and measure counts.

CREATE SEQUENCE game_id_sequence;

CREATE TABLE game (
    game_id BIGINT PRIMARY KEY DEFAULT nextval('game_id_sequence'),
    measure VARCHAR NOT NULL REFERENCES measure (measure),
    day DATE NOT NULL,
    goal VARCHAR NOT NULL CHECK (goal IN ('best', 'sustained', 'growth')),
    efforts_to_follow INTEGER NOT NULL CHECK (efforts_to_follow >= 1),
    place VARCHAR NOT NULL CHECK (place IN ('hall', 'outdoors')),
    ambient_c DOUBLE NOT NULL CHECK (ambient_c BETWEEN -50 AND 60),
    general_minutes DOUBLE NOT NULL CHECK (general_minutes BETWEEN 0 AND 240),
    minutes_per_effort DOUBLE NOT NULL CHECK (minutes_per_effort > 0 AND minutes_per_effort <= 60),
    gap_minutes DOUBLE NOT NULL CHECK (gap_minutes BETWEEN 0 AND 240),
    free_from TIMESTAMP,
    staff INTEGER NOT NULL CHECK (staff BETWEEN 1 AND 20),
    grouping_cost_pct DOUBLE CHECK (isfinite(grouping_cost_pct)),
    grouping_cost_pct_low DOUBLE CHECK (isfinite(grouping_cost_pct_low)),
    grouping_cost_pct_high DOUBLE CHECK (isfinite(grouping_cost_pct_high)),
    saved_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> ''),
    CHECK (grouping_cost_pct BETWEEN grouping_cost_pct_low AND grouping_cost_pct_high)
);
COMMENT ON TABLE game IS 'Games and other occasions with a fixed start, and what their warm-up was planned for.';
COMMENT ON COLUMN game.game_id IS 'Number of the plan of a game; a game that is planned anew gets another.';
COMMENT ON COLUMN game.measure IS 'The measure that leads.';
COMMENT ON COLUMN game.day IS 'Day of the game.';
COMMENT ON COLUMN game.goal IS 'best, sustained or growth.';
COMMENT ON COLUMN game.efforts_to_follow IS 'Efforts that follow the warm-up and count.';
COMMENT ON COLUMN game.place IS 'hall or outdoors.';
COMMENT ON COLUMN game.ambient_c IS 'Air temperature that was planned for, in degrees Celsius.';
COMMENT ON COLUMN game.general_minutes IS 'Minutes of the general part.';
COMMENT ON COLUMN game.minutes_per_effort IS 'Minutes that one unit of warm-up volume takes.';
COMMENT ON COLUMN game.gap_minutes IS 'Minutes between the warm-up and the start: ceremony, speeches, lining up.';
COMMENT ON COLUMN game.free_from IS 'From when on the court is free, in local wall time; NULL when always.';
COMMENT ON COLUMN game.staff IS 'Staff who lead waves; each leads one at a time.';
COMMENT ON COLUMN game.grouping_cost_pct IS 'What waves give away on average against everybody at the own advised length, in %; NULL without curves.';
COMMENT ON COLUMN game.grouping_cost_pct_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN game.grouping_cost_pct_high IS 'Upper end of it.';
COMMENT ON COLUMN game.saved_at IS 'When it was saved.';
COMMENT ON COLUMN game.person IS 'Who saved it.';

CREATE TABLE game_start (
    game_id BIGINT NOT NULL REFERENCES game (game_id),
    start_number INTEGER NOT NULL CHECK (start_number >= 1),
    starts_at TIMESTAMP NOT NULL,
    PRIMARY KEY (game_id, start_number)
);
COMMENT ON TABLE game_start IS 'First whistles of a game: one, or one for each heat or match of the day.';
COMMENT ON COLUMN game_start.game_id IS 'The game.';
COMMENT ON COLUMN game_start.start_number IS 'First, second, third start.';
COMMENT ON COLUMN game_start.starts_at IS 'The first whistle in local wall time.';

CREATE TABLE game_wave (
    game_id BIGINT NOT NULL REFERENCES game (game_id),
    start_number INTEGER NOT NULL CHECK (start_number >= 1),
    wave INTEGER NOT NULL CHECK (wave >= 1),
    volume DOUBLE NOT NULL CHECK (volume BETWEEN 0 AND 10000),
    rest_minutes DOUBLE NOT NULL CHECK (rest_minutes BETWEEN 0 AND 1440),
    gap_cost_pct DOUBLE CHECK (isfinite(gap_cost_pct)),
    gap_cost_pct_low DOUBLE CHECK (isfinite(gap_cost_pct_low)),
    gap_cost_pct_high DOUBLE CHECK (isfinite(gap_cost_pct_high)),
    PRIMARY KEY (game_id, start_number, wave),
    CHECK (gap_cost_pct BETWEEN gap_cost_pct_low AND gap_cost_pct_high)
);
COMMENT ON TABLE game_wave IS 'Waves of a warm-up: athletes who do the same length at the same time.';
COMMENT ON COLUMN game_wave.game_id IS 'The game.';
COMMENT ON COLUMN game_wave.start_number IS 'The start it leads to.';
COMMENT ON COLUMN game_wave.wave IS 'Number of the wave; the first begins first.';
COMMENT ON COLUMN game_wave.volume IS 'Its length, in the volume unit of the measure.';
COMMENT ON COLUMN game_wave.rest_minutes IS 'Minutes between its end and the start.';
COMMENT ON COLUMN game_wave.gap_cost_pct IS 'What these minutes cost its athletes on average against none, in %; NULL without curves.';
COMMENT ON COLUMN game_wave.gap_cost_pct_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN game_wave.gap_cost_pct_high IS 'Upper end of it.';

CREATE TABLE game_athlete (
    game_id BIGINT NOT NULL REFERENCES game (game_id),
    athlete VARCHAR NOT NULL,
    role VARCHAR NOT NULL CHECK (role IN ('starts', 'bench', 'away')),
    start_number INTEGER CHECK (start_number >= 1),
    wave INTEGER CHECK (wave >= 1),
    own_length BOOLEAN,
    general_minutes DOUBLE CHECK (general_minutes BETWEEN 0 AND 240),
    plan_id BIGINT,
    loss_pct DOUBLE CHECK (isfinite(loss_pct)),
    loss_pct_low DOUBLE CHECK (isfinite(loss_pct_low)),
    loss_pct_high DOUBLE CHECK (isfinite(loss_pct_high)),
    PRIMARY KEY (game_id, athlete),
    CHECK ((role = 'away') = (plan_id IS NULL)),
    CHECK ((plan_id IS NULL) = (start_number IS NULL)),
    CHECK ((plan_id IS NULL) = (wave IS NULL)),
    CHECK ((plan_id IS NULL) = (own_length IS NULL)),
    CHECK ((plan_id IS NULL) = (general_minutes IS NULL)),
    CHECK (loss_pct BETWEEN loss_pct_low AND loss_pct_high)
);
COMMENT ON TABLE game_athlete IS 'Who starts a game, who waits on the bench and who is away, each with wave and choice.';
COMMENT ON COLUMN game_athlete.game_id IS 'The game.';
COMMENT ON COLUMN game_athlete.athlete IS 'The athlete.';
COMMENT ON COLUMN game_athlete.role IS 'starts, bench or away.';
COMMENT ON COLUMN game_athlete.start_number IS 'The start; NULL when away, as all that follows.';
COMMENT ON COLUMN game_athlete.wave IS 'The wave.';
COMMENT ON COLUMN game_athlete.own_length IS 'Whether the coach set this athlete''s length by itself, not that of the wave.';
COMMENT ON COLUMN game_athlete.general_minutes IS 'Minutes of the general part for this athlete.';
COMMENT ON COLUMN game_athlete.plan_id IS 'The choice of the length.';
COMMENT ON COLUMN game_athlete.loss_pct IS 'What the length set is expected to give away against the own peak, in %; NULL without curves.';
COMMENT ON COLUMN game_athlete.loss_pct_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN game_athlete.loss_pct_high IS 'Upper end of it.';

CREATE TABLE game_bench (
    game_id BIGINT NOT NULL REFERENCES game (game_id),
    athlete VARCHAR NOT NULL,
    rest_minutes DOUBLE NOT NULL CHECK (rest_minutes BETWEEN 0 AND 1440),
    volume DOUBLE NOT NULL CHECK (volume BETWEEN 0 AND 10000),
    cost_pct DOUBLE NOT NULL CHECK (isfinite(cost_pct)),
    cost_pct_low DOUBLE NOT NULL CHECK (isfinite(cost_pct_low)),
    cost_pct_high DOUBLE NOT NULL CHECK (isfinite(cost_pct_high)),
    PRIMARY KEY (game_id, athlete, rest_minutes),
    CHECK (cost_pct BETWEEN cost_pct_low AND cost_pct_high)
);
COMMENT ON TABLE game_bench IS 'Re-warm-up of those on the bench by the minutes since their warm-up.';
COMMENT ON COLUMN game_bench.game_id IS 'The game.';
COMMENT ON COLUMN game_bench.athlete IS 'The athlete.';
COMMENT ON COLUMN game_bench.rest_minutes IS 'Minutes since the end of the warm-up.';
COMMENT ON COLUMN game_bench.volume IS 'Re-warm-up that brings the athlete back near the peak, in the volume unit of the measure.';
COMMENT ON COLUMN game_bench.cost_pct IS 'What going on without it gives away against the own peak, in %.';
COMMENT ON COLUMN game_bench.cost_pct_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN game_bench.cost_pct_high IS 'Upper end of it.';

CREATE VIEW game_in_force AS
SELECT g.game_id, g.measure, g.day, g.goal, g.efforts_to_follow, g.place, g.ambient_c,
       g.general_minutes AS usual_general_minutes, g.minutes_per_effort, g.gap_minutes,
       g.free_from, g.staff, g.grouping_cost_pct, g.grouping_cost_pct_low,
       g.grouping_cost_pct_high, g.saved_at, g.person, s.starts_at, a.name, a.position, m.*
       EXCLUDE (game_id), w.volume AS wave_volume, w.rest_minutes, w.gap_cost_pct,
       w.gap_cost_pct_low, w.gap_cost_pct_high, p.advised_volume,
       p.standard_volume, p.chosen_volume, p.reason, p.done_volume, p.outcome
FROM game_athlete m JOIN game g ON g.game_id = m.game_id
JOIN athlete a ON a.athlete = m.athlete
JOIN plan p ON p.plan_id = m.plan_id
JOIN game_start s ON s.game_id = m.game_id AND s.start_number = m.start_number
JOIN game_wave w ON w.game_id = m.game_id AND w.start_number = m.start_number AND w.wave = m.wave
WHERE (m.game_id, m.athlete) IN (
    SELECT (max(n.game_id), n.athlete) FROM game_athlete n JOIN game h ON h.game_id = n.game_id
    GROUP BY h.day, h.measure, n.athlete
);
COMMENT ON VIEW game_in_force IS 'Athletes of the newest plan of a game for each day, athlete and measure; those away are left out.';
