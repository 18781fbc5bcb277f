"""How long a test waits for what will never be: it bounds a hang, and no result rests on it."""

PATIENCE_SECONDS = 180.0
