-- How many maximal efforts a next test is expected to take.
-- Fits kept before this say nothing of it.

ALTER TABLE next_test ADD COLUMN takes DOUBLE;
ALTER TABLE next_test ADD COLUMN takes_low DOUBLE;
ALTER TABLE next_test ADD COLUMN takes_high DOUBLE;
COMMENT ON COLUMN next_test.takes IS 'Efforts that the session is expected to take, the middle of what may be true; a fade test by its stop rule.';
COMMENT ON COLUMN next_test.takes_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN next_test.takes_high IS 'Upper end of its 90 % interval.';

CREATE OR REPLACE VIEW latest_next_test AS
SELECT l.measure, n.athlete, a.name, a.active, n.kind, n.volume, n.worth_pct,
       n.sessions_to_firm_call, n.takes, n.takes_low, n.takes_high
FROM next_test n JOIN latest_fit l ON l.fit_id = n.fit_id JOIN athlete a ON a.athlete = n.athlete;
COMMENT ON VIEW latest_next_test IS 'Next tests of the newest fit of each measure.';
