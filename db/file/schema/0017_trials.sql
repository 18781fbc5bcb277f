-- Trials within one athlete: two lengths in random order, block by block. What is set for a session
-- of a trial is a choice like any other (plan), and so is what came of it.

CREATE SEQUENCE trial_id_sequence;

CREATE TABLE trial (
    trial_id BIGINT PRIMARY KEY DEFAULT nextval('trial_id_sequence'),
    athlete VARCHAR NOT NULL CHECK (athlete <> ''),
    measure VARCHAR NOT NULL REFERENCES measure (measure),
    first_volume DOUBLE NOT NULL CHECK (first_volume BETWEEN 0 AND 10000),
    second_volume DOUBLE NOT NULL CHECK (second_volume BETWEEN 0 AND 10000),
    blocks INTEGER NOT NULL CHECK (blocks BETWEEN 2 AND 50),
    seed BIGINT NOT NULL CHECK (seed >= 0),
    begun_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    ended_at TIMESTAMPTZ,
    person VARCHAR NOT NULL CHECK (person <> ''),
    CHECK (first_volume <> second_volume)
);
COMMENT ON TABLE trial IS 'Trials that alternate two lengths for one athlete in random order.';
COMMENT ON COLUMN trial.trial_id IS 'Number of the trial.';
COMMENT ON COLUMN trial.athlete IS 'The athlete.';
COMMENT ON COLUMN trial.measure IS 'What is measured.';
COMMENT ON COLUMN trial.first_volume IS 'One of the lengths, to do, in the volume unit of the measure.';
COMMENT ON COLUMN trial.second_volume IS 'The other.';
COMMENT ON COLUMN trial.blocks IS 'How many blocks of two sessions, each length once in each.';
COMMENT ON COLUMN trial.seed IS 'What the order was drawn from, so that it can be drawn again.';
COMMENT ON COLUMN trial.begun_at IS 'When it was set up.';
COMMENT ON COLUMN trial.ended_at IS 'When it was ended before its time; NULL otherwise.';
COMMENT ON COLUMN trial.person IS 'Who set it up.';

CREATE TABLE trial_session (
    trial_id BIGINT NOT NULL,
    place INTEGER NOT NULL CHECK (place >= 1),
    is_second BOOLEAN NOT NULL,
    plan_id BIGINT,
    PRIMARY KEY (trial_id, place)
);
COMMENT ON TABLE trial_session IS 'Sessions of a trial in their drawn order; two make a block.';
COMMENT ON COLUMN trial_session.trial_id IS 'The trial.';
COMMENT ON COLUMN trial_session.place IS 'First, second, third session.';
COMMENT ON COLUMN trial_session.is_second IS 'Whether the second length was drawn for it.';
COMMENT ON COLUMN trial_session.plan_id IS 'The choice that set it for a day; NULL until there is one.';

CREATE VIEW trial_detail AS
SELECT t.trial_id, t.athlete, a.name, t.measure, t.first_volume, t.second_volume, t.blocks,
       t.begun_at, t.ended_at, t.person, s.place, (s.place + 1) // 2 AS block, s.is_second,
       CASE WHEN s.is_second THEN t.second_volume ELSE t.first_volume END AS volume,
       s.plan_id, p.day, p.done_volume, p.outcome
FROM trial t JOIN athlete a ON a.athlete = t.athlete
JOIN trial_session s ON s.trial_id = t.trial_id LEFT JOIN plan p ON p.plan_id = s.plan_id;
COMMENT ON VIEW trial_detail IS 'Every session of every trial with the day it was set for, what was done, and what came of it.';
