-- What looks wrong in the data behind a fit, and what people decided about it. A finding holds
-- numbers only, so that no text of it names anybody; the sentences are made when it is shown.

CREATE SEQUENCE finding_id_sequence;
CREATE SEQUENCE decision_id_sequence;

CREATE TABLE data_check (
    fit_id BIGINT PRIMARY KEY,
    effort_limit DOUBLE NOT NULL CHECK (isfinite(effort_limit) AND effort_limit > 0)
);
COMMENT ON TABLE data_check IS 'Fits whose data were looked through. Fits kept before this have no rows here.';
COMMENT ON COLUMN data_check.fit_id IS 'The fit.';
COMMENT ON COLUMN data_check.effort_limit IS 'An effort further from what is expected than this many times the noise is a finding.';

CREATE TABLE finding (
    finding_id BIGINT PRIMARY KEY DEFAULT nextval('finding_id_sequence'),
    fit_id BIGINT NOT NULL,
    place INTEGER NOT NULL CHECK (place >= 1),
    kind VARCHAR NOT NULL CHECK (kind IN ('effort', 'unit', 'jump', 'swap', 'duplicate', 'device')),
    athlete VARCHAR,
    other_athlete VARCHAR,
    apart_pct DOUBLE NOT NULL CHECK (isfinite(apart_pct)),
    noise_pct DOUBLE NOT NULL CHECK (isfinite(noise_pct) AND noise_pct >= 0),
    noise_count INTEGER NOT NULL CHECK (noise_count >= 1),
    chance DOUBLE NOT NULL CHECK (chance BETWEEN 0 AND 1),
    factor DOUBLE CHECK (isfinite(factor) AND factor > 0),
    stays BOOLEAN NOT NULL,
    sha256 VARCHAR NOT NULL CHECK (length(sha256) = 64)
);
COMMENT ON TABLE finding IS 'What looks wrong in the data behind a fit. Nothing is changed by it.';
COMMENT ON COLUMN finding.finding_id IS 'Number of the finding.';
COMMENT ON COLUMN finding.fit_id IS 'The fit whose curves it was held against.';
COMMENT ON COLUMN finding.place IS 'Place among the findings of the fit, 1 the worst.';
COMMENT ON COLUMN finding.kind IS 'effort: one far from the curve; unit: a factor between units; jump: a session far from the others; swap: two athletes exchanged; duplicate: a session stored twice; device: all athletes shifted from a day on.';
COMMENT ON COLUMN finding.athlete IS 'Whose data; NULL when it is about everybody.';
COMMENT ON COLUMN finding.other_athlete IS 'The second athlete, where it is about two.';
COMMENT ON COLUMN finding.apart_pct IS 'Difference from what is expected in %.';
COMMENT ON COLUMN finding.noise_pct IS 'The noise it is held against, in %: the athlete''s own.';
COMMENT ON COLUMN finding.noise_count IS 'Efforts or sessions behind that noise.';
COMMENT ON COLUMN finding.chance IS 'How many findings of the kind data without a fault would have at this distance, at most 1.';
COMMENT ON COLUMN finding.factor IS 'What the values seem to be multiplied by, where they match a unit; for two athletes, how many times better the exchange fits.';
COMMENT ON COLUMN finding.stays IS 'Of a shift of everybody: whether all sessions after that day have it too.';
COMMENT ON COLUMN finding.sha256 IS 'SHA-256 of the kind and of number, value and volume of its efforts: the same as long as these rows are.';

CREATE TABLE finding_effort (
    finding_id BIGINT NOT NULL,
    effort_id BIGINT NOT NULL,
    session_id BIGINT NOT NULL,
    value DOUBLE NOT NULL CHECK (isfinite(value) AND value > 0),
    expected DOUBLE NOT NULL CHECK (isfinite(expected) AND expected > 0),
    PRIMARY KEY (finding_id, effort_id)
);
COMMENT ON TABLE finding_effort IS 'The efforts that a finding is about, beside what was expected.';
COMMENT ON COLUMN finding_effort.finding_id IS 'The finding.';
COMMENT ON COLUMN finding_effort.effort_id IS 'The effort.';
COMMENT ON COLUMN finding_effort.session_id IS 'Its session.';
COMMENT ON COLUMN finding_effort.value IS 'Its value when it was found.';
COMMENT ON COLUMN finding_effort.expected IS 'What the athlete''s curve and other data say it should be.';

CREATE TABLE finding_decision (
    decision_id BIGINT PRIMARY KEY DEFAULT nextval('decision_id_sequence'),
    finding_id BIGINT NOT NULL,
    decided_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> ''),
    decision VARCHAR NOT NULL CHECK (decision IN ('accepted', 'excluded', 'corrected', 'exchanged', 'reopened')),
    reason VARCHAR NOT NULL
);
COMMENT ON TABLE finding_decision IS 'What was decided about findings; the last one for the same rows holds, none is overwritten.';
COMMENT ON COLUMN finding_decision.decision_id IS 'Number of the decision.';
COMMENT ON COLUMN finding_decision.finding_id IS 'The finding.';
COMMENT ON COLUMN finding_decision.decided_at IS 'When.';
COMMENT ON COLUMN finding_decision.person IS 'Who.';
COMMENT ON COLUMN finding_decision.decision IS 'accepted as right, excluded, corrected, exchanged between two athletes, or reopened by undoing.';
COMMENT ON COLUMN finding_decision.reason IS 'Why; may be empty for one that was accepted.';

CREATE TABLE decision_change (
    decision_id BIGINT NOT NULL,
    effort_id BIGINT NOT NULL,
    change_id BIGINT,
    PRIMARY KEY (decision_id, effort_id)
);
COMMENT ON TABLE decision_change IS 'What a decision did to efforts, so that it can be undone.';
COMMENT ON COLUMN decision_change.decision_id IS 'The decision.';
COMMENT ON COLUMN decision_change.effort_id IS 'The effort.';
COMMENT ON COLUMN decision_change.change_id IS 'The change of it; NULL for an effort that was stored anew under the right athlete.';

CREATE VIEW finding_detail AS
WITH decided AS (
    SELECT f.sha256, max(d.decision_id) AS decision_id
    FROM finding_decision d JOIN finding f ON f.finding_id = d.finding_id GROUP BY f.sha256
), different AS (
    SELECT o.finding_id, bool_or(e.effort_id IS NULL OR e.excluded IS NOT NULL
                                 OR e.value <> o.value) AS changed
    FROM finding_effort o LEFT JOIN effort e ON e.effort_id = o.effort_id GROUP BY o.finding_id
)
SELECT f.*, l.measure, l.fitted_at,
       f.fit_id IN (SELECT fit_id FROM latest_fit) AS of_latest_fit,
       coalesce(x.changed, true) AS changed,
       d.decision_id, d.finding_id AS decided_finding_id, d.decided_at, d.person AS decided_by,
       d.decision, d.reason,
       f.finding_id = max(f.finding_id) OVER (PARTITION BY f.sha256) AS newest
FROM finding f JOIN fit l ON l.fit_id = f.fit_id
LEFT JOIN different x ON x.finding_id = f.finding_id
LEFT JOIN decided s ON s.sha256 = f.sha256
LEFT JOIN finding_decision d ON d.decision_id = s.decision_id;
COMMENT ON VIEW finding_detail IS 'Findings with the last decision about the same rows, and whether these rows were changed since.';
