-- What advice is worked out from, kept with the fit of a measure: the warm-up account, the squad's
-- usual circumstances, and curves drawn from what is known of each athlete. Fits kept before this
-- have no rows here.

CREATE TABLE advice_base (
    fit_id BIGINT PRIMARY KEY REFERENCES fit (fit_id),
    standard_volume DOUBLE NOT NULL CHECK (isfinite(standard_volume) AND standard_volume >= 0),
    general_minutes DOUBLE NOT NULL CHECK (isfinite(general_minutes) AND general_minutes >= 0),
    rest_minutes DOUBLE NOT NULL CHECK (isfinite(rest_minutes) AND rest_minutes >= 0),
    ambient_c DOUBLE NOT NULL CHECK (isfinite(ambient_c)),
    hour DOUBLE NOT NULL CHECK (hour BETWEEN 0 AND 24),
    volumes DOUBLE[] NOT NULL CHECK (len(volumes) >= 2)
);
COMMENT ON TABLE advice_base IS 'Fits that advice can be worked out from, with the usual circumstances of the squad.';
COMMENT ON COLUMN advice_base.fit_id IS 'The fit.';
COMMENT ON COLUMN advice_base.standard_volume IS 'The standard as it is done in the usual circumstances; that of the fit is what it counts for.';
COMMENT ON COLUMN advice_base.general_minutes IS 'Usual minutes of general warm-up before the volume that is counted.';
COMMENT ON COLUMN advice_base.rest_minutes IS 'Usual minutes between the warm-up and the first effort.';
COMMENT ON COLUMN advice_base.ambient_c IS 'Usual air temperature in degrees Celsius.';
COMMENT ON COLUMN advice_base.hour IS 'Usual hour of the day, 0 to 24.';
COMMENT ON COLUMN advice_base.volumes IS 'Volumes in effect at which the drawn curves are given, rising.';

CREATE TABLE account_constant (
    fit_id BIGINT NOT NULL REFERENCES advice_base (fit_id),
    constant VARCHAR NOT NULL CHECK (constant <> ''),
    status VARCHAR NOT NULL CHECK (status IN ('learned', 'default', 'no effect')),
    value DOUBLE CHECK (isfinite(value)),
    low DOUBLE CHECK (isfinite(low)),
    high DOUBLE CHECK (isfinite(high)),
    PRIMARY KEY (fit_id, constant)
);
COMMENT ON TABLE account_constant IS 'Constants of the warm-up account as a fit uses them.';
COMMENT ON COLUMN account_constant.fit_id IS 'The fit.';
COMMENT ON COLUMN account_constant.constant IS 'Which constant, such as half_life_minutes; the unit stands in the name.';
COMMENT ON COLUMN account_constant.status IS 'Learned from the squad; the default, as the sessions are too much alike to tell; or no effect seen where there could be one.';
COMMENT ON COLUMN account_constant.value IS 'The value used; NULL is without end (a half-life).';
COMMENT ON COLUMN account_constant.low IS 'Lower end: of the 90 % interval if it was looked for, else of the published range.';
COMMENT ON COLUMN account_constant.high IS 'Upper end of the same; NULL is without end.';

CREATE TABLE level_effect (
    fit_id BIGINT NOT NULL REFERENCES advice_base (fit_id),
    effect VARCHAR NOT NULL CHECK (effect <> ''),
    change_pct DOUBLE NOT NULL CHECK (isfinite(change_pct)),
    change_pct_low DOUBLE NOT NULL CHECK (isfinite(change_pct_low)),
    change_pct_high DOUBLE NOT NULL CHECK (isfinite(change_pct_high)),
    PRIMARY KEY (fit_id, effect),
    CHECK (change_pct BETWEEN change_pct_low AND change_pct_high)
);
COMMENT ON TABLE level_effect IS 'What moves the level of everybody in a fit, whatever the volume: context, cold, hour, games, readiness.';
COMMENT ON COLUMN level_effect.fit_id IS 'The fit.';
COMMENT ON COLUMN level_effect.effect IS 'Which: a context beside training, cold (ten degrees), early (six hours), after a game (the day itself), readiness (two points).';
COMMENT ON COLUMN level_effect.change_pct IS 'Change of performance in %, higher is better.';
COMMENT ON COLUMN level_effect.change_pct_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN level_effect.change_pct_high IS 'Upper end of its 90 % interval.';

CREATE TABLE curve_draw (
    fit_id BIGINT NOT NULL REFERENCES advice_base (fit_id),
    athlete VARCHAR NOT NULL REFERENCES athlete (athlete),
    draws INTEGER NOT NULL CHECK (draws >= 1),
    change BLOB NOT NULL CHECK (octet_length(change) > 0),
    PRIMARY KEY (fit_id, athlete)
);
COMMENT ON TABLE curve_draw IS 'Curves at even steps of what is known of an athlete; only those of the newest fit are kept.';
COMMENT ON COLUMN curve_draw.fit_id IS 'The fit.';
COMMENT ON COLUMN curve_draw.athlete IS 'The athlete.';
COMMENT ON COLUMN curve_draw.draws IS 'How many curves.';
COMMENT ON COLUMN curve_draw.change IS 'Log of performance against the own peak, 0 or less, as little-endian 32-bit numbers: every curve at the first volume, at the second, and so on.';

CREATE VIEW latest_curve_draw AS
SELECT l.measure, r.sessions, r.efforts, d.*
FROM curve_draw d JOIN latest_fit l ON l.fit_id = d.fit_id
JOIN response r ON r.fit_id = d.fit_id AND r.athlete = d.athlete;
COMMENT ON VIEW latest_curve_draw IS 'Drawn curves of the newest fit of each measure, with the counts behind them.';

CREATE VIEW fitted_effort AS
SELECT o.*, s.general_minutes, s.rest_minutes, s.ambient_c, s.days_since_game,
       hour(s.started_at) + minute(s.started_at) / 60.0 AS hour, s.freshness AS readiness
FROM observation o JOIN session s ON s.session_id = o.session_id;
COMMENT ON VIEW fitted_effort IS 'Usable efforts with the facts of their sessions that a fit takes in; freshness as felt stands for readiness.';
