"""Limits on the work to follow, in a small module of their own so that commands load fast."""

from __future__ import annotations

MOST_EFFORTS = 500
LONGEST_RECOVERY_SECONDS = 3600.0
