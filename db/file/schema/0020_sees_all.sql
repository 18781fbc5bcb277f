-- Coaches who see all athletes, each of them by a row of its own. Until now a coach without
-- squads did; whoever did keeps it, and the trail says so.

CREATE TABLE person_sees_all (
    person VARCHAR PRIMARY KEY CHECK (person <> '')
);
COMMENT ON TABLE person_sees_all IS 'Coaches who see all athletes. A coach with neither a row here nor squads sees nobody yet.';
COMMENT ON COLUMN person_sees_all.person IS 'The coach.';
COMMENT ON TABLE person_squad IS 'The squads whose athletes a coach sees.';

INSERT INTO person_sees_all (person)
SELECT person FROM person
WHERE role = 'coach' AND person NOT IN (SELECT person FROM person_squad);

INSERT INTO audit (revision, person, action, detail)
SELECT (SELECT max(revision) FROM audit) + row_number() OVER (ORDER BY person), 'program update',
       'change role', person || ' to coach of all athletes, as until now'
FROM person_sees_all;
