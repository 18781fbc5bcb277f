-- The first schema. A store holds athletes, what is measured, efforts, fits and what was made of them.
-- Moments (`..._at` of the record) are UTC; `session.started_at` is the local wall time of the session.

CREATE SEQUENCE session_id_sequence;
CREATE SEQUENCE effort_id_sequence;
CREATE SEQUENCE effort_change_id_sequence;
CREATE SEQUENCE batch_id_sequence;
CREATE SEQUENCE fit_id_sequence;
CREATE SEQUENCE plan_id_sequence;

CREATE TABLE schema_version (
    version INTEGER PRIMARY KEY CHECK (version >= 1),
    name VARCHAR NOT NULL,
    applied_at TIMESTAMPTZ NOT NULL DEFAULT now()
);
COMMENT ON TABLE schema_version IS 'Numbered schema files that were applied to this store, one row each.';
COMMENT ON COLUMN schema_version.version IS 'Number of the schema file.';
COMMENT ON COLUMN schema_version.name IS 'Name of the schema file.';
COMMENT ON COLUMN schema_version.applied_at IS 'When it was applied.';

CREATE TABLE audit (
    revision BIGINT PRIMARY KEY CHECK (revision >= 1),
    happened_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> ''),
    action VARCHAR NOT NULL CHECK (action <> ''),
    detail VARCHAR NOT NULL DEFAULT ''
);
COMMENT ON TABLE audit IS 'Who did what when: one row per committed write. The largest revision is that of the store.';
COMMENT ON COLUMN audit.revision IS 'Revision of the store that this write made.';
COMMENT ON COLUMN audit.happened_at IS 'When the write began.';
COMMENT ON COLUMN audit.person IS 'Sign-in name, or the name of the command that wrote.';
COMMENT ON COLUMN audit.action IS 'What was done, in a few words.';
COMMENT ON COLUMN audit.detail IS 'To what it was done.';

CREATE TABLE setting (
    key VARCHAR PRIMARY KEY CHECK (key <> ''),
    value VARCHAR NOT NULL
);
COMMENT ON TABLE setting IS 'Settings of the whole store.';
COMMENT ON COLUMN setting.key IS 'Name of the setting.';
COMMENT ON COLUMN setting.value IS 'Its value as text.';

CREATE TABLE athlete (
    athlete VARCHAR PRIMARY KEY CHECK (athlete <> ''),
    name VARCHAR NOT NULL CHECK (name <> ''),
    position VARCHAR,
    born DATE,
    active BOOLEAN NOT NULL DEFAULT true
);
COMMENT ON TABLE athlete IS 'The athletes; one who leaves is set inactive, never deleted.';
COMMENT ON COLUMN athlete.athlete IS 'Code used in files and on sheets.';
COMMENT ON COLUMN athlete.name IS 'Name as shown.';
COMMENT ON COLUMN athlete.position IS 'Playing position or event, if given.';
COMMENT ON COLUMN athlete.born IS 'Date of birth, if given.';
COMMENT ON COLUMN athlete.active IS 'Whether the athlete is in the squad now.';

CREATE TABLE measure (
    measure VARCHAR PRIMARY KEY CHECK (measure <> ''),
    name VARCHAR NOT NULL CHECK (name <> ''),
    unit VARCHAR NOT NULL CHECK (unit <> ''),
    better VARCHAR NOT NULL CHECK (better IN ('higher', 'lower')),
    volume_unit VARCHAR NOT NULL CHECK (volume_unit <> ''),
    standard_volume DOUBLE CHECK (isfinite(standard_volume) AND standard_volume >= 0),
    worthwhile_pct DOUBLE NOT NULL CHECK (worthwhile_pct > 0 AND worthwhile_pct <= 50),
    lowest DOUBLE CHECK (isfinite(lowest) AND lowest > 0),
    highest DOUBLE CHECK (isfinite(highest) AND highest > 0),
    CHECK (lowest < highest)
);
COMMENT ON TABLE measure IS 'What is tested, with its unit and its limits.';
COMMENT ON COLUMN measure.measure IS 'Code used in files.';
COMMENT ON COLUMN measure.name IS 'Name as shown.';
COMMENT ON COLUMN measure.unit IS 'Unit of a value.';
COMMENT ON COLUMN measure.better IS 'Which direction is better: higher or lower.';
COMMENT ON COLUMN measure.volume_unit IS 'Unit of warm-up volume, such as efforts or minutes.';
COMMENT ON COLUMN measure.standard_volume IS 'Volume the team does today, in the volume unit; NULL when not set.';
COMMENT ON COLUMN measure.worthwhile_pct IS 'Smallest worthwhile change in %.';
COMMENT ON COLUMN measure.lowest IS 'Lowest plausible value in the unit; NULL means no limit but zero.';
COMMENT ON COLUMN measure.highest IS 'Highest plausible value in the unit; NULL means no limit.';

CREATE TABLE import_batch (
    batch_id BIGINT PRIMARY KEY DEFAULT nextval('batch_id_sequence'),
    file VARCHAR NOT NULL CHECK (file <> ''),
    sha256 VARCHAR NOT NULL CHECK (length(sha256) = 64),
    imported_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> ''),
    rows_read BIGINT NOT NULL CHECK (rows_read >= 0),
    stored BIGINT NOT NULL CHECK (stored >= 0),
    known BIGINT NOT NULL CHECK (known >= 0),
    set_aside BIGINT NOT NULL CHECK (set_aside >= 0),
    CHECK (stored + known + set_aside = rows_read)
);
COMMENT ON TABLE import_batch IS 'Files that were imported; every row of a file was stored, known already or set aside.';
COMMENT ON COLUMN import_batch.batch_id IS 'Number of the import.';
COMMENT ON COLUMN import_batch.file IS 'Name of the file.';
COMMENT ON COLUMN import_batch.sha256 IS 'SHA-256 of the bytes of the file, in hexadecimal.';
COMMENT ON COLUMN import_batch.imported_at IS 'When it was imported.';
COMMENT ON COLUMN import_batch.person IS 'Who imported it.';
COMMENT ON COLUMN import_batch.rows_read IS 'Rows below the header.';
COMMENT ON COLUMN import_batch.stored IS 'Rows stored as new efforts.';
COMMENT ON COLUMN import_batch.known IS 'Rows that the store or an earlier line had with the same value.';
COMMENT ON COLUMN import_batch.set_aside IS 'Rows set aside with a reason.';

CREATE TABLE set_aside_row (
    batch_id BIGINT NOT NULL REFERENCES import_batch (batch_id),
    line BIGINT NOT NULL CHECK (line >= 1),
    athlete VARCHAR NOT NULL,
    started_at VARCHAR NOT NULL,
    measure VARCHAR NOT NULL,
    effort VARCHAR NOT NULL,
    value VARCHAR NOT NULL,
    "column" VARCHAR NOT NULL CHECK ("column" <> ''),
    reason VARCHAR NOT NULL CHECK (reason <> ''),
    row_text VARCHAR NOT NULL,
    PRIMARY KEY (batch_id, line)
);
COMMENT ON TABLE set_aside_row IS 'Rows of imported files that were not stored, as they were written, with the reason.';
COMMENT ON COLUMN set_aside_row.batch_id IS 'The import.';
COMMENT ON COLUMN set_aside_row.line IS 'Line of the file; the header is line 1.';
COMMENT ON COLUMN set_aside_row.athlete IS 'Athlete as written.';
COMMENT ON COLUMN set_aside_row.started_at IS 'Start of the session as written.';
COMMENT ON COLUMN set_aside_row.measure IS 'Measure as written.';
COMMENT ON COLUMN set_aside_row.effort IS 'Number of the effort as written.';
COMMENT ON COLUMN set_aside_row.value IS 'Value as written.';
COMMENT ON COLUMN set_aside_row."column" IS 'Column at fault.';
COMMENT ON COLUMN set_aside_row.reason IS 'What is wrong and what is allowed.';
COMMENT ON COLUMN set_aside_row.row_text IS 'The whole row as written.';

CREATE TABLE session (
    session_id BIGINT PRIMARY KEY DEFAULT nextval('session_id_sequence'),
    athlete VARCHAR NOT NULL REFERENCES athlete (athlete),
    measure VARCHAR NOT NULL REFERENCES measure (measure),
    started_at TIMESTAMP NOT NULL CHECK (started_at >= TIMESTAMP '1950-01-01'),
    utc_offset_minutes INTEGER CHECK (utc_offset_minutes BETWEEN -1439 AND 1439),
    kind VARCHAR NOT NULL DEFAULT 'routine' CHECK (kind IN ('routine', 'fade')),
    context VARCHAR CHECK (context IN ('training', 'game', 'test', 'lifting')),
    general_minutes DOUBLE CHECK (general_minutes BETWEEN 0 AND 240),
    rest_minutes DOUBLE CHECK (rest_minutes BETWEEN 0 AND 1440),
    ambient_c DOUBLE CHECK (ambient_c BETWEEN -50 AND 60),
    days_since_game DOUBLE CHECK (days_since_game BETWEEN 0 AND 3650),
    load_kg DOUBLE CHECK (load_kg BETWEEN 0 AND 1000),
    planned_volume DOUBLE CHECK (planned_volume BETWEEN 0 AND 10000),
    freshness DOUBLE CHECK (freshness BETWEEN 0 AND 10),
    joints DOUBLE CHECK (joints BETWEEN 0 AND 10),
    mobility DOUBLE CHECK (mobility BETWEEN 0 AND 10),
    pain BOOLEAN,
    note VARCHAR CHECK (note <> ''),
    UNIQUE (athlete, measure, started_at)
);
COMMENT ON TABLE session IS 'One athlete, one measure, one start time. A fact is NULL when nobody stated it.';
COMMENT ON COLUMN session.session_id IS 'Number of the session.';
COMMENT ON COLUMN session.athlete IS 'Whose session.';
COMMENT ON COLUMN session.measure IS 'What was measured.';
COMMENT ON COLUMN session.started_at IS 'Start in local wall time.';
COMMENT ON COLUMN session.utc_offset_minutes IS 'Offset from UTC in minutes, where it was written with the start.';
COMMENT ON COLUMN session.kind IS 'routine, or fade: repeated maximal efforts until performance fades.';
COMMENT ON COLUMN session.context IS 'training, game, test or lifting.';
COMMENT ON COLUMN session.general_minutes IS 'Minutes of general warm-up before the volume counted.';
COMMENT ON COLUMN session.rest_minutes IS 'Minutes between the end of the warm-up and the first effort.';
COMMENT ON COLUMN session.ambient_c IS 'Air temperature in degrees Celsius.';
COMMENT ON COLUMN session.days_since_game IS 'Days since the last game.';
COMMENT ON COLUMN session.load_kg IS 'Load in kg, for bar speed.';
COMMENT ON COLUMN session.planned_volume IS 'Warm-up volume that was planned, in the volume unit of the measure.';
COMMENT ON COLUMN session.freshness IS 'How fresh the athlete feels, 0 to 10.';
COMMENT ON COLUMN session.joints IS 'How good the joints feel, 0 to 10.';
COMMENT ON COLUMN session.mobility IS 'How easily positions are reached, 0 to 10.';
COMMENT ON COLUMN session.pain IS 'Whether the athlete has pain.';
COMMENT ON COLUMN session.note IS 'Free text.';

CREATE TABLE effort (
    effort_id BIGINT PRIMARY KEY DEFAULT nextval('effort_id_sequence'),
    session_id BIGINT NOT NULL REFERENCES session (session_id),
    effort INTEGER NOT NULL CHECK (effort BETWEEN 1 AND 10000),
    value DOUBLE NOT NULL CHECK (isfinite(value) AND value > 0),
    volume DOUBLE NOT NULL CHECK (volume BETWEEN 0 AND 10000),
    excluded VARCHAR CHECK (excluded <> ''),
    batch_id BIGINT,
    revision BIGINT NOT NULL CHECK (revision >= 1),
    UNIQUE (session_id, effort)
);
COMMENT ON TABLE effort IS 'Single attempts. Never deleted or overwritten: effort_change keeps what stood before.';
COMMENT ON COLUMN effort.effort_id IS 'Number of the row.';
COMMENT ON COLUMN effort.session_id IS 'The session.';
COMMENT ON COLUMN effort.effort IS 'First, second, third attempt of the session.';
COMMENT ON COLUMN effort.value IS 'Value in the unit of the measure.';
COMMENT ON COLUMN effort.volume IS 'What the athlete had done before it, in the volume unit of the measure.';
COMMENT ON COLUMN effort.excluded IS 'Why the effort is not used; NULL when it is used.';
COMMENT ON COLUMN effort.batch_id IS 'The import that stored it; NULL when it was typed in.';
COMMENT ON COLUMN effort.revision IS 'Revision of the store that stored or last changed the effort or the facts of its session.';

CREATE TABLE effort_change (
    change_id BIGINT PRIMARY KEY DEFAULT nextval('effort_change_id_sequence'),
    effort_id BIGINT NOT NULL REFERENCES effort (effort_id),
    changed_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> ''),
    reason VARCHAR NOT NULL CHECK (reason <> ''),
    old_value DOUBLE NOT NULL CHECK (isfinite(old_value) AND old_value > 0),
    new_value DOUBLE NOT NULL CHECK (isfinite(new_value) AND new_value > 0),
    old_excluded VARCHAR,
    new_excluded VARCHAR
);
COMMENT ON TABLE effort_change IS 'Corrections, exclusions and re-inclusions of efforts: what stood before, who, when and why.';
COMMENT ON COLUMN effort_change.change_id IS 'Number of the change.';
COMMENT ON COLUMN effort_change.effort_id IS 'The effort.';
COMMENT ON COLUMN effort_change.changed_at IS 'When it was changed.';
COMMENT ON COLUMN effort_change.person IS 'Who changed it.';
COMMENT ON COLUMN effort_change.reason IS 'Why it was changed.';
COMMENT ON COLUMN effort_change.old_value IS 'Value before.';
COMMENT ON COLUMN effort_change.new_value IS 'Value after.';
COMMENT ON COLUMN effort_change.old_excluded IS 'Reason for exclusion before; NULL when the effort was used.';
COMMENT ON COLUMN effort_change.new_excluded IS 'Reason for exclusion after; NULL when the effort is used.';

CREATE TABLE fit (
    fit_id BIGINT PRIMARY KEY DEFAULT nextval('fit_id_sequence'),
    measure VARCHAR NOT NULL REFERENCES measure (measure),
    fitted_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> ''),
    data_revision BIGINT NOT NULL CHECK (data_revision >= 0),
    settings_json VARCHAR NOT NULL,
    version VARCHAR NOT NULL CHECK (version <> ''),
    seconds DOUBLE NOT NULL CHECK (isfinite(seconds) AND seconds >= 0),
    athletes INTEGER NOT NULL CHECK (athletes >= 0),
    sessions INTEGER NOT NULL CHECK (sessions >= 0),
    efforts INTEGER NOT NULL CHECK (efforts >= 0),
    standard_volume DOUBLE NOT NULL CHECK (isfinite(standard_volume) AND standard_volume >= 0),
    worthwhile_pct DOUBLE NOT NULL CHECK (worthwhile_pct > 0 AND worthwhile_pct <= 50),
    best_single_volume DOUBLE NOT NULL CHECK (isfinite(best_single_volume) AND best_single_volume >= 0),
    worth_of_individual_pct DOUBLE NOT NULL CHECK (isfinite(worth_of_individual_pct)),
    worth_of_individual_pct_low DOUBLE NOT NULL CHECK (isfinite(worth_of_individual_pct_low)),
    worth_of_individual_pct_high DOUBLE NOT NULL CHECK (isfinite(worth_of_individual_pct_high)),
    spread_log_sd DOUBLE NOT NULL CHECK (isfinite(spread_log_sd) AND spread_log_sd >= 0),
    spread_log_sd_low DOUBLE NOT NULL CHECK (isfinite(spread_log_sd_low) AND spread_log_sd_low >= 0),
    spread_log_sd_high DOUBLE NOT NULL CHECK (isfinite(spread_log_sd_high) AND spread_log_sd_high >= 0),
    chance_athletes_differ DOUBLE NOT NULL CHECK (chance_athletes_differ BETWEEN 0 AND 1),
    day_noise_pct DOUBLE NOT NULL CHECK (isfinite(day_noise_pct) AND day_noise_pct >= 0),
    effort_noise_pct DOUBLE NOT NULL CHECK (isfinite(effort_noise_pct) AND effort_noise_pct >= 0),
    warnings VARCHAR NOT NULL DEFAULT ''
);
COMMENT ON TABLE fit IS 'Fits of the response model, with what made them and what they say about the squad.';
COMMENT ON COLUMN fit.fit_id IS 'Number of the fit.';
COMMENT ON COLUMN fit.measure IS 'The measure.';
COMMENT ON COLUMN fit.fitted_at IS 'When it was kept.';
COMMENT ON COLUMN fit.person IS 'Who asked for it.';
COMMENT ON COLUMN fit.data_revision IS 'Revision of the store whose efforts were fitted.';
COMMENT ON COLUMN fit.settings_json IS 'Settings of the model as JSON.';
COMMENT ON COLUMN fit.version IS 'Version of the package.';
COMMENT ON COLUMN fit.seconds IS 'How long the fit took, in seconds.';
COMMENT ON COLUMN fit.athletes IS 'Athletes with usable efforts.';
COMMENT ON COLUMN fit.sessions IS 'Sessions with usable efforts.';
COMMENT ON COLUMN fit.efforts IS 'Usable efforts.';
COMMENT ON COLUMN fit.standard_volume IS 'Standard volume the calls refer to.';
COMMENT ON COLUMN fit.worthwhile_pct IS 'Smallest worthwhile change in % the calls refer to.';
COMMENT ON COLUMN fit.best_single_volume IS 'Best single volume for the whole squad.';
COMMENT ON COLUMN fit.worth_of_individual_pct IS 'What individual volumes are worth against the best single one, in %; median.';
COMMENT ON COLUMN fit.worth_of_individual_pct_low IS 'The same, 5 % quantile.';
COMMENT ON COLUMN fit.worth_of_individual_pct_high IS 'The same, 95 % quantile.';
COMMENT ON COLUMN fit.spread_log_sd IS 'Spread of best volumes: standard deviation of their logarithm; median.';
COMMENT ON COLUMN fit.spread_log_sd_low IS 'The same, 5 % quantile.';
COMMENT ON COLUMN fit.spread_log_sd_high IS 'The same, 95 % quantile.';
COMMENT ON COLUMN fit.chance_athletes_differ IS 'Chance that athletes differ in where they peak.';
COMMENT ON COLUMN fit.day_noise_pct IS 'Spread between days in %.';
COMMENT ON COLUMN fit.effort_noise_pct IS 'Spread between efforts in %.';
COMMENT ON COLUMN fit.warnings IS 'Cautions that must be shown with the results, one a line.';

CREATE TABLE response (
    fit_id BIGINT NOT NULL REFERENCES fit (fit_id),
    athlete VARCHAR NOT NULL REFERENCES athlete (athlete),
    sessions INTEGER NOT NULL CHECK (sessions >= 0),
    efforts INTEGER NOT NULL CHECK (efforts >= 0),
    last_session TIMESTAMP,
    best_volume DOUBLE NOT NULL CHECK (isfinite(best_volume) AND best_volume >= 0),
    best_volume_low DOUBLE NOT NULL CHECK (isfinite(best_volume_low) AND best_volume_low >= 0),
    best_volume_high DOUBLE NOT NULL CHECK (isfinite(best_volume_high) AND best_volume_high >= 0),
    best_volume_q25 DOUBLE NOT NULL CHECK (isfinite(best_volume_q25) AND best_volume_q25 >= 0),
    best_volume_q75 DOUBLE NOT NULL CHECK (isfinite(best_volume_q75) AND best_volume_q75 >= 0),
    gain_pct DOUBLE NOT NULL CHECK (isfinite(gain_pct)),
    gain_pct_low DOUBLE NOT NULL CHECK (isfinite(gain_pct_low)),
    gain_pct_high DOUBLE NOT NULL CHECK (isfinite(gain_pct_high)),
    hold_volume DOUBLE NOT NULL CHECK (isfinite(hold_volume) AND hold_volume >= 0),
    hold_volume_low DOUBLE NOT NULL CHECK (isfinite(hold_volume_low) AND hold_volume_low >= 0),
    hold_volume_high DOUBLE NOT NULL CHECK (isfinite(hold_volume_high) AND hold_volume_high >= 0),
    advised_volume DOUBLE NOT NULL CHECK (isfinite(advised_volume) AND advised_volume >= 0),
    loss_at_standard_pct DOUBLE NOT NULL CHECK (isfinite(loss_at_standard_pct)),
    loss_at_standard_pct_low DOUBLE NOT NULL CHECK (isfinite(loss_at_standard_pct_low)),
    loss_at_standard_pct_high DOUBLE NOT NULL CHECK (isfinite(loss_at_standard_pct_high)),
    chance_short DOUBLE NOT NULL CHECK (chance_short BETWEEN 0 AND 1),
    chance_long DOUBLE NOT NULL CHECK (chance_long BETWEEN 0 AND 1),
    chance_either DOUBLE NOT NULL CHECK (chance_either BETWEEN 0 AND 1),
    call VARCHAR NOT NULL CHECK (call IN ('short', 'long', 'either', 'not known')),
    reach VARCHAR NOT NULL CHECK (reach IN ('inside', 'below', 'beyond')),
    PRIMARY KEY (fit_id, athlete)
);
COMMENT ON TABLE response IS 'What a fit says about each athlete: medians with 5 % and 95 % quantiles of the posterior.';
COMMENT ON COLUMN response.fit_id IS 'The fit.';
COMMENT ON COLUMN response.athlete IS 'The athlete.';
COMMENT ON COLUMN response.sessions IS 'Sessions behind it.';
COMMENT ON COLUMN response.efforts IS 'Efforts behind it.';
COMMENT ON COLUMN response.last_session IS 'Start of the last session behind it; NULL without any.';
COMMENT ON COLUMN response.best_volume IS 'Volume at which the curve peaks; median.';
COMMENT ON COLUMN response.best_volume_low IS 'The same, 5 % quantile.';
COMMENT ON COLUMN response.best_volume_high IS 'The same, 95 % quantile.';
COMMENT ON COLUMN response.best_volume_q25 IS 'The same, 25 % quantile.';
COMMENT ON COLUMN response.best_volume_q75 IS 'The same, 75 % quantile.';
COMMENT ON COLUMN response.gain_pct IS 'Gain from cold to the peak in %; median.';
COMMENT ON COLUMN response.gain_pct_low IS 'The same, 5 % quantile.';
COMMENT ON COLUMN response.gain_pct_high IS 'The same, 95 % quantile.';
COMMENT ON COLUMN response.hold_volume IS 'Volume from the peak until performance is down 10 %; median.';
COMMENT ON COLUMN response.hold_volume_low IS 'The same, 5 % quantile.';
COMMENT ON COLUMN response.hold_volume_high IS 'The same, 95 % quantile.';
COMMENT ON COLUMN response.advised_volume IS 'Advised volume for one best effort.';
COMMENT ON COLUMN response.loss_at_standard_pct IS 'What is given away at the standard volume against the peak, in %; median.';
COMMENT ON COLUMN response.loss_at_standard_pct_low IS 'The same, 5 % quantile.';
COMMENT ON COLUMN response.loss_at_standard_pct_high IS 'The same, 95 % quantile.';
COMMENT ON COLUMN response.chance_short IS 'Chance that less than the standard volume is better.';
COMMENT ON COLUMN response.chance_long IS 'Chance that more than the standard volume is better.';
COMMENT ON COLUMN response.chance_either IS 'Chance that the standard is within the smallest worthwhile change of the peak.';
COMMENT ON COLUMN response.call IS 'short, long, either or not known.';
COMMENT ON COLUMN response.reach IS 'Where the peak lies against the volumes tried: inside, below or beyond.';

CREATE TABLE curve_point (
    fit_id BIGINT NOT NULL REFERENCES fit (fit_id),
    athlete VARCHAR NOT NULL REFERENCES athlete (athlete),
    volume DOUBLE NOT NULL CHECK (isfinite(volume) AND volume >= 0),
    change_pct DOUBLE NOT NULL CHECK (isfinite(change_pct)),
    change_pct_low DOUBLE NOT NULL CHECK (isfinite(change_pct_low)),
    change_pct_high DOUBLE NOT NULL CHECK (isfinite(change_pct_high)),
    PRIMARY KEY (fit_id, athlete, volume)
);
COMMENT ON TABLE curve_point IS 'Response curves of the athletes: expected difference from the own peak in % of the peak.';
COMMENT ON COLUMN curve_point.fit_id IS 'The fit.';
COMMENT ON COLUMN curve_point.athlete IS 'The athlete.';
COMMENT ON COLUMN curve_point.volume IS 'Volume in the volume unit of the measure.';
COMMENT ON COLUMN curve_point.change_pct IS 'Expected difference from the peak in %, zero or below.';
COMMENT ON COLUMN curve_point.change_pct_low IS 'The same, 5 % quantile.';
COMMENT ON COLUMN curve_point.change_pct_high IS 'The same, 95 % quantile.';

CREATE TABLE squad_curve_point (
    fit_id BIGINT NOT NULL REFERENCES fit (fit_id),
    volume DOUBLE NOT NULL CHECK (isfinite(volume) AND volume >= 0),
    change_pct DOUBLE NOT NULL CHECK (isfinite(change_pct)),
    change_pct_low DOUBLE NOT NULL CHECK (isfinite(change_pct_low)),
    change_pct_high DOUBLE NOT NULL CHECK (isfinite(change_pct_high)),
    PRIMARY KEY (fit_id, volume)
);
COMMENT ON TABLE squad_curve_point IS 'Response curve of the squad, as curve_point.';
COMMENT ON COLUMN squad_curve_point.fit_id IS 'The fit.';
COMMENT ON COLUMN squad_curve_point.volume IS 'Volume in the volume unit of the measure.';
COMMENT ON COLUMN squad_curve_point.change_pct IS 'Expected difference from the peak in %, zero or below.';
COMMENT ON COLUMN squad_curve_point.change_pct_low IS 'The same, 5 % quantile.';
COMMENT ON COLUMN squad_curve_point.change_pct_high IS 'The same, 95 % quantile.';

CREATE TABLE session_peak (
    fit_id BIGINT NOT NULL REFERENCES fit (fit_id),
    session_id BIGINT NOT NULL REFERENCES session (session_id),
    peak_value DOUBLE NOT NULL CHECK (isfinite(peak_value) AND peak_value > 0),
    PRIMARY KEY (fit_id, session_id)
);
COMMENT ON TABLE session_peak IS 'What a fit estimates the athlete would have shown at the peak on the day of a session.';
COMMENT ON COLUMN session_peak.fit_id IS 'The fit.';
COMMENT ON COLUMN session_peak.session_id IS 'The session.';
COMMENT ON COLUMN session_peak.peak_value IS 'Estimated value at the peak, in the unit of the measure.';

CREATE TABLE plan (
    plan_id BIGINT PRIMARY KEY DEFAULT nextval('plan_id_sequence'),
    day DATE NOT NULL,
    athlete VARCHAR NOT NULL REFERENCES athlete (athlete),
    measure VARCHAR NOT NULL REFERENCES measure (measure),
    goal VARCHAR NOT NULL CHECK (goal IN ('best', 'sustained', 'growth')),
    efforts_to_follow INTEGER NOT NULL CHECK (efforts_to_follow BETWEEN 1 AND 10000),
    advised_volume DOUBLE CHECK (advised_volume BETWEEN 0 AND 10000),
    standard_volume DOUBLE CHECK (standard_volume BETWEEN 0 AND 10000),
    chosen_volume DOUBLE NOT NULL CHECK (chosen_volume BETWEEN 0 AND 10000),
    reason VARCHAR NOT NULL DEFAULT '',
    done_volume DOUBLE CHECK (done_volume BETWEEN 0 AND 10000),
    outcome DOUBLE CHECK (isfinite(outcome) AND outcome > 0),
    saved_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    person VARCHAR NOT NULL CHECK (person <> '')
);
COMMENT ON TABLE plan IS 'What was advised, what the coach set, what was done and what came of it; the newest row of a day counts.';
COMMENT ON COLUMN plan.plan_id IS 'Number of the choice.';
COMMENT ON COLUMN plan.day IS 'Day of the game or session.';
COMMENT ON COLUMN plan.athlete IS 'For whom.';
COMMENT ON COLUMN plan.measure IS 'For which measure.';
COMMENT ON COLUMN plan.goal IS 'best, sustained or growth.';
COMMENT ON COLUMN plan.efforts_to_follow IS 'Efforts that follow the warm-up.';
COMMENT ON COLUMN plan.advised_volume IS 'What was advised; NULL when there was no advice.';
COMMENT ON COLUMN plan.standard_volume IS 'Standard volume at the time; NULL when there was none.';
COMMENT ON COLUMN plan.chosen_volume IS 'What the coach set.';
COMMENT ON COLUMN plan.reason IS 'Why the coach chose otherwise, if said.';
COMMENT ON COLUMN plan.done_volume IS 'What was done; NULL until recorded.';
COMMENT ON COLUMN plan.outcome IS 'Best value that followed, in the unit of the measure; NULL until recorded.';
COMMENT ON COLUMN plan.saved_at IS 'When the choice was saved.';
COMMENT ON COLUMN plan.person IS 'Who saved it.';

CREATE TABLE person (
    person VARCHAR PRIMARY KEY CHECK (person <> ''),
    display_name VARCHAR NOT NULL CHECK (display_name <> ''),
    role VARCHAR NOT NULL CHECK (role IN ('director', 'coach', 'athlete')),
    athlete VARCHAR,
    active BOOLEAN NOT NULL DEFAULT true,
    password_hash VARCHAR NOT NULL CHECK (password_hash <> ''),
    created_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    CHECK (role <> 'athlete' OR athlete IS NOT NULL)
);
COMMENT ON TABLE person IS 'Accounts; one who leaves is set inactive, never deleted.';
COMMENT ON COLUMN person.person IS 'Sign-in name.';
COMMENT ON COLUMN person.display_name IS 'Name as shown.';
COMMENT ON COLUMN person.role IS 'director, coach or athlete.';
COMMENT ON COLUMN person.athlete IS 'Code of the athlete whose own page this account sees.';
COMMENT ON COLUMN person.active IS 'Whether the account may sign in.';
COMMENT ON COLUMN person.password_hash IS 'Salted hash of the password.';
COMMENT ON COLUMN person.created_at IS 'When the account was made.';

CREATE TABLE web_session (
    token_sha256 VARCHAR PRIMARY KEY CHECK (length(token_sha256) = 64),
    person VARCHAR NOT NULL REFERENCES person (person),
    opened_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    expires_at TIMESTAMPTZ NOT NULL,
    closed_at TIMESTAMPTZ
);
COMMENT ON TABLE web_session IS 'Sign-ins of browsers. The token itself is never stored.';
COMMENT ON COLUMN web_session.token_sha256 IS 'SHA-256 of the token in the cookie, in hexadecimal.';
COMMENT ON COLUMN web_session.person IS 'Who signed in.';
COMMENT ON COLUMN web_session.opened_at IS 'When.';
COMMENT ON COLUMN web_session.expires_at IS 'Until when it holds.';
COMMENT ON COLUMN web_session.closed_at IS 'When it was closed; NULL while it is open.';

CREATE VIEW effort_detail AS
SELECT s.athlete, s.measure, s.session_id, s.started_at, s.utc_offset_minutes, s.kind, s.context,
       e.effort_id, e.effort, e.value, e.volume, e.excluded, e.batch_id, e.revision,
       s.general_minutes, s.rest_minutes, s.ambient_c, s.days_since_game, s.load_kg,
       s.planned_volume, s.freshness, s.joints, s.mobility, s.pain, s.note
FROM effort e JOIN session s ON s.session_id = e.session_id;
COMMENT ON VIEW effort_detail IS 'Every effort, used or not, with the facts of its session.';

CREATE VIEW observation AS
SELECT athlete, measure, session_id, started_at, context, kind, effort, volume, value
FROM effort_detail WHERE excluded IS NULL;
COMMENT ON VIEW observation IS 'Usable efforts: what a model is fitted to.';

CREATE VIEW first_effort_value AS
SELECT effort_id, arg_min(old_value, change_id) AS first_value,
       bool_or(old_excluded IS NOT NULL OR new_excluded IS NOT NULL) AS ever_excluded
FROM effort_change GROUP BY effort_id;
COMMENT ON VIEW first_effort_value IS 'For changed efforts: the value as first stored, and whether the effort was ever excluded.';

CREATE VIEW session_overview AS
SELECT s.session_id, s.athlete, a.name, s.measure, s.started_at, s.kind, s.context,
       count(e.effort_id) AS efforts,
       count(e.effort_id) FILTER (e.excluded IS NOT NULL) AS excluded_efforts,
       max(e.volume) AS largest_volume,
       min(e.value) FILTER (e.excluded IS NULL) AS lowest_value,
       max(e.value) FILTER (e.excluded IS NULL) AS highest_value,
       s.general_minutes, s.rest_minutes, s.ambient_c, s.days_since_game, s.load_kg,
       s.planned_volume, s.freshness, s.joints, s.mobility, s.pain, s.note
FROM session s JOIN athlete a ON a.athlete = s.athlete
LEFT JOIN effort e ON e.session_id = s.session_id
GROUP BY ALL;
COMMENT ON VIEW session_overview IS 'Every session with its facts, its counts of efforts and the range of its usable values.';

CREATE VIEW data_summary AS
SELECT athlete, measure,
       count(DISTINCT session_id) AS sessions,
       count(DISTINCT session_id) FILTER (kind = 'fade') AS fade_tests,
       count(*) AS efforts,
       min(started_at) AS first_session,
       max(started_at) AS last_session,
       max(volume) AS largest_volume
FROM observation GROUP BY athlete, measure;
COMMENT ON VIEW data_summary IS 'How many usable data each athlete has for each measure.';

CREATE VIEW routine_volume AS
SELECT measure, median(session_volume) AS median_volume
FROM (SELECT measure, session_id, median(volume) AS session_volume
      FROM observation WHERE kind = 'routine' GROUP BY measure, session_id)
GROUP BY measure;
COMMENT ON VIEW routine_volume IS 'What routine sessions usually do: the median over sessions of their median volume.';

CREATE VIEW latest_fit AS
SELECT * FROM fit WHERE fit_id IN (SELECT max(fit_id) FROM fit GROUP BY measure);
COMMENT ON VIEW latest_fit IS 'The newest fit of each measure.';

CREATE VIEW response_detail AS
SELECT f.measure, f.fitted_at, r.*, a.name, a.position, a.active
FROM response r JOIN fit f ON f.fit_id = r.fit_id JOIN athlete a ON a.athlete = r.athlete;
COMMENT ON VIEW response_detail IS 'Responses of every fit with the athlete''s name, position and whether active.';

CREATE VIEW latest_response AS
SELECT d.* FROM response_detail d JOIN latest_fit l ON l.fit_id = d.fit_id;
COMMENT ON VIEW latest_response IS 'Responses of the newest fit of each measure.';

CREATE VIEW latest_curve AS
SELECT l.measure, c.* FROM curve_point c JOIN latest_fit l ON l.fit_id = c.fit_id;
COMMENT ON VIEW latest_curve IS 'Curves of the athletes from the newest fit of each measure.';

CREATE VIEW latest_squad_curve AS
SELECT l.measure, c.* FROM squad_curve_point c JOIN latest_fit l ON l.fit_id = c.fit_id;
COMMENT ON VIEW latest_squad_curve IS 'Curve of the squad from the newest fit of each measure.';

CREATE VIEW latest_session_peak AS
SELECT l.measure, s.athlete, p.session_id, s.started_at, p.peak_value
FROM session_peak p JOIN latest_fit l ON l.fit_id = p.fit_id
JOIN session s ON s.session_id = p.session_id;
COMMENT ON VIEW latest_session_peak IS 'Estimated values at the peak, session by session, from the newest fit of each measure.';

CREATE VIEW changed_since_fit AS
SELECT l.measure, l.fit_id, count(d.effort_id) AS efforts
FROM latest_fit l
LEFT JOIN effort_detail d ON d.measure = l.measure AND d.revision > l.data_revision
GROUP BY l.measure, l.fit_id;
COMMENT ON VIEW changed_since_fit IS 'Efforts stored or changed since the newest fit of each measure.';

CREATE VIEW set_aside_detail AS
SELECT r.batch_id, b.file, r.line, r.athlete, r.started_at, r.measure, r.effort, r.value,
       r."column", r.reason, r.row_text, b.imported_at AS "at",
       r.batch_id IN (SELECT max(batch_id) FROM import_batch GROUP BY sha256) AS in_force
FROM set_aside_row r JOIN import_batch b ON b.batch_id = r.batch_id;
COMMENT ON VIEW set_aside_detail IS 'Rows set aside; in force are those of the last import of each file.';

CREATE VIEW plan_in_force AS
SELECT p.*, a.name
FROM plan p JOIN athlete a ON a.athlete = p.athlete
WHERE p.plan_id IN (SELECT max(plan_id) FROM plan GROUP BY day, athlete, measure);
COMMENT ON VIEW plan_in_force IS 'The newest choice for each day, athlete and measure.';

-- Limits and smallest worthwhile changes: common practice, no source, but for the sprint
-- (about 0.5 %: Duthie et al. 2006, J Strength Cond Res 20:246-251).
INSERT INTO measure VALUES
    ('jump_height', 'Jump height', 'cm', 'higher', 'efforts', NULL, 1.5, 5, 150),
    ('throw_speed', 'Throw speed', 'm/s', 'higher', 'throws', NULL, 1.0, 3, 60),
    ('sprint_10m', '10 m sprint', 's', 'lower', 'efforts', NULL, 0.5, 1, 5),
    ('bar_speed', 'Bar speed', 'm/s', 'higher', 'efforts', NULL, 2.0, 0.05, 6);
