-- Lengths that are surely fine, beside what else a fit says about an athlete; and what is done once
-- more shortly before a game, after a long wait.

ALTER TABLE response ADD COLUMN good_from DOUBLE;
ALTER TABLE response ADD COLUMN good_to DOUBLE;
COMMENT ON COLUMN response.good_from IS 'Lower end of the volumes that surely give away no more than the smallest worthwhile change; NULL where there are none, or the fit is older.';
COMMENT ON COLUMN response.good_to IS 'Upper end of them.';

ALTER TABLE game_athlete ADD COLUMN top_up DOUBLE DEFAULT 0;
COMMENT ON COLUMN game_athlete.top_up IS 'Done shortly before the start, after a long wait, in the volume unit of the measure.';
