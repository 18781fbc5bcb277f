-- What a fit says of itself: how large the noise is with its interval, and whether the model
-- describes the data. Fits kept before this have no rows here.

CREATE TABLE fit_check (
    fit_id BIGINT PRIMARY KEY REFERENCES fit (fit_id),
    effort_noise_pct_low DOUBLE NOT NULL CHECK (isfinite(effort_noise_pct_low) AND effort_noise_pct_low >= 0),
    effort_noise_pct_high DOUBLE NOT NULL CHECK (isfinite(effort_noise_pct_high)),
    day_noise_pct_low DOUBLE NOT NULL CHECK (isfinite(day_noise_pct_low) AND day_noise_pct_low >= 0),
    day_noise_pct_high DOUBLE NOT NULL CHECK (isfinite(day_noise_pct_high)),
    sessions INTEGER NOT NULL CHECK (sessions >= 0),
    sessions_inside INTEGER NOT NULL CHECK (sessions_inside >= 0),
    efforts INTEGER NOT NULL CHECK (efforts >= 0),
    efforts_inside INTEGER NOT NULL CHECK (efforts_inside >= 0),
    CHECK (effort_noise_pct_high >= effort_noise_pct_low),
    CHECK (day_noise_pct_high >= day_noise_pct_low),
    CHECK (sessions_inside <= sessions),
    CHECK (efforts_inside <= efforts)
);
COMMENT ON TABLE fit_check IS 'Intervals of the noise of a fit, and how often its 90 % predictions held what happened.';
COMMENT ON COLUMN fit_check.fit_id IS 'The fit.';
COMMENT ON COLUMN fit_check.effort_noise_pct_low IS 'Spread between efforts in %, 5 % quantile.';
COMMENT ON COLUMN fit_check.effort_noise_pct_high IS 'The same, 95 % quantile.';
COMMENT ON COLUMN fit_check.day_noise_pct_low IS 'Spread between days in %, 5 % quantile.';
COMMENT ON COLUMN fit_check.day_noise_pct_high IS 'The same, 95 % quantile.';
COMMENT ON COLUMN fit_check.sessions IS 'Sessions predicted from the other sessions of their athlete.';
COMMENT ON COLUMN fit_check.sessions_inside IS 'Those whose mean lay in its 90 % interval.';
COMMENT ON COLUMN fit_check.efforts IS 'Efforts of these sessions.';
COMMENT ON COLUMN fit_check.efforts_inside IS 'Those that lay in their 90 % interval.';

CREATE TABLE volume_band (
    fit_id BIGINT NOT NULL REFERENCES fit (fit_id),
    band INTEGER NOT NULL CHECK (band >= 1),
    efforts INTEGER NOT NULL CHECK (efforts >= 1),
    lowest_volume DOUBLE NOT NULL CHECK (isfinite(lowest_volume) AND lowest_volume >= 0),
    highest_volume DOUBLE NOT NULL CHECK (isfinite(highest_volume)),
    mean_volume DOUBLE NOT NULL,
    observed_pct DOUBLE NOT NULL CHECK (isfinite(observed_pct)),
    expected_pct DOUBLE NOT NULL CHECK (isfinite(expected_pct)),
    low_pct DOUBLE NOT NULL CHECK (isfinite(low_pct)),
    high_pct DOUBLE NOT NULL CHECK (isfinite(high_pct)),
    PRIMARY KEY (fit_id, band),
    CHECK (mean_volume BETWEEN lowest_volume AND highest_volume),
    CHECK (expected_pct BETWEEN low_pct AND high_pct)
);
COMMENT ON TABLE volume_band IS 'Efforts of a fit by band of volume: mean difference from the own expected peak of the day, observed and expected.';
COMMENT ON COLUMN volume_band.fit_id IS 'The fit.';
COMMENT ON COLUMN volume_band.band IS 'Number of the band, from the smallest volumes on.';
COMMENT ON COLUMN volume_band.efforts IS 'Efforts in it.';
COMMENT ON COLUMN volume_band.lowest_volume IS 'Smallest volume in it.';
COMMENT ON COLUMN volume_band.highest_volume IS 'Largest volume in it.';
COMMENT ON COLUMN volume_band.mean_volume IS 'Mean volume of its efforts.';
COMMENT ON COLUMN volume_band.observed_pct IS 'Mean difference observed, in % of the peak.';
COMMENT ON COLUMN volume_band.expected_pct IS 'Mean difference that the curves say, in % of the peak.';
COMMENT ON COLUMN volume_band.low_pct IS 'If the model is right, the observed one lies above this with a chance of 95 %.';
COMMENT ON COLUMN volume_band.high_pct IS 'And below this with a chance of 95 %.';

CREATE TABLE session_place (
    fit_id BIGINT NOT NULL REFERENCES fit (fit_id),
    tenth INTEGER NOT NULL CHECK (tenth BETWEEN 1 AND 10),
    sessions INTEGER NOT NULL CHECK (sessions >= 0),
    fewest INTEGER NOT NULL CHECK (fewest >= 0),
    most INTEGER NOT NULL CHECK (most >= 0),
    PRIMARY KEY (fit_id, tenth),
    CHECK (most >= fewest)
);
COMMENT ON TABLE session_place IS 'In which tenth of its prediction the mean of each session fell; all tenths are alike if the model is right.';
COMMENT ON COLUMN session_place.fit_id IS 'The fit.';
COMMENT ON COLUMN session_place.tenth IS 'Tenth of the prediction, 1 the lowest.';
COMMENT ON COLUMN session_place.sessions IS 'Sessions that fell in it.';
COMMENT ON COLUMN session_place.fewest IS 'If the model is right, not fewer than this with a chance of 95 %.';
COMMENT ON COLUMN session_place.most IS 'And not more than this with a chance of 95 %.';

CREATE VIEW latest_fit_check AS
SELECT l.measure, c.* FROM fit_check c JOIN latest_fit l ON l.fit_id = c.fit_id;
COMMENT ON VIEW latest_fit_check IS 'Checks of the newest fit of each measure.';

CREATE VIEW latest_volume_band AS
SELECT l.measure, b.* FROM volume_band b JOIN latest_fit l ON l.fit_id = b.fit_id;
COMMENT ON VIEW latest_volume_band IS 'Bands of volume of the newest fit of each measure.';

CREATE VIEW latest_session_place AS
SELECT l.measure, p.* FROM session_place p JOIN latest_fit l ON l.fit_id = p.fit_id;
COMMENT ON VIEW latest_session_place IS 'Places of the sessions of the newest fit of each measure.';
