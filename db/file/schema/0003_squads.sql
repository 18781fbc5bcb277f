-- Named squads of athletes, and which squads a coach may be limited to.

CREATE TABLE athlete_squad (
    athlete VARCHAR NOT NULL CHECK (athlete <> ''),
    squad VARCHAR NOT NULL CHECK (squad <> ''),
    PRIMARY KEY (athlete, squad)
);
COMMENT ON TABLE athlete_squad IS 'The squads that each athlete belongs to.';
COMMENT ON COLUMN athlete_squad.athlete IS 'The athlete.';
COMMENT ON COLUMN athlete_squad.squad IS 'Name of the squad.';

CREATE TABLE person_squad (
    person VARCHAR NOT NULL CHECK (person <> ''),
    squad VARCHAR NOT NULL CHECK (squad <> ''),
    PRIMARY KEY (person, squad)
);
COMMENT ON TABLE person_squad IS 'The squads that a coach is limited to; a coach without a row here sees everybody.';
COMMENT ON COLUMN person_squad.person IS 'The coach.';
COMMENT ON COLUMN person_squad.squad IS 'Name of the squad.';
