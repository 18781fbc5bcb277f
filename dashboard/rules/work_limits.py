"""How much work to follow may be asked about; apart, so that a command line shows it at once."""

from __future__ import annotations

MOST_EFFORTS = 500
LONGEST_RECOVERY_SECONDS = 3600.0
