-- The e-mail address by which the club's sign-in knows a person.

CREATE TABLE person_email (
    person VARCHAR PRIMARY KEY CHECK (person <> ''),
    email VARCHAR NOT NULL UNIQUE CHECK (email <> '' AND email = lower(email))
);
COMMENT ON TABLE person_email IS 'By which e-mail address the club''s sign-in knows a person; who has no row here signs in with a password only.';
COMMENT ON COLUMN person_email.person IS 'The account.';
COMMENT ON COLUMN person_email.email IS 'Address without capitals, of one account only.';
