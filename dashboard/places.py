"""The pages there are and who may open them."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["PLACES", "Place"]


@dataclass(frozen=True)
class Place:
    """A page: its script in `app_pages`, its title and who may open it."""

    script: str
    title: str
    roles: tuple[str, ...]


PLACES = (
    Place("squad", "Squad", ("director",)),
    Place("before_session", "Before the session", ("director", "coach")),
    Place("run_test", "Run a test", ("director", "coach")),
    Place("athlete", "Athlete", ("director", "coach")),
    Place("athlete_history", "Athlete's history", ("director", "coach")),
    Place("enter_efforts", "Enter efforts", ("director", "coach")),
    Place("import_efforts", "Import", ("director", "coach")),
    Place("map_columns", "Map columns", ("director", "coach")),
    Place("imports_list", "Past imports", ("director", "coach")),
    Place("how_sure", "How sure", ("director",)),
    Place("reliability", "Reliability", ("director", "coach")),
    Place("data_checks", "Data checks", ("director", "coach")),
    Place("accounts", "Accounts", ("director",)),
    Place("trail", "Trail", ("director",)),
    Place("privacy", "Privacy", ("director",)),
    Place("my_warm_up", "My warm-up", ("athlete",)),
    Place("my_account", "My account", ("director", "coach", "athlete")),
)
