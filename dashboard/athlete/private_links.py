"""Private links, which open an athlete's page without signing in."""

from __future__ import annotations

import secrets
from datetime import UTC, datetime, timedelta

from dashboard.screen.web_sessions import session_id
from dashboard.serving.gate import LINK_PATH
from db.file.store import Store
from db.people.private_links import keep_link

LONGEST_DAYS = 90


def make_link(store: Store, athlete: str, days: int, person: str) -> str:
    """Make a private link that opens for some days; return its path, which is shown only once."""
    token = secrets.token_urlsafe(32)
    until = datetime.now(UTC) + timedelta(days=min(max(days, 1), LONGEST_DAYS))
    keep_link(store, athlete, session_id(token), until, person)
    return f"{LINK_PATH}{token}"
