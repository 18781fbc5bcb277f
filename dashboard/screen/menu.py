"""All pages: their place in the menu, what each is for, and who may open it."""

from __future__ import annotations

import os
from dataclasses import dataclass

__all__ = ["HOME", "OWN", "PLACES", "Place", "at", "file_of", "places_of"]


@dataclass(frozen=True)
class Place:
    """A page: its name, its file in `dashboard`, its title, group, roles and purpose.

    Pages of one group share an entry in the menu, and a row of links above each leads to the
    others. Those of the group `OWN` are under the person's name.
    """

    script: str
    file: str
    title: str
    group: str
    roles: tuple[str, ...]
    purpose: str

    @property
    def address(self) -> str:
        """The page's path in addresses; it never changes, because people bookmark it."""
        return self.script.replace("_", "-")


OWN = "own"
STAFF = ("director", "coach")
PLACES = (
    Place(
        "squad",
        "squad/page.py",
        "Squad",
        "Squad",
        STAFF,
        "Shows who needs a shorter and who a longer warm-up, how sure that is, whether own "
        "lengths are worth it, what changed, and what to test next.",
    ),
    Place(
        "week",
        "week/page.py",
        "This week",
        "Squad",
        ("director",),
        "Tells the director what changed in a week, how plans were followed, which tests "
        "are due and which data to check, each with a link to where it is acted on.",
    ),
    Place(
        "before_session",
        "today/page.py",
        "Today",
        "Today",
        STAFF,
        "Sets everybody's warm-up length for a training day or a game, and prints the times"
        " back from the start.",
    ),
    Place(
        "athlete",
        "athlete/page.py",
        "Athlete",
        "Athletes",
        STAFF,
        "Shows one athlete's curve with every effort, the length, what the standard"
        " loses and the season.",
    ),
    Place(
        "advice",
        "athlete/advice_page.py",
        "Advice for today",
        "Athletes",
        STAFF,
        "Works out what one athlete should do today, for the goal, the temperature, the "
        "hour and the time as a substitute.",
    ),
    Place(
        "athlete_history",
        "athlete/history_page.py",
        "History",
        "Athletes",
        STAFF,
        "Lists one athlete's sessions and all that was done to them, to correct an effort, "
        "leave it out, or take a decision back.",
    ),
    Place(
        "tests_to_do",
        "tests/page.py",
        "Tests to do",
        "Tests",
        STAFF,
        "Lists the tests worth doing this week, and opens them.",
    ),
    Place(
        "run_test",
        "live_test/page.py",
        "Run a test",
        "Tests",
        STAFF,
        "Takes a test effort by effort, for one athlete or several in turns, and says when "
        "to stop.",
    ),
    Place(
        "enter_efforts",
        "tests/typing_page.py",
        "Enter efforts",
        "Tests",
        STAFF,
        "Saves one athlete's session that was written down elsewhere.",
    ),
    Place(
        "session_plan",
        "lifting/page.py",
        "Session plan",
        "Lifting",
        STAFF,
        "Takes a session's exercises in order and says which need a warm-up of their own, "
        "with the sets up to the first that counts as work.",
    ),
    Place(
        "exercises",
        "lifting/exercises_page.py",
        "Exercises",
        "Lifting",
        STAFF,
        "Lists the exercises that session plans choose from.",
    ),
    Place(
        "did_it_work",
        "results/page.py",
        "Results",
        "Results",
        STAFF,
        "Compares what was planned, what was done and what came of it, and runs a trial of "
        "two lengths with one athlete.",
    ),
    Place(
        "import_efforts",
        "data/page.py",
        "Import",
        "Data",
        STAFF,
        "Imports any file of efforts, or of athletes, after saying how each column is read, what "
        "would be saved and what has problems.",
    ),
    Place(
        "map_columns",
        "data/mapping_page.py",
        "Map columns",
        "Data",
        STAFF,
        "Lists how files with other columns or units are read, to rename or delete it.",
    ),
    Place(
        "inbox",
        "inbox/page.py",
        "Inbox",
        "Data",
        STAFF,
        "Shows the folder that is watched: which files wait for a person, and what came of the"
        " others.",
    ),
    Place(
        "imports_list",
        "data/past_page.py",
        "Past imports",
        "Data",
        STAFF,
        "Lists every import with its counts, and takes one back whole.",
    ),
    Place(
        "data_checks",
        "data/checks_page.py",
        "Data checks",
        "Data",
        STAFF,
        "Lists what may be wrong in the data, to accept, correct or leave out; every "
        "decision can be undone.",
    ),
    Place(
        "how_sure",
        "trust/page.py",
        "How sure",
        "Trust",
        ("director",),
        "Checks the curves against what was measured, and says which data would make them surer.",
    ),
    Place(
        "reliability",
        "trust/reliability_page.py",
        "Reliability",
        "Trust",
        STAFF,
        "Says how well a measure repeats, which changes it can show, and how many sessions "
        "that takes.",
    ),
    Place(
        "before_testing",
        "tests/outlook_page.py",
        "Before testing",
        "Trust",
        ("director",),
        "Simulates a season of tests, with noise from your data or typed in, and says what it "
        "would tell before anybody is tested.",
    ),
    Place(
        "people",
        "roster/page.py",
        "People and squads",
        "Club",
        ("director",),
        "Adds, renames, moves and retires athletes, names squads and their coaches, and makes one"
        " of two entries.",
    ),
    Place(
        "measures",
        "roster/measures_page.py",
        "Measures",
        "Club",
        ("director",),
        "Says what is measured: units, direction, limits, the standard, the smallest change worth"
        " having, and the units on screens.",
    ),
    Place(
        "accounts",
        "club/page.py",
        "Accounts",
        "Club",
        ("director",),
        "Says who may sign in, and as what.",
    ),
    Place(
        "privacy",
        "club/privacy_page.py",
        "Privacy",
        "Club",
        ("director",),
        "Hands over or erases what is held about an athlete, and says how long it is held.",
    ),
    Place(
        "trail",
        "club/trail_page.py",
        "Trail",
        "Club",
        ("director",),
        "Lists who did what and when; nothing in it can be changed.",
    ),
    Place(
        "my_warm_up",
        "own/page.py",
        "My warm-up",
        "My warm-up",
        ("athlete",),
        "Shows athletes their own curve and length, what to do today and what is kept about"
        " them, and nobody else's.",
    ),
    Place(
        "my_account",
        "club/account_page.py",
        "My account",
        OWN,
        (*STAFF, "athlete"),
        "Changes one's own password, shows where one is signed in, and lets the director "
        "choose units.",
    ),
    Place(
        "about",
        "about/page.py",
        "About",
        OWN,
        (*STAFF, "athlete"),
        "Says what the program does, how it works, what its words mean, and what it cannot tell.",
    ),
)

HOME = {"director": "squad", "coach": "before_session", "athlete": "my_warm_up"}
"""The page where each role starts."""


def places_of(role: str) -> dict[str, list[Place]]:
    """Return the pages of a role by their group, both in the order of the menu."""
    groups: dict[str, list[Place]] = {}
    for place in PLACES:
        if role in place.roles:
            groups.setdefault(place.group, []).append(place)
    return groups


def file_of(script: str) -> str:
    """Return the file of a page, as Streamlit's links and menu take it."""
    return next(place.file for place in PLACES if place.script == script)


def at(path: str) -> str:
    """Return the address of a page or file, such as `/download/week.pdf`, with any base path."""
    return os.environ.get("WARMCURVE_UNDER", "") + path
