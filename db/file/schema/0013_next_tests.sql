-- What a fade test and the best routine session would tell of each athlete, kept with the fit.
-- Fits kept before this have no rows here.

CREATE TABLE next_test (
    fit_id BIGINT NOT NULL REFERENCES fit (fit_id),
    athlete VARCHAR NOT NULL REFERENCES athlete (athlete),
    kind VARCHAR NOT NULL CHECK (kind IN ('fade', 'routine')),
    volume DOUBLE NOT NULL CHECK (isfinite(volume) AND volume >= 0),
    worth_pct DOUBLE NOT NULL CHECK (isfinite(worth_pct) AND worth_pct >= 0),
    sessions_to_firm_call INTEGER CHECK (sessions_to_firm_call >= 0),
    PRIMARY KEY (fit_id, athlete, kind)
);
COMMENT ON TABLE next_test IS 'What one more session of each kind is expected to bring each athlete of a fit, at its best volume.';
COMMENT ON COLUMN next_test.fit_id IS 'The fit.';
COMMENT ON COLUMN next_test.athlete IS 'The athlete.';
COMMENT ON COLUMN next_test.kind IS 'fade: a fade test; routine: some efforts at one volume.';
COMMENT ON COLUMN next_test.volume IS 'Volume in effect before the first effort; 0 for a fade test.';
COMMENT ON COLUMN next_test.worth_pct IS 'Performance that the session is expected to bring by better advice, in %.';
COMMENT ON COLUMN next_test.sessions_to_firm_call IS 'Such sessions until a firm call, in the middle of what may be true; NULL when they are too many to say.';

CREATE VIEW latest_next_test AS
SELECT l.measure, n.athlete, a.name, a.active, n.kind, n.volume, n.worth_pct,
       n.sessions_to_firm_call
FROM next_test n JOIN latest_fit l ON l.fit_id = n.fit_id JOIN athlete a ON a.athlete = n.athlete;
COMMENT ON VIEW latest_next_test IS 'Next tests of the newest fit of each measure.';
