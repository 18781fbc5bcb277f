-- Who opened pages about one athlete, so that the athlete can see it.

CREATE TABLE athlete_view (
    athlete VARCHAR NOT NULL CHECK (athlete <> ''),
    person VARCHAR NOT NULL CHECK (person <> ''),
    day DATE NOT NULL,
    PRIMARY KEY (athlete, person, day)
);
COMMENT ON TABLE athlete_view IS 'Days on which somebody of the staff opened a page about one athlete.';
COMMENT ON COLUMN athlete_view.athlete IS 'Whom the page was about.';
COMMENT ON COLUMN athlete_view.person IS 'Who opened it, by sign-in name.';
COMMENT ON COLUMN athlete_view.day IS 'On which day, once a day.';
