"""The longest that a test waits before it gives up: a bound on a hang; no result depends on it."""

PATIENCE_SECONDS = 180.0
