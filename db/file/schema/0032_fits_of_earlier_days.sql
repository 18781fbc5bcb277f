-- Curves of an earlier day, worked out afterwards from the data as it was then: what changed can be
-- told from the first day on.

ALTER TABLE fit ADD COLUMN data_until DATE;
ALTER TABLE fit ADD COLUMN data_basis VARCHAR;
COMMENT ON COLUMN fit.data_until IS 'The last day whose data were fitted, in a fit of an earlier day; NULL where all data of the time were.';
COMMENT ON COLUMN fit.data_basis IS 'What counts as the data of that day. stored: what had been stored by then; held: the sessions up to then, whenever they were stored; NULL in a fit of all data.';

CREATE OR REPLACE VIEW latest_fit AS
SELECT * FROM fit WHERE fit_id IN (
    SELECT max(fit_id) FROM fit WHERE data_until IS NULL GROUP BY measure
);
COMMENT ON VIEW latest_fit IS 'The newest fit of each measure to all data.';

CREATE OR REPLACE VIEW response_detail AS
SELECT f.measure, coalesce(f.data_until::TIMESTAMPTZ, f.fitted_at) AS fitted_at, r.*, a.name,
       a.position, a.active
FROM response r JOIN fit f ON f.fit_id = r.fit_id JOIN athlete a ON a.athlete = r.athlete;
COMMENT ON VIEW response_detail IS 'Responses of every fit with the athlete''s name, position and whether active; a fit of an earlier day is of that day.';
