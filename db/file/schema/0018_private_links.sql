-- Links that open one athlete's curve without signing in: the store knows only their SHA-256.

CREATE SEQUENCE link_id_sequence;

CREATE TABLE private_link (
    link_id BIGINT PRIMARY KEY DEFAULT nextval('link_id_sequence'),
    athlete VARCHAR NOT NULL CHECK (athlete <> ''),
    token_sha256 VARCHAR NOT NULL CHECK (length(token_sha256) = 64),
    person VARCHAR NOT NULL CHECK (person <> ''),
    made_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    expires_at TIMESTAMPTZ NOT NULL,
    revoked_at TIMESTAMPTZ,
    CHECK (expires_at > made_at)
);
COMMENT ON TABLE private_link IS 'Links handed out that show one athlete''s curve to whoever has them, until they expire or are revoked.';
COMMENT ON COLUMN private_link.link_id IS 'Number of the link.';
COMMENT ON COLUMN private_link.athlete IS 'Whose curve it shows.';
COMMENT ON COLUMN private_link.token_sha256 IS 'SHA-256 of its secret part; the secret itself is nowhere.';
COMMENT ON COLUMN private_link.person IS 'Who made it.';
COMMENT ON COLUMN private_link.made_at IS 'When it was made.';
COMMENT ON COLUMN private_link.expires_at IS 'When it ends by itself.';
COMMENT ON COLUMN private_link.revoked_at IS 'When it was revoked; NULL otherwise.';
