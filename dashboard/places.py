"""The pages there are and who may open them."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["HOME", "PLACES", "Place"]


@dataclass(frozen=True)
class Place:
    """A page: its script in `app_pages`, its title, where it stands and who may open it."""

    script: str
    title: str
    group: str
    roles: tuple[str, ...]


STAFF = ("director", "coach")
PLACES = (
    Place("week", "This week", "Squad", ("director",)),
    Place("squad", "Squad", "Squad", ("director",)),
    Place("athlete", "Athlete", "Squad", STAFF),
    Place("tests_to_do", "Tests to do", "Squad", STAFF),
    Place("athlete_history", "Athlete's history", "Squad", STAFF),
    Place("before_session", "Before the session", "Sessions", STAFF),
    Place("advice", "Advice for today", "Sessions", STAFF),
    Place("session_plan", "Session plan", "Sessions", STAFF),
    Place("exercises", "Exercises", "Sessions", STAFF),
    Place("run_test", "Run a test", "Sessions", STAFF),
    Place("enter_efforts", "Enter efforts", "Sessions", STAFF),
    Place("did_it_work", "Did it work", "Sessions", STAFF),
    Place("import_efforts", "Import", "Files", STAFF),
    Place("map_columns", "Map columns", "Files", STAFF),
    Place("imports_list", "Past imports", "Files", STAFF),
    Place("how_sure", "How sure", "What it can bear", ("director",)),
    Place("reliability", "Reliability", "What it can bear", STAFF),
    Place("data_checks", "Data checks", "What it can bear", STAFF),
    Place("accounts", "Accounts", "Club", ("director",)),
    Place("trail", "Trail", "Club", ("director",)),
    Place("privacy", "Privacy", "Club", ("director",)),
    Place("my_warm_up", "My warm-up", "Mine", ("athlete",)),
    Place("my_account", "My account", "Mine", (*STAFF, "athlete")),
    Place("about", "About", "Mine", (*STAFF, "athlete")),
)

HOME = {"director": "squad", "coach": "before_session", "athlete": "my_warm_up"}
"""The page that each role begins at."""
