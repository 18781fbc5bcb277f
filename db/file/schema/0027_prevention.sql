-- The injury-prevention part of a game's warm-up, as a part of its own before the general part.

CREATE TABLE game_prevention (
    game_id BIGINT PRIMARY KEY REFERENCES game (game_id),
    prevention_minutes DOUBLE NOT NULL CHECK (prevention_minutes BETWEEN 0 AND 60)
);
COMMENT ON TABLE game_prevention IS 'Minutes of injury prevention before a game; a plan from before has no row: it was within the general part.';
COMMENT ON COLUMN game_prevention.game_id IS 'The game.';
COMMENT ON COLUMN game_prevention.prevention_minutes IS 'Minutes of it, before the general part; 0 is within the general part.';
