-- What an open package holds. The comments are its dictionary.
CREATE TABLE athletes (
    athlete VARCHAR PRIMARY KEY,
    position VARCHAR,
    birth_year INTEGER
);
COMMENT ON TABLE athletes IS 'Athletes with efforts in the package.';
COMMENT ON COLUMN athletes.athlete IS 'Code, given by lot for this package; nobody keeps whose it was.';
COMMENT ON COLUMN athletes.position IS 'Playing position or event, as the club wrote it; missing if not given or left out.';
COMMENT ON COLUMN athletes.birth_year IS 'Year of birth; missing if not given or left out.';

CREATE TABLE measures (
    measure VARCHAR PRIMARY KEY,
    name VARCHAR NOT NULL,
    unit VARCHAR NOT NULL,
    better VARCHAR NOT NULL,
    volume_unit VARCHAR NOT NULL,
    standard_volume DOUBLE,
    worthwhile_pct DOUBLE NOT NULL,
    effort_rest_seconds DOUBLE
);
COMMENT ON TABLE measures IS 'What was measured, and what a fit needs to know of it.';
COMMENT ON COLUMN measures.measure IS 'Code.';
COMMENT ON COLUMN measures.name IS 'Name as the club shows it.';
COMMENT ON COLUMN measures.unit IS 'Unit of a value.';
COMMENT ON COLUMN measures.better IS 'Which direction is better: higher or lower.';
COMMENT ON COLUMN measures.volume_unit IS 'Unit of volume, such as efforts or minutes.';
COMMENT ON COLUMN measures.standard_volume IS 'Volume that the team does: as set, else the median of its routine sessions; missing if there are none.';
COMMENT ON COLUMN measures.worthwhile_pct IS 'Smallest worthwhile change in %.';
COMMENT ON COLUMN measures.effort_rest_seconds IS 'Seconds of rest between two efforts that the measure asks for; missing where a unit of volume is no single effort.';

CREATE TABLE efforts (
    athlete VARCHAR NOT NULL REFERENCES athletes (athlete),
    started_at VARCHAR NOT NULL,
    measure VARCHAR NOT NULL REFERENCES measures (measure),
    effort INTEGER NOT NULL,
    value DOUBLE NOT NULL,
    volume_before DOUBLE NOT NULL,
    kind VARCHAR NOT NULL,
    context VARCHAR,
    general_minutes DOUBLE,
    rest_minutes DOUBLE,
    effort_rest_seconds DOUBLE,
    ambient_c DOUBLE,
    days_since_game DOUBLE,
    load_kg DOUBLE,
    planned_volume DOUBLE,
    freshness DOUBLE,
    excluded VARCHAR,
    PRIMARY KEY (athlete, measure, started_at, effort)
);
COMMENT ON TABLE efforts IS 'Every effort, those not used as well: an efforts file, as the program imports it.';
COMMENT ON COLUMN efforts.athlete IS 'The athlete.';
COMMENT ON COLUMN efforts.started_at IS 'Start of the session on the clock on the wall, ISO 8601, with its offset from UTC where that is known; the day is another one where the package says that dates were moved.';
COMMENT ON COLUMN efforts.measure IS 'The measure.';
COMMENT ON COLUMN efforts.effort IS 'Number of the effort in its session, from 1.';
COMMENT ON COLUMN efforts.value IS 'What was measured, in the unit of the measure.';
COMMENT ON COLUMN efforts.volume_before IS 'Volume done before the effort, in the volume unit of the measure.';
COMMENT ON COLUMN efforts.kind IS 'fade: a test from rest until values fall; routine: any other session.';
COMMENT ON COLUMN efforts.context IS 'training, game, test or lifting; missing if not told.';
COMMENT ON COLUMN efforts.general_minutes IS 'Minutes of general warm-up before the volume that is counted; missing if not told.';
COMMENT ON COLUMN efforts.rest_minutes IS 'Minutes between the warm-up and the first effort; missing if not told.';
COMMENT ON COLUMN efforts.effort_rest_seconds IS 'Seconds from one effort to the next as done, the median; missing if not told.';
COMMENT ON COLUMN efforts.ambient_c IS 'Air temperature in degrees Celsius; missing if not told.';
COMMENT ON COLUMN efforts.days_since_game IS 'Days since the last game; missing if not told.';
COMMENT ON COLUMN efforts.load_kg IS 'Load in kg; missing if there was none or it was not told.';
COMMENT ON COLUMN efforts.planned_volume IS 'Volume that was planned for the session; missing if none was.';
COMMENT ON COLUMN efforts.freshness IS 'How fresh the athlete felt, 0 to 10; missing if not told.';
COMMENT ON COLUMN efforts.excluded IS 'Set if the club does not use the effort; its reason is left out. Missing: it is used.';
