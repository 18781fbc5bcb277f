-- Whether best volumes have changed, and what individual lengths are worth, kept with the fit.
-- Fits kept before this have no rows here.

CREATE TABLE best_volume_change (
    fit_id BIGINT NOT NULL REFERENCES fit (fit_id),
    athlete VARCHAR NOT NULL REFERENCES athlete (athlete),
    chance DOUBLE NOT NULL CHECK (chance BETWEEN 0 AND 1),
    tellable BOOLEAN NOT NULL,
    since_session_id BIGINT NOT NULL,
    earliest_session_id BIGINT NOT NULL,
    latest_session_id BIGINT NOT NULL,
    sessions_since INTEGER NOT NULL CHECK (sessions_since >= 1),
    before DOUBLE NOT NULL CHECK (isfinite(before)),
    before_low DOUBLE NOT NULL CHECK (isfinite(before_low) AND before_low >= 0),
    before_high DOUBLE NOT NULL CHECK (isfinite(before_high)),
    after DOUBLE NOT NULL CHECK (isfinite(after)),
    after_low DOUBLE NOT NULL CHECK (isfinite(after_low) AND after_low >= 0),
    after_high DOUBLE NOT NULL CHECK (isfinite(after_high)),
    PRIMARY KEY (fit_id, athlete),
    CHECK (before BETWEEN before_low AND before_high),
    CHECK (after BETWEEN after_low AND after_high)
);
COMMENT ON TABLE best_volume_change IS 'Whether an athlete''s best volume has changed; athletes with too few sessions to say have no row.';
COMMENT ON COLUMN best_volume_change.fit_id IS 'The fit.';
COMMENT ON COLUMN best_volume_change.athlete IS 'The athlete.';
COMMENT ON COLUMN best_volume_change.chance IS 'Chance that it has changed, from 0 to 1.';
COMMENT ON COLUMN best_volume_change.tellable IS 'Whether the later sessions have volumes different enough to tell a changed curve from a changed level.';
COMMENT ON COLUMN best_volume_change.since_session_id IS 'Session from which on it has likeliest changed.';
COMMENT ON COLUMN best_volume_change.earliest_session_id IS 'First session of the 90 % interval of that.';
COMMENT ON COLUMN best_volume_change.latest_session_id IS 'Last session of it.';
COMMENT ON COLUMN best_volume_change.sessions_since IS 'Sessions from the likeliest on.';
COMMENT ON COLUMN best_volume_change.before IS 'Best volume before the change, if there was one.';
COMMENT ON COLUMN best_volume_change.before_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN best_volume_change.before_high IS 'Upper end of it.';
COMMENT ON COLUMN best_volume_change.after IS 'Best volume after the change, if there was one.';
COMMENT ON COLUMN best_volume_change.after_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN best_volume_change.after_high IS 'Upper end of it.';

CREATE TABLE squad_worth (
    fit_id BIGINT NOT NULL REFERENCES fit (fit_id),
    against VARCHAR NOT NULL CHECK (against IN ('best single', 'standard')),
    volume DOUBLE NOT NULL CHECK (isfinite(volume) AND volume >= 0),
    worth_pct DOUBLE NOT NULL CHECK (isfinite(worth_pct)),
    worth_pct_low DOUBLE NOT NULL CHECK (isfinite(worth_pct_low)),
    worth_pct_high DOUBLE NOT NULL CHECK (isfinite(worth_pct_high)),
    athletes INTEGER NOT NULL CHECK (athletes >= 1),
    gaining DOUBLE NOT NULL CHECK (isfinite(gaining)),
    gaining_low DOUBLE NOT NULL CHECK (gaining_low >= 0),
    gaining_high DOUBLE NOT NULL CHECK (gaining_high <= athletes),
    PRIMARY KEY (fit_id, against),
    CHECK (worth_pct BETWEEN worth_pct_low AND worth_pct_high),
    CHECK (gaining BETWEEN gaining_low AND gaining_high)
);
COMMENT ON TABLE squad_worth IS 'What the athletes'' own advised volumes are worth against one volume for all.';
COMMENT ON COLUMN squad_worth.fit_id IS 'The fit.';
COMMENT ON COLUMN squad_worth.against IS 'Against which one volume: the best single one, or the standard.';
COMMENT ON COLUMN squad_worth.volume IS 'That volume.';
COMMENT ON COLUMN squad_worth.worth_pct IS 'Mean gain over it in %.';
COMMENT ON COLUMN squad_worth.worth_pct_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN squad_worth.worth_pct_high IS 'Upper end of it.';
COMMENT ON COLUMN squad_worth.athletes IS 'Athletes with data.';
COMMENT ON COLUMN squad_worth.gaining IS 'How many of them gain more than the smallest change worth having.';
COMMENT ON COLUMN squad_worth.gaining_low IS 'Lower end of its 90 % interval.';
COMMENT ON COLUMN squad_worth.gaining_high IS 'Upper end of it.';

CREATE VIEW latest_best_volume_change AS
SELECT l.measure, c.*, a.name, a.active, since.started_at AS since,
       earliest.started_at AS since_earliest, latest.started_at AS since_latest
FROM best_volume_change c JOIN latest_fit l ON l.fit_id = c.fit_id
JOIN athlete a ON a.athlete = c.athlete
JOIN session since ON since.session_id = c.since_session_id
JOIN session earliest ON earliest.session_id = c.earliest_session_id
JOIN session latest ON latest.session_id = c.latest_session_id;
COMMENT ON VIEW latest_best_volume_change IS 'Changes of best volume from the newest fit of each measure, with their dates.';

CREATE VIEW latest_squad_worth AS
SELECT l.measure, w.* FROM squad_worth w JOIN latest_fit l ON l.fit_id = w.fit_id;
COMMENT ON VIEW latest_squad_worth IS 'What individual volumes are worth, from the newest fit of each measure.';
