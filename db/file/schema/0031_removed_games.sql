-- A game that is off, or was planned by mistake: everybody is away in a newer plan of it, and what
-- was set for it holds no more. The same goes for what was set for somebody who is left out of a
-- newer plan.

CREATE TABLE lapsed_plan (
    plan_id BIGINT PRIMARY KEY REFERENCES plan (plan_id),
    athlete VARCHAR NOT NULL REFERENCES athlete (athlete)
);
COMMENT ON TABLE lapsed_plan IS 'Choices that hold no more, as the game was removed or the athlete left out of it; the rows stay.';
COMMENT ON COLUMN lapsed_plan.plan_id IS 'The choice.';
COMMENT ON COLUMN lapsed_plan.athlete IS 'Whose choice.';

CREATE OR REPLACE VIEW plan_in_force AS
SELECT * FROM plan_detail WHERE plan_id IN (
    SELECT max(plan_id) FROM plan_detail GROUP BY day, athlete, measure, second_game
) AND plan_id NOT IN (SELECT plan_id FROM lapsed_plan);
COMMENT ON VIEW plan_in_force IS 'The newest choice for each day, athlete and measure, unless it has lapsed; that for a second game beside that for the first.';
