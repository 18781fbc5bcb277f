-- What a measure can bear: how well it repeats from session to session, kept with the fit of the
-- measure. Fits kept before this have no rows here.

CREATE TABLE reliability (
    fit_id BIGINT PRIMARY KEY REFERENCES fit (fit_id),
    usual_efforts INTEGER NOT NULL CHECK (usual_efforts >= 0)
);
COMMENT ON TABLE reliability IS 'Fits whose routine sessions were compared with each other.';
COMMENT ON COLUMN reliability.fit_id IS 'The fit.';
COMMENT ON COLUMN reliability.usual_efforts IS 'Efforts that a compared session usually has; 0 when there is none.';

CREATE TABLE reliability_session (
    fit_id BIGINT NOT NULL REFERENCES reliability (fit_id),
    session_id BIGINT NOT NULL REFERENCES session (session_id),
    trial INTEGER CHECK (trial >= 1),
    mean_value DOUBLE NOT NULL CHECK (isfinite(mean_value) AND mean_value > 0),
    best_value DOUBLE NOT NULL CHECK (isfinite(best_value) AND best_value > 0),
    PRIMARY KEY (fit_id, session_id)
);
COMMENT ON TABLE reliability_session IS 'Routine sessions of a fit, compared with each other where they had about the volume usual for the athlete.';
COMMENT ON COLUMN reliability_session.fit_id IS 'The fit.';
COMMENT ON COLUMN reliability_session.session_id IS 'The session.';
COMMENT ON COLUMN reliability_session.trial IS 'First, second, third compared session of the athlete; NULL when its volume was not about the usual.';
COMMENT ON COLUMN reliability_session.mean_value IS 'Mean of its efforts, in the unit of the measure.';
COMMENT ON COLUMN reliability_session.best_value IS 'Best of its efforts, as it would be expected of the usual number of efforts.';

CREATE TABLE reliability_estimate (
    fit_id BIGINT NOT NULL REFERENCES reliability (fit_id),
    basis VARCHAR NOT NULL CHECK (basis IN ('mean', 'best')),
    quantity VARCHAR NOT NULL CHECK (quantity <> ''),
    estimate DOUBLE NOT NULL CHECK (isfinite(estimate)),
    low DOUBLE NOT NULL CHECK (isfinite(low)),
    high DOUBLE NOT NULL CHECK (isfinite(high)),
    PRIMARY KEY (fit_id, basis, quantity),
    CHECK (estimate BETWEEN low AND high)
);
COMMENT ON TABLE reliability_estimate IS 'What the comparison of sessions says of a measure, with 90 % intervals.';
COMMENT ON COLUMN reliability_estimate.fit_id IS 'The fit.';
COMMENT ON COLUMN reliability_estimate.basis IS 'What stands for a session: mean or best of its efforts.';
COMMENT ON COLUMN reliability_estimate.quantity IS 'What is estimated, such as typical_error; names that end in _pct are in %, others in the unit of the measure or without one.';
COMMENT ON COLUMN reliability_estimate.estimate IS 'The estimate.';
COMMENT ON COLUMN reliability_estimate.low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN reliability_estimate.high IS 'Upper end of its 90 % interval.';

CREATE TABLE reliability_trial (
    fit_id BIGINT NOT NULL REFERENCES reliability (fit_id),
    basis VARCHAR NOT NULL CHECK (basis IN ('mean', 'best')),
    trial INTEGER NOT NULL CHECK (trial >= 1),
    change_pct DOUBLE NOT NULL CHECK (isfinite(change_pct)),
    change_pct_low DOUBLE NOT NULL CHECK (isfinite(change_pct_low)),
    change_pct_high DOUBLE NOT NULL CHECK (isfinite(change_pct_high)),
    PRIMARY KEY (fit_id, basis, trial),
    CHECK (change_pct BETWEEN change_pct_low AND change_pct_high)
);
COMMENT ON TABLE reliability_trial IS 'How the squad''s first, second, third ... compared sessions differ from the first.';
COMMENT ON COLUMN reliability_trial.fit_id IS 'The fit.';
COMMENT ON COLUMN reliability_trial.basis IS 'What stands for a session: mean or best of its efforts.';
COMMENT ON COLUMN reliability_trial.trial IS 'First, second, third compared session of an athlete.';
COMMENT ON COLUMN reliability_trial.change_pct IS 'Difference from the first sessions of the same athletes, in %.';
COMMENT ON COLUMN reliability_trial.change_pct_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN reliability_trial.change_pct_high IS 'Upper end of its 90 % interval.';

CREATE TABLE reliability_need (
    fit_id BIGINT NOT NULL REFERENCES reliability (fit_id),
    efforts INTEGER NOT NULL CHECK (efforts >= 1),
    detectable_pct DOUBLE NOT NULL CHECK (isfinite(detectable_pct) AND detectable_pct >= 0),
    detectable_pct_low DOUBLE NOT NULL CHECK (isfinite(detectable_pct_low) AND detectable_pct_low >= 0),
    detectable_pct_high DOUBLE NOT NULL CHECK (isfinite(detectable_pct_high)),
    smallest_sessions DOUBLE CHECK (isfinite(smallest_sessions) AND smallest_sessions >= 0),
    smallest_sessions_low DOUBLE CHECK (isfinite(smallest_sessions_low) AND smallest_sessions_low >= 0),
    smallest_sessions_high DOUBLE CHECK (isfinite(smallest_sessions_high)),
    setting_sessions DOUBLE NOT NULL CHECK (isfinite(setting_sessions) AND setting_sessions >= 0),
    setting_sessions_low DOUBLE NOT NULL CHECK (isfinite(setting_sessions_low) AND setting_sessions_low >= 0),
    setting_sessions_high DOUBLE NOT NULL CHECK (isfinite(setting_sessions_high)),
    PRIMARY KEY (fit_id, efforts),
    CHECK (detectable_pct BETWEEN detectable_pct_low AND detectable_pct_high),
    CHECK (smallest_sessions BETWEEN smallest_sessions_low AND smallest_sessions_high),
    CHECK (setting_sessions BETWEEN setting_sessions_low AND setting_sessions_high)
);
COMMENT ON TABLE reliability_need IS 'How many efforts and sessions before and as many after show a change, from the noise of days and efforts.';
COMMENT ON COLUMN reliability_need.fit_id IS 'The fit.';
COMMENT ON COLUMN reliability_need.efforts IS 'Efforts in each session.';
COMMENT ON COLUMN reliability_need.detectable_pct IS 'Change between one session and another that shows with a chance of 80 %, in %.';
COMMENT ON COLUMN reliability_need.detectable_pct_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN reliability_need.detectable_pct_high IS 'Upper end of its 90 % interval.';
COMMENT ON COLUMN reliability_need.smallest_sessions IS 'Sessions on either side that show a fifth of the spread between athletes; NULL when no spread was found.';
COMMENT ON COLUMN reliability_need.smallest_sessions_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN reliability_need.smallest_sessions_high IS 'Upper end of its 90 % interval; NULL when there is none.';
COMMENT ON COLUMN reliability_need.setting_sessions IS 'Sessions on either side that show the worthwhile change that the team has set.';
COMMENT ON COLUMN reliability_need.setting_sessions_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN reliability_need.setting_sessions_high IS 'Upper end of its 90 % interval.';

CREATE VIEW latest_reliability AS
SELECT l.measure, r.fit_id, r.usual_efforts,
       count(DISTINCT s.athlete) FILTER (c.trial IS NOT NULL) AS athletes,
       count(c.trial) AS sessions,
       count(c.session_id) - count(c.trial) AS other_sessions
FROM reliability r JOIN latest_fit l ON l.fit_id = r.fit_id
LEFT JOIN reliability_session c ON c.fit_id = r.fit_id
LEFT JOIN session s ON s.session_id = c.session_id
GROUP BY ALL;
COMMENT ON VIEW latest_reliability IS 'Comparisons of the newest fit of each measure: athletes and sessions compared, and sessions left out for their volume.';

CREATE VIEW latest_reliability_estimate AS
SELECT l.measure, e.* FROM reliability_estimate e JOIN latest_fit l ON l.fit_id = e.fit_id;
COMMENT ON VIEW latest_reliability_estimate IS 'Estimates of the newest fit of each measure.';

CREATE VIEW latest_reliability_trial AS
SELECT l.measure, t.*, (SELECT count(*) FROM reliability_session c
                        WHERE c.fit_id = t.fit_id AND c.trial = t.trial) AS athletes
FROM reliability_trial t JOIN latest_fit l ON l.fit_id = t.fit_id;
COMMENT ON VIEW latest_reliability_trial IS 'Trials of the newest fit of each measure, with how many athletes had them.';

CREATE VIEW latest_reliability_need AS
SELECT l.measure, n.* FROM reliability_need n JOIN latest_fit l ON l.fit_id = n.fit_id;
COMMENT ON VIEW latest_reliability_need IS 'What it takes to see a change, from the newest fit of each measure.';

CREATE VIEW latest_reliability_session AS
SELECT l.measure, s.athlete, a.name, c.session_id, c.trial, c.mean_value, c.best_value
FROM reliability_session c JOIN latest_fit l ON l.fit_id = c.fit_id
JOIN session s ON s.session_id = c.session_id JOIN athlete a ON a.athlete = s.athlete;
COMMENT ON VIEW latest_reliability_session IS 'Routine sessions of the newest fit of each measure.';
