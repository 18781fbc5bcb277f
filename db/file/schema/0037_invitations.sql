-- Links with which somebody chooses their own password, once: the store knows only their SHA-256.

CREATE TABLE invitation (
    token_sha256 VARCHAR PRIMARY KEY CHECK (length(token_sha256) = 64),
    person VARCHAR NOT NULL CHECK (person <> ''),
    made_by VARCHAR NOT NULL CHECK (made_by <> ''),
    made_at TIMESTAMPTZ NOT NULL DEFAULT now(),
    expires_at TIMESTAMPTZ NOT NULL,
    ended_at TIMESTAMPTZ,
    CHECK (expires_at > made_at)
);
COMMENT ON TABLE invitation IS 'Links handed out with which the person of an account chooses a password, once.';
COMMENT ON COLUMN invitation.token_sha256 IS 'SHA-256 of the secret part of the link; the secret itself is nowhere.';
COMMENT ON COLUMN invitation.person IS 'Whose account it is.';
COMMENT ON COLUMN invitation.made_by IS 'Who made it.';
COMMENT ON COLUMN invitation.made_at IS 'When it was made.';
COMMENT ON COLUMN invitation.expires_at IS 'When it ends by itself.';
COMMENT ON COLUMN invitation.ended_at IS 'When it was used, or another took its place; NULL otherwise.';
